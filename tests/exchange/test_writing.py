"""Lists written out read back as they were, and no cell is a formula."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from etui.errors import BadInput
from etui.exchange import (
    csv_bytes,
    read_tray,
    safe_text,
    tray_bytes,
    write_tray,
    xlsx_bytes,
)
from etui.trays.model import Line, Tray

TRAY = Tray(
    title="Wound tray", procedures=("wound-repair",), operator="nurse",
    kept_alongside=(Line(text="suction"),),
    contents=(Line(text='Mayo scissors, curved, 6 3/4"', qty=1), Line(text="Kelly", qty=None),
              Line(text='Say "x" \\ y', qty=0)),
)


@pytest.mark.parametrize("kind", ["csv", "xlsx", "txt", "json", "turtle"])
def test_round_trip(kind: str) -> None:
    ending = {"turtle": "ttl"}.get(kind, kind)
    back = read_tray(tray_bytes(TRAY, kind), name=f"t.{ending}")  # type: ignore[arg-type]
    assert (back.title, back.procedures, back.operator) == (
        TRAY.title, TRAY.procedures, TRAY.operator)
    assert [x.text for x in back.kept_alongside] == ["suction"]
    if kind == "txt":
        assert [x.text for x in back.contents] == [
            '1 x Mayo scissors, curved, 6 3/4"', "Kelly", '0 x Say "x" \\ y']
    else:
        assert [(x.qty, x.text) for x in back.contents] == [
            (x.qty, x.text) for x in TRAY.contents]


NASTY = st.sampled_from(["=1+1", "+A1", "-2", "@SUM(A1)", "\t=1", "\r=1", ' =HYPERLINK("x")'])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.one_of(NASTY, st.text(max_size=30)), min_size=1, max_size=5))
def test_no_cell_becomes_a_formula(cells: list[str]) -> None:
    rows = list(csv.reader(io.StringIO(csv_bytes(["item"], [cells]).decode("utf-8-sig"))))
    for cell in rows[-1] if len(rows) > 1 else []:
        assert not cell.lstrip().startswith(("=", "+", "-", "@"))
    sheet = load_workbook(io.BytesIO(xlsx_bytes("x", ["item"], [cells]))).active
    for row in sheet.iter_rows():
        assert all(cell.data_type != "f" for cell in row)


def test_safe_text_leaves_ordinary_text_alone() -> None:
    assert safe_text("Kelly 5 1/2 - curved") == "Kelly 5 1/2 - curved"
    assert safe_text("=2+3") == "'=2+3"


def test_nothing_is_overwritten_unasked(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    write_tray(TRAY, path)
    before = path.read_bytes()
    with pytest.raises(BadInput, match="already"):
        write_tray(TRAY, path)
    assert path.read_bytes() == before
    with pytest.raises(BadInput, match="ending"):
        write_tray(TRAY, tmp_path / "t.doc")
    with pytest.raises(BadInput, match="written"):
        write_tray(TRAY, tmp_path / "no" / "t.csv")
