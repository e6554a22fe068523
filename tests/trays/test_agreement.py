"""pySHACL and the compiled policy come to the same results on the same facts."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from rdflib import Graph

from etui.exchange import open_tray
from etui.knowledge.model import Reference
from etui.trays import shacl
from etui.trays.check import check_fully
from etui.trays.facts import CHECK, Fact, Facts, Ref
from etui.trays.model import Line, Tray
from etui.trays.policy import Policy, evaluate, load_policy
from tests.published.tables import DATA, lists
from tests.trays.generate import trays

BATCH = 50


@pytest.fixture(scope="module")
def policy() -> Policy:
    return load_policy()


def apart(facts: Facts, number: int) -> Facts:
    """The same facts with nodes of their own, so that many trays can lie in one graph."""

    def moved(iri: str) -> str:
        return iri.replace(CHECK, f"{CHECK}{number}/", 1) if iri.startswith(CHECK) else iri

    out = Facts()
    for fact in facts:
        values = {
            key: tuple(Ref(moved(v)) if isinstance(v, Ref) else v for v in found)
            for key, found in fact.values.items()
        }
        out.add(Fact(moved(fact.iri), fact.types, values))
    return out


def both(policy: Policy, facts: Facts) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    compiled, _ = evaluate(policy, facts)
    judged = shacl.judge(policy, facts)
    return (
        sorted((r.rule, r.focus) for r in compiled),
        sorted((r.rule, r.focus) for r in judged.results),
    )


def test_on_the_demo_trays(policy: Policy, demo: Any, kit: dict[str, Any]) -> None:
    files = sorted((demo / "trays").iterdir())
    assert files
    for file in files:
        tray, _ = open_tray(file)
        done = check_fully(tray, details=False, whole_tray=True, **kit)
        compiled, judged = both(policy, done.facts)
        assert compiled == judged
        assert compiled


def test_on_the_published_lists(policy: Policy, kit: dict[str, Any]) -> None:
    checks = tomllib.loads((DATA / "expected-lists.toml").read_text(encoding="utf-8"))["check"]
    entries = lists()
    assert len(checks) > 25
    batch = Facts()
    for number, entry in enumerate(checks):
        tray = Tray(
            title=entry["list"],
            procedures=(entry["procedure"],),
            contents=tuple(
                Line(text=i["item"], qty=i["count"] if isinstance(i["count"], int) else None)
                for i in entries[entry["list"]]["items"]
            ),
        )
        for fact in apart(check_fully(tray, details=False, **kit).facts, number):
            batch.add(fact)
    compiled, judged = both(policy, batch)
    assert compiled == judged
    assert compiled


@pytest.mark.slow
def test_on_generated_trays(policy: Policy, reference: Reference, kit: dict[str, Any]) -> None:
    broken: set[str] = set()
    batch = Facts()
    for number, tray in enumerate(trays(reference, 2000, seed=20)):
        done = check_fully(tray, details=False, **kit)
        for fact in apart(done.facts, number):
            batch.add(fact)
        if number % BATCH == BATCH - 1:
            compiled, judged = both(policy, batch)
            assert compiled == judged
            broken |= {rule for rule, _ in compiled}
            batch = Facts()
    # agreement means something only where there is something to agree on
    assert len(broken) >= len(policy.rules) - 3, sorted({r.id for r in policy.rules} - broken)


def test_the_report_is_a_shacl_validation_report(demo: Any, kit: dict[str, Any]) -> None:
    from rdflib import RDF, Namespace

    from etui.trays import check_graph

    sh = Namespace("http://www.w3.org/ns/shacl#")
    etui = Namespace("https://w3id.org/etui/ns#")
    tray, _ = open_tray(sorted((demo / "trays").iterdir())[0])
    graph: Graph = check_graph(tray, **kit)
    report = check_fully(tray, **kit).report
    assert len(set(graph.subjects(RDF.type, sh.ValidationReport))) == 1
    results = set(graph.subjects(RDF.type, sh.ValidationResult))
    assert len(results) == len(report.findings)
    for result in results:
        for prop in (
            sh.focusNode, sh.resultSeverity, sh.sourceConstraintComponent, sh.sourceShape,
            sh.resultPath, sh.resultMessage,
        ):
            assert len(set(graph.objects(result, prop))) == 1
        assert (result, RDF.type, etui.Finding) in graph
    assert {str(o) for o in graph.objects(predicate=sh.resultMessage)} == {
        f.text for f in report.findings
    }
    again = Graph().parse(data=graph.serialize(format="turtle"), format="turtle")
    assert len(again) == len(graph)
    assert any(graph.subjects(RDF.type, etui.Suggestion))
