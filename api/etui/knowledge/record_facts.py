"""Facts about records that SHACL Core cannot compare by itself, worked out before validation.

Each is one plain statement under ``https://w3id.org/etui/fact/`` about a record or a file, so that
the shapes in ``shapes/records.ttl`` hold the policy and stay in SHACL Core: a judgement that
contradicts a never, a grade that a like step contradicts, a term that nothing declares, a range
upside down, a badly written number, a circle of replacements, the prefixes of a file.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

import pyoxigraph as ox

from etui.errors import BadRecord
from etui.knowledge.store import DCTERMS, ID, NS, RDF_TYPE

FACT = "https://w3id.org/etui/fact/"
XSD = "http://www.w3.org/2001/XMLSchema#"
OWL = "http://www.w3.org/2002/07/owl#"
RDFS_RANGE = "http://www.w3.org/2000/01/rdf-schema#range"
RDF_FIRST = "http://www.w3.org/1999/02/22-rdf-syntax-ns#first"

USABLE = frozenset(NS + grade for grade in ("preferred", "acceptable", "improvised"))
BARRED = frozenset(NS + grade for grade in ("unsafe", "unable"))
SAME_VALUE = frozenset(NS + word for word in ("isEqual", "oneOf", "anyOf"))
LIKE = ("likeStep", "akinStep", "likeSameProcedure")
TASK = ("action", "target", "fate")
"""Steps that agree in these are the same task, said to be alike or not."""
CLASS_DEFINITION = frozenset(
    OWL + name
    for name in ("onProperty", "unionOf", "intersectionOf", "complementOf", "oneOf", "members")
)

WELL_FORMED = {
    XSD + "integer": re.compile(r"[+-]?\d+"),
    XSD + "decimal": re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)"),
    XSD + "double": re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?|[+-]?INF|NaN"),
    XSD + "boolean": re.compile(r"true|false|1|0"),
    XSD + "date": re.compile(r"-?\d{4}-\d\d-\d\d"),
}
NUMBERS = frozenset(XSD + name for name in ("integer", "decimal", "double"))
PREFIX = re.compile(r"^\s*@prefix\s+([\w-]*):\s*<([^>]*)>", re.MULTILINE)

Fact = tuple[str, str, ox.NamedNode | ox.Literal]
"""Subject, local name of the fact, value."""


class Files:
    """A set of Turtle files as one graph, with the file in which each subject stands."""

    def __init__(self, files: list[Path], *, base: Path | None = None) -> None:
        """Parse *files*; their names are shown relative to *base*.

        Raises:
            BadRecord: If a file is not Turtle; names file and line.
        """
        self.store = ox.Store()
        self.where: dict[str, str] = {}
        self.prefixes: dict[str, list[tuple[str, str]]] = {}
        self.nameless: dict[str, set[str]] = defaultdict(set)
        for path in files:
            inside = base is not None and path.is_relative_to(base)
            name = path.relative_to(base).as_posix() if base and inside else path.name
            try:
                text = path.read_text(encoding="utf-8")
                quads = list(ox.parse(text, format=ox.RdfFormat.TURTLE))
            except SyntaxError as error:
                raise BadRecord(
                    f"This is not valid Turtle: {error.msg}.",
                    where=f"{name}:{error.lineno or '?'}",
                    mend="Mend the line; nothing was checked.",
                ) from None
            except (OSError, UnicodeDecodeError) as error:
                raise BadRecord(
                    f"This file cannot be read: {error}.",
                    where=name,
                    mend="Check that it is a text file in UTF-8.",
                ) from None
            self.prefixes[name] = [
                (prefix, _general(iri, path)) for prefix, iri in PREFIX.findall(text)
            ]
            definitions = {q.subject for q in quads if q.predicate.value in CLASS_DEFINITION}
            definitions |= {q.subject for q in quads if q.predicate.value == RDF_FIRST}
            for quad in quads:
                self.store.add(quad)
                if isinstance(quad.subject, ox.NamedNode):
                    if quad.predicate.value == RDF_TYPE:
                        self.where[quad.subject.value] = name  # where it is declared
                    self.where.setdefault(quad.subject.value, name)
                elif quad.subject not in definitions:
                    self.nameless[name].add(quad.predicate.value)


def _general(iri: str, file: Path) -> str:
    """The address of a prefix with the file's own procedure written as {procedure}."""
    if file.parent.name == "procedures":
        return iri.replace(f"/{file.stem}/", "/{procedure}/")
    return iri


def derive(files: Files) -> Iterator[Fact]:
    """All facts about the records and files, in a stable order."""
    graph = _Graph(files.store)
    for facts in (
        _files(files, graph),
        _never(graph),
        _never_in_numbers(graph),
        _values(graph),
        _like_steps(graph),
        _undeclared(graph),
        _ranges(graph),
        _literals(graph),
        _circles(graph),
    ):
        yield from sorted(facts, key=str)


class _Graph:
    """The statements by property, for walking."""

    def __init__(self, store: ox.Store) -> None:
        self.by_property: dict[str, list[tuple[str, ox.NamedNode | ox.Literal]]] = {}
        self.of: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
        for quad in store:
            if isinstance(quad.subject, ox.NamedNode) and isinstance(
                quad.object, ox.NamedNode | ox.Literal
            ):
                subject, predicate = quad.subject.value, quad.predicate.value
                self.by_property.setdefault(predicate, []).append((subject, quad.object))
                self.of[subject][predicate].append(quad.object.value)

    def get(self, subject: str, name: str) -> list[str]:
        """Values of a property of this vocabulary."""
        return self.of[subject].get(NS + name, []) if subject in self.of else []

    def pairs(self, predicate: str) -> list[tuple[str, ox.NamedNode | ox.Literal]]:
        return self.by_property.get(predicate, [])


def _files(files: Files, graph: _Graph) -> Iterator[Fact]:
    typed = {subject for subject, _ in graph.pairs(RDF_TYPE)}
    loose: dict[str, list[str]] = defaultdict(list)
    for subject, name in files.where.items():
        if subject not in typed and subject.startswith((ID, NS)):
            loose[name].append(subject)
    for name, prefixes in files.prefixes.items():
        node = FACT + "file/" + name
        yield node, RDF_TYPE, ox.NamedNode(FACT + "File")
        for prefix, iri in prefixes:
            yield node, "declaresPrefix", ox.Literal(f"{prefix}: {iri}")
        for predicate in files.nameless.get(name, ()):
            yield node, "namelessNode", ox.Literal(predicate)
        for subject in loose.get(name, ()):
            yield node, "untypedSubject", ox.NamedNode(subject)


def _never(graph: _Graph) -> Iterator[Fact]:
    """Usable grades of pieces that have what an unconditional never of the step names."""
    nevers: dict[str, list[tuple[str, str, set[str]]]] = defaultdict(list)
    for demand, step in graph.pairs(NS + "demandedBy"):
        if (
            graph.get(demand, "level") == [NS + "never"]
            and graph.get(demand, "about") == [NS + "aboutInstrument"]
            and SAME_VALUE.intersection(graph.get(demand, "comparison"))
            and not graph.get(demand, "condition")
        ):
            for feature in graph.get(demand, "feature"):
                values = set(graph.get(demand, "value"))
                nevers[step.value].append((demand, feature, values))
    for judgement, step in graph.pairs(NS + "forStep"):
        if not _plain(graph, judgement) or not USABLE.intersection(graph.get(judgement, "grade")):
            continue
        if graph.get(judgement, "condition"):
            continue
        for demand, feature, values in nevers.get(step.value, ()):
            for piece in graph.get(judgement, "judges"):
                has = {v.rsplit("/", 1)[-1] for v in graph.of[piece].get(feature, [])}
                if has and has <= values:
                    yield judgement, "contradictsNever", ox.NamedNode(demand)
                elif has & values:
                    yield judgement, "contradictsNeverInOneForm", ox.NamedNode(demand)


def _never_in_numbers(graph: _Graph) -> Iterator[Fact]:
    """The same for a never on a size: every size of the piece lies where the step forbids it."""
    nevers: dict[str, list[tuple[str, str, float, bool]]] = defaultdict(list)
    for demand, step in graph.pairs(NS + "demandedBy"):
        compared = set(graph.get(demand, "comparison"))
        if (
            graph.get(demand, "level") == [NS + "never"]
            and graph.get(demand, "about") == [NS + "aboutInstrument"]
            and compared & {NS + "atLeast", NS + "atMost"}
            and not graph.get(demand, "condition")
        ):
            for feature in graph.get(demand, "feature"):
                for value in graph.get(demand, "value"):
                    size = (demand, _camel(feature), _number(value), NS + "atLeast" in compared)
                    nevers[step.value].append(size)
    form_of = {
        o.value: form for form, o in graph.pairs(NS + "formOf") if not graph.get(form, "formWord")
    }
    for judgement, step in graph.pairs(NS + "forStep"):
        if (
            not _plain(graph, judgement)
            or graph.get(judgement, "condition")
            or not USABLE.intersection(graph.get(judgement, "grade"))
        ):
            continue
        for demand, stem, bound, at_least in nevers.get(step.value, ()):
            for piece in graph.get(judgement, "judges"):
                subject = piece if graph.get(piece, stem + "Min") else form_of.get(piece, "")
                low, high = graph.get(subject, stem + "Min"), graph.get(subject, stem + "Max")
                if (
                    low
                    and high
                    and (_number(low[0]) >= bound if at_least else _number(high[0]) <= bound)
                ):
                    yield judgement, "contradictsNever", ox.NamedNode(demand)


def _camel(feature: str) -> str:
    """The stem under which sizes of a feature are stated: ``length_mm`` -> ``lengthMm``."""
    head, *tail = feature.rsplit("/", 1)[-1].split("_")
    return head + "".join(word.capitalize() for word in tail)


def _values(graph: _Graph) -> Iterator[Fact]:
    """Values that a feature does not list among those that it can take."""
    allowed: dict[str, set[str]] = defaultdict(set)
    for feature, value in graph.pairs(NS + "allowsValue"):
        allowed[feature].add(value.value)
    for feature, values in allowed.items():
        for subject, value in graph.pairs(feature):
            if isinstance(value, ox.NamedNode) and value.value not in values:
                name, word = (iri.rsplit("/", 1)[-1] for iri in (feature, value.value))
                yield subject, "valueNotListed", ox.Literal(f"{name} {word}")


def _plain(graph: _Graph, judgement: str) -> bool:
    """Whether the piece does the step itself, not a side task of it."""
    return not graph.get(judgement, "role") and not graph.get(judgement, "asAction")


def _like_steps(graph: _Graph) -> Iterator[Fact]:
    """Usable in one step, not in a practically equal one, and no contrast says why."""
    usable: dict[str, dict[str, str]] = defaultdict(dict)
    barred: dict[str, dict[str, str]] = defaultdict(dict)
    patterns = {pattern for _, o in graph.pairs(NS + "formOf") if (pattern := o.value)}
    for judgement, step in graph.pairs(NS + "forStep"):
        if not _plain(graph, judgement):
            continue
        for piece in graph.get(judgement, "judges"):
            if piece in patterns:
                grades = graph.get(judgement, "grade")
                if USABLE.intersection(grades):
                    usable[step.value][piece] = judgement
                elif BARRED.intersection(grades):
                    barred[step.value][piece] = judgement
    explained = {
        (piece, frozenset((a, b)))
        for contrast, _ in graph.pairs(NS + "piece")
        for piece in graph.get(contrast, "piece")
        for a in graph.get(contrast, "stepA")
        for b in graph.get(contrast, "stepB")
    }
    pairs = {(a, b.value) for name in LIKE for a, b in graph.pairs(NS + name)}
    same: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for each, _ in graph.pairs(NS + "stepOf"):
        task = tuple(v for name in TASK for v in sorted(graph.get(each, name)))
        same[task].append(each)
    pairs |= {pair for task, steps in same.items() if task for pair in combinations(steps, 2)}
    for a, b in sorted(pairs | {(b, a) for a, b in pairs}):
        for piece in usable[a].keys() & barred[b].keys():
            if (piece, frozenset((a, b))) not in explained:
                yield usable[a][piece], "unexplainedConflict", ox.NamedNode(barred[b][piece])


def _undeclared(graph: _Graph) -> Iterator[Fact]:
    """Terms and things of this project that are used and have no record."""
    declared = {subject for subject, _ in graph.pairs(RDF_TYPE)}
    for predicate, statements in graph.by_property.items():
        known = predicate in declared or not predicate.startswith((NS, ID))
        for subject, value in statements:
            if not known:
                yield subject, "usesUndeclared", ox.NamedNode(predicate)
            if (
                isinstance(value, ox.NamedNode)
                and value.value.startswith((NS, ID))
                and value.value not in declared
            ):
                yield subject, "usesUndeclared", value


def _ranges(graph: _Graph) -> Iterator[Fact]:
    """A property ending in Min that is larger than its counterpart ending in Max."""
    for predicate, statements in graph.by_property.items():
        if not predicate.startswith(NS) or not predicate.endswith("Min"):
            continue
        stem = predicate.removesuffix("Min")
        for subject, low in statements:
            for high in graph.of[subject].get(stem + "Max", ()):
                if _number(low.value) > _number(high):
                    words = f"{stem.removeprefix(NS)} {low.value} to {high}"
                    yield subject, "rangeUpsideDown", ox.Literal(words)


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def _literals(graph: _Graph) -> Iterator[Fact]:
    """Literals that are not well formed, or not of the type that their property has."""
    ranges = {subject: value.value for subject, value in graph.pairs(RDFS_RANGE)}
    for predicate, statements in graph.by_property.items():
        wanted = ranges.get(predicate)
        objects = (predicate, OWL + "ObjectProperty") in _kinds(graph, predicate)
        for subject, value in statements:
            if isinstance(value, ox.NamedNode):
                continue
            kind = value.datatype.value
            shape = WELL_FORMED.get(kind)
            wrong = objects or (shape is not None and not shape.fullmatch(value.value))
            if wanted in NUMBERS:
                wrong = wrong or kind not in NUMBERS
            elif wanted is not None and wanted.startswith(XSD):
                wrong = wrong or kind != wanted
            if wrong:
                words = f"{predicate.rsplit('#', 1)[-1].rsplit('/', 1)[-1]} {value.value}"
                yield subject, "illTyped", ox.Literal(words)


def _kinds(graph: _Graph, predicate: str) -> set[tuple[str, str]]:
    return {(predicate, kind) for kind in graph.of[predicate].get(RDF_TYPE, ())}


def _circles(graph: _Graph) -> Iterator[Fact]:
    """Replacements that lead back to where they began."""
    after: dict[str, set[str]] = defaultdict(set)
    for subject, value in graph.pairs(DCTERMS + "isReplacedBy"):
        after[subject].add(value.value)
    for start in after:
        seen: set[str] = set()
        todo = list(after[start])
        while todo:
            node = todo.pop()
            if node not in seen:
                seen.add(node)
                todo.extend(after.get(node, ()))
        if start in seen:
            yield start, "replacedByItself", ox.NamedNode(start)
