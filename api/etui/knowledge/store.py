"""Turtle files as a plain index: subject -> property -> objects.

A parsed graph of this size (some 160,000 triples) is read once and then only walked, so a plain
dictionary serves better than a query engine; the parser is pyoxigraph because it reads Turtle
twenty times faster than the pure-Python one.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pyoxigraph as ox

from etui.errors import BadRecord

NS = "https://w3id.org/etui/ns#"
ID = "https://w3id.org/etui/id/"
FEATURE = ID + "feature/"
RDF_TYPE = "http://www.w3.org/1999/02/22-rdf-syntax-ns#type"
RDFS_LABEL = "http://www.w3.org/2000/01/rdf-schema#label"
RDFS_SUBCLASS = "http://www.w3.org/2000/01/rdf-schema#subClassOf"
SKOS = "http://www.w3.org/2004/02/skos/core#"
DCTERMS = "http://purl.org/dc/terms/"

GROUPS = (
    "action",
    "tissue",
    "hazard",
    "value",
    "feature",
    "source",
    "manner",
    "manoeuvre",
    "unit",
    "slot",
    "stand-in",
    "offer",
    "form",
    "citation",
    "contrast",
    "judgement",
    "demand",
    "technique",
    "limit",
    "risk",
    "approach",
    "dispute",
    "reason",
    "partner",
    "ability",
    "class-name",
    "abbreviation",
    "rule",
    "size",
    "device-code",
)

Node = ox.NamedNode | ox.BlankNode | ox.Literal


def short(iri: str) -> str:
    """The short id of an IRI of this project (``haemostat-crile``), other IRIs unchanged."""
    if iri.startswith(NS):
        return iri[len(NS) :]
    if iri.startswith(ID):
        rest = iri[len(ID) :]
        head, _, tail = rest.partition("/")
        return tail if tail and head in GROUPS else rest
    return iri


def turtle_files(folder: Path) -> list[Path]:
    """All Turtle files below *folder*, in a stable order.

    Raises:
        BadRecord: If there is none.
    """
    files = sorted(folder.rglob("*.ttl"))
    if not files:
        raise BadRecord(
            "There are no Turtle files here.",
            where=str(folder),
            mend="Name the folder that holds the ontology.",
        )
    return files


def digest(files: list[Path]) -> str:
    """A fingerprint of the content of *files*, for keying a cache."""
    seal = hashlib.blake2b(digest_size=16)
    for file in files:
        seal.update(file.name.encode())
        seal.update(file.read_bytes())
    return seal.hexdigest()


class Index:
    """Every statement of a set of files, by subject and property, in the order written."""

    def __init__(self) -> None:
        self.subjects: dict[str, dict[str, list[Node]]] = defaultdict(dict)
        self.by_type: dict[str, list[str]] = defaultdict(list)
        self.triples = 0

    def read(self, files: list[Path]) -> Index:
        """Add *files*.

        Raises:
            BadRecord: If one cannot be read or is not Turtle; names file and line.
        """
        for file in files:
            try:
                for quad in ox.parse(path=str(file), format=ox.RdfFormat.TURTLE):
                    self._add(quad)
            except SyntaxError as err:
                raise BadRecord(
                    f"This is not valid Turtle: {err.msg}.",
                    where=f"{file}:{err.lineno or '?'}",
                    mend="Mend the line; nothing was loaded.",
                ) from None
            except (OSError, ValueError) as err:
                raise BadRecord(
                    f"This file cannot be read: {err}.",
                    where=str(file),
                    mend="Check that it is a text file in UTF-8.",
                ) from None
        return self

    def _add(self, quad: ox.Quad) -> None:
        if isinstance(quad.subject, ox.Triple) or isinstance(quad.object, ox.Triple):
            return
        self.triples += 1
        subject = str(quad.subject.value)
        self.subjects[subject].setdefault(quad.predicate.value, []).append(quad.object)
        if quad.predicate.value == RDF_TYPE:
            self.by_type[quad.object.value].append(subject)

    def of_type(self, name: str) -> list[str]:
        """IRIs of the subjects of the class *name* of this vocabulary, in the order written."""
        return self.by_type.get(NS + name, [])

    def at(self, iri: str) -> View:
        """The statements about one subject."""
        return View(self.subjects.get(iri, {}), iri)


class View:
    """The statements about one subject, with typed access by property name."""

    __slots__ = ("iri", "props")

    def __init__(self, props: dict[str, list[Node]], iri: str) -> None:
        self.props, self.iri = props, iri

    def nodes(self, name: str) -> list[Node]:
        """Objects of a property; *name* without a colon belongs to this vocabulary."""
        return self.props.get(name if ":" in name else NS + name, [])

    def texts(self, name: str) -> tuple[str, ...]:
        """Objects as text, in the order written."""
        return tuple(n.value for n in self.nodes(name))

    def text(self, name: str) -> str | None:
        """The first object as text."""
        found = self.nodes(name)
        return found[0].value if found else None

    def ids(self, name: str) -> tuple[str, ...]:
        """Objects as short ids, in the order written."""
        return tuple(short(n.value) for n in self.nodes(name))

    def id(self, name: str) -> str | None:
        """The first object as a short id."""
        found = self.nodes(name)
        return short(found[0].value) if found else None

    def number(self, name: str) -> float | None:
        """The first object as a number.

        Raises:
            BadRecord: If it is not a number.
        """
        found = self.text(name)
        if found is None:
            return None
        try:
            return float(found)
        except ValueError:
            raise BadRecord(
                f'"{found}" is not a number for {name}.',
                where=short(self.iri),
                mend="Write a number without unit.",
            ) from None

    def flag(self, name: str) -> bool | None:
        """The first object as true or false; None when not stated."""
        found = self.text(name)
        return None if found is None else found in ("true", "1", "yes")

    def features(self) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Feature key and value words, for every feature that the subject carries."""
        for prop, nodes in self.props.items():
            if prop.startswith(FEATURE):
                yield prop[len(FEATURE) :], tuple(short(n.value) for n in nodes)
