"""How fast questions are answered: in words at most 10 ms, by ids at most 1 ms (median, warm)."""

from __future__ import annotations

import sys
from itertools import cycle
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "asking"))

from questions import own_questions

from etui.judging import Judge
from etui.judging.ask import Asker
from etui.knowledge import load_reference
from etui.reading import Reader


@pytest.fixture(scope="module")
def asker() -> Asker:
    reference = load_reference()
    found = Asker(reference, Reader(reference), Judge(reference))
    for question in own_questions():
        found.replace(question.query)
    return found


@pytest.mark.benchmark(group="asking")
def test_question_in_words(benchmark, asker: Asker) -> None:
    questions = cycle(q.query for q in own_questions())
    benchmark(lambda: asker.replace(next(questions)))
    assert benchmark.stats.stats.median < 0.010


@pytest.mark.benchmark(group="asking")
def test_question_by_ids(benchmark, asker: Asker) -> None:
    query = {
        "procedure": "tube-thoracostomy",
        "step": "tube-thoracostomy/open-pleura",
        "missing": "haemostat-kelly-long",
        "candidate": "haemostat-spencer-wells",
    }
    benchmark(lambda: asker.replace(query))
    assert benchmark.stats.stats.median < 0.001
