"""Reasons in words, for people: what was asked, what the piece has, what follows, from where."""

from __future__ import annotations

from etui.judging.evidence import Evidence
from etui.judging.model import Ground
from etui.judging.rulebook import RuleBook
from etui.knowledge.model import USABLE, Judgement, Step


def ground(evidence: Evidence, book: RuleBook, *, against: bool = False) -> Ground:
    """One finding of a rule as a reason."""
    rule = book.rules[evidence.rule]
    level = "note"
    if against or rule.outcome in ("unsafe", "unable", "lower"):
        level = "against"
    elif rule.outcome == "support":
        level = "for"
    return Ground(
        demand=evidence.demand, offer=evidence.offer, consequence=rule.definition,
        source=evidence.source, how_known="derived", rule=evidence.rule,
        level=level,  # type: ignore[arg-type]
    )


def stated_ground(step: Step, name: str, judgement: Judgement) -> Ground:
    """One stated judgement as a reason."""
    task = judgement.as_action or judgement.role
    demand = step.name if task is None else f"{step.name} ({task.replace('_', ' ')})"
    return Ground(
        demand=demand, offer=name, consequence=judgement.because or judgement.grade,
        source=judgement.source, how_known=judgement.how_known, rule="stated",
        level="for" if judgement.grade in USABLE else "against",
    )
