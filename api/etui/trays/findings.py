"""From failed rules to findings in the words of a nurse, and from findings to a verdict."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import cast

from etui.trays.facts import Fact, Facts, Ref, short_id
from etui.trays.model import Finding, FindingKind, Severity, Verdict
from etui.trays.policy import Policy, Result
from etui.trays.shape_reading import Rule

_OPTIONAL = re.compile(r"\[\[(.*?)\]\]", re.DOTALL)
_PLACE = re.compile(r"\{(\w+)\}")
_GRAVE = {"violation": 0, "warning": 1, "info": 2}
LOCAL_SILENT = "local-rule-matches-something"
"""Rule id of the remark that a hospital's rule looked at nothing."""


def fill(template: str, fact: Fact | None, value: object = None) -> str:
    """A sentence with the words of a node put in.

    A part in ``[[ ]]`` is left out when any word in it is missing; a word that is missing
    elsewhere is replaced by "something that fits".
    """

    def words(key: str) -> str:
        if key == "value" and value is not None:
            return _plain(value)
        return ", ".join(_plain(v) for v in fact.get(key)) if fact is not None else ""

    def option(match: re.Match[str]) -> str:
        text = match.group(1)
        if all(words(k) for k in _PLACE.findall(text)):
            return _PLACE.sub(lambda m: words(m.group(1)), text)
        return ""

    text = _OPTIONAL.sub(option, template)
    text = _PLACE.sub(lambda m: words(m.group(1)) or "something that fits", text)
    return " ".join(text.split())


def _plain(value: object) -> str:
    return short_id(str(value)) if isinstance(value, Ref) else str(value)


def _ids(fact: Fact | None, keys: Iterable[str]) -> tuple[str, ...]:
    if fact is None:
        return ()
    return tuple(
        dict.fromkeys(short_id(v) for k in keys for v in fact.get(k) if isinstance(v, Ref))
    )


def _finding(rule: Rule, fact: Fact | None, result: Result, details: bool) -> Finding:
    says = fill(rule.says, fact, result.value) if rule.says else rule.label
    return Finding(
        kind=cast(FindingKind, rule.kind),
        severity=cast(Severity, rule.severity),
        text=says,
        fix=fill(rule.mend, fact, result.value),
        items=_ids(fact, ("ofPiece", "ofPattern", "usableNow", "wanted")),
        steps=_ids(fact, ("ofStep",)),
        suggestions=fact.suggest() if details and fact is not None and fact.suggest else (),
        rule=rule.id,
        place=fact.place if fact is not None else None,
        why=_why(rule, fact, details),
    )


def _why(rule: Rule, fact: Fact | None, details: bool) -> tuple[str, ...]:
    lines = list(fact.explain()) if details and fact is not None and fact.explain else []
    if rule.source:
        lines.append(f"Rule {rule.id}: {rule.source}")
    return tuple(lines)


def _silent(policy: Policy, checked: dict[str, int]) -> list[tuple[str, Finding]]:
    """A remark for each rule of the hospital's own that had nothing to look at."""
    out = []
    for rule in policy.rules:
        if rule.local and not rule.beyond and checked.get(rule.id, 0) == 0:
            out.append(
                (
                    rule.iri,
                    Finding(
                        kind="local_rule", severity="info",
                        text=f"The local rule {rule.id} matched nothing on this tray.",
                        fix="Check what it looks at (sh:targetClass, sh:path).",
                        rule=LOCAL_SILENT,
                    ),
                )
            )
    return out


def findings_of(
    policy: Policy,
    facts: Facts,
    results: Sequence[Result],
    checked: dict[str, int],
    *,
    details: bool = True,
) -> list[tuple[str, Finding]]:
    """Findings with the node each is about: gravest first, then in the order of the operation."""
    rules = {r.id: r for r in policy.rules}
    seen: set[tuple[str, str]] = set()
    rows: list[tuple[tuple[int, int, str, str], str, Finding]] = []
    for result in results:
        if (result.rule, result.focus) in seen:
            continue
        seen.add((result.rule, result.focus))
        rule, fact = rules[result.rule], facts.nodes.get(result.focus)
        finding = _finding(rule, fact, result, details)
        order = fact.order if fact is not None else 0
        rows.append(
            ((_GRAVE[rule.severity], order, rule.id, result.focus), result.focus, finding)
        )
    rows.sort(key=lambda r: r[0])
    return [*((focus, f) for _, focus, f in rows), *_silent(policy, checked)]


def verdict_of(findings: Iterable[Finding]) -> Verdict:
    """Unfit with any violation, fit with remarks with any warning, else fit."""
    grave = {f.severity for f in findings}
    if "violation" in grave:
        return "unfit"
    return "fit-with-remarks" if "warning" in grave else "fit"
