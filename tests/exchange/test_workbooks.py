"""Workbooks: title rows, merged cells, several sheets, formulas."""

from __future__ import annotations

import io
import re
import zipfile
from typing import Any

import pytest
from builders import ods, ods_row, ods_text, xlsx
from openpyxl import Workbook

from etui.errors import BadInput
from etui.exchange import open_tray, read_tray


def theatre(book: Workbook) -> None:
    sheet: Any = book.active
    sheet.title = "Set"
    sheet.append(["SUPRAPUBIC SET"])
    sheet.merge_cells("A1:D1")
    sheet.append(["Procedure:", "suprapubic catheter"])
    sheet.append([])
    sheet.append(["No", "Instrument", "Size", "Qty"])
    sheet.append(["CLAMPS"])
    sheet.merge_cells("A5:D5")
    sheet.append([1, "Mayo scissors", "6 3/4\"", 1])
    sheet.append([2, None, "8\"", 2])
    sheet.merge_cells("B6:B7")
    sheet.append([3, "Kelly", None, 2])
    sheet.append([4, "Mosquito", None, None])
    sheet.merge_cells("D8:D9")
    sheet.append([5, "=1+1", None, "=1+2"])
    other: Any = book.create_sheet("Notes")
    other["A1"] = "Ask for the key"


def test_title_rows_and_merged_cells() -> None:
    tray, taken = open_tray(xlsx(theatre), name="s.xlsx")
    assert (tray.title, tray.procedures) == ("SUPRAPUBIC SET", ("suprapubic catheter",))
    assert [(x.qty, x.text) for x in tray.contents] == [
        (1, 'Mayo scissors, 6 3/4"'), (2, 'Mayo scissors, 8"'), (None, "Kelly"),
        (None, "Mosquito")]
    assert str(tray.contents[1].place) == "s.xlsx:Set:7"
    told = " / ".join(taken.how())
    assert "one quantity is merged" in told
    assert "CLAMPS (row 5)" in told
    assert 'sheet "Notes" has no headers' in told


def test_a_formula_gives_the_value_saved_with_it_and_is_never_computed() -> None:
    def fill(book: Workbook) -> None:
        sheet: Any = book.active
        sheet.append(["Item", "Qty"])
        sheet.append(["Kelly", "=40+2"])
        sheet.append(["Mayo", "=40+2"])

    data = xlsx(fill)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for entry in old.infolist():
            content = old.read(entry)
            if entry.filename.endswith("sheet1.xml"):
                content = re.sub(rb"(<c r=\"B2\"[^>]*><f>40\+2</f>)<v ?/?>(</v>)?",
                                 rb"\1<v>7</v>", content)
            new.writestr(entry.filename, content)
    assert [(x.qty, x.text) for x in read_tray(out.getvalue(), name="a.xlsx").contents] == [
        (7, "Kelly"), (None, "Mayo")]


def test_several_sheets() -> None:
    def fill(book: Workbook) -> None:
        one: Any = book.active
        one.title = "Steel"
        one.append(["Item", "Qty"])
        one.append(["Kelly", 2])
        two: Any = book.create_sheet("Soft")
        two.append(["Item", "Qty"])
        two.append(["Gauze", 5])

    data = xlsx(fill)
    tray, taken = open_tray(data, name="a.xlsx")
    assert [str(x.place) for x in tray.contents] == ["a.xlsx:Steel:2", "a.xlsx:Soft:2"]
    assert "read as one list" in taken.how()[2]
    assert [x.text for x in read_tray(data, name="a.xlsx", sheet="soft").contents] == ["Gauze"]
    with pytest.raises(BadInput, match='no sheet "Bone"'):
        read_tray(data, name="a.xlsx", sheet="Bone")


def test_sheets_for_different_procedures_are_not_joined() -> None:
    def fill(book: Workbook) -> None:
        for number, purpose in enumerate(("wound repair", "abscess drainage")):
            sheet: Any = book.active if not number else book.create_sheet(purpose)
            sheet.append(["Procedure", purpose])
            sheet.append(["Item", "Qty"])
            sheet.append(["Kelly", 2])

    with pytest.raises(BadInput, match="different procedures"):
        read_tray(xlsx(fill), name="a.xlsx")


def test_ods() -> None:
    data = ods(ods_row(ods_text("Our tray")), ods_row(ods_text("Item"), ods_text("Qty")),
               ods_row(ods_text("Kelly & co"), ods_text("x2")))
    tray = read_tray(data, name="a.ods")
    assert tray.title == "Our tray"
    assert [(x.qty, x.text) for x in tray.contents] == [(2, "Kelly & co")]


def test_hidden_sheets_stay_hidden() -> None:
    def fill(book: Workbook) -> None:
        one: Any = book.active
        one.append(["Item", "Qty"])
        one.append(["Kelly", 2])
        two: Any = book.create_sheet("Old")
        two.append(["Item", "Qty"])
        two.append(["Gauze", 5])
        two.sheet_state = "hidden"

    assert len(read_tray(xlsx(fill), name="a.xlsx").contents) == 1
