"""From evidence to a grade: what decides alone, then the balance, then the cost.

The balance is the sum of the points of all rules that fired and of the votes of neighbours: log
odds that the piece is not usable.  Well below zero it is usable, well above it is refused; in
between the answer is a question.  Among usable pieces the costs of what it lacks make the grade.
Both grow with every shortfall, so that no shortfall ever raises a grade.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from etui.judging.evidence import Evidence
from etui.judging.neighbours import Votes
from etui.judging.rulebook import RuleBook
from etui.judging.task import TaskView
from etui.knowledge.model import Grade

VOTE_RULES = ("vote-same-piece", "vote-same-step", "vote-both")


class Weighed(NamedTuple):
    """The outcome for one piece in one task."""

    grade: Grade | None
    balance: float
    cost: float
    careful: Grade | None
    asks: str | None
    told: tuple[Evidence, ...]
    hazards: tuple[str, ...]


def balance_of(
    evidence: Iterable[Evidence], votes: Votes, book: RuleBook
) -> tuple[float, float, float]:
    """Log odds of "not usable", the part of it that speaks for harm, and the cost in grades."""
    rules = book.rules
    total, cost = rules["bias"].weight, rules["bias"].cost
    harm = 0.0
    for item in evidence:
        rule = rules[item.rule]
        points = rule.weight * item.amount
        total += points
        cost += rule.cost * item.amount
        if rule.outcome == "unsafe":
            harm += points
        elif rule.outcome == "unable":
            harm -= points
    total += rules["vote-same-piece"].weight * votes.same_piece
    total += rules["vote-same-step"].weight * votes.same_step
    total += rules["vote-both"].weight * votes.both
    if votes.quality is not None:
        cost += rules["vote-quality"].weight * 0.0 + rules["vote-quality"].cost * (
            votes.quality - 1.0
        )
    return total, harm, cost


def weigh(task: TaskView, evidence: list[Evidence], votes: Votes, book: RuleBook) -> Weighed:
    """Grade one piece from the evidence and the votes."""
    total, harm, cost = balance_of(evidence, votes, book)
    told = tuple(e for e in evidence if book.rules[e.rule].outcome != "note" or e.rule == "must-met")
    nevers = [e for e in evidence if e.rule == "never-met"]
    harmed = tuple(sorted({
        e.hazard for e in evidence
        if e.hazard is not None and book.rules[e.rule].outcome == "unsafe"
    }))
    bad: Grade = "unsafe" if nevers or (harm > 0 and harmed) else "unable"
    if nevers:
        hazards = tuple(sorted({e.hazard for e in nevers if e.hazard}))
        return Weighed("unsafe", total, cost, None, None, told, hazards)
    if total > book.value("refused-above"):
        return Weighed(bad, total, cost, None, None, told, harmed if bad == "unsafe" else ())
    if total < book.value("usable-below"):
        return Weighed(grade_of(cost, book), total, cost, None, None, told, ())
    return Weighed(None, total, cost, bad, question(evidence, votes, task, book), told, harmed)


def grade_of(cost: float, book: RuleBook) -> Grade:
    """The grade of a usable piece from what it lacks."""
    if cost < book.value("preferred-below"):
        return "preferred"
    if cost > book.value("improvised-above"):
        return "improvised"
    return "acceptable"


def question(evidence: list[Evidence], votes: Votes, task: TaskView, book: RuleBook) -> str:
    """The question whose answer would decide: an open value first, else what weighs most."""
    open_ = [e for e in evidence if e.asks]
    if open_:
        first = max(open_, key=lambda e: (book.rules[e.rule].weight, e.rule, e.demand))
        return f"What is the {(first.asks or '').replace('_', ' ')} of this piece ({first.demand})?"
    against = [
        e for e in evidence
        if book.rules[e.rule].weight * e.amount > 0
        and book.rules[e.rule].outcome in ("unsafe", "unable", "lower")
    ]
    if against:
        worst = max(
            against, key=lambda e: (book.rules[e.rule].weight * e.amount, e.rule, e.demand)
        )
        rule = book.rules[worst.rule]
        return f"Is the piece in hand {rule.name} (asked: {worst.demand}; it has: {worst.offer})?"
    return f"Has this piece been used for this before: {task.step.name}?"
