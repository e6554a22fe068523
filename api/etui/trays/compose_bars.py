"""What stays off a tray, which pieces are taken for one another, and which approach to prefer."""

from __future__ import annotations

from etui.knowledge.model import GRADES, USABLE, Procedure, Range, Reference, Step
from etui.trays.compose_sizes import misfit, size_range
from etui.trays.compose_stock import Brief
from etui.trays.compose_ways import Fitter
from etui.trays.compose_wishes import stems
from etui.trays.lore import Lore

_NOT_BY_DEFAULT = frozenset({"anotherTask", "lastResort"})


def approach_costs(procedure: Procedure, lore: Lore, *, rare: bool, words: str) -> dict[str, int]:
    """Approaches to choose from, with how far each stands from the one to prefer (0).

    An approach that the words name is the only one.  Other tasks and last resorts are never
    chosen unasked.  Unpractised hands get the order advised for them.
    """
    named = [a for a in procedure.approaches if _names_approach(words, a.id, a.name, procedure)]
    if named:
        return {a.id: 0 for a in named}
    able = [
        a.id
        for a in procedure.approaches
        if lore.way(procedure.id, a.id).kind not in _NOT_BY_DEFAULT
    ] or [a.id for a in procedure.approaches]
    if rare:
        last = len(able) + 1
        able.sort(key=lambda id_: lore.way(procedure.id, id_).rank or last)
    return {id_: place for place, id_ in enumerate(able)}


def _names_approach(words: str, id_: str, name: str, procedure: Procedure) -> bool:
    text = stems(words)
    own = stems(id_.replace("-", " "))
    common = frozenset(
        w
        for a in procedure.approaches
        if a.id != id_
        for w in stems(a.id.replace("-", " ")) | stems(a.name)
    )
    telling = (own - common - stems(procedure.name)) or own
    # one short everyday word ("open", "needle") in a sentence names no approach
    return (len("".join(sorted(telling))) > 6 and telling <= text) or stems(name) <= text


def _threads(brief: Brief, reference: Reference) -> list[Range]:
    """Sizes of the threads in stock; none when the size of one of them is not stated."""
    out = []
    for lot, line in enumerate(brief.held):
        if line.pattern is None or not line.count:
            continue
        offers = reference.patterns[line.pattern].offers
        if not any(o.action == "suture" and "needle" in (o.part_complete or "") for o in offers):
            continue
        found = size_range(" ".join([line.name, *brief.wishes.described.get(lot, ())]))
        if found is None:
            return []
        out.append(found)
    return out


def bars(brief: Brief, reference: Reference) -> tuple[dict[int, str], dict[int, int]]:
    """Lots that stay out, with the reason; and a weight for those that one procedure warns of.

    What a procedure does not want is left out, unless another procedure of the brief has a fair
    use for it or the brief asks for it.
    """
    barred = dict(brief.wishes.barred)
    harm: dict[int, int] = {}
    threads = _threads(brief, reference)
    for lot, line in enumerate(brief.held):
        if line.count < 1:
            barred.setdefault(lot, "listed, but none is to hand")
        elif not line.pieces:
            barred.setdefault(lot, f"not understood: {line.ask}")
        if lot in brief.wishes.required:
            barred.pop(lot, None)
            continue
        holder = reference.patterns.get(line.pattern or "")
        why = misfit(holder, threads) if holder is not None else None
        if why:
            barred.setdefault(lot, why)
        for procedure_id in brief.procedures:
            procedure = reference.procedures[procedure_id]
            for reason in procedure.not_wanted:
                if all(p.id != reason.subject for p in line.pieces):
                    continue
                if _wanted_elsewhere(reason.subject, procedure_id, brief, reference):
                    harm[lot] = harm.get(lot, 0) + 2
                else:
                    barred.setdefault(
                        lot, f"not wanted in {procedure.name.lower()}: {reason.because}"
                    )
    return barred, harm


def _wanted_elsewhere(pattern: str, procedure: str, brief: Brief, reference: Reference) -> bool:
    for other in brief.procedures:
        if other == procedure or any(
            r.subject == pattern for r in reference.procedures[other].not_wanted
        ):
            continue
        for step_id in reference.procedures[other].steps:
            step = reference.steps[step_id]
            if step.need in ("essential", "conditional") and any(
                j.subject == pattern and j.grade in ("preferred", "acceptable")
                for j in step.judgements
            ):
                return True
    return False


def stated(step: Step, pattern: str) -> str | None:
    """The worst grade stated for a pattern at a step without a role of its own, or None."""
    grades = [
        j.grade
        for j in step.judgements
        if j.subject == pattern and j.condition is None and j.as_action is None
    ]
    return max(grades, key=GRADES.index) if grades else None


def likenesses(
    brief: Brief, reference: Reference
) -> tuple[tuple[tuple[int, int, int], ...], tuple[tuple[int, int], ...]]:
    """Pairs of lots taken for one another: with harm (and its weight), and without.

    With harm: at some step of these procedures one of them is usable and the other unsafe.
    """
    lots = [
        (index, line.pattern)
        for index, line in enumerate(brief.held)
        if line.pattern is not None and line.count > 0
    ]
    steps = [reference.steps[s] for p in brief.procedures for s in reference.procedures[p].steps]
    clashes, plain = [], []
    for place, (a, first) in enumerate(lots):
        for b, second in lots[place + 1 :]:
            if first == second:
                continue
            one, two = reference.patterns[first], reference.patterns[second]
            if second not in one.confused_with and first not in two.confused_with:
                continue
            weight = sum(_harmful(step, first, second) for step in steps)
            if weight:
                clashes.append((a, b, weight))
            else:
                plain.append((a, b))
    return tuple(clashes), tuple(plain)


def reached_for(pattern: str, brief: Brief, fitter: Fitter) -> int:
    """At how many steps that matter a piece would be reached for and harm.

    It is stated unsafe there, and it is of the family of a first-line piece or is taken for one.
    A piece that is itself first line for an essential step belongs on the tray all the same.
    """
    reference = fitter.reference
    own = reference.patterns[pattern]
    steps = [reference.steps[s] for p in brief.procedures for s in reference.procedures[p].steps]
    if any(s.need == "essential" and pattern in fitter.duty(s.id).first_line for s in steps):
        return 0
    found = 0
    for step in steps:
        if step.need in ("essential", "conditional") and stated(step, pattern) == "unsafe":
            found += any(
                reference.patterns[first].family == own.family
                or first in own.confused_with
                or pattern in reference.patterns[first].confused_with
                for first in fitter.duty(step.id).first_line
            )
    return found


def _harmful(step: Step, first: str, second: str) -> bool:
    one, two = stated(step, first), stated(step, second)
    return (one in USABLE and two == "unsafe") or (two in USABLE and one == "unsafe")
