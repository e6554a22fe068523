"""What all tests share."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="session")
def root() -> Path:
    """Folder of the repository."""
    return ROOT


@pytest.fixture(scope="session")
def demo(root: Path) -> Path:
    """The invented hospital."""
    return root / "demo_graph"


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Tests keep their cache of the graph apart from the user's."""
    before = os.environ.get("XDG_CACHE_HOME")
    os.environ["XDG_CACHE_HOME"] = str(tmp_path_factory.getbasetemp().parent / "etui-cache")
    yield
    if before is None:
        os.environ.pop("XDG_CACHE_HOME", None)
    else:
        os.environ["XDG_CACHE_HOME"] = before
