"""How fast a tray of 30 lines is checked, warm: 5 ms without, 150 ms with the full SHACL report.

The procedure is the largest one with hands-on steps.  The lines are read in the time measured; the
words of a line are remembered from one check to the next, as they are in an audit.
"""

from __future__ import annotations

from itertools import cycle
from typing import Any

import pytest

from etui.judging import Judge
from etui.knowledge import load_reference
from etui.reading import Reader
from etui.trays import check_graph
from etui.trays.check import check_fully
from etui.trays.model import Line, Tray

LINES = """
Disposable scalpel No. 22|2
Heavy scissors for sternum 8 in|1
Mayo scissors curved 9 in|1
Mayo scissors straight 9 in|1
Metzenbaum scissors 9 in|1
Gigli wire|2
Gigli handle|2
Roberts forceps 9 in|2
Spencer Wells 7 in curved|4
Kelly forceps 8 in|4
Toothed dissecting forceps 10 in|1
DeBakey forceps 9 1/2 in|2
Finochietto rib spreader|1
Tuffier rib spreader|1
Satinsky clamp|1
DeBakey aortic clamp|1
Mayo-Hegar needle holder 10 in|2
Foley catheter 20 Fr|1
Skin stapler|1
3-0 suture on round-bodied needle|4
Pledgets|6
2-0 ties|6
Deaver retractor|2
Yankauer sucker|1
Scalpel handle No. 4|1
Blade No. 22|4
Towel clip, Backhaus|4
Rampley sponge forceps|2
Syringe 20 mL|2
Large packs, x-ray detectable|5
"""


def tray(title: str) -> Tray:
    pairs = (line.split("|") for line in LINES.strip().splitlines())
    return Tray(
        title=title,
        procedures=("resuscitative-thoracotomy",),
        operator="emergency doctor with one helper",
        kept_alongside=(Line(text="suction with tubing"),),
        contents=tuple(Line(text=text, qty=int(count)) for text, count in pairs),
    )


@pytest.fixture(scope="module")
def kit() -> dict[str, Any]:
    reference = load_reference()
    tools = {"reference": reference, "reader": Reader(reference), "judge": Judge(reference)}
    check_fully(tray("warm"), **tools)
    check_graph(tray("warm"), **tools)
    return tools


def test_thirty_lines() -> None:
    assert len(tray("thirty").contents) == 30


@pytest.mark.benchmark(group="check")
def test_check_without_the_shacl_report(benchmark: Any, kit: dict[str, Any]) -> None:
    titles = cycle(("first", "second", "third"))
    benchmark(lambda: check_fully(tray(next(titles)), details=False, **kit))
    assert benchmark.stats.stats.median < 0.005


@pytest.mark.benchmark(group="check")
def test_check_with_reasons_and_suggestions(benchmark: Any, kit: dict[str, Any]) -> None:
    benchmark(lambda: check_fully(tray("told"), **kit))


@pytest.mark.benchmark(group="check")
def test_check_with_the_shacl_report(benchmark: Any, kit: dict[str, Any]) -> None:
    benchmark.pedantic(lambda: check_graph(tray("full"), **kit), rounds=12, warmup_rounds=2)
    assert benchmark.stats.stats.median < 0.150
