"""Trays: is this one fit, what is the best one from this stock, what does a change do."""

from __future__ import annotations

from etui.trays.check import check, check_fully, check_graph
from etui.trays.model import (
    Covered,
    Finding,
    Line,
    Place,
    Report,
    Stock,
    Suggestion,
    Tray,
)  # fmt: skip

__all__ = [
    "Covered", "Finding", "Line", "Place", "Report", "Stock", "Suggestion", "Tray",
    "check", "check_fully", "check_graph",
]  # fmt: skip
