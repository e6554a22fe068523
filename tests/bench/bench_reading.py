"""How well and how fast lines are read; writes the figures of ``docs/reference/reading.md``.

Run as a test it measures speed (1,000 lines a second on one core at least).  Run as a script it
writes the tables between the marks of the page::

    python tests/bench/bench_reading.py
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from itertools import cycle
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests"))

# ruff: noqa: E402
from etui.knowledge import load_reference
from etui.reading import Item, Reader
from reading.cases import Case, Want, load
from reading.decorate import dressed, outcome, slips

PAGE = ROOT / "docs" / "reference" / "reading.md"
BEGIN, END = "<!-- figures: begin -->", "<!-- figures: end -->"
KINDS = ("instrument", "consumable", "manoeuvre", "ambiguous", "not-an-item", "unknown")
DRESSED = 4000
MOST_ERRORS = 4


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader(load_reference())


@pytest.mark.benchmark(group="reading")
def test_a_line_takes_less_than_a_millisecond(benchmark, reader: Reader) -> None:
    lines = cycle([c.text for c in load()])
    benchmark(lambda: reader.read(next(lines)))
    assert benchmark.stats.stats.mean < 0.001


def wanted_kind(want: Want, reader: Reader) -> str:
    """The kind that the answer of a case stands for."""
    if want.answer.startswith("?"):
        return "ambiguous"
    if want.answer in ("-", "!", "consumable"):
        return {"-": "not-an-item", "!": "unknown", "consumable": "consumable"}[want.answer]
    pattern = reader.reference.patterns[want.ids[0]]
    if pattern.family == "hand_manoeuvre":
        return "manoeuvre"
    parts = pattern.features.get("part", ())
    return "consumable" if pattern.family == "consumable" or "consumable" in parts else "instrument"


def agrees(want: Want, item: Item) -> bool:
    """Whether the item is what the case wants, its count and attributes left aside."""
    if want.answer.startswith("?"):
        return item.kind == "ambiguous" and set(want.ids) <= {a.id for a in item.alternatives}
    if want.answer in ("-", "!", "consumable"):
        return item.pattern is None
    return item.pattern in want.ids


def by_kind(reader: Reader, cases: tuple[Case, ...]) -> list[str]:
    """Precision and recall of each kind over the first item of each line."""
    hit: Counter[str] = Counter()
    wanted: Counter[str] = Counter()
    given: Counter[str] = Counter()
    for case in cases:
        want, item = case.wants[0], reader.read(case.text).first
        kind = wanted_kind(want, reader)
        wanted[kind] += 1
        given[item.kind] += 1
        if agrees(want, item) and (item.kind == kind or want.answer == "!"):
            hit[kind] += 1
            if item.kind != kind:  # "names nothing" may be said in several ways
                given[item.kind] -= 1
                given[kind] += 1
    rows = ["| kind | lines | precision | recall |", "|---|---:|---:|---:|"]
    for kind in KINDS:
        if wanted[kind]:
            precision = hit[kind] / given[kind] if given[kind] else 0.0
            rows.append(
                f"| {kind} | {wanted[kind]} | {precision:.1%} | {hit[kind] / wanted[kind]:.1%} |"
            )
    return rows


def by_errors_on_lines(reader: Reader, cases: tuple[Case, ...]) -> list[str]:
    """The same lines with 0 to 4 typing errors each."""
    named = [
        c for c in cases if c.wants[0].answer[0] not in "?-!" and c.wants[0].answer != "consumable"
    ]
    none = [c for c in cases if c.wants[0].answer in ("-", "!", "consumable")]
    rows = [
        "| errors in the line | right | asked or silent | another thing, surely | "
        "sure on a line that names nothing |",
        "|---:|---:|---:|---:|---:|",
    ]
    for errors in range(MOST_ERRORS + 1):
        rng = random.Random(100 + errors)
        count: Counter[str] = Counter()
        for case in named:
            item = reader.read(slips(case.text, errors, rng)).first
            if item.pattern in case.wants[0].ids:
                count["right"] += 1
            elif item.pattern is None or item.assumed:
                count["asked"] += 1
            else:
                count["wrong"] += 1
        sure = sum(reader.read(slips(c.text, errors, rng)).first.kind == "instrument" for c in none)
        total = len(named)
        rows.append(
            f"| {errors} | {count['right'] / total:.1%} | {count['asked'] / total:.1%} "
            f"| {count['wrong'] / total:.1%} | {sure} of {len(none)} |"
        )
    return rows


def by_errors_on_names(reader: Reader) -> list[str]:
    """Names of patterns dressed up at random, with 0 to 4 typing errors each."""
    labels = [
        (p, n.text)
        for p in reader.reference.patterns.values()
        if p.replaced_by is None
        for n in p.names
        if n.kind != "hidden"
    ]
    rows = [
        "| errors in the name | right | asked, it among the candidates | silent | "
        "another thing, surely |",
        "|---:|---:|---:|---:|---:|",
    ]
    for errors in range(MOST_ERRORS + 1):
        rng = random.Random(200 + errors)
        count: Counter[str] = Counter()
        for _ in range(DRESSED):
            pattern, label = rng.choice(labels)
            count[outcome(reader, pattern.id, dressed(label, pattern, rng, errors=errors))] += 1
        shares = [f"{count[k] / DRESSED:.1%}" for k in ("right", "asked", "silent", "wrong")]
        rows.append("| " + " | ".join([str(errors), *shares]) + " |")
    return rows


def speed(reader: Reader, cases: tuple[Case, ...]) -> float:
    """Lines a second of processor time, after one warm pass."""
    texts = [c.text for c in cases]
    for text in texts:
        reader.read(text)
    rng = random.Random(3)
    fresh = [f"{t} {rng.randrange(1, 9)}" for t in texts for _ in range(4)]
    began = time.process_time()
    for text in fresh:
        reader.read(text)
    return len(fresh) / (time.process_time() - began)


def figures() -> str:
    """All tables of the page."""
    reader = Reader(load_reference())
    cases = load()
    labels = sum(len(p.names) for p in reader.reference.patterns.values())
    parts = [
        f"Measured with {len(reader.reference.patterns)} patterns, {labels} names, "
        f"{len(reader.reference.abbreviations)} word forms and "
        f"{len(reader.reference.class_names)} class names.",
        "",
        f"By kind, over the {len(cases)} invented lines of `tests/reading/lines.txt`:",
        "",
        *by_kind(reader, cases),
        "",
        "The same lines with typing errors (two letters swapped, one left out, doubled or wrong; "
        "one a word, in words of five letters or more):",
        "",
        *by_errors_on_lines(reader, cases),
        "",
        f"{DRESSED:,} names of patterns, drawn at random and dressed up (order, case, short forms, "
        "length, count):",
        "",
        *by_errors_on_names(reader),
        "",
        f"Speed: {speed(reader, cases):,.0f} lines a second of processor time on one core.",
    ]
    return "\n".join(parts)


def main() -> None:
    """Write the figures into the page."""
    page = PAGE.read_text("utf-8")
    head, _, rest = page.partition(BEGIN)
    _, _, tail = rest.partition(END)
    PAGE.write_text(f"{head}{BEGIN}\n\n{figures()}\n\n{END}{tail}", "utf-8")


if __name__ == "__main__":
    main()
