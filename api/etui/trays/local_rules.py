"""A hospital's own rule files: read, checked for common mistakes, explained in one line."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path

import pyoxigraph as ox

from etui.errors import BadInput, BadRecord
from etui.trays.facts import NS
from etui.trays.shape_reading import SH, Term, parse_turtle

MOST_BYTES = 2_000_000
_SHACL_WORDS = frozenset(
    {
        "NodeShape", "PropertyShape", "property", "path", "targetClass", "targetNode",
        "targetSubjectsOf", "targetObjectsOf", "severity", "message", "deactivated", "name",
        "description", "order", "group", "Violation", "Warning", "Info", "minCount", "maxCount",
        "minInclusive", "maxInclusive", "minExclusive", "maxExclusive", "minLength", "maxLength",
        "pattern", "flags", "hasValue", "in", "lessThan", "lessThanOrEquals", "equals",
        "disjoint", "class", "datatype", "nodeKind", "IRI", "BlankNode", "Literal",
        "BlankNodeOrIRI", "BlankNodeOrLiteral", "IRIOrLiteral", "node", "not", "and", "or",
        "xone", "closed", "ignoredProperties", "qualifiedValueShape", "qualifiedMinCount",
        "qualifiedMaxCount", "qualifiedValueShapesDisjoint", "uniqueLang", "languageIn",
        "inversePath", "alternativePath", "zeroOrMorePath", "oneOrMorePath", "zeroOrOnePath",
        "sparql", "select", "ask", "prefixes", "declare", "prefix", "namespace",
        "SPARQLConstraint", "PrefixDeclaration", "Shape", "defaultValue",
    }
)


@lru_cache(maxsize=1)
def declared_terms() -> frozenset[str]:
    """Local names of every class and property that facts of a check may use."""
    from etui.knowledge import ontology_dir

    found: set[str] = set()
    for path in sorted(ontology_dir().glob("*.ttl")):
        for quad in ox.parse(path=str(path), format=ox.RdfFormat.TURTLE):
            if isinstance(quad.subject, ox.NamedNode) and quad.subject.value.startswith(NS):
                found.add(quad.subject.value.removeprefix(NS))
    return frozenset(found)


def read_local(path: Path, ours: str) -> tuple[str, str]:
    """Name and text of a rule file, refused with one clear line when it is broken.

    Raises:
        BadInput: If the file cannot be read, holds no rule, or uses a word that does not exist.
    """
    name = path.name
    try:
        if path.stat().st_size > MOST_BYTES:
            raise BadInput("The rule file is too large.", where=name, mend="Give up to 2 MB.")
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise BadInput(
            f"The rule file cannot be read ({error.strerror or error}).",
            where=name,
            mend="Check its name and place.",
        ) from None
    except UnicodeDecodeError:
        raise BadInput("The rule file is not UTF-8 text.", where=name,
                       mend="Save it as UTF-8.") from None
    try:
        triples = parse_turtle(text, name)
    except BadRecord as error:
        raise BadInput(error.what, where=error.where, mend=error.mend) from None
    _check_words(triples, text, name, ours)
    return name, text


def _line_of(text: str, word: str) -> str:
    found = re.search(rf"[:#/]{re.escape(word)}\b", text)
    return f":{text.count(chr(10), 0, found.start()) + 1}" if found else ""


def _nearest(word: str, known: frozenset[str]) -> str:
    from rapidfuzz import process

    best = process.extractOne(word, sorted(known), score_cutoff=60)
    return f"Did you mean {best[0]}?" if best else "Take the words from the reference of rules."


def _check_words(
    triples: list[tuple[str, str, Term]], text: str, name: str, ours: str
) -> None:
    """Refuse words of SHACL or of Etui that do not exist, and shapes that can match nothing."""
    shapes = {s for s, p, o in triples if p == SH + "path"}
    own_words = {s.removeprefix(NS) for s, p, _ in triples if s.startswith(NS)}
    terms = declared_terms() | own_words
    overrides = {s for s, _, _ in triples if f":{s.rpartition('#')[2]} a sh:" in ours}
    _check_restated(triples, text, name, ours)
    if not shapes and not overrides:
        raise BadInput(
            "The rule file holds no rule.",
            where=name,
            mend="State a property shape with sh:path, or restate one of Etui's rules.",
        )
    for _, predicate, value in triples:
        for iri in (predicate, value.value if isinstance(value, ox.NamedNode) else ""):
            if iri.startswith(SH) and iri[len(SH) :] not in _SHACL_WORDS:
                word = iri[len(SH) :]
                raise BadInput(
                    f"SHACL has no word sh:{word}.", where=name + _line_of(text, word),
                    mend=_nearest(word, _SHACL_WORDS),
                )
            if iri.startswith(NS) and iri[len(NS) :] not in terms:
                word = iri[len(NS) :]
                raise BadInput(
                    f"Etui has no word etui:{word}.", where=name + _line_of(text, word),
                    mend=_nearest(word, terms),
                )


def _check_restated(
    triples: list[tuple[str, str, Term]], text: str, name: str, ours: str
) -> None:
    """A restated rule must be one that exists."""
    known = frozenset(re.findall(r"^shp:([\w-]+) a sh:", ours, re.MULTILINE))
    prefix = re.search(r"@prefix shp: <([^>]+)>", ours)
    base = prefix.group(1) if prefix else ""
    for subject in sorted({s for s, _, _ in triples if base and s.startswith(base)}):
        rule = subject.removeprefix(base)
        if rule not in known:
            raise BadInput(
                f"Etui has no rule {rule} to restate.", where=name + _line_of(text, rule),
                mend=_nearest(rule, known),
            )
