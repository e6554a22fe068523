"""Leave-one-out evaluation: hide each stated judgement, derive it, compare.

Points and costs of the rules are fitted on the other procedures only.  The votes of neighbours
leave out the hidden judgement and, where the weight of votes itself is fitted, the whole procedure
that is being tested.  The two limits of the balance are those of ``ontology/rules.ttl``.

Counted strictly: within one grade among preferred, acceptable and improvised; unsafe and unable
alike; never across the safety line.  Dangerous: unsafe or unable derived as usable.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from etui.judging.fitting import Array, Design, Fitted, as_weights, design, fit, logistic
from etui.judging.neighbours import Cell, Likeness
from etui.judging.votes import Case, collect, tasks_of
from etui.judging.weigh import decide, sums
from etui.knowledge.model import GRADES, USABLE, Grade, Record

if TYPE_CHECKING:
    from etui.judging.engine import Judge


class Tried(Record, frozen=True):
    """One hidden judgement and what was derived in its place (None: a question was asked)."""

    step: str
    procedure: str
    action: str
    subject: str
    stated: Grade
    derived: Grade | None
    balance: float
    side: bool = False
    because: str | None = None
    hazard: str | None = None
    rules: tuple[str, ...] = ()

    @property
    def answered(self) -> bool:
        return self.derived is not None

    @property
    def dangerous(self) -> bool:
        return self.derived in USABLE and self.stated not in USABLE

    @property
    def refused(self) -> bool:
        """Over-refused: a usable piece derived as unsafe or unable."""
        return self.answered and self.derived not in USABLE and self.stated in USABLE

    @property
    def exact(self) -> bool:
        return self.derived == self.stated

    @property
    def within(self) -> bool:
        if self.derived is None or self.dangerous or self.refused:
            return False
        if self.derived not in USABLE:
            return True
        return abs(GRADES.index(self.derived) - GRADES.index(self.stated)) <= 1


class Tally(Record, frozen=True):
    """Counts of one group of tried judgements; shares are of those answered."""

    name: str
    cases: int
    answered: int
    within: int
    exact: int
    dangerous: int
    refused: int

    @property
    def asked(self) -> int:
        return self.cases - self.answered

    def share(self, part: int) -> float:
        return part / self.answered if self.answered else 0.0


def tally(name: str, tried: Iterable[Tried]) -> Tally:
    """Count one group."""
    group = list(tried)
    return Tally(
        name=name, cases=len(group), answered=sum(t.answered for t in group),
        within=sum(t.within for t in group), exact=sum(t.exact for t in group),
        dangerous=sum(t.dangerous for t in group), refused=sum(t.refused for t in group),
    )


def tallies(tried: Sequence[Tried], key: Callable[[Tried], Iterable[str]]) -> tuple[Tally, ...]:
    """Count by every key, in order of name."""
    groups: dict[str, list[Tried]] = defaultdict(list)
    for item in tried:
        for name in key(item):
            groups[name].append(item)
    return tuple(tally(name, groups[name]) for name in sorted(groups))


def leave_one_out(judge: Judge) -> tuple[Tried, ...]:
    """Try every stated judgement; needs some seconds and some hundred megabytes."""
    cases = collect(judge)
    rows = design(cases, judge.book)
    likeness = Likeness(judge.reference, tasks_of(judge), judge.book)
    refused = _Neighbourhood(likeness, cases)
    usable = np.flatnonzero(rows.refused == 0.0)
    barred = np.flatnonzero(rows.refused == 1.0)
    graded = _Neighbourhood(likeness, [cases[n] for n in usable])
    harmed = _Neighbourhood(likeness, [cases[n] for n in barred])
    procedures = np.array([judge.reference.steps[c.task.step].procedure for c in cases])
    tried: list[Tried] = []
    for name in sorted(set(procedures)):
        here = procedures == name
        tried += _one_procedure(
            judge, cases, rows, here, (refused, graded, harmed), (usable, barred)
        )
    return tuple(tried)


class _Neighbourhood:
    """The inverse covariance of a set of cases: votes with any of them left out."""

    def __init__(self, likeness: Likeness, cases: Sequence[Case]) -> None:
        cells = [
            Cell(likeness.row[c.task], likeness.column[c.judgement.subject], 0.0) for c in cases
        ]
        matrix = likeness.covariance(cells)
        matrix[np.diag_indices_from(matrix)] += likeness.noise
        self.inverse: Array = cho_solve(
            cho_factor(matrix, lower=True, overwrite_a=True), np.eye(len(cells))
        )

    def votes(self, surprise: Array) -> Array:
        """The vote on each case by all the others."""
        diagonal = np.diag(self.inverse)
        return np.asarray(surprise - (self.inverse @ surprise) / diagonal)

    def votes_without(self, surprise: Array, hidden: NDArray[np.bool_]) -> Array:
        """The vote on each case that is not *hidden*, by the others that are not hidden."""
        t, r = np.flatnonzero(hidden), np.flatnonzero(~hidden)
        if not len(t):
            return self.votes(surprise)
        inner = self.inverse
        cross = inner[np.ix_(r, t)]
        reduced = inner[np.ix_(r, r)] - cross @ np.linalg.solve(inner[np.ix_(t, t)], cross.T)
        return np.asarray(surprise[r] - (reduced @ surprise[r]) / np.diag(reduced))


def _one_procedure(
    judge: Judge, cases: list[Case], rows: Design, here: NDArray[np.bool_],
    nearby: tuple[_Neighbourhood, ...], among: tuple[NDArray[np.intp], ...],
) -> list[Tried]:
    """Try the judgements of one procedure with what the other procedures teach."""
    book = judge.book
    other = ~here
    train = Design(rows.rules, rows.found[other], rows.refused[other], rows.grade[other])
    raw = fit(train, book)
    learnt = as_weights(rows, raw, book)
    local = book.weigh(learnt.weights, learnt.costs, learnt.harms)
    refused, graded, harmed = nearby
    usable, barred = among
    expected = rows.found @ raw.points
    surprise = rows.refused - _chance(expected)
    votes = refused.votes(surprise)
    taught = refused.votes_without(surprise, here)
    share = logistic(
        np.column_stack([expected[other], taught, np.ones(other.sum())]), rows.refused[other],
        [(0.0, None), (0.0, None), (None, None)], 0.01,
    )
    quality = graded.votes(rows.grade[usable] - rows.found[usable] @ raw.costs)
    unsafe = (rows.grade[barred] == GRADES.index("unsafe")).astype(np.float64)
    harm = harmed.votes(unsafe - _chance(rows.found[barred] @ raw.harms))
    quality_of = dict(zip(usable.tolist(), quality.tolist(), strict=True))
    harm_of = dict(zip(barred.tolist(), harm.tolist(), strict=True))
    out = []
    for n in np.flatnonzero(here).tolist():
        case = cases[n]
        found = sums(case.evidence, local)
        total = float(share[0] * expected[n] + share[1] * votes[n] + share[2])
        # A piece that is not usable has no vote on its grade, and a usable one none on harm:
        # neither is needed, for a step over the safety line is counted whatever the grade.
        cost = found.cost + book.value("cost-votes") * quality_of.get(n, 0.0)
        odds = found.harm + book.value("harm-votes") * harm_of.get(n, 0.0)
        result = decide(judge.task_of(case.task), case.evidence, total, odds, cost, local)
        step = judge.reference.steps[case.task.step]
        out.append(Tried(
            step=step.id, procedure=step.procedure, action=case.task.action,
            subject=case.judgement.subject, stated=case.judgement.grade, derived=result.grade,
            balance=round(total, 3), side=case.task.action != step.action,
            because=case.judgement.because, hazard=case.judgement.hazard,
            rules=tuple(sorted({
                e.rule for e in case.evidence if local.rules[e.rule].outcome != "note"
            })),
        ))
    return out


def _chance(points: Array) -> Array:
    return np.asarray(1.0 / (1.0 + np.exp(-points)))


def refit(judge: Judge) -> tuple[Fitted, dict[str, float]]:
    """Points and costs fitted on all procedures, and how much rules and votes count."""
    cases = collect(judge)
    rows = design(cases, judge.book)
    raw = fit(rows, judge.book)
    likeness = Likeness(judge.reference, tasks_of(judge), judge.book)
    expected = rows.found @ raw.points
    surprise = rows.refused - _chance(expected)
    votes = _Neighbourhood(likeness, cases).votes(surprise)
    share = logistic(
        np.column_stack([expected, votes, np.ones(len(cases))]), rows.refused,
        [(0.0, None), (0.0, None), (None, None)], 0.01,
    )
    names = ("balance-rules", "balance-votes", "balance-shift")
    return (
        as_weights(rows, raw, judge.book),
        {name: round(float(value), 3) for name, value in zip(names, share, strict=True)},
    )
