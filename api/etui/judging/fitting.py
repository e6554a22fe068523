"""Fitting the points and costs of the rules to stated judgements.

Points: logistic regression of "not usable" on what the rules find.  Costs: ridge regression of
the grade of usable pieces.  Harm: logistic regression of "unsafe, not unable" on refused
pieces.  Signs of the first two are bound: a finding against a piece can never come to speak
for it, so that a shortfall never raises a grade.  Both are convex: the result does not depend on
where the search starts.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from etui.judging.rulebook import RuleBook
from etui.judging.votes import Case
from etui.knowledge.model import GRADES

Array = NDArray[np.float64]

_UNSAFE = GRADES.index("unsafe")
_ALONE = frozenset({"must-met", "should-met"})
"""Rules that only tell: a demand added and met must not raise a grade."""


class Design(NamedTuple):
    """What the rules find in all cases: one row a case, one column a rule."""

    rules: tuple[str, ...]
    found: Array
    refused: Array
    grade: Array


class Fitted(NamedTuple):
    """Points and costs by rule, as they stand in ``ontology/rules.ttl``."""

    weights: dict[str, float]
    costs: dict[str, float]
    harms: dict[str, float]


class Raw(NamedTuple):
    """Coefficients in the order of the columns: points, costs, harm."""

    points: Array
    costs: Array
    harms: Array


def chain(rule: str, book: RuleBook) -> tuple[str, ...]:
    """The rule and those that it includes (far too wide is also too wide)."""
    out = [rule]
    while (next_ := book.rules[out[-1]].includes) is not None:
        out.append(next_)
    return tuple(out)


def design(cases: Sequence[Case], book: RuleBook) -> Design:
    """The findings of all cases; an included rule counts along with the one that includes it."""
    names = sorted(
        {
            link for case in cases for e in case.evidence for link in chain(e.rule, book)
        } - _ALONE
    )
    column = {name: n for n, name in enumerate(names)}
    found = np.zeros((len(cases), len(names) + 1))
    found[:, -1] = 1.0
    for row, case in enumerate(cases):
        for item in case.evidence:
            for link in chain(item.rule, book):
                if link in column:
                    found[row, column[link]] += item.amount
    return Design(
        (*names, "bias"), found, np.array([case.refused for case in cases]),
        np.array([float(case.grade) for case in cases]),
    )


def bounds(rules: Sequence[str], book: RuleBook) -> list[tuple[float | None, float | None]]:
    """The sign that each rule may have: against is never below zero, support never above."""
    out: list[tuple[float | None, float | None]] = []
    for name in rules:
        outcome = book.rules[name].outcome
        if name == "bias" or name == "side-task" or name.startswith("action-"):
            out.append((None, None))
        elif outcome == "support":
            out.append((None, 0.0))
        else:
            out.append((0.0, None))
    return out


def logistic(
    found: Array, refused: Array, limits: list[tuple[float | None, float | None]],
    ridge: Array | float = 1.0,
) -> Array:
    """Bounded logistic regression with a ridge on every coefficient."""
    penalty = np.broadcast_to(np.asarray(ridge, dtype=np.float64), (found.shape[1],))

    def loss(w: Array) -> tuple[float, Array]:
        z = found @ w
        p = 1.0 / (1.0 + np.exp(-np.clip(z, -30.0, 30.0)))
        value = float(np.sum(np.logaddexp(0.0, z) - refused * z) + 0.5 * np.sum(penalty * w * w))
        return value, found.T @ (p - refused) + penalty * w

    start = np.zeros(found.shape[1])
    result = minimize(
        loss, start, jac=True, method="L-BFGS-B", bounds=limits,
        options={"maxiter": 1000, "ftol": 1e-12, "gtol": 1e-8},
    )
    return np.asarray(result.x, dtype=np.float64)


def ridge_costs(
    found: Array, grade: Array, limits: list[tuple[float | None, float | None]],
    ridge: float = 5.0,
) -> Array:
    """Bounded ridge regression of the grade of usable pieces."""
    gram, right = found.T @ found, found.T @ grade

    def loss(w: Array) -> tuple[float, Array]:
        ahead = gram @ w
        value = float(0.5 * w @ ahead - right @ w + 0.5 * ridge * w @ w)
        return value, ahead - right + ridge * w

    result = minimize(
        loss, np.zeros(found.shape[1]), jac=True, method="L-BFGS-B", bounds=limits,
        options={"maxiter": 1000, "ftol": 1e-12, "gtol": 1e-8},
    )
    return np.asarray(result.x, dtype=np.float64)


def fit(rows: Design, book: RuleBook) -> Raw:
    """Raw coefficients in the order of ``rows.rules``."""
    limits = bounds(rows.rules, book)
    points = logistic(rows.found, rows.refused, limits)
    usable = rows.refused == 0.0
    costs = ridge_costs(rows.found[usable], rows.grade[usable], limits)
    free: list[tuple[float | None, float | None]] = [(None, None)] * len(rows.rules)
    unsafe = (rows.grade == _UNSAFE).astype(np.float64)
    harms = logistic(rows.found[~usable], unsafe[~usable], free)
    return Raw(points, costs, harms)


def as_weights(rows: Design, found: Raw, book: RuleBook) -> Fitted:
    """Coefficients as weights of single rules: what includes another carries its points too."""
    out: list[dict[str, float]] = []
    for column in found:
        raw = dict(zip(rows.rules, column.tolist(), strict=True))
        out.append({
            name: round(sum(raw.get(link, 0.0) for link in chain(name, book)), 3)
            for name in rows.rules
        })
    return Fitted(*out)
