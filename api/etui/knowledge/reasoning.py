"""From features to abilities: what a pattern can do in principle, found by an OWL reasoner.

``ontology/abilities.ttl`` defines abilities as classes over features ("a lock and a jaw that does
not crush") and says what every member of a family is ("no thumb forceps has a ratchet").  Here
every pattern becomes a class too, described by what its record states, and HermiT finds under
which abilities each falls and which records contradict an axiom.

Why classes and not individuals: HermiT classifies some five hundred small classes in seconds and
needs many times that for as many individuals.  For the same reason a value ("ratchet") becomes a
class; all values are disjoint, so a piece has one value of a feature and nothing is lost.

What is unknown stays unknown: an absent feature proves nothing.  A pattern that comes in several
forms has "this or that", so an ability follows only if every form has it.

Needs Java and the packages of the extra ``build``; nothing else in Etui imports this module at
run time.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import pyoxigraph as ox

from etui.knowledge.hermit import ReasonerMissing, subclasses

__all__ = ["Classification", "Contradiction", "ReasonerMissing", "Statement", "classify"]

ETUI = "https://w3id.org/etui/ns#"
RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
RDFS = "http://www.w3.org/2000/01/rdf-schema#"
OWL = "http://www.w3.org/2002/07/owl#"
SKOS = "http://www.w3.org/2004/02/skos/core#"

TYPE = ox.NamedNode(RDF + "type")
SUBCLASS = ox.NamedNode(RDFS + "subClassOf")
EQUIVALENT = ox.NamedNode(OWL + "equivalentClass")
HAS_VALUE = ox.NamedNode(OWL + "hasValue")
SOME = ox.NamedNode(OWL + "someValuesFrom")
ON_PROPERTY = ox.NamedNode(OWL + "onProperty")
ONE_OF = ox.NamedNode(OWL + "oneOf")
UNION = ox.NamedNode(OWL + "unionOf")
BOOLEAN = {UNION, ox.NamedNode(OWL + "intersectionOf"), ox.NamedNode(OWL + "complementOf")}
RESTRICTION = ox.NamedNode(OWL + "Restriction")
CLASS = ox.NamedNode(OWL + "Class")
FIRST, REST, NIL = (ox.NamedNode(RDF + n) for n in ("first", "rest", "nil"))
PATTERN = ox.NamedNode(ETUI + "Pattern")
ABILITY = ox.NamedNode(ETUI + "Ability")
ABLE = ox.NamedNode(ETUI + "able")
TRAIT = ox.NamedNode(ETUI + "Trait")
FORM_OF = ox.NamedNode(ETUI + "formOf")
FORM_WORD = ox.NamedNode(ETUI + "formWord")
GENERAL_FORM = ox.NamedNode(ETUI + "generalForm")
PREF_LABEL = ox.NamedNode(SKOS + "prefLabel")
RDFS_LABEL = ox.NamedNode(RDFS + "label")


Subject = ox.NamedNode | ox.BlankNode


@dataclass(frozen=True, slots=True, order=True)
class Statement:
    """One thing that a record states: its family, or a feature with the values of its forms.

    ``in_form``: stated by the record of the general form, not by the pattern itself.
    """

    feature: str
    values: tuple[str, ...]
    in_form: bool = False

    @property
    def is_family(self) -> bool:
        return self.feature == TYPE.value


@dataclass(frozen=True, slots=True, order=True)
class Contradiction:
    """A record that no real piece can meet, and the statements that cannot hold together.

    ``statements`` in words: usually two; one if the word alone is impossible; all of the record
    if no two of them clash by themselves.
    """

    pattern: str
    name: str
    statements: tuple[str, ...]

    @property
    def sentence(self) -> str:
        what = " and ".join(f'"{s}"' for s in self.statements)
        clash = "cannot both hold" if len(self.statements) == 2 else "cannot hold"
        return (
            f"{self.name} ({self.pattern}): {what} {clash} by the axioms of abilities.ttl. "
            "Correct the statement that is wrong, or the axiom."
        )


@dataclass(frozen=True, slots=True)
class Classification:
    """What the reasoner found: ability -> patterns (IRIs, sorted), and the contradictions."""

    abilities: dict[str, tuple[str, ...]]
    contradictions: tuple[Contradiction, ...]
    patterns: int
    seconds: float


def classify(knowledge: ox.Store, axioms: ox.Store) -> Classification:
    """Find the abilities of every pattern.

    Args:
        knowledge: The whole ontology (patterns with their features, families, labels).
        axioms: ``abilities.ttl`` alone.

    Raises:
        ReasonerMissing: Java or owlready2 is not installed.
        BadRecord: The axioms themselves cannot be read by the reasoner.
    """
    start = time.perf_counter()
    model = _Model(knowledge, axioms)
    descendants, impossible = subclasses(model.triples(), sorted(model.abilities))
    contradictions = _explain(model, [p for p in model.patterns if p in impossible])
    return Classification(
        abilities={
            ability: tuple(p for p in model.patterns if p in found and p not in impossible)
            for ability, found in sorted(descendants.items())
        },
        contradictions=contradictions,
        patterns=len(model.patterns),
        seconds=time.perf_counter() - start,
    )


class _Model:
    """The ontology as the reasoner gets it."""

    def __init__(self, knowledge: ox.Store, axioms: ox.Store) -> None:
        self._knowledge = knowledge
        self._axioms = list(axioms)
        self._restricted = {q.object for q in self._axioms if q.predicate == ON_PROPERTY}
        self._functional = {
            q.subject
            for q in self._axioms
            if q.predicate == TYPE and q.object == ox.NamedNode(OWL + "FunctionalProperty")
        }
        self._families = _below(knowledge, PATTERN)
        self.abilities = {
            q.subject.value
            for q in self._axioms
            if q.predicate == TYPE and q.object == ABILITY and isinstance(q.subject, ox.NamedNode)
        }
        self.patterns: dict[str, tuple[Statement, ...]] = {}
        for family in self._families:
            for quad in knowledge.quads_for_pattern(None, TYPE, family, None):
                if isinstance(quad.subject, ox.NamedNode):
                    self.patterns.setdefault(quad.subject.value, ())
        for iri in sorted(self.patterns):
            self.patterns[iri] = tuple(self._statements(ox.NamedNode(iri)))
        self.patterns = dict(sorted(self.patterns.items()))
        self.values = sorted(
            {v for ss in self.patterns.values() for s in ss if not s.is_family for v in s.values}
            | self._axiom_values()
        )

    def _axiom_values(self) -> set[str]:
        members = {q.object for q in self._axioms if q.predicate == ONE_OF}
        found = {
            q.object.value
            for q in self._axioms
            if q.predicate == HAS_VALUE and isinstance(q.object, ox.NamedNode)
        }
        rest = {q.subject: q.object for q in self._axioms if q.predicate == REST}
        first = {q.subject: q.object for q in self._axioms if q.predicate == FIRST}
        for member in members:
            node: object = member
            while node in first:
                value = first[node]
                if isinstance(value, ox.NamedNode):
                    found.add(value.value)
                node = rest.get(node, NIL)
        return found

    def _statements(self, pattern: ox.NamedNode) -> Iterator[Statement]:
        families = {
            q.object.value
            for q in self._knowledge.quads_for_pattern(pattern, TYPE, None, None)
            if q.object in self._families and isinstance(q.object, ox.NamedNode)
        }
        yield from (Statement(TYPE.value, (family,)) for family in sorted(families))
        yield from self._as_statements(self._features(pattern), in_form=False)
        yield from self._as_statements(self._in_every_form(pattern), in_form=True)

    def _features(self, subject: ox.NamedNode) -> dict[str, set[str]]:
        found: dict[str, set[str]] = {}
        for quad in self._knowledge.quads_for_pattern(subject, None, None, None):
            if quad.predicate in self._restricted and isinstance(quad.object, ox.NamedNode):
                found.setdefault(quad.predicate.value, set()).add(quad.object.value)
        return found

    def _in_every_form(self, pattern: ox.NamedNode) -> dict[str, set[str]]:
        """The general form; where it is silent, "this or that" if each single form states it."""
        general: dict[str, set[str]] = {}
        single: list[dict[str, set[str]]] = []
        for quad in self._knowledge.quads_for_pattern(None, FORM_OF, pattern, None):
            form = quad.subject
            if not isinstance(form, ox.NamedNode):
                continue
            if any(self._knowledge.quads_for_pattern(form, FORM_WORD, None, None)):
                single.append(self._features(form))
            else:
                general = self._features(form)
        for feature in set.intersection(*(set(f) for f in single)) if single else set():
            general.setdefault(feature, set().union(*(f[feature] for f in single)))
        return general

    def _as_statements(self, found: dict[str, set[str]], *, in_form: bool) -> Iterator[Statement]:
        for feature, values in sorted(found.items()):
            if ox.NamedNode(feature) in self._functional:
                yield Statement(feature, tuple(sorted(values)), in_form)
            else:
                yield from (Statement(feature, (value,), in_form) for value in sorted(values))

    def triples(self) -> Iterator[ox.Triple]:
        """The axioms, the families and the patterns as classes."""
        yield from self.background()
        for iri, statements in self.patterns.items():
            yield from _described(iri, statements)

    def background(self) -> Iterator[ox.Triple]:
        """The axioms and families, with values as disjoint classes."""
        for quad in self._axioms:
            yield from _as_class_axiom(quad)
        for family in self._families:
            yield ox.Triple(family, TYPE, CLASS)
            for quad in self._knowledge.quads_for_pattern(family, SUBCLASS, None, None):
                if quad.object in self._families:
                    yield ox.Triple(family, SUBCLASS, quad.object)
        for prop in self._restricted:
            yield ox.Triple(prop, TYPE, ox.NamedNode(OWL + "ObjectProperty"))
        for value in self.values:
            yield ox.Triple(ox.NamedNode(value), TYPE, CLASS)
        if len(self.values) > 1:
            node = ox.BlankNode()
            yield ox.Triple(node, TYPE, ox.NamedNode(OWL + "AllDisjointClasses"))
            yield from _list(node, ox.NamedNode(OWL + "members"), self.values)

    def words(self, statement: Statement) -> str:
        """The statement as an editor would say it."""
        values = " or ".join(self.label(v) for v in statement.values)
        if statement.is_family:
            return f"is a {values}"
        where = "in every form, " if statement.in_form else ""
        return f"{where}{self.label(statement.feature)}: {values}"

    def label(self, iri: str) -> str:
        """The name of a term, without regional variants."""
        for predicate in (PREF_LABEL, RDFS_LABEL):
            for quad in self._knowledge.quads_for_pattern(ox.NamedNode(iri), predicate, None, None):
                if isinstance(quad.object, ox.Literal) and quad.object.language in (None, "en"):
                    return quad.object.value
        return iri.rsplit("#", 1)[-1].rsplit("/", 1)[-1]


def _as_class_axiom(quad: ox.Quad) -> Iterator[ox.Triple]:
    """One triple of the axioms, a value read as a class: hasValue v becomes some v."""
    s, p, o = quad.subject, quad.predicate, quad.object
    if p == HAS_VALUE and isinstance(o, ox.NamedNode):
        p = SOME
    elif p == ONE_OF:
        p = UNION
    elif p == TYPE and o in (ABILITY, TRAIT):
        o = CLASS
    if p in BOOLEAN:
        yield ox.Triple(s, TYPE, CLASS)
    yield ox.Triple(s, p, o)


def _described(iri: str, statements: Iterable[Statement]) -> Iterator[ox.Triple]:
    """A class below everything that the statements say."""
    node = ox.NamedNode(iri)
    yield ox.Triple(node, TYPE, CLASS)
    for statement in statements:
        if statement.is_family:
            yield ox.Triple(node, SUBCLASS, ox.NamedNode(statement.values[0]))
            continue
        if len(statement.values) == 1:
            filler: Subject = ox.NamedNode(statement.values[0])
        else:
            filler = ox.BlankNode()
            yield ox.Triple(filler, TYPE, CLASS)
            yield from _list(filler, UNION, statement.values)
        path = [ox.NamedNode(statement.feature)]
        if statement.in_form:
            path.append(GENERAL_FORM)
        for prop in path:
            restriction = ox.BlankNode()
            yield ox.Triple(restriction, TYPE, RESTRICTION)
            yield ox.Triple(restriction, ON_PROPERTY, prop)
            yield ox.Triple(restriction, SOME, filler)
            filler = restriction
        yield ox.Triple(node, SUBCLASS, filler)


def _list(subject: Subject, predicate: ox.NamedNode, iris: Iterable[str]) -> Iterator[ox.Triple]:
    at: Subject = subject
    link = predicate
    for iri in iris:
        cell = ox.BlankNode()
        yield ox.Triple(at, link, cell)
        yield ox.Triple(cell, FIRST, ox.NamedNode(iri))
        at, link = cell, REST
    yield ox.Triple(at, link, NIL)


def _below(store: ox.Store, top: ox.NamedNode) -> list[ox.NamedNode]:
    """The class and everything under it, sorted."""
    found = {top}
    todo = [top]
    while todo:
        for quad in store.quads_for_pattern(None, SUBCLASS, todo.pop(), None):
            if isinstance(quad.subject, ox.NamedNode) and quad.subject not in found:
                found.add(quad.subject)
                todo.append(quad.subject)
    return sorted(found, key=lambda n: n.value)


def _explain(model: _Model, patterns: list[str]) -> tuple[Contradiction, ...]:
    """Which statements of each impossible pattern clash: tries them alone and in pairs."""
    if not patterns:
        return ()
    probes: dict[str, tuple[str, tuple[Statement, ...]]] = {}
    triples = list(model.background())
    for number, iri in enumerate(patterns):
        own = model.patterns[iri]
        tries: list[tuple[Statement, ...]] = [(s,) for s in own]
        tries += [(a, b) for i, a in enumerate(own) for b in own[i + 1 :]]
        for index, few in enumerate(tries):
            probe = f"urn:etui:probe:{number}:{index}"
            probes[probe] = (iri, few)
            triples.extend(_described(probe, few))
    _, impossible = subclasses(triples, [])
    found: list[Contradiction] = []
    for iri in patterns:
        clashes = [few for probe, (p, few) in probes.items() if p == iri and probe in impossible]
        alone = {few[0] for few in clashes if len(few) == 1}
        minimal = [few for few in clashes if len(few) == 1 or not alone.intersection(few)]
        for few in minimal or [model.patterns[iri]]:
            words = tuple(sorted(model.words(s) for s in few))
            found.append(Contradiction(iri.rsplit("/", 1)[-1], model.label(iri), words))
    return tuple(sorted(found))
