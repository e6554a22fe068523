"""Two patterns side by side: how alike they look, what tells them apart, what a mix-up does.

The answer of ``etui compare``.  Harm is not guessed: it is read off the stated judgements, where
one of the two does a step and the other harms or fails there, and off what each must never do.
"""

from __future__ import annotations

from typing import Any

from etui.errors import UnknownTerm
from etui.judging.likeness import Difference, resemblance, visible_differences
from etui.knowledge.model import USABLE, Judgement, Pattern, Record, Reference, Step

FINE = ("teeth", "jaw_surface", "tip", "jaw", "blades", "edge", "curve", "point", "grip", "lock")
"""Features that tell two pieces apart on a close look, the most telling first."""

MOST = 3
"""How many steps are named for each direction of a mix-up."""


class Swap(Record, frozen=True):
    """One step where one piece serves and the other, taken for it, harms or fails."""

    step: str
    name: str
    meant: str
    taken: str
    meant_grade: str
    taken_grade: str
    because: str | None = None
    hazard: str | None = None
    source: str | None = None
    how_known: str = "practice"


def compare(a: str, b: str, reference: Reference) -> dict[str, Any]:
    """The comparison of two patterns as the machine contract has it.

    Args:
        a: Id of a pattern.
        b: Id of another.
        reference: The loaded graph.

    Returns:
        ``resemblance`` (high, medium, low, to unpractised eyes), ``tells``, ``differences`` and
        ``harm_if_swapped``; beside the contract the two pieces and the steps behind the harm.

    Raises:
        UnknownTerm: If one of the ids is no pattern.
    """
    one, other = (_pattern(reference, id_) for id_ in (a, b))
    seen = visible_differences(one, other)
    swaps = dangerous_swaps(one.id, other.id, reference)
    return {
        "a": {"id": one.id, "name": one.name},
        "b": {"id": other.id, "name": other.name},
        "resemblance": resemblance(one, other),
        "tells": tells(one, other, reference, seen),
        "differences": [*_close_look(one, other, reference), *(_line(d, reference) for d in seen)],
        "harm_if_swapped": harm(one, other, reference, swaps),
        "steps": [
            {
                "step": {"id": s.step, "name": s.name},
                "meant": s.meant,
                "taken": s.taken,
                "grades": {s.meant: s.meant_grade, s.taken: s.taken_grade},
                "because": s.because,
                "hazard": s.hazard,
                "source": s.source,
                "how_known": s.how_known,
            }
            for s in swaps
        ],
    }


def tells(
    a: Pattern, b: Pattern, reference: Reference, seen: tuple[Difference, ...] | None = None
) -> str:
    """What to look at to know one from the other, the closest look first."""
    close = _close_look(a, b, reference)
    rows = [_line(d, reference) for d in (visible_differences(a, b) if seen is None else seen)]
    said = list(dict.fromkeys([*close[:2], *rows[:2]]))
    if not said:
        return "No feature in the reference tells them apart: read the mark or ask."
    return "; ".join(said)


def harm(
    a: Pattern, b: Pattern, reference: Reference, swaps: tuple[Swap, ...] | None = None
) -> str:
    """What happens when one is taken for the other, in words."""
    found = dangerous_swaps(a.id, b.id, reference) if swaps is None else swaps
    names = {a.id: a.name, b.id: b.name}
    lines = []
    for meant, taken in ((a.id, b.id), (b.id, a.id)):
        rows = [s for s in found if s.meant == meant]
        for grade, verb in (("unsafe", "harms at"), ("unable", "does not do")):
            at = [
                f"{s.name}{f' ({s.because})' if s.because else ''}"
                for s in rows
                if s.taken_grade == grade
            ][:MOST]
            if at:
                lines.append(f"{names[taken]} taken for {names[meant]} {verb}: {'; '.join(at)}")
                break
    if lines:
        return ". ".join(lines) + "."
    forbidden = [
        f"never use {p.name} for: {', '.join(p.never_for[:2])}" for p in (a, b) if p.never_for
    ]
    little = "Little: no step in the reference has one of them safe and the other not"
    return f"{little}; {'; '.join(forbidden)}" if forbidden else f"{little}."


def dangerous_swaps(a: str, b: str, reference: Reference) -> tuple[Swap, ...]:
    """Every step with stated grades of both on different sides of the safety line.

    Harm comes before failure, essential steps before others.
    """
    rows: list[tuple[tuple[int, int, int, str], Swap]] = []
    for step in reference.steps.values():
        stated = _stated(step)
        for meant, taken in ((a, b), (b, a)):
            good, bad = stated.get(meant), stated.get(taken)
            if good is None or bad is None:
                continue
            if good.grade not in USABLE or bad.grade in USABLE or good.grade == "improvised":
                continue
            swap = Swap(
                step=step.id,
                name=step.name,
                meant=meant,
                taken=taken,
                meant_grade=good.grade,
                taken_grade=bad.grade,
                because=bad.because,
                hazard=bad.hazard,
                source=bad.source,
                how_known=bad.how_known,
            )
            order = (
                int(bad.grade != "unsafe"),
                int(step.need != "essential"),
                int(good.grade != "preferred"),
                step.id,
            )
            rows.append((order, swap))
    return tuple(swap for _, swap in sorted(rows, key=lambda r: (r[0], r[1].meant)))


def _stated(step: Step) -> dict[str, Judgement]:
    """Judgements on whole pieces at this step; a piece in a side role is another matter."""
    return {
        j.subject: j
        for j in step.judgements
        if not j.role and not (j.features_only and j.how_known == "practice")
    }


def _pattern(reference: Reference, id_: str) -> Pattern:
    found = reference.patterns.get(id_)
    if found is None:
        raise UnknownTerm(f'There is no pattern "{id_}".', nearest=_nearest(id_, reference))
    return found


def _nearest(id_: str, reference: Reference) -> tuple[tuple[str, str], ...]:
    from rapidfuzz import process

    hits = process.extract(id_, list(reference.patterns), limit=3, score_cutoff=60)
    return tuple((key, reference.patterns[key].name) for key, _, _ in hits)


def _close_look(a: Pattern, b: Pattern, reference: Reference) -> list[str]:
    """Differences of fine features that both state."""
    lines = []
    for key in FINE:
        mine, other = a.features.get(key, ()), b.features.get(key, ())
        if not mine or not other or set(mine) & set(other) or "either" in (*mine, *other):
            continue  # what is not stated, or may be the same, tells nothing
        feature = reference.features.get(key)
        name = feature.name if feature else key.replace("_", " ")
        words = [_words(w, reference) for w in (mine, other)]
        lines.append(f"{name}: {a.name} {words[0]}, {b.name} {words[1]}")
    return lines


def _line(difference: Difference, reference: Reference) -> str:
    a, b = (_words(tuple(t.split("/")), reference) for t in (difference.a, difference.b))
    return f"{difference.name}: {a} against {b}"


def _words(words: tuple[str, ...], reference: Reference) -> str:
    values = reference.terms.get("value", {})
    families = reference.terms.get("family", {})
    names = []
    for word in words:
        term = values.get(word) or families.get(word)
        names.append(term.name if term else word.replace("_", " "))
    return " or ".join(names)
