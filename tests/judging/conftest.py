"""What the tests of judging share: the graph, the judge, and a scale for "not better than"."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from etui.judging import Answer, Candidate, Circumstance, Judge, Piece
from etui.knowledge import load_reference
from etui.knowledge.model import Reference
from etui.reading.model import Attributes

Grade = Callable[..., Answer]

ORDER = {"preferred": 0, "acceptable": 1, "improvised": 2, None: 3, "unable": 4, "unsafe": 4}
"""How good an answer is; a question stands between usable and refused."""


def rank(answer: Answer) -> int:
    """Place of an answer from best to worst; harm and inability are equally bad."""
    return ORDER[answer.grade]


def plain(id_: str, **stated: object) -> Candidate:
    """One pattern with what its line states."""
    return Candidate(pieces=(Piece(id=id_, attributes=Attributes(**stated)),))


@pytest.fixture(scope="session")
def reference() -> Reference:
    return load_reference()


@pytest.fixture(scope="session")
def judge(reference: Reference) -> Judge:
    return Judge(reference)


@pytest.fixture(scope="session")
def grade(judge: Judge) -> Grade:
    def ask(step: str, candidate: Candidate | str, **around: object) -> Answer:
        if isinstance(candidate, str):
            candidate = plain(candidate)
        return judge.judge(step, candidate, Circumstance(**around))

    return ask
