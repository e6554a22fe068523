"""Published tables that the checks read; every row names its source and how it is known."""

from __future__ import annotations

import csv
import json
import warnings
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent / "data"


def rows(name: str) -> list[dict[str, str]]:
    """All rows of one published table."""
    with (DATA / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def lists() -> dict[str, dict[str, Any]]:
    """Published equipment lists by their number."""
    content = json.loads((DATA / "published-lists.json").read_text(encoding="utf-8"))
    return {entry["id"]: entry for entry in content["lists"]}


def expect(held: bool, message: str, how_known: str) -> None:
    """Fail on a value that was read; only warn on one that was recalled."""
    if not held and "memory" in how_known and "read" not in how_known:
        warnings.warn(f"differs from a recalled value: {message}", stacklevel=2)
        return
    assert held, message
