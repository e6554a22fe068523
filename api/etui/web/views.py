"""What pages show, worked out from records: plain data for templates."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from etui.commands.cards import name_of
from etui.errors import EtuiError, UnknownTerm
from etui.knowledge.model import GRADES, Judgement, Pattern, Reference, Step
from etui.web.desk import Desk
from etui.web.words import plain, size

FEATURE_ORDER = (
    "handle",
    "lock",
    "curve",
    "jaw",
    "jaw_surface",
    "teeth",
    "tip",
    "edge",
    "blades",
    "weight",
    "trauma",
    "fitting",
    "part",
    "needs_partner",
)


def told(error: EtuiError) -> dict[str, Any]:
    """An error in the words of a page: what it says and what may have been meant."""
    nearest = error.nearest if isinstance(error, UnknownTerm) else ()
    head = f"{error.where}: " if error.where else ""
    detail = f"{head}{error.what}" + ("" if nearest else f" {error.mend}")
    return {"detail": detail.strip(), "nearest": nearest}


def features(reference: Reference, pattern: Pattern) -> list[tuple[str, str, str]]:
    """(name, value, definition) of each recorded feature, the telling ones first."""
    rows: list[tuple[str, str, str]] = []
    keys = [k for k in FEATURE_ORDER if k in pattern.features]
    keys += sorted(k for k in pattern.features if k not in FEATURE_ORDER and k != "action")
    values = reference.terms.get("value", {})
    for key in keys:
        feature = reference.features.get(key)
        words = [values[w].name if w in values else plain(w) for w in pattern.features[key]]
        rows.append(
            (
                feature.name if feature else plain(key),
                " or ".join(words),
                feature.definition if feature else "",
            )
        )
    if pattern.length_mm:
        rows.append(("length", size((pattern.length_mm.low, pattern.length_mm.high)), ""))
    for key, span in sorted(pattern.measures.items()):
        rows.append(
            (
                plain(key.removesuffix("_mm")),
                size((span.low, span.high), "mm" if key.endswith("_mm") else ""),
                "",
            )
        )
    return rows


def steps_by_grade(steps: Iterable[dict[str, Any]]) -> list[tuple[str, list[dict[str, Any]]]]:
    """Steps at which a thing is graded, grouped by grade, best first."""
    groups: dict[str, list[dict[str, Any]]] = {g: [] for g in GRADES}
    for step in steps:
        groups[step["grade"]].append(step)
    return [(g, rows) for g, rows in groups.items() if rows]


def served(reference: Reference, step: Step) -> list[tuple[str, list[dict[str, Any]]]]:
    """What is stated for a step, grouped by grade: (grade, rows with reason and source)."""
    groups: dict[str, list[dict[str, Any]]] = {g: [] for g in GRADES}
    for judgement in step.judgements:
        groups[judgement.grade].append(_row(reference, judgement))
    for rows in groups.values():
        rows.sort(key=lambda r: (r["role"] or "", r["name"].casefold()))
    return [(g, rows) for g, rows in groups.items() if rows]


def _row(reference: Reference, judgement: Judgement) -> dict[str, Any]:
    source = reference.sources.get(judgement.source or "")
    because = judgement.because
    return {
        "id": judgement.subject,
        "name": name_of(reference, judgement.subject),
        "page": f"/instruments/{judgement.subject}"
        if judgement.subject in reference.patterns
        else None,
        "because": because,
        "described": judgement.features_only,
        "hazard": name_of(reference, judgement.hazard) if judgement.hazard else None,
        "role": plain(judgement.role) if judgement.role else None,
        "as_action": name_of(reference, judgement.as_action) if judgement.as_action else None,
        "condition": plain(judgement.condition) if judgement.condition else None,
        "how_known": judgement.how_known,
        "source": {"id": source.id, "title": source.title} if source else None,
        "change_note": judgement.change_note,
    }


COMPARED = {
    "is": "",
    "not": "not ",
    "one_of": "one of ",
    "any_of": "any of ",
    "at_least": "at least ",
    "at_most": "at most ",
    "between": "between ",
}


def demands(reference: Reference, step: Step) -> list[dict[str, Any]]:
    """What a step asks of a piece, in words."""
    values = reference.terms.get("value", {})
    rows = []
    for demand in step.demands:
        feature = reference.features.get(demand.feature)
        words = [
            values[v].name if v in values else plain(v).removesuffix(".0") for v in demand.values
        ]
        joined = (" and " if demand.compare == "between" else ", ").join(words)
        rows.append(
            {
                "level": demand.level,
                "feature": feature.name if feature else plain(demand.feature),
                "value": COMPARED.get(demand.compare, "") + joined,
                "because": demand.because,
                "condition": plain(demand.condition) if demand.condition else None,
                "hazard": name_of(reference, demand.hazard) if demand.hazard else None,
                "about": demand.about,
            }
        )
    order = {"must": 0, "should": 1, "never": 2}
    return sorted(rows, key=lambda r: (order[str(r["level"])], str(r["feature"])))


def limits(reference: Reference, step: Step) -> list[dict[str, Any]]:
    """Sizes and conditions of a step, one row for each approach, patient or site."""
    rows = []
    for limit in step.limits:
        facts = [
            (plain(k.removesuffix("_mm")), size((v.low, v.high)))
            for k, v in sorted(limit.measures.items())
        ]
        facts += [
            (plain(k), plain(v)) for k, v in sorted(limit.words.items()) if v not in ("no", "none")
        ]
        rows.append(
            {
                "who": ", ".join(w for w in (limit.patient, limit.site) if w) or "anyone",
                "approaches": [plain(a) for a in limit.approaches],
                "facts": facts,
                "near": [name_of(reference, t) for t in limit.vital_near],
                "guard": [plain(g) for g in limit.guard_required],
                "note": limit.note,
                "how_known": limit.how_known,
            }
        )
    return rows


def look_alikes(desk: Desk, pattern: Pattern) -> list[dict[str, Any]]:
    """What a pattern is confused with and how to tell it apart."""
    from etui.judging.compare import tells

    reference = desk.reference
    rows = []
    for id_ in pattern.confused_with:
        other = reference.patterns.get(id_)
        if other is not None:
            rows.append(
                {
                    "id": id_,
                    "name": other.name,
                    "tells": tells(pattern, other, reference),
                    "drawn": desk.is_drawn(id_),
                }
            )
    return rows


def units_with(reference: Reference, id_: str) -> list[dict[str, Any]]:
    """Units that a pattern is a part of, with what becomes of them without it."""
    rows = []
    for unit in reference.units.values():
        if any(id_ in slot.alternatives for slot in unit.slots):
            rows.append(
                {
                    "id": unit.id,
                    "name": unit.name,
                    "when_missing": unit.when_missing,
                    "others": [
                        (
                            plain(slot.name),
                            slot.count,
                            [
                                (a, name_of(reference, a), a in reference.patterns)
                                for a in slot.alternatives
                            ],
                        )
                        for slot in unit.slots
                        if id_ not in slot.alternatives
                    ],
                }
            )
    return sorted(rows, key=lambda r: str(r["name"]))


def known_pairs(reference: Reference) -> list[tuple[str, str, str, str]]:
    """Pairs that are stated to be confused, each once: (id, name, id, name)."""
    seen: set[tuple[str, str]] = set()
    for pattern in reference.patterns.values():
        for other in pattern.confused_with:
            if other in reference.patterns:
                seen.add((min(pattern.id, other), max(pattern.id, other)))
    rows = [(a, reference.patterns[a].name, b, reference.patterns[b].name) for a, b in seen]
    return sorted(rows, key=lambda r: (r[1].casefold(), r[3].casefold()))


def unresolved(desk: Desk, lines: Iterable[str]) -> list[dict[str, Any]]:
    """What was not understood, with the steps and procedures that may have been meant."""
    rows = []
    for line in lines:
        head, _, tail = line.partition("; nearest: ")
        steps = [
            desk.reference.steps[i]
            for i in re.findall(r"\(([a-z0-9./-]+)[,)]", tail)
            if i in desk.reference.steps
        ]
        if tail and not steps:
            head = f"{head}; nearest: {tail}"
        rows.append(
            {
                "text": head,
                "steps": [
                    {
                        "id": s.id,
                        "name": s.name,
                        "procedure": desk.reference.procedures[s.procedure].name,
                    }
                    for s in steps
                ],
            }
        )
    return rows
