"""What a committee asks about a tray: why each item is there, what backs it up, what was left out.

:func:`justify` gathers it as plain data from a finished check; :mod:`etui.trays.justify_print` sets
it as a document.  Nothing is judged anew here: every grade, reason and source is the check's own.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from etui.knowledge.model import GRADES, Judgement, Reference, Step
from etui.trays.check import Checked
from etui.trays.report import GRAVE_WORDS, LIMITS, NEED_WORDS, VERDICT_WORDS
from etui.trays.situation import Course
from etui.trays.ways import Way

__all__ = ["justify"]

_FIRST_TO_NAME = 4
"""Look-alikes named at most per step under what must not be used."""


class _Sources:
    """Numbers sources in the order in which they are first cited."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.numbers: dict[str, int] = {}

    def mark(self, judgement: Judgement | None) -> dict[str, Any]:
        """How a statement is known, and the number of its source."""
        if judgement is None:
            return {"how_known": "derived", "source": None, "number": None}
        source = judgement.source if judgement.source in self.reference.sources else None
        number = None
        if source is not None:
            number = self.numbers.setdefault(source, len(self.numbers) + 1)
        return {"how_known": judgement.how_known, "source": source, "number": number}

    def listed(self) -> list[dict[str, Any]]:
        """The cited sources by number."""
        return [
            {
                "number": number,
                "id": id_,
                "title": self.reference.sources[id_].title,
                "year": self.reference.sources[id_].year,
                "address": self.reference.sources[id_].address,
            }
            for id_, number in sorted(self.numbers.items(), key=lambda pair: pair[1])
        ]


def justify(done: Checked, reference: Reference) -> dict[str, Any]:
    """Everything that a committee asks about a tray, as plain data.

    Args:
        done: a finished check with its situation.
        reference: the knowledge that the check stood on.

    Returns:
        ``title``, ``verdict``, ``procedures``, ``ways``, ``items`` (each with what it ``serves``,
        what it is ``not_for``), ``steps`` (what does each and what backs it up), ``single_points``,
        ``findings``, ``left_out``, ``must_not``, ``cautions``, ``disputes``, ``sources``,
        ``known`` (how many statements are read, remembered, practice, derived) and ``limits``.
    """
    report = done.report
    sources = _Sources(reference)
    courses = done.situation.courses
    steps = [_step(course, step, reference, sources) for course in courses for step in course.steps]
    served = _served(courses, reference, sources)
    items = _items(done, reference, served, sources)
    known: dict[str, int] = {}
    for entries in served.values():
        for entry in entries.values():
            known[entry["how_known"]] = known.get(entry["how_known"], 0) + 1
    return {
        "title": report.title,
        "operator": done.situation.tray.operator,
        "verdict": report.verdict,
        "verdict_words": VERDICT_WORDS[report.verdict].capitalize(),
        "procedures": [_name(reference, p) for p in report.procedures],
        "ways": [r.name for r in report.routes if r.advised],
        "kept_alongside": [line.text for line in done.situation.tray.kept_alongside],
        "items": items,
        "steps": steps,
        "single_points": [
            {
                "piece": _piece(point.piece, reference),
                "steps": [_name(reference, s) for s in point.steps],
                "drop_prone": point.drop_prone,
                "saved_by": [s.name for s in point.saved_by],
            }
            for point in report.single_points
        ],
        "findings": [
            {
                "severity": f.severity,
                "words": GRAVE_WORDS[f.severity],
                "kind": f.kind,
                "text": f.text,
                "fix": f.fix,
            }
            for f in report.findings
        ],
        "left_out": _left_out(done, reference),
        "must_not": _must_not(courses, reference, sources),
        "cautions": [
            {"procedure": c.procedure.name, "cautions": list(c.procedure.cautions)}
            for c in courses
            if c.procedure.cautions
        ],
        "disputes": [
            {"procedure": c.procedure.name, "question": d.question, "sides": list(d.sides)}
            for c in courses
            for d in c.procedure.disputes
        ],
        "known": dict(sorted(known.items())),
        "sources": sources.listed(),
        "limits": LIMITS,
    }


def _name(reference: Reference, id_: str) -> str:
    for table in (
        reference.patterns,
        reference.manoeuvres,
        reference.steps,
        reference.procedures,
        reference.units,
    ):
        if id_ in table:
            return str(table[id_].name)
    return id_


def _piece(key: str, reference: Reference) -> str:
    """The name of a kind of piece; the key holds what its line states behind a tilde."""
    pattern, _, stated = key.partition("~")
    names = " or ".join(_name(reference, p) for p in pattern.split("|"))
    values = ", ".join(part.partition("=")[2] for part in stated.split(";") if part)
    return f"{names} ({values})" if values else names


def _usable(course: Course, step: Step) -> list[Way]:
    """Ways of a step with pieces of the tray, best first."""
    ways = [w for w in course.covers[step.id].ways if w.usable and not w.lead.beside]
    return sorted(ways, key=lambda w: (GRADES.index(w.grade), w.pattern, w.lead.key))


def _step(course: Course, step: Step, reference: Reference, sources: _Sources) -> dict[str, Any]:
    cover = course.covers[step.id]
    ways = _usable(course, step)
    patterns = list(dict.fromkeys(w.pattern for w in ways))
    fair = {w.pattern for w in ways if w.grade != "improvised"}
    hand = cover.hand
    beside = [w.pattern for w in (*cover.ways, *cover.unlisted) if w.lead.beside]
    stated = cover.duty.stated.get(patterns[0]) if patterns else None
    return {
        "id": step.id,
        "name": step.name,
        "procedure": course.procedure.name,
        "need": step.need,
        "need_words": NEED_WORDS[step.need],
        "when": step.when,
        "by": _name(reference, patterns[0]) if patterns else None,
        "grade": ways[0].grade if ways else None,
        "because": stated.because if stated else None,
        **sources.mark(stated),
        "backed_by": [_name(reference, p) for p in patterns[1:] if p in fair],
        "makeshifts": [_name(reference, p) for p in patterns[1:] if p not in fair],
        "by_hand": hand.name if hand is not None else None,
        "beside": [_name(reference, p) for p in dict.fromkeys(beside)][:2],
    }


def _served(
    courses: Iterable[Course], reference: Reference, sources: _Sources
) -> dict[str, dict[str, dict[str, Any]]]:
    """Pattern -> step -> what the pattern does there, as lead or as a part."""
    out: dict[str, dict[str, dict[str, Any]]] = {}
    for course in courses:
        for step in course.steps:
            ways = _usable(course, step)
            best = ways[0].grade if ways else None
            for way in ways:
                for pattern in way.patterns:
                    judgement = course.covers[step.id].duty.stated.get(pattern)
                    entry = {
                        "step": step.id,
                        "name": step.name,
                        "need": step.need,
                        "grade": way.grade,
                        "role": "first" if way.grade == best else "reserve",
                        "because": judgement.because if judgement else None,
                        "with": [_name(reference, p) for p in way.patterns if p != pattern],
                        **sources.mark(judgement),
                    }
                    out.setdefault(pattern, {}).setdefault(step.id, entry)
    return out


def _items(
    done: Checked,
    reference: Reference,
    served: dict[str, dict[str, dict[str, Any]]],
    sources: _Sources,
) -> list[dict[str, Any]]:
    items = []
    steps = [step for course in done.situation.courses for step in course.steps]
    for line in done.report.readings[: len(done.situation.tray.contents)]:
        kinds = {i.kind for i in line.reading.items} if line.reading else set()
        if kinds == {"not-an-item"}:
            continue
        found = [i.pattern for i in line.reading.items if i.pattern] if line.reading else []
        serves: dict[str, dict[str, Any]] = {}
        for pattern in found:
            for step, entry in served.get(pattern, {}).items():
                serves.setdefault(step, entry)
        items.append(
            {
                "line": line.text,
                "count": line.qty,
                "place": str(line.place),
                "read_as": [_name(reference, p) for p in found],
                "understood": not kinds & {"unknown", "ambiguous"},
                "serves": list(serves.values()),
                "not_for": _not_for(found, steps, sources),
            }
        )
    return items


def _not_for(
    patterns: Iterable[str], steps: Iterable[Step], sources: _Sources
) -> list[dict[str, Any]]:
    """Steps of these operations at which an item is stated to harm."""
    wanted = set(patterns)
    return [
        {
            "step": step.id,
            "name": step.name,
            "hazard": j.hazard,
            "because": j.because,
            **sources.mark(j),
        }
        for step in steps
        for j in step.judgements
        if j.subject in wanted and j.grade == "unsafe" and j.condition is None
    ]


def _left_out(done: Checked, reference: Reference) -> list[dict[str, Any]]:
    """What these operations do not want, and why; ``here``: the tray has it all the same."""
    there = {c for h in done.situation.on_tray for c in h.choices}
    return [
        {
            "procedure": _name(reference, p),
            "id": r.subject,
            "name": _name(reference, r.subject),
            "because": r.because,
            "here": r.subject in there,
        }
        for p in done.report.procedures
        for r in reference.procedures[p].not_wanted
    ]


def _must_not(
    courses: Iterable[Course], reference: Reference, sources: _Sources
) -> list[dict[str, Any]]:
    """Per essential step, pieces of the kind of the right one that are stated to harm."""
    out = []
    for course in courses:
        for step in course.steps:
            if step.need != "essential":
                continue
            duty = course.covers[step.id].duty
            kinds = {reference.patterns[p].family for p in duty.first_line}
            found = [
                j
                for j in step.judgements
                if j.grade == "unsafe"
                and j.condition is None
                and j.subject in reference.patterns
                and reference.patterns[j.subject].family in kinds
            ]
            out += [
                {
                    "step": step.id,
                    "step_name": step.name,
                    "id": j.subject,
                    "name": _name(reference, j.subject),
                    "hazard": j.hazard,
                    "because": j.because,
                    **sources.mark(j),
                }
                for j in found[:_FIRST_TO_NAME]
            ]
    return out
