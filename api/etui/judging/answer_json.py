"""Answers as the machine contract has them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from etui.judging.model import Answer, Candidate, Ground
from etui.knowledge.model import Reference, Step


class AnswerJson:
    """Turns answers into the objects of the machine contract, with names beside ids."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference

    def head(
        self, step: Step, used: Candidate, unresolved: Iterable[str]
    ) -> dict[str, Any]:
        return {
            "step": {"id": step.id, "name": step.name},
            "candidate": {
                "resolved": [self.named(p.id) for p in used.pieces],
                "manner": [self._manner(m) for m in used.manners],
            },
            "grade": None,
            "stated": False,
            "asks": None,
            "careful": None,
            "reasons": [],
            "hazards": [],
            "better": [],
            "unresolved": list(unresolved),
        }

    def graded(
        self,
        step: Step,
        answer: Answer,
        used: Candidate,
        *,
        unresolved: tuple[str, ...],
        note: str | None,
        better: list[dict[str, Any]],
    ) -> dict[str, Any]:
        out = self.head(step, used, unresolved)
        out.update(
            grade=answer.grade,
            stated=answer.stated,
            asks=answer.asks or note if answer.grade is None else None,
            careful=answer.careful if answer.grade is None else None,
            reasons=[self._reason(g) for g in answer.grounds],
            hazards=[self._term("hazard", h) for h in answer.hazards],
            better=better,
        )
        if answer.disputed:
            out["disputed"] = True
        return out

    def _reason(self, ground: Ground) -> dict[str, Any]:
        source = self.reference.sources.get(ground.source or "")
        return {
            "demand": ground.demand,
            "offer": ground.offer,
            "consequence": ground.consequence,
            "source": source.title if source else ground.source,
            "how_known": ground.how_known,
        }

    def named(self, id_: str) -> dict[str, str]:
        known = self.reference.patterns.get(id_) or self.reference.manoeuvres.get(id_)
        return {"id": id_, "name": known.name if known else id_}

    def _manner(self, id_: str) -> str:
        known = self.reference.manners.get(id_)
        return known.name if known else id_

    def _term(self, group: str, id_: str) -> str:
        known = self.reference.terms.get(group, {}).get(id_)
        return known.name if known else id_
