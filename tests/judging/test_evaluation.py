"""Leave one out: the levels that are promised, and that nothing leaks."""

from __future__ import annotations

import re

import pytest

from etui.judging import Judge
from etui.judging.evaluate import Tried, leave_one_out, refit, tally
from etui.judging.evaluation_report import as_json, page, stale
from etui.judging.neighbours import Cell, Likeness, Task, votes_on_grid
from etui.judging.votes import tasks_of
from etui.knowledge.model import USABLE, Reference


def tried(stated: str, derived: str | None) -> Tried:
    return Tried(
        step="s", procedure="p", action="cut", subject="x", stated=stated, derived=derived,
        balance=0.0,
    )


@pytest.mark.parametrize(
    ("stated", "derived", "within", "dangerous"),
    [
        ("preferred", "acceptable", True, False),
        ("preferred", "improvised", False, False),
        ("improvised", "acceptable", True, False),
        ("unsafe", "unable", True, False),
        ("unable", "unsafe", True, False),
        ("unsafe", "improvised", False, True),
        ("unable", "preferred", False, True),
        ("improvised", "unable", False, False),
        ("unsafe", None, False, False),
    ],
)
def test_cases_are_counted_strictly(stated, derived, within, dangerous) -> None:
    case = tried(stated, derived)
    assert case.within is within
    assert case.dangerous is dangerous
    assert case.answered is (derived is not None)


def test_shares_are_of_those_answered() -> None:
    cases = [tried("unsafe", None), tried("unsafe", "unsafe"), tried("unable", "preferred")]
    found = tally("x", cases)
    assert (found.cases, found.answered, found.asked) == (3, 2, 1)
    assert found.share(found.within) == 0.5
    assert found.share(found.dangerous) == 0.5


def test_votes_by_conjugate_gradients_agree_with_the_dense_solution(judge: Judge) -> None:
    import numpy as np

    likeness = Likeness(judge.reference, tasks_of(judge), judge.book)
    chooser = np.random.default_rng(1)
    seen: set[tuple[int, int]] = set()
    while len(seen) < 200:
        row = int(chooser.integers(len(likeness.tasks)))
        seen.add((row, int(chooser.integers(len(likeness.patterns)))))
    cells = [Cell(r, c, float(chooser.normal())) for r, c in sorted(seen)]
    grid = votes_on_grid(likeness, cells)
    covariance = likeness.covariance(cells)
    weights = np.linalg.solve(
        covariance + likeness.noise * np.eye(len(cells)), [cell.surprise for cell in cells]
    )
    expected = covariance @ weights
    got = np.array([grid[cell.row, cell.column] for cell in cells])
    assert np.abs(got - expected).max() < 1e-3


def test_likeness_is_symmetric_and_greatest_with_itself(judge: Judge) -> None:
    likeness = Likeness(judge.reference, tasks_of(judge), judge.book)
    for matrix in (likeness.of_tasks, likeness.of_pieces):
        assert abs(matrix - matrix.T).max() < 1e-12
        assert (matrix.diagonal() > 0.999999).all()
        assert matrix.max() < 1.000001
    a = likeness.column["haemostat-kelly"]
    near, far = likeness.column["haemostat-crile"], likeness.column["tube-tracheal-70"]
    assert likeness.of_pieces[a, near] > likeness.of_pieces[a, far]
    assert Task("tube-thoracostomy/open-pleura", "spread") in likeness.row


@pytest.mark.slow
def test_the_promised_levels_are_reached(judge: Judge, reference: Reference) -> None:
    found = leave_one_out(judge)
    total = tally("all", found)
    assert total.cases > 4500
    assert total.answered / total.cases >= 0.80
    assert total.share(total.within) >= 0.90
    assert total.share(total.dangerous) <= 0.023
    for case in found:
        if "never-met" in case.rules:
            assert case.derived == "unsafe"
    text = page(reference, found)
    listed = re.findall(r"^\| [\w-]+/[\w-]+ ", text, re.MULTILINE)
    assert len(listed) == total.dangerous
    data = as_json(found)
    assert data["all"]["dangerous"] == len(data["dangerous"])
    assert all(row["derived"] in USABLE for row in data["dangerous"])


@pytest.mark.slow
def test_the_numbers_in_the_rules_are_those_that_were_fitted(judge: Judge) -> None:
    fitted, shares = refit(judge)
    assert not stale(judge, fitted, shares, slack=0.15)
