"""What could stand in at a step: best first, what it costs, and what must not be used.

Hand manoeuvres are listed with the pieces.  Pieces that cannot do the step are left out; those
that somebody would reach for and that harm (they offer the action, or resemble what is usual
there) come last.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from etui.judging.model import Answer, Candidate, Circumstance, Piece
from etui.knowledge.model import GRADES, USABLE, Grade, Record, Step

if TYPE_CHECKING:
    from etui.judging.engine import Judge


class Substitute(Record, frozen=True):
    """One thing that could stand in, or that must not.

    ``costs``: what it lacks or brings along, in words.  ``avoid``: it harms and is easily reached
    for.  ``answer``: the whole judgement.
    """

    id: str
    name: str
    grade: Grade
    stated: bool
    costs: tuple[str, ...]
    hazards: tuple[str, ...]
    avoid: bool
    answer: Answer


def substitutes(
    judge: Judge, step_id: str, circumstance: Circumstance,
    candidates: Iterable[Candidate] | None = None,
) -> tuple[Substitute, ...]:
    """Judge every candidate and order them, best first, the dangerous ones last."""
    step = judge.step(step_id)
    found = []
    for candidate in candidates if candidates is not None else _all(judge, step, circumstance):
        if not candidate.pieces:
            continue
        answer = judge.judge(step_id, candidate, circumstance)
        if answer.grade is None or answer.grade == "unable":
            continue
        # Without a side task asked for, a piece that only helps does not stand in for the step.
        if circumstance.side_task is None and answer.role not in (None, "blade", "handle"):
            continue
        lead = candidate.pieces[0].id
        avoid = answer.grade not in USABLE
        if avoid and not _tempting(judge, step, lead, answer):
            continue
        found.append(Substitute(
            id=lead, name=answer.candidate, grade=answer.grade, stated=answer.stated,
            costs=costs(answer), hazards=answer.hazards, avoid=avoid, answer=answer,
        ))
    return tuple(sorted(found, key=_order))


def _order(item: Substitute) -> tuple[bool, int, bool, float, str]:
    balance = item.answer.balance if item.answer.balance is not None else -10.0
    return (item.avoid, GRADES.index(item.grade), not item.stated, balance, item.id)


def _all(judge: Judge, step: Step, circumstance: Circumstance) -> list[Candidate]:
    """Every pattern that offers the action or is judged here, and every manoeuvre judged here."""
    action = circumstance.side_task or step.action
    ids = {
        id_ for id_, pattern in judge.reference.patterns.items()
        if any(offer.action == action for offer in pattern.offers)
        or judge.units.best_unit(id_, action) is not None
    }
    if circumstance.side_task is None:
        ids.update(judge.stated.subjects(step.id))
    else:
        ids.update(
            id_ for id_ in judge.stated.subjects(step.id)
            if judge.stated.of(step.id, id_, action) is not None
        )
    return [Candidate(pieces=(Piece(id=id_),)) for id_ in sorted(ids)]


def _tempting(judge: Judge, step: Step, id_: str, answer: Answer) -> bool:
    """Whether somebody would reach for it: it offers the action or is judged here by name."""
    pattern = judge.reference.patterns.get(id_)
    if pattern is None or answer.stated:
        return True
    return any(offer.action == step.action for offer in pattern.offers)


def costs(answer: Answer) -> tuple[str, ...]:
    """What a usable piece lacks, from the reasons against it; at most four, in order."""
    out = []
    for ground in answer.grounds:
        if ground.rule == "stated":
            if ground.consequence not in GRADES:
                out.append(ground.consequence)
        elif ground.level == "against":
            out.append(f"{ground.demand}: {ground.offer}")
    return tuple(dict.fromkeys(out))[:4]
