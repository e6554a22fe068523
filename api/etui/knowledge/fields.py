"""Typed fields of a subject of the graph: names, ranges, how it is known; children by parent."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import cast

import pyoxigraph as ox

from etui.errors import BadRecord
from etui.knowledge import model as m
from etui.knowledge.store import DCTERMS, NS, RDFS_LABEL, RDFS_SUBCLASS, SKOS, Index, View, short

PREF, ALT, HIDDEN = SKOS + "prefLabel", SKOS + "altLabel", SKOS + "hiddenLabel"
NOTE, DEFINITION = SKOS + "note", SKOS + "definition"
SOURCE = DCTERMS + "source"


def snake(name: str) -> str:
    """``workingWidthMm`` -> ``working_width_mm`` (the names differ in nothing else)."""
    return re.sub(r"(?<!^)([A-Z])", r"_\1", name).lower()


def how(view: View) -> m.HowKnown:
    """How the statement is known; common practice is never assumed.

    Raises:
        BadRecord: If the record does not say.
    """
    word = view.id("howKnown")
    if word not in ("read", "memory", "practice", "derived"):
        raise BadRecord(
            "The record does not say how it is known.",
            where=short(view.iri),
            mend="Add etui:howKnown etui:read, etui:memory or etui:practice.",
        )
    return cast(m.HowKnown, word)


def measures(view: View, *, skip: frozenset[str] = frozenset()) -> dict[str, m.Range]:
    """Every pair of ...Min and ...Max of a subject as a range, keyed by feature name."""
    found: dict[str, m.Range] = {}
    for prop in view.props:
        if not (prop.startswith(NS) and prop.endswith("Min")):
            continue
        stem = prop[len(NS) : -3]
        key = snake(stem)
        low, high = view.number(stem + "Min"), view.number(stem + "Max")
        if low is not None and high is not None and key not in skip:
            found[key] = m.Range(low=low, high=high)
    return found


def names(view: View) -> tuple[m.Name, ...]:
    """All names of a subject, preferred first."""
    out: list[m.Name] = []
    for node in view.nodes(PREF):
        language = node.language if isinstance(node, ox.Literal) else None
        kind = "preferred"
        if language and language.lower() != "en":
            kind = "preferred-" + {"en-us": "us", "en-gb": "uk"}.get(language.lower(), "other")
        out.append(m.Name(text=node.value, kind=kind))
    for node in view.nodes(ALT):
        language = (node.language or "").lower() if isinstance(node, ox.Literal) else ""
        out.append(
            m.Name(text=node.value, kind={"en-us": "us", "en-gb": "uk"}.get(language, "also"))
        )
    out += [m.Name(text=text, kind="trade") for text in view.texts("tradeName")]
    out += [m.Name(text=text, kind="hidden") for text in view.texts(HIDDEN)]
    return tuple(sorted(out, key=lambda n: n.kind != "preferred"))


def label(view: View) -> str:
    """The neutral English name.

    Raises:
        BadRecord: If there is none.
    """
    for prop in (PREF, RDFS_LABEL):
        for node in view.nodes(prop):
            language = node.language if isinstance(node, ox.Literal) else None
            if language in (None, "en"):
                return node.value
    raise BadRecord(
        "The record has no English label.",
        where=short(view.iri),
        mend='Add skos:prefLabel "..."@en.',
    )


class Fields:
    """One index, with child records grouped by their parent; the record builders stand on it."""

    def __init__(self, index: Index) -> None:
        self.index = index
        self.families = self._families()
        self.children: dict[str, dict[str, list[str]]] = {}
        for kind, link in (
            ("Offer", "offeredBy"),
            ("Form", "formOf"),
            ("Demand", "demandedBy"),
            ("Judgement", "forStep"),
            ("Technique", "forStep"),
            ("Limit", "limits"),
            ("Step", "stepOf"),
        ):
            grouped: dict[str, list[str]] = defaultdict(list)
            for iri in index.of_type(kind):
                parent = index.at(iri).nodes(link)
                if not parent:
                    raise BadRecord(
                        f"The {kind.lower()} belongs to nothing.",
                        where=short(iri),
                        mend=f"Add etui:{link}.",
                    )
                grouped[parent[0].value].append(iri)
            self.children[kind] = grouped

    def _families(self) -> dict[str, str]:
        """Class IRI -> family word, for every class below Pattern."""
        parents = {
            iri: view.nodes(RDFS_SUBCLASS)
            for iri in self.index.by_type.get("http://www.w3.org/2002/07/owl#Class", [])
            if (view := self.index.at(iri))
        }
        found: dict[str, str] = {}
        frontier = {NS + "Pattern"}
        while frontier:
            below = {
                iri
                for iri, ups in parents.items()
                if any(up.value in frontier for up in ups) and iri not in found
            }
            found.update({iri: snake(short(iri)) for iri in below})
            frontier = below
        return found

    def of(self, kind: str, parent: str) -> list[View]:
        """Child records of *parent*."""
        return [self.index.at(iri) for iri in self.children[kind].get(parent, [])]

    def views(self, kind: str) -> list[View]:
        """Every subject of a class."""
        return [self.index.at(iri) for iri in self.index.of_type(kind)]
