"""The graph needs no network."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest


@pytest.fixture
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Any attempt to reach another machine fails."""
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("something asked for the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)


@pytest.mark.usefixtures("no_network")
def test_loading_reading_and_checking_need_no_network(demo: Path) -> None:
    from etui.exchange import read_tray, resolve_procedures
    from etui.judging import Judge
    from etui.judging.procedure_match import ProcedureMatcher
    from etui.knowledge import load_reference
    from etui.reading import Reader
    from etui.trays import check

    reference = load_reference(use_cache=False)
    assert reference.patterns
    matcher = ProcedureMatcher(reference)

    def match(text: str) -> tuple[str | None, object]:
        found = matcher.match(text)
        return found.procedure, found.nearest

    tray = read_tray(demo / "trays" / "suprapubic-set.xlsx")
    ids = resolve_procedures(tray.procedures, match)  # type: ignore[arg-type]
    tray = type(tray)(title=tray.title, procedures=ids, operator=tray.operator,
                      kept_alongside=tray.kept_alongside, contents=tray.contents)
    report = check(tray, reference=reference, reader=Reader(reference), judge=Judge(reference))
    assert report.verdict


@pytest.mark.usefixtures("no_network")
def test_shapes_and_ontology_import_nothing_from_elsewhere(root: Path) -> None:
    import pyoxigraph as ox

    imports = "http://www.w3.org/2002/07/owl#imports"
    for folder in ("ontology", "shapes"):
        for path in sorted((root / folder).rglob("*.ttl")):
            for quad in ox.parse(path=str(path), format=ox.RdfFormat.TURTLE):
                if quad.predicate.value == imports:
                    assert quad.object.value.startswith("https://w3id.org/etui/"), path
