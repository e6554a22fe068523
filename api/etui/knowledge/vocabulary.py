"""The page ``docs/reference/vocabulary.md``, made from the graph: every term and its definition."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable

import pyoxigraph as ox

from etui.knowledge.coverage import pairs
from etui.knowledge.store import NS, RDF_TYPE, RDFS_LABEL, RDFS_SUBCLASS, SKOS, short

__all__ = ["vocabulary_page"]

OWL = "http://www.w3.org/2002/07/owl#"

WORD_CLASSES = ("Grade", "HowKnown", "Need", "Fate", "DemandLevel", "Comparison", "EntryRole")
"""Closed lists of words that statements are made with."""

TERM_CLASSES = ("Action", "Tissue", "Hazard", "Manner")
"""Open lists: a contributor may add to them."""


def vocabulary_page(store: ox.Store) -> str:
    """Every class, property, word, action, tissue, hazard, manner, feature and ability."""
    terms = _Terms(store)
    families = terms.below(NS + "Pattern")
    classes = [c for c in terms.of_type(OWL + "Class") if c.startswith(NS) and c not in families]
    properties = sorted(
        p
        for kind in ("ObjectProperty", "DatatypeProperty")
        for p in terms.of_type(OWL + kind)
        if p.startswith(NS)
    )
    lines = [
        "<!-- Written by `etui build`; edit the graph, not this page. -->",
        "",
        "# Vocabulary",
        "",
        "Terms live under `https://w3id.org/etui/ns#` (prefix `etui:`), things under",
        "`https://w3id.org/etui/id/`. The redirect is to be registered at publication.",
        "",
    ]
    lines += terms.section("Classes", classes)
    lines += terms.section("Families of patterns", [f for f in families if f != NS + "Pattern"])
    for name in WORD_CLASSES:
        lines += terms.section(f"Words: {terms.name(NS + name)}", terms.of_type(NS + name))
    for name in TERM_CLASSES:
        lines += terms.section(f"{terms.name(NS + name).capitalize()}s", terms.of_type(NS + name))
    values = [v for v in terms.of_type(NS + "Value") if terms.definition(v)]
    lines += terms.section("Values that do not speak for themselves", values)
    lines += terms.table(
        "Features",
        ("id", "compared as", "values", "definition"),
        terms.of_type(NS + "Feature"),
        lambda f: (
            terms.words(f, NS + "comparedAs"),
            terms.words(f, NS + "allowsValue"),
            terms.definition(f),
        ),
    )
    lines += terms.table(
        "Abilities",
        ("id", "name", "definition", "patterns found by the reasoner"),
        terms.of_type(NS + "Ability"),
        lambda a: (terms.name(a), terms.definition(a), terms.able(a)),
    )
    lines += terms.section("Traits", terms.of_type(NS + "Trait"))
    lines += terms.section("Properties", properties)
    return "\n".join(lines)


class _Terms:
    """Reads names and definitions off the graph."""

    def __init__(self, store: ox.Store) -> None:
        self._store = store
        self._types = sorted(pairs(store, RDF_TYPE))
        self._able = Counter(ability for _, ability in pairs(store, NS + "able"))

    def of_type(self, iri: str) -> list[str]:
        """IRIs of the members of a class, sorted by short id; nameless nodes left out."""
        return sorted({s for s, t in self._types if t == iri and ":" in s}, key=short)

    def below(self, iri: str) -> list[str]:
        """The class and its subclasses, sorted by short id."""
        found = {s for s, t in pairs(self._store, RDFS_SUBCLASS) if t == iri and ":" in s}
        return sorted({iri, *found}, key=short)

    def name(self, iri: str) -> str:
        return self._text(iri, SKOS + "prefLabel") or self._text(iri, RDFS_LABEL) or short(iri)

    def definition(self, iri: str) -> str:
        return self._text(iri, SKOS + "definition")

    def words(self, iri: str, predicate: str) -> str:
        """Names of the objects of a property, sorted."""
        quads = self._store.quads_for_pattern(_node(iri), _node(predicate), None, None)
        return ", ".join(
            sorted(self.name(q.object.value) for q in quads if isinstance(q.object, ox.NamedNode))
        )

    def able(self, ability: str) -> str:
        """How many patterns the reasoner found for an ability."""
        return str(self._able[ability])

    def section(self, title: str, iris: Iterable[str]) -> list[str]:
        """A table of id, name and definition."""
        head = ("id", "name", "definition")
        return self.table(title, head, iris, lambda i: (self.name(i), self.definition(i)))

    def table(
        self,
        title: str,
        head: tuple[str, ...],
        iris: Iterable[str],
        cells: Callable[[str], tuple[str, ...]],
    ) -> list[str]:
        """A heading and one row a term, the short id first."""
        lines = [f"## {title}", "", "| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
        for iri in iris:
            row = (f"`{short(iri)}`", *cells(iri))
            lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |")
        return [*lines, ""]

    def _text(self, iri: str, predicate: str) -> str:
        quads = self._store.quads_for_pattern(_node(iri), _node(predicate), None, None)
        texts = sorted(
            q.object.value
            for q in quads
            if isinstance(q.object, ox.Literal) and q.object.language in (None, "", "en")
        )
        return texts[0] if texts else ""


def _node(iri: str) -> ox.NamedNode:
    return ox.NamedNode(iri)
