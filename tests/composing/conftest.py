"""What the tests of composing share: the graph, reader and judge, and a short way to a tray."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from etui.judging import Judge
from etui.knowledge import load_reference
from etui.knowledge.model import Reference
from etui.reading import Reader
from etui.trays.compose import compose
from etui.trays.situation import Bench

Compose = Callable[..., dict[str, Any]]


@pytest.fixture(scope="session")
def reference() -> Reference:
    return load_reference()


@pytest.fixture(scope="session")
def bench(reference: Reference) -> Bench:
    return Bench(reference, Reader(reference), Judge(reference))


@pytest.fixture(scope="session")
def composed(bench: Bench) -> Compose:
    """Compose from "name: count" lines."""

    def make(procedures: str | list[str], stock: str, *wishes: str, **more: Any) -> dict[str, Any]:
        lines = [line.rsplit(":", 1) for line in stock.splitlines() if line.strip()]
        brief = {
            "title": more.pop("title", "Tray of the Saltmarsh Ferry Hospital"),
            "procedures": [procedures] if isinstance(procedures, str) else procedures,
            "operator": more.pop("operator", "general duties doctor, alone"),
            "stock": [{"name": name.strip(), "count": int(count)} for name, count in lines],
            "constraints": list(wishes),
        }
        options = {k: more.pop(k) for k in ("alternatives", "without") if k in more}
        return compose(
            {**brief, **more},
            bench.reference,
            bench.reader,
            bench.grader.judge,
            bench=bench,
            **options,
        )

    return make


def counts(tray: dict[str, Any]) -> dict[str, int]:
    """Pieces on a composed tray by the name of the stock line."""
    return {line["name"]: line["count"] for line in tray["tray"]}
