"""How many lines of eight published lists the reader takes right; used by test and benchmark."""

from __future__ import annotations

import tomllib

from etui.reading import Reader
from etui.reading.model import Item
from tests.published.tables import DATA


def _met(accepted: list[str], items: tuple[Item, ...]) -> bool:
    """Whether one item of the line is an accepted reading."""
    for item in items:
        if item.pattern in accepted:
            return True
        if "?" in accepted and item.kind in ("ambiguous", "unknown"):
            return True
        if "-" in accepted and item.pattern is None and item.kind != "ambiguous":
            return True
    return False


def shares(reader: Reader) -> tuple[list[str], list[str], list[str]]:
    """Lines taken right, lines not taken (asked or silent), lines taken for something else."""
    right: list[str] = []
    silent: list[str] = []
    wrong: list[str] = []
    expected = tomllib.loads((DATA / "expected-lines.toml").read_text(encoding="utf-8"))
    for list_id, lines in expected.items():
        for text, things in lines.items():
            items = reader.read(text).items
            name = f"{list_id}: {text}"
            known = {i for accepted in things for i in accepted}
            stray = [i.pattern for i in items if i.pattern and i.pattern not in known]
            if all(_met(accepted, items) for accepted in things) and not stray:
                right.append(name)
            elif stray:
                wrong.append(name)
            else:
                silent.append(name)
    return right, silent, wrong
