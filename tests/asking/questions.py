"""The questions written for this project, read from ``questions.psv``."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
USABLE = frozenset(("preferred", "acceptable", "improvised"))


@dataclass(frozen=True)
class Asked:
    """One question with what counts as right."""

    id: str
    procedure: str
    step: str
    missing: str
    candidate: str
    steps: tuple[str, ...]
    candidates: tuple[str, ...]
    grade: str
    also: tuple[str, ...]

    @property
    def query(self) -> dict[str, str]:
        return {
            "procedure": self.procedure,
            "step": self.step,
            "missing": self.missing,
            "candidate": self.candidate,
        }

    @property
    def right(self) -> frozenset[str]:
        return frozenset((self.grade, *self.also))

    def is_dangerous(self, grade: str | None) -> bool:
        """Whether calling it *grade* is wrong on the dangerous side of the safety line."""
        return grade in USABLE and not self.right & USABLE


def own_questions() -> list[Asked]:
    """Questions written for these tests."""
    out = []
    for number, line in enumerate((HERE / "questions.psv").read_text("utf-8").splitlines(), 1):
        if not line.strip() or line.startswith("#"):
            continue
        procedure, step, missing, candidate, steps, cands, grade, also, _ = line.split("|")
        out.append(
            Asked(
                id=f"line {number}",
                procedure=procedure,
                step=step,
                missing=missing,
                candidate=candidate,
                steps=tuple(steps.split(",")),
                candidates=tuple(c for c in cands.split(",") if c != "-"),
                grade=grade,
                also=tuple(a for a in also.split(",") if a),
            )
        )
    return out


def development_questions() -> list[Asked]:
    """The development cases in ``cases/questions.json``."""
    rows = json.loads((HERE / "cases" / "questions.json").read_text("utf-8"))
    return [
        Asked(
            id=row["case"],
            procedure=row["procedure"],
            step=row["step"],
            missing=row["missing"],
            candidate=row["candidate"],
            steps=(),
            candidates=(),
            grade=row["grade"],
            also=tuple(row["also_accept"]),
        )
        for row in rows
    ]
