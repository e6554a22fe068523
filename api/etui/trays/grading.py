"""Grades of pieces at steps, as the judging engine gives them, each asked for once."""

from __future__ import annotations

import re
from typing import Protocol

import msgspec

from etui.judging.model import Answer, Candidate, Circumstance, Piece
from etui.knowledge.model import USABLE, Grade, Judgement
from etui.reading.model import Attributes
from etui.trays.duty import StepDuty
from etui.trays.parts import worse

PLAIN = Attributes()


class Judges(Protocol):
    """What a check needs of the judging engine."""

    def judge(
        self, step_id: str, candidate: Candidate, circumstance: Circumstance = ...
    ) -> Answer:
        """Graded answer for one step and one candidate."""
        ...


class Grader:
    """Grades of pieces at steps, each asked for once.

    A grade that the engine only asks about counts with its careful grade.
    """

    def __init__(self, judge: Judges) -> None:
        self.judge = judge
        self._known: dict[tuple[str, str, Attributes, tuple[str, ...]], Answer] = {}

    def answer(
        self, step: str, pattern: str, attributes: Attributes = PLAIN, parts: tuple[str, ...] = ()
    ) -> Answer:
        """The engine's answer for a piece with its partners."""
        key = (step, pattern, attributes, parts)
        found = self._known.get(key)
        if found is None:
            pieces = (Piece(pattern, attributes), *(Piece(p) for p in parts))
            found = self.judge.judge(step, Candidate(pieces=pieces))
            self._known[key] = found
        return found

    def grade(
        self,
        duty: StepDuty,
        pattern: str,
        attributes: Attributes = PLAIN,
        parts: tuple[str, ...] = (),
    ) -> Grade:
        """The grade to reckon with.

        Where the engine asks, nothing is taken for safe and nothing for harmful: the careful grade
        counts if it is usable; else the word of the step's own list, at most as acceptable; else
        the piece is reckoned unable.
        """
        answer = self.answer(duty.step.id, pattern, attributes, parts)
        if answer.grade is not None:
            return answer.grade
        judgement = duty.stated.get(pattern)
        if judgement is not None and judgement.grade in USABLE:
            return worse(judgement.grade, "acceptable")
        return answer.careful if answer.careful in USABLE else "unable"


_RANGE = re.compile(r"(\d+(?:\.\d+)?)\s*(?:to|-)\s*(\d+(?:\.\d+)?)\s*mm")
_NEAR = 0.1
"""Share by which a length may lie outside a stated range of common sizes."""


def what_counts(judgement: Judgement | None, attributes: Attributes) -> Attributes:
    """What a line states beyond what the judgement on the pair has already taken in.

    A judgement that names the size or the length on the line ("No. 11, the kit kind", "180 to
    200 mm") was made on that very piece, and nothing is taken off for it.
    """
    if judgement is None or judgement.grade not in USABLE or not judgement.because:
        return attributes
    said = judgement.because
    seen: dict[str, None] = {}
    if attributes.length_mm is not None and any(
        float(a) * (1 - _NEAR) <= attributes.length_mm <= float(b) * (1 + _NEAR)
        for a, b in _RANGE.findall(said)
    ):
        seen["length_mm"] = None
    if attributes.size and re.search(rf"\b{re.escape(attributes.size)}\b", said):
        seen["size"] = None
    return msgspec.structs.replace(attributes, **seen) if seen else attributes
