"""Whatever comes in, a list or one clear line comes out."""

from __future__ import annotations

import contextlib
import unicodedata
from functools import cache

import pytest
from builders import xlsx
from hypothesis import given, settings
from hypothesis import strategies as st

from etui.errors import BadInput
from etui.exchange import read_tray


def taken_or_told(data: bytes, name: str) -> None:
    try:
        tray = read_tray(data, name=name)
    except BadInput as error:
        assert "\n" not in error.line
        assert error.line.startswith(name)
        return
    assert tray.contents
    for line in tray.contents:
        assert line.text.strip()
        assert not any(unicodedata.category(sign) == "Cc" for sign in line.text)
        assert line.qty is None or line.qty >= 0


NAMES = st.sampled_from(["a.csv", "a.tsv", "a.txt", "a.json", "a.ttl", "a.xlsx", "a"])


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=300), NAMES)
def test_bytes(data: bytes, name: str) -> None:
    taken_or_told(data, name)


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=300), NAMES, st.sampled_from(["utf-8", "utf-16", "cp1252", "utf-8-sig"]))
def test_text(text: str, name: str, encoding: str) -> None:
    taken_or_told(text.encode(encoding, "replace"), name)


CELL = st.one_of(st.sampled_from(["Item", "Qty", "Kelly", "x2", "-1", "pr", "=1+1", "Procedure",
                                  "wound repair", "CLAMPS", '"', ""]), st.text(max_size=12))


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(CELL, max_size=5), max_size=8), st.sampled_from(",;\t|"))
def test_tables(rows: list[list[str]], sign: str) -> None:
    taken_or_told("\n".join(sign.join(r) for r in rows).encode(), "a.csv")


@cache
def workbook() -> bytes:
    def fill(book: object) -> None:
        sheet = book.active  # type: ignore[attr-defined]
        sheet.append(["Item", "Qty"])
        sheet.append(["Kelly", 2])

    return xlsx(fill)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 10_000), st.binary(min_size=1, max_size=4))
def test_damaged_workbooks(at: int, bits: bytes) -> None:
    data = bytearray(workbook())
    at %= len(data)
    data[at:at + len(bits)] = bits
    taken_or_told(bytes(data), "a.xlsx")


def test_a_cut_workbook() -> None:
    for cut in range(0, len(workbook()), 97):
        with contextlib.suppress(BadInput):
            read_tray(workbook()[:cut] or b" ", name="a.xlsx")
    with pytest.raises(BadInput):
        read_tray(workbook()[:-30], name="a.xlsx")
