"""Neither the order of lines nor the run nor the hash seed changes an answer."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from typing import Any

from etui.knowledge.model import Reference
from etui.trays.check import check_fully
from etui.trays.model import Report, Tray
from etui.trays.report import report_json
from tests.trays.generate import trays

PROGRAM = """
import json
from etui.judging import Judge
from etui.knowledge import load_reference
from etui.reading import Reader
from etui.trays import check
from etui.trays.model import Line, Tray
from etui.trays.report import report_json
r = load_reference()
lines = ("Scalpel handle 4", "2 x blade 11", "Kelly 8 in", "6 x towel clips", "silk 0",
         "Drain 28 Fr", "Balfour, no centre blade", "needle holder", "clamp", "odd thing")
tray = Tray(title="Seed", procedures=("tube-thoracostomy", "abscess-drainage"),
            contents=tuple(Line(text=t) for t in lines), operator="two operators")
print(json.dumps(report_json(check(tray, reference=r, reader=Reader(r), judge=Judge(r)), r)))
"""


def bare(report: Report) -> Any:
    """A report without places in the file and without the lines themselves."""
    data = report_json(report)
    for finding in data["findings"]:
        finding.pop("place", None)
    return data


def test_line_order(reference: Reference, kit: dict[str, Any]) -> None:
    dice = random.Random(5)
    for tray in trays(reference, 40, seed=5):
        lines = list(tray.contents)
        dice.shuffle(lines)
        other = Tray(
            title=tray.title, procedures=tray.procedures, operator=tray.operator,
            contents=tuple(lines),
        )
        first, second = (check_fully(t, **kit).report for t in (tray, other))
        assert bare(first) == bare(second)


def test_hash_seed() -> None:
    answers = set()
    for seed in ("0", "1", "77"):
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True, text=True, check=True, timeout=300,
        )
        answers.add(done.stdout)
    assert len(answers) == 1
    assert json.loads(answers.pop())["verdict"] == "unfit"


def test_a_check_changes_nothing_that_it_is_given(
    reference: Reference, kit: dict[str, Any]
) -> None:
    for tray in trays(reference, 10, seed=8):
        before = repr(tray)
        first = check_fully(tray, **kit).report
        assert repr(tray) == before
        assert check_fully(tray, **kit).report == first
