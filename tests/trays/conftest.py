"""What the tests of trays share: the graph, the reader, the judge, and a short way to a check."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest

from etui.judging import Judge
from etui.knowledge import load_reference
from etui.knowledge.model import Reference
from etui.reading import Reader
from etui.trays.check import Checked, check_fully
from etui.trays.model import Line, Stock, Tray

Check = Callable[..., Checked]


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
def kit(reference: Reference, reader: Reader, judge: Judge) -> dict[str, Any]:
    """Reference, reader and judge as keyword arguments."""
    return {"reference": reference, "reader": reader, "judge": judge}


def tray_of(
    procedures: str | Sequence[str],
    lines: str,
    *,
    beside: Sequence[str] = (),
    operator: str | None = "general duties doctor, alone",
    title: str = "Ward tray, Saltmarsh Ferry Hospital",
) -> Tray:
    """A tray from one text: a line each, "3 x" in front for a number."""
    contents = []
    for line in (x.strip() for x in lines.strip().splitlines() if x.strip()):
        count, sign, text = line.partition(" x ")
        number = int(count) if sign and count.isdigit() else 1
        contents.append(Line(text=text if sign and count.isdigit() else line, qty=number))
    return Tray(
        title=title,
        procedures=(procedures,) if isinstance(procedures, str) else tuple(procedures),
        operator=operator,
        kept_alongside=tuple(Line(text=t) for t in beside),
        contents=tuple(contents),
    )


@pytest.fixture(scope="session")
def check(kit: dict[str, Any]) -> Check:
    def run(
        procedures: str | Sequence[str],
        lines: str,
        *,
        rules: Sequence[Path] = (),
        stock: Stock | None = None,
        **more: Any,
    ) -> Checked:
        return check_fully(tray_of(procedures, lines, **more), rules=rules, stock=stock, **kit)

    return run
