"""Lines that are no lines: huge, full of control marks, foreign, or formulas."""

from __future__ import annotations

import time

import pytest

from etui.reading import Reader


def test_a_line_of_a_megabyte_is_refused_at_once(reader: Reader) -> None:
    began = time.perf_counter()
    item = reader.read("Kelly " * 200_000).first
    assert time.perf_counter() - began < 0.5
    assert (item.kind, item.pattern) == ("unknown", None)
    assert "characters" in item.why


@pytest.mark.parametrize(
    ("line", "pattern"),
    [
        ("\x00Kelly\x07 clamp\x1b[31m x2", "haemostat-kelly"),
        ("=Kelly clamp x2", "haemostat-kelly"),
        ("@Kelly clamp x2", "haemostat-kelly"),
        ("\u202eKelly clamp\u202c x2", "haemostat-kelly"),
        ("Kelly\u200b clamp ×2", "haemostat-kelly"),
        ("Kelly\u00a0clamp\u20072", "haemostat-kelly"),
        ("Péan x2", "haemostat-pean"),
    ],
)
def test_marks_are_dropped_and_the_words_read(reader: Reader, line: str, pattern: str) -> None:
    assert reader.read(line).first.pattern == pattern


@pytest.mark.parametrize(
    "line",
    [
        "",
        "   ",
        "\x00\x01",
        "....",
        "مقص جراحي",
        "מספריים",
        "手术剪",
        "🙂🙂",
        '=HYPERLINK("x")',
        "-----",
    ],
)
def test_what_names_nothing_is_not_guessed(reader: Reader, line: str) -> None:
    assert reader.read(line).first.pattern is None


def test_half_inches_in_one_sign(reader: Reader) -> None:
    assert reader.read("Crile 5½″ cvd").first.attributes.length_mm == 140


def test_a_heading_helps(reader: Reader) -> None:
    assert reader.read("15 x 2").first.kind == "ambiguous"
    assert reader.read("15 x 2", heading="BLADES").first.pattern == "scalpel-blade-15"
    assert reader.read("Gillies", heading="Needle holders").first.pattern == "needle-holder-gillies"


def test_same_text_same_reading_in_another_reader(reader: Reader) -> None:
    other = Reader(reader.reference)
    for line in ("Mayo x2", "towel clips sm x6 lg x2", "wheat lander one", "Kochers 4"):
        assert other.read(line) == reader.read(line)
