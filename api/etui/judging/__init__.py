"""Judging: how good is a candidate for a step, and what could stand in for a missing one."""

from __future__ import annotations

from etui.judging.engine import Judge
from etui.judging.model import Answer, Candidate, Circumstance, Ground, Piece

__all__ = ["Answer", "Candidate", "Circumstance", "Ground", "Judge", "Piece"]
