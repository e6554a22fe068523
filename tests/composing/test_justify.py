"""The document for the committee: what it says of a tray, in every form of it."""

from __future__ import annotations

import io
import zipfile
from typing import Any

import pytest

from etui.trays.check import check_fully
from etui.trays.justify import justify
from etui.trays.justify_blocks import blocks
from etui.trays.justify_print import as_docx, as_html, as_pdf, as_text
from etui.trays.model import Line, Tray
from etui.trays.situation import Bench

CONTENTS = (
    ("Disposable scalpel No. 10", 2),
    ("Tracheal introducer (bougie), coude tip", 1),
    ("Cuffed tracheal tube 6.0", 1),
    ("Syringe 10 ml", 1),
    ("Tube stylet", 1),
    ("Deaver retractor", 1),
    ("a thing <b>nobody</b> knows | really", 1),
)


@pytest.fixture(scope="module")
def data(bench: Bench) -> dict[str, Any]:
    tray = Tray(
        title="Front-of-neck pouch, Saltmarsh Ferry Hospital – ward 2",
        procedures=("scalpel-bougie-cricothyroidotomy",),
        operator="ward doctor, alone",
        kept_alongside=(Line(text="suction"), Line(text="capnograph"), Line(text="tube tie")),
        contents=tuple(Line(text=text, qty=qty) for text, qty in CONTENTS),
    )
    done = check_fully(
        tray, reference=bench.reference, reader=bench.reader, judge=bench.grader.judge
    )
    return justify(done, bench.reference)


def test_every_item_is_told_once(data: dict[str, Any]) -> None:
    assert [i["line"] for i in data["items"]] == [text for text, _ in CONTENTS]


def test_an_item_says_its_steps_and_where_it_harms(data: dict[str, Any]) -> None:
    items = {i["line"]: i for i in data["items"]}
    knife = items["Disposable scalpel No. 10"]
    first = {s["step"].split("/")[1] for s in knife["serves"] if s["role"] == "first"}
    assert "open-membrane" in first
    stylet = items["Tube stylet"]
    assert all(s["grade"] == "improvised" for s in stylet["serves"])
    assert items["Deaver retractor"]["serves"] == []
    assert not items["a thing <b>nobody</b> knows | really"]["understood"]


def test_steps_come_in_order_with_what_does_them(data: dict[str, Any], bench: Bench) -> None:
    orders = [bench.reference.steps[s["id"]].order for s in data["steps"]]
    assert orders == sorted(orders)
    steps = {s["id"].split("/")[1]: s for s in data["steps"]}
    assert steps["open-membrane"]["by"].startswith("Disposable scalpel")
    assert steps["open-membrane"]["grade"] == "preferred"


def test_left_out_says_why_and_what_is_there_all_the_same(data: dict[str, Any]) -> None:
    left = {x["id"]: x for x in data["left_out"]}
    assert left["stylet-tube"]["because"] == "mistaken for the bougie"
    assert left["stylet-tube"]["here"]
    assert not left["retractor-weitlaner"]["here"]


def test_cited_numbers_are_the_listed_sources(data: dict[str, Any], bench: Bench) -> None:
    listed = {s["number"]: s["id"] for s in data["sources"]}
    assert list(listed) == list(range(1, len(listed) + 1))
    cited = {
        (e["number"], e["source"])
        for item in data["items"]
        for e in (*item["serves"], *item["not_for"])
        if e["number"]
    }
    assert cited
    for number, source in cited:
        assert listed[number] == source
        assert source in bench.reference.sources


def test_how_it_is_known_is_counted(data: dict[str, Any]) -> None:
    assert sum(data["known"].values()) > 0
    assert set(data["known"]) <= {"read", "memory", "practice", "derived"}
    words = next(b.content for b in blocks(data) if "statements on what" in str(b.content))
    assert str(sum(data["known"].values())) in words


def test_cautions_and_limits_are_in_every_form(data: dict[str, Any]) -> None:
    import docx

    text = as_text(data)
    assert data["limits"] in text
    assert data["cautions"][0]["cautions"][0] in text
    page = as_html(data).decode()
    assert "prevail" in page
    document = docx.Document(io.BytesIO(as_docx(data)))
    assert any("prevail" in p.text for p in document.paragraphs)


def test_html_is_one_page_without_outside_things(data: dict[str, Any]) -> None:
    page = as_html(data).decode()
    assert page.startswith("<!doctype html>")
    assert "&lt;b&gt;nobody&lt;/b&gt;" in page
    assert "<b>nobody" not in page
    for outside in ("<script", "<link", "<img", "@import", "url("):
        assert outside not in page
    assert page.count("<h2>") == sum(b.kind == "heading" for b in blocks(data))


def test_pdf_and_docx_are_whole(data: dict[str, Any]) -> None:
    pdf = as_pdf(data)
    assert pdf.startswith(b"%PDF")
    assert pdf.rstrip().endswith(b"%%EOF")
    with zipfile.ZipFile(io.BytesIO(as_docx(data))) as parts:
        assert parts.testzip() is None


def test_docx_tables_repeat_their_head(data: dict[str, Any]) -> None:
    import docx

    document = docx.Document(io.BytesIO(as_docx(data)))
    heads = [t.rows[0]._tr.xml.count("tblHeader") for t in document.tables]
    # the first table is the facts, which has no header
    assert heads[0] == 0
    assert all(count == 1 for count in heads[1:])


def test_text_tables_keep_their_columns(data: dict[str, Any]) -> None:
    """Every row has as many columns as the head of its table, whatever a line of the tray says."""
    columns, rows = 0, 0
    for line in as_text(data).splitlines():
        if not line.startswith("|"):
            columns = 0
        elif not columns:
            columns = line.count("|")
        else:
            rows += 1
            assert line.count("|") == columns, line
    assert rows > 5


def test_the_same_tray_gives_the_same_document(data: dict[str, Any]) -> None:
    assert as_html(data) == as_html(data)
    assert as_text(data) == as_text(data)
