"""How fast judging is: one question by ids, a list of substitutes, one look-up in the table."""

from __future__ import annotations

import itertools
import random
from typing import Any

import pytest

from etui.judging import Candidate, Circumstance, Judge, Piece
from etui.knowledge import load_reference
from etui.reading.model import Attributes

LIMIT_BY_IDS_S = 0.001
"""Median time of one answer by ids, with reasons, warm."""


@pytest.fixture(scope="module")
def judge() -> Judge:
    judge = Judge(load_reference())
    judge.grade_table()
    return judge


def _questions(judge: Judge) -> list[tuple[str, Candidate, Circumstance]]:
    chooser = random.Random(1)
    steps, patterns = sorted(judge.reference.steps), sorted(judge.reference.patterns)
    out = []
    for n in range(500):
        piece = Piece(
            id=chooser.choice(patterns),
            attributes=Attributes(length_mm=150.0) if n % 3 == 0 else Attributes(),
        )
        manners = ("blind",) if n % 5 == 0 else ()
        around = Circumstance(states=("tense",)) if n % 7 == 0 else Circumstance()
        out.append((chooser.choice(steps), Candidate(pieces=(piece,), manners=manners), around))
    return out


def test_one_answer_by_ids(benchmark: Any, judge: Judge) -> None:
    questions = itertools.cycle(_questions(judge))
    benchmark(lambda: judge.judge(*next(questions)))
    assert benchmark.stats["median"] <= LIMIT_BY_IDS_S


def test_substitutes_for_one_step(benchmark: Any, judge: Judge) -> None:
    benchmark(judge.substitutes, "tube-thoracostomy/open-pleura")


def test_one_look_up(benchmark: Any, judge: Judge) -> None:
    table = judge.grade_table()
    benchmark(table.grade, "tube-thoracostomy/open-pleura", "haemostat-kelly")
