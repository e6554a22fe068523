"""Lists in the forms in which people keep them."""

from __future__ import annotations

import pytest

from etui.errors import BadInput
from etui.exchange import open_tray, read_stock, read_tray
from etui.exchange.quantity import read_quantity


def lines(data: bytes | str, name: str, **more: object) -> list[tuple[int | None, str]]:
    given = data.encode() if isinstance(data, str) else data
    return [(x.qty, x.text) for x in read_tray(given, name=name, **more).contents]  # type: ignore[arg-type]


def fault(data: bytes | str, name: str, **more: object) -> str:
    with pytest.raises(BadInput) as caught:
        lines(data, name, **more)
    assert "\n" not in caught.value.line
    return caught.value.line


def test_text_with_head_and_bullets() -> None:
    tray = read_tray(
        b"Wound tray\n\nFor: wound repair; abscess drainage\nOperator: nurse\n"
        b"Kept alongside: suction, gloves (S, M)\n\n2 x Kelly\n"
        b"- Mayo scissors 6 3/4\"\n\n(3) fine\n",
        name="a.txt",
    )
    assert tray.title == "Wound tray"
    assert tray.procedures == ("wound repair", "abscess drainage")
    assert tray.operator == "nurse"
    assert [x.text for x in tray.kept_alongside] == ["suction", "gloves (S, M)"]
    assert [x.text for x in tray.contents] == ["2 x Kelly", 'Mayo scissors 6 3/4"', "(3) fine"]
    assert [x.place.row for x in tray.contents] == [7, 8, 10]


def test_first_item_is_not_lost_as_a_title() -> None:
    assert lines("Scalpel handle 3\n\nKelly\n\nMayo scissors\n", "a.txt")[0] == (
        None, "Scalpel handle 3")
    assert lines("1 dressing pack\n\nKelly\n", "a.txt")[0][1] == "1 dressing pack"


def test_numbered_lines_are_not_counts() -> None:
    assert lines("1. Scalpel\n2. Kelly\n3. Mayo\n", "a.txt") == [
        (None, "Scalpel"), (None, "Kelly"), (None, "Mayo")]
    assert lines("2 Scalpel\n4 Kelly\n", "a.txt") == [(None, "2 Scalpel"), (None, "4 Kelly")]


def test_hyphens_without_space_are_bullets_only_where_all_lines_have_them() -> None:
    assert lines("-Kelly\n-2 Mayo\n-Adson\n", "a.txt")[1] == (None, "2 Mayo")
    assert fault("Kelly\n-2 Mayo\n", "a.txt").startswith('a.txt:2: the quantity "-2"')


def test_csv_with_title_rows_and_odd_quantities() -> None:
    tray = read_tray(
        b"Tray:,Eyes\nProcedure,lateral canthotomy\n\nRef,Description,Size,Qty,Notes\n"
        b'A1,Mayo scissors,"6 3/4""",x2,\nA2,Kelly,,(3),no ratchet\nA3,Langenbeck,,pr,\n'
        b"A4,Adson,,0,\n"
        b"\nRef,Description,Size,Qty,Notes\nA5,Crile,,,\n",
        name="a.csv",
    )
    assert (tray.title, tray.procedures) == ("Eyes", ("lateral canthotomy",))
    assert [(x.qty, x.text) for x in tray.contents] == [
        (2, 'Mayo scissors, 6 3/4"'), (3, "Kelly (no ratchet)"), (None, "pr Langenbeck"),
        (0, "Adson"), (None, "Crile"),
    ]
    assert tray.contents[0].place.row == 5


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
def test_delimiters(sign: str) -> None:
    text = f"Item{sign}Qty\nKelly curved{sign}2\nMayo straight{sign}3\n"
    assert lines(text, "a.csv" if sign != "\t" else "a.tsv") == [
        (2, "Kelly curved"), (3, "Mayo straight")]


def test_commas_inside_items_do_not_part_plain_text() -> None:
    assert lines("Kelly, curved\nMayo scissors, straight\n", "a.txt") == [
        (None, "Kelly, curved"), (None, "Mayo scissors, straight")]


def test_columns_without_headers_and_in_a_foreign_tongue() -> None:
    assert lines("2,Kelly curved\n3,Mayo straight\n", "a.csv")[0] == (2, "Kelly curved")
    assert lines("Anzahl;Bezeichnung\n2;Kelly\n3;Mayo\n", "a.csv")[0] == (2, "Kelly")


def test_columns_can_be_corrected_by_header_letter_and_number() -> None:
    table = "Alpha,Beta,Gamma\nKelly,steel,2\nMayo,steel,3\n"
    for given in ({"item": "Alpha", "quantity": "Gamma"}, {"item": "A", "quantity": "C"},
                  {"item": "1", "quantity": "3"}):
        assert lines(table, "a.csv", columns=given) == [(2, "Kelly"), (3, "Mayo")]
    assert "no column \"Delta\"" in fault(table, "a.csv", columns={"item": "Delta"})
    assert "no role" in fault(table, "a.csv", columns={"thing": "Alpha"})


def test_columns_are_told() -> None:
    _, taken = open_tray(b"Item,Qty\nKelly,2\n", name="a.csv")
    assert taken.how() == ('item = column 1 ("Item"); quantity = column 2 ("Qty")',)


def test_catalogue_numbers_are_not_quantities() -> None:
    assert lines("Item,No.,Qty\nKelly,4711-12-990,2\nMayo,4711-13-100,1\n", "a.csv") == [
        (2, "Kelly"), (1, "Mayo")]


def test_two_blocks_side_by_side_lose_nothing() -> None:
    assert lines("Item,Qty,Item,Qty\nKelly,1,Mayo,2\nAdson,1,,\n", "a.csv") == [
        (1, "Kelly"), (2, "Mayo"), (1, "Adson")]


def test_headings_between_lines_are_told_not_taken() -> None:
    tray, taken = open_tray(
        b"Item,Qty\nCLAMPS,\nKelly,2\nKNIVES:,\nScalpel,1\nAdson,\n", name="a.csv")
    assert [x.text for x in tray.contents] == ["Kelly", "Scalpel", "Adson"]
    assert "CLAMPS (row 2)" in taken.how()[-1]
    shouted = lines("Item,Qty\nKELLY,2\nADSON,\nSCALPEL,1\n", "a.csv")
    assert (None, "ADSON") in shouted


def test_kept_alongside_below_a_table() -> None:
    tray = read_tray(b"Item,Qty\nKelly,2\nKept alongside,suction; gloves\n", name="a.csv")
    assert [x.text for x in tray.kept_alongside] == ["suction", "gloves"]


def test_stock() -> None:
    stock = read_stock(b"Shelf;Article;In stock\nA;Kelly;4\nA;Adson;0\n", name="s.csv")
    assert [(x.text, x.qty) for x in stock.lines] == [("Kelly", 4), ("Adson", 0)]


@pytest.mark.parametrize(("cell", "count", "words"), [
    ("2", 2, ""), ("2.0", 2, ""), ("x2", 2, ""), ("2x", 2, ""), ("× 3", 3, ""), ("(3)", 3, ""),
    ("[4]", 4, ""), ("0", 0, ""), ("2 ea", 2, ""), ("pr", None, "pr"), ("1 pr", None, "1 pr"),
    ("box", None, "box"), ("", None, ""), ("-", None, ""), ("n/a", None, ""), ("two", 2, ""),
    ("nil", 0, ""),
])
def test_quantities(cell: str, count: int | None, words: str) -> None:
    found = read_quantity(cell, where="x")
    assert (found.count, found.words) == (count, words)


@pytest.mark.parametrize("cell", ["-1", "−2", "1.5", "2-3", "99999", "12a3"])
def test_broken_quantities(cell: str) -> None:
    with pytest.raises(BadInput, match="quantity"):
        read_quantity(cell, where="f:1")


def test_a_broken_quantity_names_file_line_and_value() -> None:
    line = fault("Item,Qty\nKelly,2\nMayo,-1\n", "a.csv")
    assert line.startswith('a.csv:3: the quantity "-1" is below nought.')
