"""The derived facts of one check: plain nodes first, RDF when somebody asks for it.

Every fact is about a node of one or more classes of ``https://w3id.org/etui/ns#`` (words in
``ontology/readiness.ttl``).  Facts say what *is* (three ways to do this step, one part lacking);
whether that is a fault, and how grave, is decided by the shapes alone.  The same nodes are read by
the compiled policy and, as an rdflib graph, by pySHACL.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING
from urllib.parse import quote

from etui.trays.model import Place, Suggestion

if TYPE_CHECKING:
    from rdflib import Graph
    from rdflib.term import Node as Term

NS = "https://w3id.org/etui/ns#"
ID = "https://w3id.org/etui/id/"
CHECK = "urn:etui:check:"
RDF_TYPE = "http://www.w3.org/1999/02/22-rdf-syntax-ns#type"


class Ref(str):
    """An IRI as a value, to tell it from a literal string."""

    __slots__ = ()


Value = Ref | str | int | bool


def thing(short: str) -> Ref:
    """IRI of a pattern, step, procedure or unit by its short id."""
    return Ref(ID + short)


def short_id(iri: str) -> str:
    """Short id of a thing of the reference; other IRIs are returned whole."""
    return iri.removeprefix(ID)


@dataclass(slots=True)
class Fact:
    """One node: its IRI, classes (local names) and values by property (local name).

    ``suggest`` and ``explain``: what would fill the gap, and reason and source line by line; worked
    out only when a rule fails on the node.  ``order``: place in the operation; ``place``: the line.
    """

    iri: str
    types: tuple[str, ...]
    values: dict[str, tuple[Value, ...]] = field(default_factory=dict)
    order: int = 0
    place: Place | None = None
    suggest: Callable[[], tuple[Suggestion, ...]] | None = None
    explain: Callable[[], tuple[str, ...]] | None = None

    def get(self, key: str) -> tuple[Value, ...]:
        """Values of one property; empty when it has none."""
        return self.values.get(key, ())

    def words(self, key: str) -> str:
        """The values of one property as words for a sentence: "a, b or c" reads as a list."""
        return ", ".join(str(v) for v in self.get(key))


@dataclass(slots=True)
class Facts:
    """All facts of one check, by node and by class."""

    nodes: dict[str, Fact] = field(default_factory=dict)
    by_class: dict[str, list[Fact]] = field(default_factory=dict)

    def add(self, fact: Fact) -> Fact:
        """Put a node in; two nodes of one IRI are a fault of the caller."""
        if fact.iri in self.nodes:
            raise ValueError(f"two facts about {fact.iri}")
        self.nodes[fact.iri] = fact
        for name in fact.types:
            self.by_class.setdefault(name, []).append(fact)
        return fact

    def of_class(self, name: str) -> list[Fact]:
        """Nodes of one class (local name), in the order in which they were put in."""
        return self.by_class.get(name, [])

    def __iter__(self) -> Iterator[Fact]:
        return iter(self.nodes.values())

    def __len__(self) -> int:
        return len(self.nodes)

    def triples(self) -> Iterator[tuple[str, str, Value]]:
        """Every statement as (subject IRI, property IRI, value)."""
        for fact in self.nodes.values():
            for name in fact.types:
                yield fact.iri, RDF_TYPE, Ref(NS + name)
            for key, values in fact.values.items():
                for value in values:
                    yield fact.iri, NS + key, value

    def graph(self) -> Graph:
        """The facts as an rdflib graph (rdflib is imported only here)."""
        from rdflib import Graph, URIRef

        graph = Graph()
        graph.bind("etui", NS)
        for subject, prop, value in self.triples():
            graph.add((URIRef(subject), URIRef(prop), as_term(value)))
        return graph


def as_term(value: Value) -> Term:
    """A fact's value as an rdflib term."""
    from rdflib import Literal, URIRef

    return URIRef(value) if isinstance(value, Ref) else Literal(value)


def from_graph(graph: Graph) -> Facts:
    """Read facts back from a graph (fixtures, saved checks).

    Integers, booleans and strings keep their type; nodes without a class of ours are left out.
    """
    from rdflib import RDF, Literal, URIRef

    facts = Facts()
    subjects = sorted({s for s in graph.subjects(RDF.type, None) if isinstance(s, URIRef)})
    for subject in subjects:
        types = tuple(
            sorted(str(o)[len(NS) :] for o in graph.objects(subject, RDF.type) if NS in str(o))
        )
        if not types:
            continue
        values: dict[str, list[Value]] = {}
        for prop, value in sorted(graph.predicate_objects(subject)):
            if not str(prop).startswith(NS):
                continue
            key = str(prop)[len(NS) :]
            if isinstance(value, Literal):
                plain = value.toPython()
                values.setdefault(key, []).append(
                    plain if isinstance(plain, int | bool) else str(plain)
                )
            else:
                values.setdefault(key, []).append(Ref(str(value)))
        facts.add(Fact(str(subject), types, {k: tuple(v) for k, v in values.items()}))
    return facts


def slug(parts: Iterable[str]) -> str:
    """IRI of a node of a check from words that name it; stays the same from run to run."""
    return CHECK + "/".join(_quoted(part) for part in parts if part)


@lru_cache(maxsize=65536)
def _quoted(part: str) -> str:
    return quote(part, safe="-._~/")
