"""The full way: pySHACL judges the facts as RDF, and the report is a SHACL validation report."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from etui.errors import BadRecord
from etui.trays.facts import NS, Facts, Ref, Value, as_term
from etui.trays.model import Finding
from etui.trays.policy import Policy, Result
from etui.trays.shape_reading import SH

if TYPE_CHECKING:
    from rdflib import Graph
    from rdflib.term import Node as Term


@dataclass(frozen=True)
class Judged:
    """What pySHACL found: results in our terms, and its report as it gave it."""

    results: tuple[Result, ...]
    report: Graph


@lru_cache(maxsize=16)
def shapes_graph(texts: tuple[tuple[str, str], ...]) -> Graph:
    """The shapes in force as one graph: what a hospital restates takes the place of ours."""
    from rdflib import Graph, URIRef

    graph = Graph().parse(data=texts[0][1], format="turtle")
    ours = set(graph.subjects())
    for _, text in texts[1:]:
        local = Graph().parse(data=text, format="turtle")
        for subject in set(local.subjects()):
            if subject not in ours:
                continue
            for prop in set(local.predicates(subject)):
                if str(prop) not in {SH + "property", str(_rdf_type())}:
                    graph.remove((subject, prop, None))
        graph += local
    # a property shape with a target of its own, and none with a path that is switched off
    off = URIRef(SH + "deactivated")
    for subject in set(graph.subjects(off)):
        if str(graph.value(subject, off)) in {"true", "1"}:
            for owner in set(graph.subjects(URIRef(SH + "property"), subject)):
                graph.remove((owner, URIRef(SH + "property"), subject))
    return graph


def _rdf_type() -> str:
    return "http://www.w3.org/1999/02/22-rdf-syntax-ns#type"


def _plain(term: Term) -> Value:
    from rdflib import Literal

    if isinstance(term, Literal):
        value = term.toPython()
        return value if isinstance(value, int | bool) else str(term)
    return Ref(str(term))


def judge(policy: Policy, facts: Facts) -> Judged:
    """Let pySHACL judge the facts by the shapes in force.

    Raises:
        BadRecord: If a shape cannot be carried out; says which.
    """
    import pyshacl
    from pyshacl.errors import ReportableRuntimeError, ShapeLoadError
    from rdflib import RDF, URIRef

    shapes = shapes_graph(policy.texts)
    try:
        _, report, _ = pyshacl.validate(
            facts.graph(), shacl_graph=shapes, inference="none", advanced=False, meta_shacl=False
        )
    except (ShapeLoadError, ReportableRuntimeError, ValueError, KeyError) as error:
        raise BadRecord(
            f"A rule cannot be carried out: {' '.join(str(error).split())[:200]}.",
            where=policy.texts[-1][0],
            mend="Mend the rule, then check again.",
        ) from None
    by_iri = {rule.iri: rule.id for rule in policy.rules}
    results = []
    for node in report.subjects(RDF.type, URIRef(SH + "ValidationResult")):
        shape = report.value(node, URIRef(SH + "sourceShape"))
        focus = report.value(node, URIRef(SH + "focusNode"))
        value = report.value(node, URIRef(SH + "value"))
        rule = by_iri.get(str(shape)) or _rule_of(policy, shapes, shape)
        results.append(Result(rule, str(focus), None if value is None else _plain(value)))
    return Judged(tuple(sorted(results, key=result_key)), report)


def _rule_of(policy: Policy, shapes: Graph, shape: Term | None) -> str:
    """Rule of a shape without a name: by its path and its owner."""
    from rdflib import URIRef

    owner = next(iter(shapes.subjects(URIRef(SH + "property"), shape)), None)
    path = shapes.value(shape, URIRef(SH + "path"))
    name = f"{str(owner or 'rule').rpartition('#')[2]}-{str(path).rpartition('#')[2]}"
    return next((r.id for r in policy.rules if r.id == name), name)


def result_key(result: Result) -> tuple[str, str, str]:
    """Order of results."""
    return (result.rule, result.focus, str(result.value))


def report_graph(
    policy: Policy, judged: Judged, findings: dict[tuple[str, str], Finding], facts: Facts
) -> Graph:
    """pySHACL's report with our words, fixes, items and suggestions attached to each result.

    Each result is also an etui:Finding; the report stays a valid SHACL validation report.
    """
    from rdflib import RDF, BNode, Graph, Literal, URIRef

    graph = Graph()
    graph.bind("sh", SH)
    graph.bind("etui", NS)
    for triple in judged.report:
        graph.add(triple)
    by_iri = {rule.iri: rule.id for rule in policy.rules}
    for node in list(graph.subjects(RDF.type, URIRef(SH + "ValidationResult"))):
        shape = str(graph.value(node, URIRef(SH + "sourceShape")))
        focus = str(graph.value(node, URIRef(SH + "focusNode")))
        finding = findings.get((by_iri.get(shape, ""), focus))
        if finding is None:
            continue
        graph.add((node, RDF.type, URIRef(NS + "Finding")))
        graph.remove((node, URIRef(SH + "resultMessage"), None))
        graph.add((node, URIRef(SH + "resultMessage"), Literal(finding.text, lang="en")))
        graph.add((node, URIRef(NS + "findingKind"), Literal(finding.kind)))
        graph.add((node, URIRef(NS + "mend"), Literal(finding.fix, lang="en")))
        for key in ("ofStep", "ofPiece", "wanted"):
            for value in facts.nodes[focus].get(key) if focus in facts.nodes else ():
                graph.add((node, URIRef(NS + key), as_term(value)))
        for one in finding.suggestions:
            suggestion = BNode()
            graph.add((node, URIRef(NS + "suggests"), suggestion))
            graph.add((suggestion, RDF.type, URIRef(NS + "Suggestion")))
            graph.add((suggestion, URIRef(NS + "ofPattern"), as_term(_thing(one.id))))
            graph.add((suggestion, URIRef(NS + "grade"), URIRef(NS + one.grade)))
            graph.add((suggestion, URIRef(NS + "foundIn"), Literal(one.origin)))
    return graph


def _thing(pattern: str) -> Ref:
    from etui.trays.facts import thing

    return thing(pattern)
