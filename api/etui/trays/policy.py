"""The policy of the shapes, compiled: which derived facts are faults, how grave, what is said.

``shapes/readiness.ttl`` is the only policy.  This module reads its property shapes and evaluates
the part of SHACL Core that they use on the plain facts of a check, so that a tray is judged in
milliseconds; pySHACL judges the same shapes on the same facts as RDF (:mod:`etui.trays.shacl`).
Tests hold the two to the same results.

A hospital's own file may add property shapes, or restate one of ours: what it states about our
rule (severity, message, target, constraint, deactivated) takes the place of what we state.
A shape that uses more of SHACL than is compiled here is marked ``beyond`` and left to pySHACL.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import pyoxigraph as ox

from etui.errors import BadRecord
from etui.trays.facts import NS, Fact, Facts, Ref, Value

SH = "http://www.w3.org/ns/shacl#"
RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
RDFS = "http://www.w3.org/2000/01/rdf-schema#"
SHAPES = "https://w3id.org/etui/shapes/readiness#"
SEVERITY = {"Violation": "violation", "Warning": "warning", "Info": "info"}
KINDS = (
    "missing_step", "assembly_fault", "unsafe_item", "too_few", "look_alike", "superfluous",
    "not_ready", "unresolved_line", "local_rule",
)  # fmt: skip

COMPARED = {
    "minCount", "maxCount", "minInclusive", "maxInclusive", "minExclusive", "maxExclusive",
    "hasValue", "in", "lessThan", "lessThanOrEquals", "equals", "disjoint", "class", "pattern",
    "flags", "qualifiedValueShape", "qualifiedMinCount", "qualifiedMaxCount",
}  # fmt: skip
"""Constraint parameters that are evaluated here."""
PLAIN = {
    "path", "severity", "message", "deactivated", "name", "description", "order", "group",
    "defaultValue", "targetClass", "targetNode", "property", "result",
}  # fmt: skip
"""Words of SHACL that do not constrain, or are read elsewhere."""

Statements = dict[str, dict[str, list[ox.Term]]]


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


@dataclass(frozen=True, slots=True)
class Result:
    """One failed rule on one node; ``value`` is the value at fault, if one is."""

    rule: str
    focus: str
    value: Value | None = None


@dataclass(frozen=True, slots=True)
class Policy:
    """All rules in force, and the Turtle that states them (ours, then the hospital's)."""

    rules: tuple[Rule, ...]
    texts: tuple[tuple[str, str], ...]

    def rule(self, rule_id: str) -> Rule:
        """The rule of one id."""
        return next(r for r in self.rules if r.id == rule_id)

    @property
    def beyond(self) -> bool:
        """Whether any rule needs pySHACL."""
        return any(r.beyond for r in self.rules)


def parse_turtle(text: str, where: str) -> list[tuple[str, str, ox.Term]]:
    """Statements of a Turtle text; blank nodes get names of their own.

    Raises:
        BadRecord: If the text is not Turtle; says the line.
    """
    found = []
    try:
        for t in ox.parse(text.encode(), format=ox.RdfFormat.TURTLE):
            subject = t.subject
            key = subject.value if isinstance(subject, ox.NamedNode) else f"_:{subject.value}"
            found.append((key, t.predicate.value, t.object))
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


def _gather(triples: Iterable[tuple[str, str, ox.Term]]) -> Statements:
    out: Statements = {}
    for subject, predicate, value in triples:
        out.setdefault(subject, {}).setdefault(predicate, []).append(value)
    return out


def _key(term: ox.Term) -> str:
    if isinstance(term, ox.BlankNode):
        return f"_:{term.value}"
    return str(term.value)  # type: ignore[union-attr]


def _plain(term: ox.Term) -> Value:
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


def _list(statements: Statements, head: ox.Term) -> list[ox.Term]:
    """Members of an RDF list."""
    items: list[ox.Term] = []
    node = head
    while _key(node) != RDF + "nil":
        block = statements.get(_key(node), {})
        items.extend(block.get(RDF + "first", []))
        rest = block.get(RDF + "rest", [])
        if not rest:
            break
        node = rest[0]
    return items


def _one(block: dict[str, list[ox.Term]], key: str) -> str:
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
    statements: Statements, block: dict[str, list[ox.Term]]
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


def _path(statements: Statements, term: ox.Term) -> tuple[str, ...] | None:
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


def _targets(block: dict[str, list[ox.Term]]) -> tuple[set[str], set[str], bool]:
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
        name = _local_name(iri) if not iri.startswith("_:") else _name_of_blank(statements, owners, iri)
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
        )  # fmt: skip
    return tuple(sorted(rules, key=lambda r: r.id))


def _off(block: dict[str, list[ox.Term]]) -> bool:
    return _one(block, SH + "deactivated") in {"true", "1"}


def _name_of_blank(statements: Statements, owners: dict[str, list[str]], key: str) -> str:
    """A property shape without a name is called after its node shape and its path."""
    carrier = next((_local_name(o) for o in owners.get(key, []) if not o.startswith("_:")), "rule")
    return f"{carrier}-{_local_name(_one(statements[key], SH + 'path'))}"


def _values(facts: Facts, focus: Fact, path: Sequence[str]) -> list[Value]:
    """Values at the end of a path from one node."""
    nodes: list[Value] = [Ref(focus.iri)]
    for step in path:
        key = step[len(NS) :] if step.startswith(NS) else step
        found: list[Value] = []
        for node in nodes:
            fact = facts.nodes.get(str(node)) if isinstance(node, Ref) else None
            if fact is not None:
                found.extend(v for v in fact.get(key) if v not in found)
        nodes = found
    return nodes


def _is_number(value: Value) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _compare(word: str, value: Value, bound: Value) -> bool:
    if not (_is_number(value) and _is_number(bound)):
        return False
    a, b = int(value), int(bound)
    return {
        "minInclusive": a >= b, "maxInclusive": a <= b, "minExclusive": a > b,
        "maxExclusive": a < b, "lessThan": a < b, "lessThanOrEquals": a <= b,
    }[word]  # fmt: skip


def _matches(facts: Facts, word: str, wanted: tuple[Value, ...], value: Value) -> bool:
    if word == "class":
        fact = facts.nodes.get(str(value))
        return fact is not None and str(wanted[0]).removeprefix(NS) in fact.types
    return value in wanted


def evaluate_rule(rule: Rule, facts: Facts, focus: Fact) -> list[Result]:
    """Results of one rule on one node, as SHACL Core defines them."""
    values = _values(facts, focus, rule.path)
    asked = dict(rule.checks)
    out: list[Result] = []

    def fail(value: Value | None = None) -> None:
        out.append(Result(rule.id, focus.iri, value))

    for word, params in rule.checks:
        bound = params[0] if params else 0
        if word == "minCount":
            if len(values) < int(bound):
                fail()
        elif word == "maxCount":
            if len(values) > int(bound):
                fail()
        elif word == "hasValue":
            for wanted in params:
                if wanted not in values:
                    fail()
        elif word in {"lessThan", "lessThanOrEquals"}:
            others = _values(facts, focus, (str(bound),))
            for value in values:
                for other in others:
                    if not _compare(word, value, other):
                        fail(value)
        elif word in {"equals", "disjoint"}:
            others = _values(facts, focus, (str(bound),))
            for value in values:
                if (value in others) == (word == "disjoint"):
                    fail(value)
            if word == "equals":
                for value in others:
                    if value not in values:
                        fail(value)
        elif word == "pattern":
            flags = re.IGNORECASE if "i" in str(asked.get("flags", ("",))[0]) else 0
            for value in values:
                if not re.search(str(bound), str(value), flags):
                    fail(value)
        elif word.startswith("qualified:"):
            count = sum(_matches(facts, word.partition(":")[2], params, v) for v in values)
            if "qualifiedMinCount" in asked and count < int(asked["qualifiedMinCount"][0]):
                fail()
            if "qualifiedMaxCount" in asked and count > int(asked["qualifiedMaxCount"][0]):
                fail()
        elif word in {"in", "class"}:
            for value in values:
                if not _matches(facts, word, params, value):
                    fail(value)
        elif word.startswith(("min", "max")):
            for value in values:
                if not _compare(word, value, bound):
                    fail(value)
    return out


def focus_nodes(rule: Rule, facts: Facts) -> list[Fact]:
    """Nodes that a rule looks at, each once."""
    seen: dict[str, Fact] = {}
    for name in rule.targets:
        for fact in facts.of_class(name):
            seen[fact.iri] = fact
    for iri in rule.nodes:
        if iri in facts.nodes:
            seen[iri] = facts.nodes[iri]
    return list(seen.values())


def evaluate(policy: Policy, facts: Facts) -> tuple[list[Result], dict[str, int]]:
    """Results of all compiled rules, and how many nodes each rule looked at."""
    results: list[Result] = []
    checked: dict[str, int] = {}
    for rule in policy.rules:
        nodes = focus_nodes(rule, facts)
        checked[rule.id] = len(nodes)
        if rule.beyond:
            continue
        for node in nodes:
            results.extend(evaluate_rule(rule, facts, node))
    return results, checked


@lru_cache(maxsize=8)
def _parsed(text: str, where: str) -> Statements:
    return _gather(parse_turtle(text, where))


@lru_cache(maxsize=32)
def _policy(texts: tuple[tuple[str, str], ...]) -> Policy:
    ours = _parsed(texts[0][1], texts[0][0])
    theirs: Statements = {}
    for name, text in texts[1:]:
        local = _gather(parse_turtle(text, name))
        for subject, block in local.items():
            theirs.setdefault(subject, {}).update(block)
    return Policy(compile_rules(ours, theirs or None), texts)


@lru_cache(maxsize=4)
def _our_text(path: Path, stamp: float) -> str:
    del stamp  # part of the key only: an edited file is read again
    return path.read_text(encoding="utf-8")


def load_policy(rules: Sequence[Path | str] = ()) -> Policy:
    """Our shapes, with the hospital's files on top.

    Args:
        rules: Paths of Turtle files with shapes of the hospital's own.

    Raises:
        BadRecord: If a file cannot be read, is not Turtle, or holds a broken rule.
    """
    from etui.knowledge import shapes_dir
    from etui.trays.local_rules import read_local

    path = shapes_dir() / "readiness.ttl"
    ours = _our_text(path, path.stat().st_mtime)
    texts = ((path.name, ours), *(read_local(Path(r), ours) for r in rules))
    return _policy(texts)
