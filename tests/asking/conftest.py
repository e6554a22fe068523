"""What the tests of asking share: the graph, the reader, the judge and one asker."""

from __future__ import annotations

import pytest

from etui.judging import Judge
from etui.judging.ask import Asker
from etui.judging.step_match import StepMatcher
from etui.knowledge import load_reference
from etui.knowledge.model import Reference
from etui.reading import Reader


@pytest.fixture(scope="session")
def reference() -> Reference:
    return load_reference()


@pytest.fixture(scope="session")
def reader(reference: Reference) -> Reader:
    return Reader(reference)


@pytest.fixture(scope="session")
def judge(reference: Reference) -> Judge:
    return Judge(reference)


@pytest.fixture(scope="session")
def asker(reference: Reference, reader: Reader, judge: Judge) -> Asker:
    return Asker(reference, reader, judge)


@pytest.fixture(scope="session")
def steps(reference: Reference) -> StepMatcher:
    return StepMatcher(reference)
