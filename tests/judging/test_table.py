"""The compiled table says what the judge says, and is the same every time."""

from __future__ import annotations

import random

import numpy as np

from etui.judging import Judge
from etui.judging.table import ASKED
from etui.knowledge.model import GRADES, USABLE

from .conftest import plain


def test_the_table_agrees_with_the_judge(judge: Judge) -> None:
    table = judge.grade_table()
    chooser = random.Random(1)
    for _ in range(4000):
        step, pattern = chooser.choice(table.steps), chooser.choice(table.patterns)
        answer = judge.judge(step, plain(pattern))
        assert table.grade(step, pattern) == answer.grade
        row, column = table.row[step], table.column[pattern]
        assert bool(table.stated[row, column]) == answer.stated
        held = answer.grade or answer.careful
        assert held is not None
        assert table.careful[row, column] == GRADES.index(held)


def test_the_table_covers_every_pair_and_cannot_be_changed(judge: Judge) -> None:
    table = judge.grade_table()
    assert table.steps == tuple(sorted(judge.reference.steps))
    assert table.patterns == tuple(sorted(judge.reference.patterns))
    assert set(np.unique(table.grades)) <= {ASKED, 0, 1, 2, 3, 4}
    assert (table.careful >= 0).all()
    assert not table.grades.flags.writeable


def test_every_essential_step_has_something_usable(judge: Judge) -> None:
    table = judge.grade_table()
    for row, id_ in enumerate(table.steps):
        step = judge.reference.steps[id_]
        if step.need != "essential":
            continue
        by_piece = ((table.grades[row] >= 0) & (table.grades[row] <= 2)).any()
        by_hand = any(
            j.grade in USABLE for j in step.judgements
            if j.subject in judge.reference.manoeuvres
        )
        assert by_piece or by_hand, id_


def test_substitutes_come_best_first_and_harm_last(judge: Judge) -> None:
    for step in ("tube-thoracostomy/open-pleura", "resuscitative-thoracotomy/divide-sternum"):
        found = judge.substitutes(step)
        usable = [s for s in found if not s.avoid]
        assert usable
        assert [s.grade for s in usable] == sorted(
            (s.grade for s in usable), key=GRADES.index
        )
        assert all(s.grade in USABLE for s in usable)
        avoid = [s for s in found if s.avoid]
        assert avoid
        assert all(s.grade == "unsafe" for s in avoid)
        assert found == (*usable, *avoid)
        stated_hands = {
            j.subject for j in judge.reference.steps[step].judgements
            if j.subject in judge.reference.manoeuvres and j.grade in USABLE
            and j.role is None and j.as_action is None
        }
        assert stated_hands <= {s.id for s in usable}


def test_substitutes_can_be_limited_to_what_lies_there(judge: Judge) -> None:
    there = [plain("haemostat-kelly"), plain("scalpel-blade-11")]
    found = judge.substitutes("tube-thoracostomy/open-pleura", candidates=there)
    assert [s.id for s in found] == ["haemostat-kelly", "scalpel-blade-11"]
    assert found[1].avoid
