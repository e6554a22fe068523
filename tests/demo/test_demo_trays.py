"""What a knowledgeable reader expects of the demo hospital's trays."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from etui import cli


def checked(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, dict[str, Any]]:
    code = cli.run(["check", *args, "--json"])
    out = capsys.readouterr()
    assert code in (0, 1), out.err
    return code, json.loads(out.out)


def findings(data: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [f for f in data["findings"] if f["kind"] == kind]


def test_the_wound_tray_is_fit(capsys: pytest.CaptureFixture[str], demo: Path) -> None:
    code, data = checked(capsys, str(demo / "trays" / "wounds-and-abscesses.csv"))
    assert data["procedures"] == ["wound-repair", "abscess-drainage"]
    # Everything essential is there; light haemostats beside a blade to be changed are a remark.
    assert data["verdict"] in ("fit", "fit-with-remarks")
    assert code == (0 if data["verdict"] == "fit" else 1)
    assert not [f for f in data["findings"] if f["severity"] == "violation"]
    assert not findings(data, "unresolved_line")


def test_the_suprapubic_set_is_fit(capsys: pytest.CaptureFixture[str], demo: Path) -> None:
    _, data = checked(capsys, str(demo / "trays" / "suprapubic-set.xlsx"))
    assert data["verdict"] in ("fit", "fit-with-remarks")
    covered = {c["step"]: c["grade"] for c in data["coverage"]}
    assert covered["suprapubic-catheter/trocar"] == "preferred"
    assert covered["suprapubic-catheter/pass-catheter"] == "preferred"
    assert not findings(data, "unresolved_line")


def test_the_harbour_bag_has_its_faults(capsys: pytest.CaptureFixture[str], demo: Path) -> None:
    code, data = checked(
        capsys, str(demo / "trays" / "harbour-bag.txt"),
        "--rules", str(demo / "rules" / "house-rules.ttl"),
        "--stock", str(demo / "stock" / "store-room.csv"))
    assert code == 1
    assert data["verdict"] == "unfit"
    faults = [set(f["items"]) for f in findings(data, "assembly_fault")]
    # A No. 10 blade does not seat on a No. 4 handle, and a wire needs a handle for each hand.
    assert any("gigli-wire" in items for items in faults)
    assert any({"scalpel-handle-4", "scalpel-blade-10"} & items for items in faults)
    saw = [f for f in findings(data, "missing_step") if "field-amputation/saw-wire" in f["steps"]
           or "field-amputation/saw-hand" in f["steps"]]
    assert saw
    rules = {f["rule"] for f in findings(data, "local_rule")}
    assert rules == {"two-knives-on-every-tray", "no-wire-saw-here"}
    # The store room has the amputation saw, and the answer says so.
    offered = {(s["id"], s["from"]) for f in data["findings"] for s in f["suggestions"]}
    assert any(origin == "stock" for _, origin in offered)


def test_a_broken_rule_file_is_explained(
    capsys: pytest.CaptureFixture[str], demo: Path, tmp_path: Path
) -> None:
    broken = tmp_path / "rules.ttl"
    broken.write_text("@prefix sh: <http://www.w3.org/ns/shacl#> .\nsh:x sh:y\n")
    code = cli.run(["check", str(demo / "trays" / "harbour-bag.txt"), "--rules", str(broken)])
    out = capsys.readouterr()
    assert code == 2
    assert out.err.count("\n") == 1
    assert "rules.ttl:" in out.err


def test_the_turtle_report_is_a_shacl_report(
    capsys: pytest.CaptureFixture[str], demo: Path
) -> None:
    from rdflib import RDF, Graph, Namespace

    sh = Namespace("http://www.w3.org/ns/shacl#")
    code = cli.run(["check", str(demo / "trays" / "harbour-bag.txt"), "--format", "turtle"])
    graph = Graph().parse(data=capsys.readouterr().out, format="turtle")
    assert code == 1
    reports = list(graph.subjects(RDF.type, sh.ValidationReport))
    assert len(reports) == 1
    assert str(graph.value(reports[0], sh.conforms)) == "false"
    results = list(graph.objects(reports[0], sh.result))
    assert results
    for result in results:
        for needed in (sh.focusNode, sh.resultSeverity, sh.sourceConstraintComponent):
            assert graph.value(result, needed) is not None


def test_the_stock_is_read(demo: Path) -> None:
    from etui.exchange import read_stock
    from etui.knowledge import load_reference
    from etui.reading import Reader

    stock = read_stock(demo / "stock" / "store-room.csv")
    assert len(stock.lines) == 62
    reader = Reader(load_reference())
    unread = [x.text for x in stock.lines
              if reader.read(x.text).first.kind in ("unknown", "not-an-item")]
    assert not unread


def test_the_place_is_invented_and_says_so(demo: Path) -> None:
    text = (demo / "README.md").read_text(encoding="utf-8")
    assert "invented" in text
