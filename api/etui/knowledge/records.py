"""Validation of the ontology: does every record state what its shape asks for?

Data flow: Turtle files -> facts across records (:mod:`etui.knowledge.record_facts`) -> SHACL
shapes (``shapes/records.ttl``) -> typed findings.  The report says how many nodes each rule
looked at, so that a rule that looked at nothing does not count as passed.
"""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from etui.errors import BadRecord
from etui.knowledge import ontology_dir, shapes_dir
from etui.knowledge.record_facts import FACT, Files, derive
from etui.knowledge.store import RDF_TYPE, RDFS_SUBCLASS, short, turtle_files

if TYPE_CHECKING:
    import rdflib

__all__ = ["RecordFinding", "RecordReport", "rule_names", "validate"]

SH = "http://www.w3.org/ns/shacl#"
XSD_STRING = "http://www.w3.org/2001/XMLSchema#string"
RULES = "https://w3id.org/etui/shapes/records#"
SEVERITIES = ("violation", "warning", "info")


@dataclass(frozen=True, slots=True, order=True)
class RecordFinding:
    """One rule that one record breaks.

    ``severity``: violation (mend now), warning (check), info (know).  ``record`` is a short id,
    ``file`` where it stands, ``value`` the value at fault if there is one.
    """

    severity: str
    rule: str
    file: str
    record: str
    value: str
    message: str

    @property
    def line(self) -> str:
        """The finding as one line: file, record, what is wrong and what to do."""
        value = f" [{self.value}]" if self.value else ""
        return f"{self.file}: {self.record}: {self.message}{value} ({self.rule})"


@dataclass(frozen=True, slots=True)
class RecordReport:
    """The findings, sorted, and how many nodes each rule looked at."""

    findings: tuple[RecordFinding, ...]
    checked: dict[str, int]
    triples: int
    seconds: float

    @property
    def counts(self) -> dict[str, int]:
        """Findings by severity."""
        found = Counter(f.severity for f in self.findings)
        return {severity: found[severity] for severity in SEVERITIES}

    @property
    def ok(self) -> bool:
        """Whether there is no violation."""
        return not self.counts["violation"]

    def of(self, rule: str) -> tuple[RecordFinding, ...]:
        """The findings of one rule."""
        return tuple(f for f in self.findings if f.rule == rule)


def validate(
    files: list[Path] | None = None,
    *,
    background: list[Path] | None = None,
    shapes: Path | None = None,
    base: Path | None = None,
) -> RecordReport:
    """Check records against the editors' shapes.

    Args:
        files: Turtle files to check; the whole ontology when absent.
        background: Further files whose terms may be used (``core.ttl``), checked with them.
        shapes: The shapes; ``records.ttl`` when absent.
        base: Folder relative to which files are named in findings.

    Raises:
        BadRecord: A file is not Turtle, or the shapes cannot be used.
    """
    import pyshacl
    import rdflib

    start = time.perf_counter()
    folder = ontology_dir() if files is None else None
    paths = turtle_files(folder) if folder else [*(files or []), *(background or [])]
    parsed = Files(paths, base=folder.parent if folder else base)
    shape_file = shapes or shapes_dir() / "records.ttl"
    rules = rdflib.Graph()
    try:
        rules.parse(shape_file, format="turtle")
    except Exception as error:  # rdflib raises parser errors of several unrelated classes
        raise BadRecord(
            f"The shapes cannot be read: {str(error).splitlines()[0]}.", where=str(shape_file)
        ) from error
    data = _graph(parsed)
    _, report, _ = pyshacl.validate(
        data,
        shacl_graph=rules,
        inference="none",
        inplace=True,
        advanced=False,
        do_owl_imports=False,
    )
    if not isinstance(report, rdflib.Graph):
        raise BadRecord(f"The shapes cannot be used: {report}.", where=str(shape_file))
    return RecordReport(
        findings=_findings(report, data, parsed),
        checked=_checked(data, rules),
        triples=len(parsed.store),
        seconds=time.perf_counter() - start,
    )


def rule_names(shapes: Path | None = None) -> tuple[str, ...]:
    """The rules of the shapes: every named shape that carries a severity."""
    import rdflib

    graph = rdflib.Graph().parse(shapes or shapes_dir() / "records.ttl", format="turtle")
    return tuple(
        sorted(
            str(s).removeprefix(RULES)
            for s in graph.subjects(rdflib.URIRef(SH + "severity"))
            if isinstance(s, rdflib.URIRef)
        )
    )


def _graph(files: Files) -> rdflib.Graph:
    """The parsed files and the facts about them as one graph for the SHACL engine."""
    import pyoxigraph as ox
    import rdflib

    graph = rdflib.Graph()
    terms: dict[object, rdflib.term.Node] = {}

    def term(node: object) -> rdflib.term.Node:
        found = terms.get(node)
        if found is None:
            if isinstance(node, ox.NamedNode):
                found = rdflib.URIRef(node.value)
            elif isinstance(node, ox.BlankNode):
                found = rdflib.BNode(node.value)
            elif isinstance(node, ox.Literal):
                language = node.language
                plain = language or node.datatype.value == XSD_STRING
                found = rdflib.Literal(
                    node.value,
                    lang=language,
                    datatype=None if plain else rdflib.URIRef(node.datatype.value),
                )
            else:
                raise TypeError("quoted triples are not used here")
            terms[node] = found
        return found

    for quad in files.store:
        graph.add((term(quad.subject), term(quad.predicate), term(quad.object)))
    for subject, name, value in derive(files):
        predicate = name if ":" in name else FACT + name
        graph.add((rdflib.URIRef(subject), rdflib.URIRef(predicate), term(value)))
    return graph


def _findings(report: rdflib.Graph, data: rdflib.Graph, files: Files) -> tuple[RecordFinding, ...]:
    import rdflib

    def one(node: rdflib.term.Node, name: str) -> str:
        return str(report.value(node, rdflib.URIRef(SH + name)) or "")

    found: set[RecordFinding] = set()
    kind = rdflib.URIRef(SH + "ValidationResult")
    for node in report.subjects(rdflib.URIRef(RDF_TYPE), kind):
        rule = one(node, "sourceShape")
        if not rule.startswith(RULES):
            continue  # a part of a rule; the rule itself reports
        focus, value, path = one(node, "focusNode"), one(node, "value"), one(node, "resultPath")
        values = [value] if value and value != focus else [""]
        if path.startswith(FACT) and not value:
            # "at most none" names no value, but the facts say what is wrong
            values = [str(v) for v in data.objects(rdflib.URIRef(focus), rdflib.URIRef(path))]
        is_file = focus.startswith(FACT + "file/")
        record = focus.removeprefix(FACT + "file/") if is_file else short(focus)
        found.update(
            RecordFinding(
                severity=one(node, "resultSeverity").removeprefix(SH).lower(),
                rule=rule.removeprefix(RULES),
                file=record if is_file else files.where.get(focus, ""),
                record=record,
                value=short(each),
                message=one(node, "resultMessage"),
            )
            for each in values
        )
    order = {severity: place for place, severity in enumerate(SEVERITIES)}
    return tuple(sorted(found, key=lambda f: (order[f.severity], f)))


def _checked(data: rdflib.Graph, rules: rdflib.Graph) -> dict[str, int]:
    """How many nodes each rule looked at, by the targets of its shape."""
    import rdflib

    def sh(name: str) -> rdflib.URIRef:
        return rdflib.URIRef(SH + name)

    members: dict[rdflib.term.Node, set[rdflib.term.Node]] = {}

    def of_class(wanted: rdflib.term.Node) -> set[rdflib.term.Node]:
        if wanted not in members:
            below = data.transitive_subjects(rdflib.URIRef(RDFS_SUBCLASS), wanted)
            members[wanted] = {
                s for kind in below for s in data.subjects(rdflib.URIRef(RDF_TYPE), kind)
            }
        return members[wanted]

    checked: dict[str, int] = {}
    for shape in set(rules.subjects(rdflib.URIRef(RDF_TYPE), sh("NodeShape"))):
        nodes: set[rdflib.term.Node] = set()
        for wanted in rules.objects(shape, sh("targetClass")):
            nodes |= of_class(wanted)
        for predicate in rules.objects(shape, sh("targetSubjectsOf")):
            nodes |= set(data.subjects(predicate))
        for rule in {shape, *rules.objects(shape, sh("property"))}:
            if rules.value(rule, sh("severity")) is not None:
                name = str(rule).removeprefix(RULES)
                checked[name] = checked.get(name, 0) + len(nodes)
    return dict(sorted(checked.items()))
