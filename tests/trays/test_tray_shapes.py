"""Trays written as Turtle keep the rules for tray authors, and broken ones break just theirs."""

from __future__ import annotations

from pathlib import Path

import pyshacl
import pytest
from rdflib import Graph, URIRef

from etui.exchange.turtle import tray_turtle
from etui.knowledge import shapes_dir
from etui.trays.model import Line, Tray

HEAD = """
@prefix dcterms: <http://purl.org/dc/terms/> .
@prefix etui: <https://w3id.org/etui/ns#> .
@prefix t: <https://example.org/t/> .
"""
GOOD_LINE = "t:line a etui:Line ; etui:lineText 'Kelly forceps' ; etui:quantity 2 ."
BROKEN = {
    "tray-title-once": "t:tray dcterms:title 'one', 'two' .",
    "tray-title-text": "t:tray dcterms:title '' .",
    "tray-operator-once": "t:tray etui:operator 'one', 'two' .",
    "tray-line-is-line": "t:tray etui:line t:nothing .",
    "line-text-given": "t:tray etui:line t:other . t:other a etui:Line .",
    "line-text-once": "t:line etui:lineText 'another' .",
    "line-quantity-once": "t:line etui:quantity 3 .",
    "line-quantity-whole": "t:other a etui:Line ; etui:lineText 'x' ; etui:quantity 1.5 .",
    "line-quantity-not-negative": "t:other a etui:Line ; etui:lineText 'x' ; etui:quantity -1 .",
    "line-quantity-credible": "t:other a etui:Line ; etui:lineText 'x' ; etui:quantity 5000 .",
    "line-order-whole": "t:line etui:lineOrder '1' .",
}
SHP = "https://w3id.org/etui/shapes/tray#"


def broken_rules(graph: Graph) -> set[str]:
    shapes = Graph().parse(shapes_dir() / "tray.ttl")
    _, report, _ = pyshacl.validate(graph, shacl_graph=shapes, inference="none")
    source = URIRef("http://www.w3.org/ns/shacl#sourceShape")
    return {str(o).removeprefix(SHP) for o in report.objects(predicate=source)}


def good(more: str = "", procedure: bool = True, line: bool = True) -> Graph:
    text = HEAD + "t:tray a etui:Tray"
    text += " ; etui:forProcedure 'tube-thoracostomy'" if procedure else ""
    text += " ; etui:line t:line .\n" + GOOD_LINE if line else " ."
    return Graph().parse(data=text + "\n" + more, format="turtle")


def test_a_written_tray_is_sound() -> None:
    tray = Tray(
        title="Harbour bag", procedures=("field-amputation",), operator="doctor, alone",
        kept_alongside=(Line(text="blood"),), contents=(Line(text="Gigli wire", qty=2),),
    )
    assert broken_rules(Graph().parse(data=tray_turtle(tray), format="turtle")) == set()
    assert broken_rules(good()) == set()


@pytest.mark.parametrize("rule", sorted(BROKEN))
def test_a_broken_tray(rule: str) -> None:
    assert rule in broken_rules(good(BROKEN[rule]))


def test_what_is_left_out() -> None:
    assert broken_rules(good(procedure=False)) == {"tray-procedure-given"}
    assert broken_rules(good(line=False)) == {"tray-line-given"}


def test_every_rule_is_tried() -> None:
    stated = {
        str(s).removeprefix(SHP)
        for s in Graph().parse(Path(shapes_dir()) / "tray.ttl").subjects(
            URIRef("http://www.w3.org/ns/shacl#path")
        )
    }
    assert stated == set(BROKEN) | {"tray-procedure-given", "tray-line-given"}
