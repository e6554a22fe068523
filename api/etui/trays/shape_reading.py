"""Shapes read from Turtle into rules: what a rule looks at, what it asks, what is said.

Only the part of SHACL Core that plain facts need is compiled; a shape that uses more is marked
``beyond`` and left to pySHACL.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import pyoxigraph as ox

from etui.errors import BadRecord
from etui.trays.facts import NS, Ref, Value

Term = ox.NamedNode | ox.BlankNode | ox.Literal
SH = "http://www.w3.org/ns/shacl#"
RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
RDFS = "http://www.w3.org/2000/01/rdf-schema#"
SHAPES = "https://w3id.org/etui/shapes/readiness#"
SEVERITY = {"Violation": "violation", "Warning": "warning", "Info": "info"}
KINDS = (
    "missing_step", "assembly_fault", "unsafe_item", "too_few", "look_alike", "superfluous",
    "not_ready", "unresolved_line", "local_rule",
)

COMPARED = {
    "minCount", "maxCount", "minInclusive", "maxInclusive", "minExclusive", "maxExclusive",
    "hasValue", "in", "lessThan", "lessThanOrEquals", "equals", "disjoint", "class", "pattern",
    "flags", "qualifiedValueShape", "qualifiedMinCount", "qualifiedMaxCount",
}
"""Constraint parameters that are evaluated here."""
PLAIN = {
    "path", "severity", "message", "deactivated", "name", "description", "order", "group",
    "defaultValue", "targetClass", "targetNode", "property", "result",
}
"""Words of SHACL that do not constrain, or are read elsewhere."""

Statements = dict[str, dict[str, list[Term]]]


@dataclass(frozen=True, slots=True)
class Rule:
    """One property shape: what it looks at, what it asks, and what is said when it fails.

    ``targets``: local names of classes; ``nodes``: IRIs of single nodes.  ``checks``: constraint
    name and values.  ``says``/``mend``: sentences with ``{property}`` in place of the values of
    the node looked at.
    """

    id: str
    iri: str
    label: str
    targets: tuple[str, ...]
    nodes: tuple[str, ...]
    path: tuple[str, ...]
    checks: tuple[tuple[str, tuple[Value, ...]], ...]
    severity: str
    kind: str
    message: str
    says: str
    mend: str
    source: str
    local: bool
    beyond: bool


def parse_turtle(text: str, where: str, blank: str = "") -> list[tuple[str, str, Term]]:
    """Statements of a Turtle text; *blank* keeps blank nodes of several files apart.

    Raises:
        BadRecord: If the text is not Turtle; says the line.
    """
    found = []
    try:
        for t in ox.parse(text.encode(), format=ox.RdfFormat.TURTLE):
            subject = t.subject
            named = isinstance(subject, ox.NamedNode)
            key = subject.value if named else f"_:{blank}{subject.value}"
            value = t.object
            if blank and isinstance(value, ox.BlankNode):
                value = ox.BlankNode(f"{blank}{value.value}")
            found.append((key, t.predicate.value, value))
    except (SyntaxError, ValueError) as error:
        line = getattr(error, "lineno", None)
        raise BadRecord(
            f"This is not Turtle: {_first_sentence(str(error))}",
            where=f"{where}:{line}" if line else where,
            mend="Mend that line, then check again.",
        ) from None
    return found


def _first_sentence(text: str) -> str:
    one = " ".join(text.split())
    return (one if one.endswith(".") else one + ".")[:200]


def gather(triples: Iterable[tuple[str, str, Term]]) -> Statements:
    out: Statements = {}
    for subject, predicate, value in triples:
        out.setdefault(subject, {}).setdefault(predicate, []).append(value)
    return out


def _key(term: Term) -> str:
    if isinstance(term, ox.BlankNode):
        return f"_:{term.value}"
    return str(term.value)


def _plain(term: Term) -> Value:
    """A term as a value of the facts: IRI, integer, boolean or string."""
    if isinstance(term, ox.NamedNode):
        return Ref(term.value)
    if isinstance(term, ox.Literal):
        kind = term.datatype.value.rpartition("#")[2]
        if kind == "integer":
            return int(term.value)
        if kind == "boolean":
            return term.value in {"true", "1"}
        return term.value
    return Ref(_key(term))


def _list(statements: Statements, head: Term) -> list[Term]:
    """Members of an RDF list."""
    items: list[Term] = []
    node = head
    while _key(node) != RDF + "nil":
        block = statements.get(_key(node), {})
        items.extend(block.get(RDF + "first", []))
        rest = block.get(RDF + "rest", [])
        if not rest:
            break
        node = rest[0]
    return items


def _one(block: dict[str, list[Term]], key: str) -> str:
    values = block.get(key, [])
    return _key(values[0]) if values else ""


def _local_name(iri: str) -> str:
    return re.split(r"[#/]", iri)[-1]


def _merge(ours: Statements, theirs: Statements) -> Statements:
    """Ours with theirs on top: a property that they state replaces what we state."""
    merged = {subject: dict(block) for subject, block in ours.items()}
    for subject, block in theirs.items():
        target = merged.setdefault(subject, {})
        for prop, values in block.items():
            adds = prop in {SH + "property", RDF + "type"} and subject in ours
            target[prop] = [*target.get(prop, []), *values] if adds else values
    return merged


def _checks(
    statements: Statements, block: dict[str, list[Term]]
) -> tuple[tuple[tuple[str, tuple[Value, ...]], ...], bool]:
    """Constraints of a shape and whether it asks for more than is compiled here."""
    checks: list[tuple[str, tuple[Value, ...]]] = []
    beyond = False
    for prop, values in sorted(block.items()):
        if not prop.startswith(SH):
            continue
        word = prop[len(SH) :]
        if word in PLAIN:
            continue
        if word not in COMPARED:
            beyond = True
        elif word == "in":
            checks.append((word, tuple(_plain(v) for v in _list(statements, values[0]))))
        elif word == "qualifiedValueShape":
            inner, more = _checks(statements, statements.get(_key(values[0]), {}))
            simple = {"hasValue", "in", "class"}
            if more or len(inner) != 1 or inner[0][0] not in simple:
                beyond = True
            else:
                checks.append((f"qualified:{inner[0][0]}", inner[0][1]))
        else:
            checks.append((word, tuple(_plain(v) for v in values)))
    return tuple(checks), beyond


def _path(statements: Statements, term: Term) -> tuple[str, ...] | None:
    """Properties of a path, one after the other; None if it is of another kind."""
    if isinstance(term, ox.NamedNode):
        return (term.value,)
    steps = _list(statements, term)
    if steps and all(isinstance(s, ox.NamedNode) for s in steps):
        return tuple(_key(s) for s in steps)
    return None


def _owners(statements: Statements) -> dict[str, list[str]]:
    """Property shape -> the node shapes that carry it."""
    owners: dict[str, list[str]] = {}
    for subject, block in statements.items():
        for value in block.get(SH + "property", []):
            owners.setdefault(_key(value), []).append(subject)
    return owners


def _targets(block: dict[str, list[Term]]) -> tuple[set[str], set[str], bool]:
    classes = {_key(v) for v in block.get(SH + "targetClass", [])}
    nodes = {_key(v) for v in block.get(SH + "targetNode", [])}
    other = any(
        p.startswith(SH + "target") and p[len(SH) :] not in {"targetClass", "targetNode"}
        for p in block
    )
    return classes, nodes, other


def compile_rules(ours: Statements, theirs: Statements | None = None) -> tuple[Rule, ...]:
    """Every property shape that is not deactivated, as a rule, sorted by id.

    Raises:
        BadRecord: If a shape lacks its path or names a severity or kind that does not exist.
    """
    statements = _merge(ours, theirs) if theirs else ours
    owners = _owners(statements)
    rules: list[Rule] = []
    for iri, block in statements.items():
        if SH + "path" not in block:
            continue
        carriers = [b for o in owners.get(iri, []) if not _off(b := statements[o])]
        if _off(block):
            continue
        classes, nodes, beyond = _targets(block)
        for carrier in carriers:
            more = _targets(carrier)
            classes, nodes, beyond = classes | more[0], nodes | more[1], beyond or more[2]
        if not classes and not nodes and not beyond:
            continue  # a shape inside another one
        path = _path(statements, block[SH + "path"][0])
        checks, further = _checks(statements, block)
        local = iri not in ours
        blank = iri.startswith("_:")
        name = _name_of_blank(statements, owners, iri) if blank else _local_name(iri)
        severity = _local_name(_one(block, SH + "severity") or "Violation")
        if severity not in SEVERITY:
            raise BadRecord(
                f"The rule {name} has the severity {severity}.",
                where=name,
                mend="Give sh:Violation, sh:Warning or sh:Info.",
            )
        kind = _one(block, NS + "findingKind") or "local_rule"
        if kind not in KINDS:
            raise BadRecord(
                f"The rule {name} has the finding kind {kind}.",
                where=name,
                mend=f"Give one of: {', '.join(KINDS)}.",
            )
        message = _one(block, SH + "message")
        foreign = {c for c in classes if not c.startswith(NS)}
        rules.append(
            Rule(
                id=name, iri=iri, label=_one(block, RDFS + "label") or name,
                targets=tuple(sorted(c[len(NS) :] for c in classes - foreign)),
                nodes=tuple(sorted(nodes)), path=path or (), checks=checks,
                severity=SEVERITY[severity], kind=kind, message=message,
                says=_one(block, NS + "says") or message, mend=_one(block, NS + "mend"),
                source=_one(block, NS + "because"), local=local,
                beyond=beyond or further or path is None or bool(foreign),
            )
        )
    return tuple(sorted(rules, key=lambda r: r.id))


def _off(block: dict[str, list[Term]]) -> bool:
    return _one(block, SH + "deactivated") in {"true", "1"}


def _name_of_blank(statements: Statements, owners: dict[str, list[str]], key: str) -> str:
    """A property shape without a name is called after its node shape and its path."""
    carrier = next((_local_name(o) for o in owners.get(key, []) if not o.startswith("_:")), "rule")
    return f"{carrier}-{_local_name(_one(statements[key], SH + 'path'))}"
