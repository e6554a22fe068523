"""Everything the graph states about one thing, as plain data with names beside every id."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from msgspec import to_builtins

from etui.errors import UnknownTerm
from etui.knowledge.model import (
    GRADES,
    Citation,
    Judgement,
    Pattern,
    Procedure,
    Range,
    Record,
    Reference,
    Step,
)

Card = dict[str, Any]


def name_of(reference: Reference, id_: str) -> str:
    """The name of a thing by its id; the id in words where it has none."""
    for table in (reference.patterns, reference.steps, reference.procedures, reference.units,
                  reference.manoeuvres, reference.manners):
        if id_ in table:
            return str(table[id_].name)
    for group in ("family", "hazard", "action", "tissue", "ability", "value"):
        term = reference.terms.get(group, {}).get(id_)
        if term is not None:
            return term.name
    source = reference.sources.get(id_)
    return source.title if source else id_.replace("-", " ").replace("_", " ")


def named(reference: Reference, ids: Iterable[str]) -> list[dict[str, str]]:
    """Ids with their names, in the order given."""
    return [{"id": i, "name": name_of(reference, i)} for i in ids]


def _range(value: Range | None) -> list[float] | None:
    return None if value is None else [value.low, value.high]


def _sources(reference: Reference, citations: Iterable[Citation]) -> list[Card]:
    out = []
    for citation in citations:
        source = reference.sources.get(citation.source or "")
        out.append({
            "id": citation.source, "title": source.title if source else None,
            "address": source.address if source else None, "how_known": citation.how_known,
            "covers": citation.covers,
        })
    return out


def _judgement(reference: Reference, one: Judgement, other: str) -> Card:
    source = reference.sources.get(one.source or "")
    return {
        "id": other, "name": name_of(reference, other), "grade": one.grade,
        "because": one.because,
        "hazard": name_of(reference, one.hazard) if one.hazard else None,
        "role": one.role, "condition": one.condition, "how_known": one.how_known,
        "source": source.title if source else None,
    }


def _by_grade(cards: Iterable[Card]) -> list[Card]:
    return sorted(cards, key=lambda c: (GRADES.index(c["grade"]), c["name"], c["id"]))


def pattern_card(reference: Reference, one: Pattern) -> Card:
    """An instrument, part or consumable."""
    steps = []
    for step in reference.steps.values():
        for judgement in step.judgements:
            if judgement.subject == one.id:
                card = _judgement(reference, judgement, step.id)
                card["procedure"] = name_of(reference, step.procedure)
                steps.append(card)
    return {
        "kind": "instrument", "id": one.id, "name": one.name, "definition": one.definition,
        "family": {"id": one.family, "name": name_of(reference, one.family)},
        "names": [to_builtins(n) for n in one.names if n.kind != "hidden"],
        "features": {k: list(v) for k, v in sorted(one.features.items())},
        "measures": {k: _range(v) for k, v in sorted(one.measures.items())},
        "length_mm": _range(one.length_mm),
        "used_for": list(one.used_for), "never_for": list(one.never_for),
        "abilities": named(
            reference, sorted(a for a, able in reference.abilities.items() if one.id in able)
        ),
        "offers": [
            {"action": name_of(reference, o.action), "role": o.role, "strength": o.strength,
             "fineness": o.fineness, "trauma": o.trauma, "limits": o.limits,
             "how_known": o.how_known}
            for o in one.offers
        ],
        "steps": _by_grade(steps),
        "confused_with": named(reference, one.confused_with),
        "pairs_with": named(reference, one.pairs_with),
        "care": one.care, "sources": _sources(reference, one.citations),
        "replaced_by": one.replaced_by,
    }


def step_card(reference: Reference, one: Step) -> Card:
    """A step with what is stated to serve it and what is not."""
    return {
        "kind": "step", "id": one.id, "name": one.name,
        "procedure": {"id": one.procedure, "name": name_of(reference, one.procedure)},
        "also_called": [n.text for n in one.names if n.kind not in ("hidden", "preferred")],
        "need": one.need, "when": one.when, "approaches": list(one.approaches),
        "action": name_of(reference, one.action), "target": name_of(reference, one.target),
        "fate": one.fate, "pieces_together": one.pieces_together,
        "drop_prone": one.drop_prone, "note": one.note,
        "at_risk": [
            {"tissue": name_of(reference, r.tissue), "how": r.how, "guard": r.guard}
            for r in one.at_risk
        ],
        "demands": [
            {"level": d.level, "feature": d.feature, "compare": d.compare,
             "values": list(d.values), "because": d.because, "condition": d.condition}
            for d in one.demands
        ],
        "judged": _by_grade(_judgement(reference, j, j.subject) for j in one.judgements),
        "techniques": [
            {"technique": t.technique, "grade": t.grade, "because": t.because,
             "hazard": name_of(reference, t.hazard) if t.hazard else None,
             "how_known": t.how_known}
            for t in one.techniques
        ],
        "disputes": [to_builtins(d) for d in one.disputes],
        "consumables": list(one.consumables),
        "sources": _sources(reference, one.citations),
    }


def procedure_card(reference: Reference, one: Procedure) -> Card:
    """A procedure with its steps in order and the best that serves each."""
    steps = []
    for id_ in one.steps:
        step = reference.steps[id_]
        best = [j for j in step.judgements
                if j.grade == "preferred" and j.role is None and not j.features_only]
        steps.append({
            "id": id_, "name": step.name, "need": step.need, "when": step.when,
            "approaches": list(step.approaches),
            "preferred": named(reference, sorted(
                {j.subject for j in best}, key=lambda s: name_of(reference, s))),
        })
    return {
        "kind": "procedure", "id": one.id, "name": one.name, "purpose": one.purpose,
        "also_called": [n.text for n in one.names if n.kind not in ("hidden", "preferred")],
        "done_by": one.done_by, "approaches": [to_builtins(a) for a in one.approaches],
        "cautions": list(one.cautions), "kept_alongside": list(one.kept_alongside),
        "steps": steps,
        "not_wanted": [
            {"id": r.subject, "name": name_of(reference, r.subject), "because": r.because}
            for r in one.not_wanted
        ],
        "disputes": [to_builtins(d) for d in one.disputes],
        "sources": _sources(reference, one.citations),
    }


def source_card(reference: Reference, id_: str) -> Card:
    """A source and what rests on it."""
    one = reference.sources[id_]
    judged = sorted(
        (j.step, j.subject) for s in reference.steps.values() for j in s.judgements
        if j.source == id_
    )
    things = sorted(
        p.id for p in reference.patterns.values() if any(c.source == id_ for c in p.citations)
    )
    return {
        "kind": "source", "id": id_, "title": one.title, "source_kind": one.kind,
        "year": one.year, "address": one.address,
        "instruments": named(reference, things),
        "judgements": [
            {"step": name_of(reference, s), "step_id": s, "name": name_of(reference, p), "id": p}
            for s, p in judged
        ],
    }


def find_card(reference: Reference, id_: str) -> Card | None:
    """The card of the thing with this very id; None where there is none."""
    if id_ in reference.patterns:
        return pattern_card(reference, reference.patterns[id_])
    if id_ in reference.steps:
        return step_card(reference, reference.steps[id_])
    if id_ in reference.procedures:
        return procedure_card(reference, reference.procedures[id_])
    if id_ in reference.sources:
        return source_card(reference, id_)
    others: tuple[tuple[str, Mapping[str, Record]], ...] = (
        ("unit", reference.units), ("manoeuvre", reference.manoeuvres),
        ("manner", reference.manners), ("class of instruments", reference.class_names),
    )
    for kind, table in others:
        if id_ in table:
            data = to_builtins(table[id_])
            return {"kind": kind, "name": data.get("name") or data["names"][0], **data}
    for group in ("family", "hazard", "action", "tissue", "ability"):
        term = reference.terms.get(group, {}).get(id_)
        if term is not None:
            card = {"kind": group, **to_builtins(term)}
            if group == "family":
                card["instruments"] = named(reference, sorted(
                    p.id for p in reference.patterns.values() if p.family == id_))
            if group == "ability":
                card["instruments"] = named(reference, sorted(reference.abilities.get(id_, ())))
            return card
    feature = reference.features.get(id_)
    return None if feature is None else {"kind": "feature", **to_builtins(feature)}


def nearest(reference: Reference, text: str, count: int = 3) -> tuple[tuple[str, str], ...]:
    """(id, name) of the things whose name or id is most like *text*."""
    from rapidfuzz import fuzz, process

    names: dict[str, str] = {}
    for table in (reference.procedures, reference.patterns, reference.steps):
        for id_, one in table.items():
            names.setdefault(id_, id_)
            for other in one.names:
                if other.kind != "hidden":
                    names.setdefault(other.text, id_)
            names.setdefault(one.name, id_)
    found: dict[str, str] = {}
    matches = process.extract(text, list(names), scorer=fuzz.WRatio, limit=20, score_cutoff=70,
                              processor=str.lower)
    for name, _, _ in matches:
        found.setdefault(names[name], name_of(reference, names[name]))
        if len(found) == count:
            break
    return tuple(found.items())


def card_for(reference: Reference, text: str) -> Card:
    """The card of a thing by id or by any of its names (case does not matter).

    Raises:
        UnknownTerm: With the nearest names; also when a name belongs to several things.
    """
    text = " ".join(text.split())
    card = find_card(reference, text) or find_card(reference, text.lower())
    if card is not None:
        return card
    wanted = text.casefold()
    ids: dict[str, None] = {}
    for table in (reference.procedures, reference.patterns, reference.steps,
                  reference.manoeuvres, reference.manners):
        for id_, one in table.items():
            if wanted == one.name.casefold() or any(
                wanted == n.text.casefold() for n in one.names
            ):
                ids[id_] = None
    if len(ids) == 1:
        card = find_card(reference, next(iter(ids)))
        assert card is not None
        return card
    if ids:
        raise UnknownTerm(f'"{text}" names several things.',
                          nearest=tuple((i, name_of(reference, i)) for i in list(ids)[:6]))
    raise UnknownTerm(f'nothing in the reference is called "{text[:80]}".',
                      nearest=nearest(reference, text))
