"""Any name of any pattern, dressed up at random, is that pattern or a question that names it."""

from __future__ import annotations

import random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from etui.knowledge import load_reference
from etui.reading import Reader
from etui.reading.text import clean

from .decorate import dressed, outcome

READER = Reader(load_reference())
LABELS = [
    (p, n.text)
    for p in READER.reference.patterns.values()
    if p.replaced_by is None
    for n in p.names
    if n.kind != "hidden" and n.text != ""
]
ACTION = "hand_manoeuvre"
QUICK = settings(
    max_examples=300, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)  # fmt: skip


def outcomes(errors: int, many: int, seed: int) -> dict[str, list[str]]:
    rng = random.Random(seed)
    out: dict[str, list[str]] = {"right": [], "asked": [], "silent": [], "wrong": []}
    for _ in range(many):
        pattern, label = rng.choice(LABELS)
        text = dressed(label, pattern, rng, errors=errors)
        out[outcome(READER, pattern.id, text)].append(f"{pattern.id}: {text}")
    return out


def test_dressed_names_are_read_back() -> None:
    found = outcomes(0, 2000, seed=11)
    assert len(found["wrong"]) <= 6, found["wrong"]
    assert len(found["right"]) >= 1850
    assert len(found["silent"]) <= 20, found["silent"]


def test_one_typing_error_hardly_ever_makes_another_thing() -> None:
    found = outcomes(1, 2000, seed=12)
    assert len(found["wrong"]) <= 20, found["wrong"]
    assert len(found["right"]) + len(found["asked"]) >= 1900


@QUICK
@given(st.sampled_from(LABELS), st.integers(0, 2**32))
def test_instrument_names_are_never_another_instrument(pair: tuple[object, str], seed: int) -> None:
    pattern, label = pair
    if pattern.family in (ACTION, "improvised"):  # type: ignore[attr-defined]
        return
    text = dressed(label, pattern, random.Random(seed))  # type: ignore[arg-type]
    assert outcome(READER, pattern.id, text) != "wrong"  # type: ignore[attr-defined]


@QUICK
@given(st.text(max_size=200))
def test_any_text_is_read_without_an_error(text: str) -> None:
    reading = READER.read(text)
    assert reading.items
    assert READER.read(text) == reading


@QUICK
@given(st.text(alphabet="abcdefghijklmnopqrstuvwxyz ", min_size=3, max_size=40))
def test_letters_at_random_name_nothing_surely(text: str) -> None:
    words = {w for w in clean(text).split() if len(w) > 2}
    item = READER.read(text).first
    if item.pattern is not None:
        bag = READER.index.of_pattern[item.pattern]
        near = {t for w in words for meant, _ in READER.index.near(w) for t in meant}
        assert bag & (near | words) or item.assumed or item.score < 0.8


@QUICK
@given(st.sampled_from(LABELS), st.integers(1, 40))
def test_the_count_is_the_one_written(pair: tuple[object, str], many: int) -> None:
    pattern, label = pair
    if any(c.isdigit() for c in label) or " or " in label:
        return
    items = READER.read(f"{label} x {many}").items
    if len(items) == 1 and items[0].pattern == pattern.id and items[0].kind != "manoeuvre":  # type: ignore[attr-defined]
        assert items[0].quantity == many
