"""One reader for all tests of reading."""

from __future__ import annotations

import pytest

from etui.knowledge import load_reference
from etui.reading import Namer, Reader


@pytest.fixture(scope="session")
def reader() -> Reader:
    return Reader(load_reference())


@pytest.fixture(scope="session")
def namer(reader: Reader) -> Namer:
    return Namer(reader)
