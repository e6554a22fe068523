"""Published equipment lists, checked as written, against what a knowledgeable reader expects.

The lists are in ``data/published-lists.json`` with source, address and how far each was read; the
expectations are in ``data/expected-lists.toml``, with a note where list and graph disagree.
"""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any

import pytest

from etui.judging import Judge
from etui.knowledge import load_reference
from etui.reading import Reader
from etui.trays import check
from etui.trays.model import Finding, Line, Report, Tray
from tests.published.tables import DATA, lists

EXPECTED = tomllib.loads((DATA / "expected-lists.toml").read_text(encoding="utf-8"))["check"]
LISTS = lists()


@cache
def engines() -> tuple[Any, Reader, Judge]:
    reference = load_reference()
    return reference, Reader(reference), Judge(reference)


@cache
def report(list_id: str, procedure: str) -> Report:
    """The list as written, one line an item, checked for one procedure."""
    entry = LISTS[list_id]
    reference, reader, judge = engines()
    contents = tuple(
        Line(text=item["item"],
             qty=item["count"] if isinstance(item["count"], int) else None)
        for item in entry["items"]
    )
    tray = Tray(title=entry["list_title"], procedures=(procedure,), contents=contents)
    return check(tray, reference=reference, reader=reader, judge=judge)


def fits(finding: Finding, wanted: dict[str, Any]) -> bool:
    """Whether a finding is of a wanted kind and names one of the wanted items, steps or words."""
    if finding.kind not in wanted["kind"].split("|"):
        return False
    if wanted.get("severity", finding.severity) != finding.severity:
        return False
    if "text" in wanted:
        return wanted["text"].lower() in finding.text.lower()
    named = set(wanted.get("items", ())) & set(finding.items)
    stepped = set(wanted.get("steps", ())) & set(finding.steps)
    return bool(named or stepped)


def name(entry: dict[str, Any]) -> str:
    return f"{entry['list']}:{entry['procedure']}"


def test_enough_published_lists_are_checked() -> None:
    assert len({e["list"] for e in EXPECTED}) >= 25
    assert all(LISTS[e["list"]]["source"] for e in EXPECTED)


@pytest.mark.parametrize("entry", EXPECTED, ids=name)
def test_verdict(entry: dict[str, Any]) -> None:
    found = report(entry["list"], entry["procedure"])
    gaps = [f"{f.kind}: {f.text}" for f in found.findings if f.severity == "violation"]
    assert found.verdict in entry["verdicts"], gaps


@pytest.mark.parametrize("entry", [e for e in EXPECTED if "find" in e], ids=name)
def test_expected_findings_are_there(entry: dict[str, Any]) -> None:
    found = report(entry["list"], entry["procedure"])
    for wanted in entry["find"]:
        assert any(fits(f, wanted) for f in found.findings), wanted


@pytest.mark.parametrize("entry", [e for e in EXPECTED if "never" in e], ids=name)
def test_nothing_is_invented(entry: dict[str, Any]) -> None:
    found = report(entry["list"], entry["procedure"])
    for unwanted in entry["never"]:
        hit = [f.text for f in found.findings if fits(f, unwanted)]
        assert not hit, hit
