"""From evidence to a grade: what decides alone, then the balance, then the cost.

The balance is the sum of the points of all rules that fired, and of the vote of graded
neighbours: log odds that the piece is not usable.  Well below zero it is usable, well above it is
refused; in between the answer is a question.  Among usable pieces the costs of what it lacks make
the grade.  Both grow with every shortfall, so that no shortfall ever raises a grade.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from etui.judging.evidence import Evidence
from etui.judging.rulebook import RuleBook
from etui.judging.task import TaskView
from etui.knowledge.model import Grade


class Sums(NamedTuple):
    """Of the rules alone: log odds of "not usable", log odds of harm in that, cost in grades."""

    points: float
    harm: float
    cost: float


class Votes(NamedTuple):
    """What neighbours add: surprise in usability, in the grade of usable pieces, and in harm."""

    surprise: float = 0.0
    quality: float = 0.0
    harm: float = 0.0


class Weighed(NamedTuple):
    """The outcome for one piece in one task."""

    grade: Grade | None
    balance: float
    cost: float
    careful: Grade | None
    asks: str | None
    hazards: tuple[str, ...]


def sums(evidence: Iterable[Evidence], book: RuleBook) -> Sums:
    """Add up the rules that fired."""
    rules = book.rules
    bias = rules["bias"]
    points, harm, cost = bias.weight, bias.harm, bias.cost
    for item in evidence:
        rule = rules[item.rule]
        points += rule.weight * item.amount
        harm += rule.harm * item.amount
        cost += rule.cost * item.amount
    return Sums(points, harm, cost)


def balance(found: Sums, votes: Votes, book: RuleBook) -> tuple[float, float, float]:
    """Rules and neighbours together: the balance, the log odds of harm, and the cost."""
    total = (
        book.value("balance-shift") + book.value("balance-rules") * found.points
        + book.value("balance-votes") * votes.surprise
    )
    harm = found.harm + book.value("harm-votes") * votes.harm
    return total, harm, found.cost + book.value("cost-votes") * votes.quality


def decide(
    task: TaskView, evidence: list[Evidence], total: float, harm: float, cost: float,
    book: RuleBook,
) -> Weighed:
    """Grade one piece from its balance and cost; a met never decides alone."""
    nevers = [e for e in evidence if e.rule == "never-met"]
    if nevers:
        hazards = tuple(sorted({e.hazard for e in nevers if e.hazard}))
        return Weighed("unsafe", total, cost, None, None, hazards)
    doubts = sum(book.rules[e.rule].doubt for e in evidence)
    if total + book.value("doubt-margin") * min(doubts, 2) < book.value("usable-below"):
        grade = grade_of(cost, book)
        if any(book.rules[e.rule].makeshift for e in evidence):
            grade = "improvised"
        return Weighed(grade, total, cost, None, None, ())
    harmed = tuple(sorted({
        e.hazard for e in evidence
        if e.hazard is not None and book.rules[e.rule].outcome == "unsafe"
    }))
    bad: Grade = "unsafe" if harm > 0 else "unable"
    if total > book.value("refused-above"):
        return Weighed(bad, total, cost, None, None, harmed if bad == "unsafe" else ())
    return Weighed(None, total, cost, bad, question(evidence, task, book),
                   harmed if bad == "unsafe" else ())


def grade_of(cost: float, book: RuleBook) -> Grade:
    """The grade of a usable piece from what it lacks."""
    if cost < book.value("preferred-below"):
        return "preferred"
    if cost > book.value("improvised-above"):
        return "improvised"
    return "acceptable"


def question(evidence: list[Evidence], task: TaskView, book: RuleBook) -> str:
    """The question whose answer would decide: an open value first, else what weighs most."""
    open_ = [e for e in evidence if e.asks]
    if open_:
        first = max(open_, key=lambda e: (book.rules[e.rule].weight, e.rule, e.demand))
        asked = (first.asks or "").replace("_", " ")
        return f"What is the {asked} of the piece in hand ({first.demand})?"
    against = [
        e for e in evidence
        if book.rules[e.rule].weight * e.amount > 0
        and book.rules[e.rule].outcome in ("unsafe", "unable", "lower")
    ]
    if not against:
        return f"Is anything known of this piece for this step: {task.step.name}?"
    worst = max(against, key=lambda e: (book.rules[e.rule].weight * e.amount, e.rule, e.demand))
    return (
        f"Does it matter here that it is {book.rules[worst.rule].name} "
        f"(asked: {worst.demand}; it has: {worst.offer})?"
    )
