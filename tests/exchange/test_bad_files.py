"""Files that cannot be taken: one clear line each, and nothing that harms the machine."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from builders import archive, ods, ods_row, ods_text, xlsx

from etui.errors import BadInput
from etui.exchange import iter_lines, open_tray, read_tray


def fault(data: bytes, name: str) -> str:
    with pytest.raises(BadInput) as caught:
        read_tray(data, name=name)
    assert "\n" not in caught.value.line
    assert caught.value.line.startswith(name)
    return caught.value.line


@pytest.mark.parametrize(("data", "says"), [
    (b"", "empty"), (b" \n\n", "empty"), (b"%PDF-1.7 ...", "a PDF"), (b"{\\rtf1 x}", "RTF"),
    (b"\x89PNG\r\n", "picture"), (b"Kelly\x00\n", "binary"),
    (bytes(range(1, 32)) * 20, "binary"), (b"<html><p>Kelly", "web page"),
    (b"x" * 1_000_000, "longer than"), (b"PK\x03\x04rubbish", "broken"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "broken"),
])
def test_no_list(data: bytes, says: str) -> None:
    assert says in fault(data, "a.csv")


def test_a_long_line_deep_in_a_file_is_named() -> None:
    assert fault(b"Kelly\n" * 9 + b"y" * 5_000 + b"\n", "a.txt").startswith("a.txt:10:")


def test_missing_file_folder_and_unreadable(tmp_path: Path) -> None:
    for path, says in ((tmp_path / "no.csv", "no such file"), (tmp_path, "folder")):
        with pytest.raises(BadInput, match=says):
            read_tray(path)


def test_unclosed_quotation_mark_loses_no_lines_silently() -> None:
    assert "quotation mark" in fault(b'Item,Qty\n"Kelly 5,2\nMayo,1\nAdson,1\n', "a.csv")
    many = b'Item,Qty\n"Kelly 5,2\n' + b"Mayo,1\n" * 40
    assert fault(many, "a.csv").startswith("a.csv:2:")


def test_bombs_are_measured_before_they_are_opened() -> None:
    data = archive({"xl/workbook.xml": "<x/>", "xl/worksheets/sheet1.xml": b"\0" * 300_000_000})
    liar = data.replace((300_000_000).to_bytes(4, "little"), (1_000).to_bytes(4, "little"))
    assert liar != data
    for bomb in (data, liar):
        start = time.monotonic()
        assert "unpack" in fault(bomb, "a.xlsx")
        assert time.monotonic() - start < 10


def test_a_grid_too_wide_is_refused() -> None:
    def far(book: object) -> None:
        sheet = book.active  # type: ignore[attr-defined]
        sheet["A1"], sheet["XFD1048576"] = "x", "y"

    assert "spans" in fault(xlsx(far), "a.xlsx")
    wide = ods_text("x", 'table:number-columns-repeated="1024"')
    assert "spans" in fault(ods(ods_row(wide, repeat=1_000_000)), "a.ods")


def test_empty_rows_to_the_end_of_a_sheet_are_harmless() -> None:
    blank = '<table:table-cell table:number-columns-repeated="1024"/>'
    data = ods(ods_row(ods_text("Item"), ods_text("Qty")),
               ods_row(ods_text("Kelly"), ods_text("2")), ods_row(blank, repeat=1_048_574))
    assert [(x.qty, x.text) for x in read_tray(data, name="a.ods").contents] == [(2, "Kelly")]


def test_other_archives_and_locked_ones() -> None:
    assert "archive" in fault(archive({"a.txt": "Kelly"}), "a.xlsx")
    assert "text document" in fault(archive({"word/document.xml": "<w/>"}), "a.docx")
    locked = bytearray(archive({"xl/workbook.xml": "<x/>"}))
    central = bytes(locked).rindex(b"PK\x01\x02")
    locked[central + 8] |= 1
    assert "password" in fault(bytes(locked), "a.xlsx")


@pytest.mark.parametrize(("text", "line", "says"), [
    ('{"contents": [{"qty": -1, "text": "Kelly"}]}', "", "below nought"),
    ('{"contents": [{"qty": 1.5, "text": "Kelly"}]}', "", "not a count"),
    ('{"contents": [{"qty": true, "text": "Kelly"}]}', "", "not a count"),
    ('{"contents": [{"qty": 1}]}', "", "no text"),
    ('{"contents": "Kelly"}', "", "not a list"),
    ('{"title": "x"}', "", "contents"),
    ('{"contents": [\n{"text": "Kelly"}', ":2", "not JSON"),
    ('{"contents": []}', "", "no lines"),
    ('{"contents": [7]}', "", "neither text"),
    ('{"title": 7, "contents": ["Kelly"]}', "", "not text"),
])
def test_broken_json(text: str, line: str, says: str) -> None:
    told = fault(text.encode(), "a.json")
    assert told.startswith(f"a.json{line}")
    assert says in told


def test_deep_json_does_not_break_the_program() -> None:
    assert "JSON" in fault(b'{"a":' * 100_000, "a.json")


_HEAD = ("@prefix etui: <https://w3id.org/etui/ns#> .\n@prefix t: <https://example.org/t#> .\n")


@pytest.mark.parametrize(("body", "place", "says"), [
    ("t:a a etui:Tray ; etui:line t:b\nt:b etui:lineText \"x\" .\n", ":4", "does not parse"),
    ("t:a a etui:Tray ; etui:line t:bb .\n"
     "t:bb a etui:Line ; etui:lineText \"x\" ; etui:quantity -2 .\n", ":3", '"-2"'),
    ("t:a a etui:Tray ; etui:line t:bb .\n"
     "t:bb a etui:Line ; etui:lineText \"x\" ; etui:quantity \"two\" .\n", ":3", "whole number"),
    ("t:a a etui:Tray ; etui:line t:bb .\nt:bb a etui:Line .\n", ":3", "no text"),
    ("t:a a etui:Tray ; etui:line t:bb .\nt:bb etui:lineText \"x\" .\n", ":3", "not an etui:Line"),
    ("t:a a etui:Tray .\n", ":3", "no line"),
    ("t:a a etui:Thing .\n", "", "no etui:Tray"),
    ("t:a a etui:Tray . t:c a etui:Tray .\n", "", "2 of etui:Tray"),
])
def test_broken_turtle(body: str, place: str, says: str) -> None:
    told = fault((_HEAD + body).encode(), "a.ttl")
    assert told.startswith(f"a.ttl{place}")
    assert says in told


def test_control_and_turning_signs_are_taken_out_and_told() -> None:
    tray, taken = open_tray("Kelly\x1b[31m \u202ered\nAdson\n".encode(), name="a.txt")
    assert tray.contents[0].text == "Kelly [31m red"
    assert "line 1" in taken.how()[0]


def test_right_to_left_text_is_kept() -> None:
    assert read_tray("מלקחיים\nKelly\n".encode(), name="a.txt").contents[0].text == "מלקחיים"


def test_a_hundred_thousand_lines_stream() -> None:
    import tracemalloc

    text = b"Item,Qty\n" + b"Kelly forceps curved 14 cm,2\n" * 100_000
    tracemalloc.start()
    count = sum(1 for _ in iter_lines(text, name="a.csv"))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert count == 100_000
    # The text itself is held by the test; reading adds little beside it.
    assert peak < len(text) + 8_000_000


def test_ten_thousand_lines_are_a_list_and_a_million_are_not() -> None:
    assert len(read_tray(b"Kelly\n" * 10_000, name="a.txt").contents) == 10_000
    assert "20,000" in fault(b"Kelly\n" * 20_001, "a.txt")
