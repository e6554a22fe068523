"""How long a tray takes to compose: 60 stock lines, three procedures, proven best, within 5 s."""

from __future__ import annotations

from typing import Any

import pytest

from etui.judging import Judge
from etui.knowledge import load_reference
from etui.knowledge.model import Reference
from etui.reading import Reader
from etui.trays.compose import compose
from etui.trays.situation import Bench

LINES = 60


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


def busiest(reference: Reference) -> list[str]:
    """The three procedures with the most steps."""
    by_size = sorted(reference.procedures.values(), key=lambda p: (-len(p.steps), p.id))
    return [p.id for p in by_size[:3]]


def cupboard(reference: Reference, procedures: list[str]) -> list[dict[str, Any]]:
    """A stock of the pieces that these procedures name most often, 60 lines."""
    named: dict[str, int] = {}
    for procedure in procedures:
        for step in reference.procedures[procedure].steps:
            for judgement in reference.steps[step].judgements:
                pattern = reference.patterns.get(judgement.subject)
                usable = judgement.grade in ("preferred", "acceptable", "improvised")
                if pattern is None or not usable or "manoeuvre" in pattern.features.get("part", ()):
                    continue
                named[pattern.id] = named.get(pattern.id, 0) + 1
    chosen = sorted(named, key=lambda id_: (-named[id_], id_))[:LINES]
    return [
        {"name": reference.patterns[id_].name, "count": 2 + place % 5}
        for place, id_ in enumerate(chosen)
    ]


def test_sixty_lines_three_procedures(benchmark: Any, reference: Reference) -> None:
    reader, judge = Reader(reference), Judge(reference)
    procedures = busiest(reference)
    brief = {
        "procedures": procedures,
        "operator": "general duties doctor, alone",
        "stock": cupboard(reference, procedures),
        "constraints": ["at most 60 pieces"],
    }
    assert len(brief["stock"]) == LINES

    def run() -> dict[str, Any]:
        # nothing is remembered from run to run
        bench = Bench(reference, reader, judge)
        return compose(brief, reference, reader, judge, bench=bench)

    got = benchmark.pedantic(run, rounds=3, warmup_rounds=1)
    assert got["proof"]["optimal"] is True
    if benchmark.stats is not None:
        assert benchmark.stats.stats.max <= 5.0
