"""The policy of the shapes, compiled: which derived facts are faults, how grave, what is said.

``shapes/readiness.ttl`` is the only policy.  Its property shapes are read
(:mod:`etui.trays.shape_reading`) and evaluated here on the plain facts of a check, so that a tray
is judged in milliseconds; pySHACL judges the same shapes on the same facts as RDF
(:mod:`etui.trays.shacl`).  Tests hold the two to the same results.

A hospital's own file may add property shapes, or restate one of ours: what it states about our
rule (severity, message, target, constraint, deactivated) takes the place of what we state.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from etui.errors import BadInput, BadRecord
from etui.trays.facts import NS, Fact, Facts, Ref, Value
from etui.trays.shape_reading import Rule, Statements, compile_rules, gather, parse_turtle


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
    def has_local(self) -> bool:
        """Whether a hospital's file has a say."""
        return len(self.texts) > 1

    @property
    def beyond(self) -> bool:
        """Whether any rule needs pySHACL."""
        return any(r.beyond for r in self.rules)


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


_LIMITS = {"minInclusive", "maxInclusive", "minExclusive", "maxExclusive"}


def _plain_limit(rule: Rule) -> tuple[str, str, int] | None:
    """Property, comparison and bound of a rule that only compares one number with a bound."""
    if len(rule.path) != 1 or len(rule.checks) != 1 or not rule.path[0].startswith(NS):
        return None
    word, params = rule.checks[0]
    if word not in _LIMITS or len(params) != 1 or not _is_number(params[0]):
        return None
    return rule.path[0][len(NS) :], word, int(params[0])


def _kept(facts: Fact, key: str, word: str, bound: int) -> bool:
    """Whether a node certainly keeps a plain limit; a no is looked at again in full."""
    values = facts.values.get(key)
    if values is None:
        return True
    for value in values:
        if type(value) is not int:
            return False
        if not (
            value >= bound if word == "minInclusive" else value <= bound
            if word == "maxInclusive" else value > bound if word == "minExclusive"
            else value < bound
        ):
            return False
    return True


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
        limit = _plain_limit(rule)
        for node in nodes:
            if limit is not None and _kept(node, *limit):
                continue
            results.extend(evaluate_rule(rule, facts, node))
    return results, checked


@lru_cache(maxsize=8)
def _parsed(text: str, where: str) -> Statements:
    return gather(parse_turtle(text, where))


@lru_cache(maxsize=32)
def _policy(texts: tuple[tuple[str, str], ...]) -> Policy:
    ours = _parsed(texts[0][1], texts[0][0])
    theirs: Statements = {}
    for number, (name, text) in enumerate(texts[1:]):
        local = gather(parse_turtle(text, name, blank=f"{number}-"))
        for subject, block in local.items():
            theirs.setdefault(subject, {}).update(block)
    try:
        return Policy(compile_rules(ours, theirs or None), texts)
    except BadRecord as error:
        if not theirs:
            raise
        files = ", ".join(name for name, _ in texts[1:])
        raise BadInput(error.what, where=files, mend=error.mend) from None


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
