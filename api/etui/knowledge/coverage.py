"""How well the graph is founded: statements by procedure and by how they are known.

A statement here is one record that says how it is known: a judgement, a technique, a demand, a
limit, a risk, a dispute, a reason, a partner, a step, an approach.  A feature of a pattern is
founded by the citations of its pattern, which are counted apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import pyoxigraph as ox

from etui.knowledge.store import DCTERMS, NS, RDF_TYPE, RDFS_LABEL, SKOS, short

__all__ = ["Coverage", "Row", "coverage_page", "pairs", "tally"]

KINDS = (
    "Step",
    "Judgement",
    "Technique",
    "Demand",
    "Limit",
    "Risk",
    "Partner",
    "Dispute",
    "Approach",
    "Reason",
)
"""Kinds of record that belong to one procedure, in the order of the report."""

TO_STEP = ("forStep", "demandedBy", "limits")
"""Properties by which a record points at the step that it belongs to."""

FROM_PARENT = ("atRisk", "dispute", "partner", "approach", "spareFor", "notWanted")
"""Properties by which a step or procedure points at a record that belongs to it."""

HOW = ("read", "memory", "practice", "derived")


@dataclass(slots=True)
class Row:
    """Counts of one procedure, of one kind of record, or of all."""

    name: str
    steps: int = 0
    how: Counter[str] = field(default_factory=Counter)
    sources: set[str] = field(default_factory=set)
    features_only: int = 0
    unsourced_read: int = 0

    @property
    def stated(self) -> int:
        """Statements that say how they are known."""
        return sum(self.how.values())


@dataclass(slots=True)
class Coverage:
    """What the graph holds and how it is known."""

    procedures: dict[str, Row]
    kinds: dict[str, Row]
    shared: dict[str, Row]
    total: Row
    pattern_citations: Counter[str]
    patterns: int
    patterns_without_citation: int
    source_kinds: Counter[str]
    sources: int


def tally(store: ox.Store) -> Coverage:
    """Count the statements of the graph; reads only, in one pass over the records."""
    types: dict[str, str] = {}
    for subject, kind in pairs(store, RDF_TYPE):
        types.setdefault(subject, short(kind))
    procedure_of = _owners(store, types)
    named = {iri: _name(store, iri) for iri, kind in types.items() if kind == "Procedure"}
    procedures = {iri: Row(name) for iri, name in sorted(named.items(), key=lambda p: p[1])}
    kinds = {kind: Row(kind) for kind in KINDS}
    shared: dict[str, Row] = {}
    total = Row("all")
    features_only = {subject for subject, _ in pairs(store, NS + "featuresOnly")}
    sourced: dict[str, set[str]] = {}
    for subject, source in pairs(store, DCTERMS + "source"):
        sourced.setdefault(subject, set()).add(source)
    for subject, word in pairs(store, NS + "howKnown"):
        how = short(word)
        kind = types.get(subject, "")
        rows = [total]
        if (owner := procedure_of.get(subject)) is not None and kind in kinds:
            rows += [procedures[owner], kinds[kind]]
            procedures[owner].steps += kind == "Step"
        elif kind != "Procedure":
            rows.append(shared.setdefault(kind, Row(kind)))
        for row in rows:
            row.how[how] += 1
            row.sources |= sourced.get(subject, set())
            row.features_only += subject in features_only
            row.unsourced_read += how == "read" and subject not in sourced
    for iri, row in procedures.items():
        row.sources |= sourced.get(iri, set())
    citations, cited = _pattern_citations(store)
    patterns = {o for p in ("offeredBy", "formOf") for _, o in pairs(store, NS + p)}
    kinds_of_source = Counter(short(kind) for _, kind in pairs(store, NS + "sourceKind"))
    return Coverage(
        procedures=procedures,
        kinds=kinds,
        shared=dict(sorted(shared.items())),
        total=total,
        pattern_citations=citations,
        patterns=len(patterns),
        patterns_without_citation=len(patterns - cited),
        source_kinds=kinds_of_source,
        sources=sum(kinds_of_source.values()),
    )


def _owners(store: ox.Store, types: dict[str, str]) -> dict[str, str]:
    """Record -> procedure, by the links in either direction."""
    steps = dict(pairs(store, NS + "stepOf"))
    owner = dict(steps)
    for name in TO_STEP:
        for subject, step in pairs(store, NS + name):
            if step in steps:
                owner.setdefault(subject, steps[step])
    for name in FROM_PARENT:
        for parent, child in pairs(store, NS + name):
            found = steps.get(parent) or (parent if types.get(parent) == "Procedure" else None)
            if found:
                owner.setdefault(child, found)
    return owner


def _pattern_citations(store: ox.Store) -> tuple[Counter[str], set[str]]:
    how = {subject: short(word) for subject, word in pairs(store, NS + "howKnown")}
    patterns = {pattern for _, pattern in pairs(store, NS + "formOf")}
    links = [(s, c) for s, c in pairs(store, NS + "citation") if s in patterns]
    counts = Counter(how.get(citation, "not said") for _, citation in links)
    return counts, {pattern for pattern, _ in links}


def pairs(store: ox.Store, predicate: str) -> Iterator[tuple[str, str]]:
    """Subject and object of every statement with *predicate*, as text."""
    for quad in store.quads_for_pattern(None, ox.NamedNode(predicate), None, None):
        if not isinstance(quad.subject, ox.Triple) and not isinstance(quad.object, ox.Triple):
            yield quad.subject.value, quad.object.value


def _name(store: ox.Store, iri: str) -> str:
    for predicate in (SKOS + "prefLabel", RDFS_LABEL):
        for quad in store.quads_for_pattern(ox.NamedNode(iri), ox.NamedNode(predicate), None, None):
            if isinstance(quad.object, ox.Literal) and quad.object.language in (None, "en"):
                return quad.object.value
    return short(iri)


def coverage_page(counts: Coverage) -> str:
    """The page ``docs/reference/coverage.md``."""
    total = counts.total
    lines = [
        "<!-- Written by `etui build`; edit the graph, not this page. -->",
        "",
        "# Coverage: how the statements of the reference are known",
        "",
        "Reference for planning and teaching. Local protocol, manufacturers' instructions,",
        "sterile-processing rules and licensed judgement prevail. No clinician has signed it off.",
        "",
        "*read*: a source was opened, often only an excerpt of it. *memory*: recalled, not",
        "checked. *practice*: common practice, no source. *features only*: judgements whose words",
        "only restate the piece; with *practice* nobody judged that piece for that step, and no",
        "rule counts them as evidence.",
        "",
        f"In all {total.stated:,} statements say how they are known: {total.how['read']:,} read, "
        f"{total.how['memory']:,} from memory, {total.how['practice']:,} common practice. "
        f"They lean on {counts.sources:,} source records.",
        "",
        "## By procedure",
        "",
        *_table(
            ("procedure", "steps", "statements", *HOW[:3], "features only", "sources"),
            [
                (row.name, row.steps, row.stated, *_how(row), row.features_only, len(row.sources))
                for row in counts.procedures.values()
            ],
        ),
        "",
        "## By kind of statement, over all procedures",
        "",
        *_table(
            ("kind", "statements", *HOW[:3], "features only", "sources"),
            [
                (row.name, row.stated, *_how(row), row.features_only, len(row.sources))
                for row in counts.kinds.values()
            ],
        ),
        "",
        "## Shared records",
        "",
        *_table(
            ("kind", "statements", *HOW[:3], "sources"),
            [
                (row.name, row.stated, *_how(row), len(row.sources))
                for row in counts.shared.values()
            ],
        ),
        "",
        "## Patterns",
        "",
        f"{counts.patterns:,} patterns carry {sum(counts.pattern_citations.values()):,} citations: "
        + ", ".join(f"{n:,} {how}" for how, n in sorted(counts.pattern_citations.items()))
        + f". {counts.patterns_without_citation:,} have none; "
        "their offers and forms still say how they are known.",
        "",
        "## Sources by kind",
        "",
        *_table(("kind", "records"), sorted(counts.source_kinds.items())),
        "",
        "## Read, but no source named",
        "",
        f"{total.unsourced_read:,} statements are marked *read* without a source of their own.",
        "",
    ]
    return "\n".join(lines)


def _how(row: Row) -> tuple[int, ...]:
    return tuple(row.how[how] for how in HOW[:3])


def _table(head: tuple[str, ...], rows: Iterable[tuple[object, ...]]) -> list[str]:
    out = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for row in rows:
        cells = (f"{c:,}" if isinstance(c, int) else str(c) for c in row)
        out.append("| " + " | ".join(cells) + " |")
    return out
