"""From a brief to the problem that the solver takes: duties, moments, look-alikes, bars."""

from __future__ import annotations

import re
from collections.abc import Iterable

from etui.knowledge.model import (
    Grade,
    Record,
    Reference,
    Step,
)
from etui.trays.approach import read_hands
from etui.trays.compose_bars import approach_costs, bars, likenesses, reached_for
from etui.trays.compose_problem import RANK, Duty, Lot, Problem, Way
from etui.trays.compose_stock import Brief, pack_of
from etui.trays.compose_ways import Fitter, first_hand
from etui.trays.compose_wishes import stems
from etui.trays.lore import Lore


class Setting(Record, frozen=True):
    """A problem with what is needed to tell its answer.

    ``barred``: lot -> why it stays out.  ``assumed``: step -> patterns of the room that do it.
    """

    problem: Problem
    barred: dict[int, str]
    assumed: dict[str, tuple[str, ...]]
    idle: dict[int, tuple[str, ...]]


def duties(
    brief: Brief, fitter: Fitter, barred: Iterable[int]
) -> tuple[tuple[Duty, ...], dict[str, tuple[str, ...]]]:
    """The steps of all procedures with every way to serve them, and what the room is taken for."""
    reference = fitter.reference
    out: list[Duty] = []
    assumed: dict[str, tuple[str, ...]] = {}
    gone = frozenset(barred)
    for procedure_id in brief.procedures:
        procedure = reference.procedures[procedure_id]
        asked = {r.subject for r in procedure.redundancy}
        for step_id in procedure.steps:
            step = reference.steps[step_id]
            ways = tuple(
                w for w in fitter.ways(step) if not gone & fitter.assemblies[w.assembly].lots
            )
            if not any(_fair(w.grade) for w in ways):
                ways = _taken_off(step, out, fitter) or ways
            out.append(_duty(step, ways, fitter, assumed, asked=step_id in asked))
    whole = _with_core(tuple(out))
    return (*whole, *_other_sites(whole, fitter.bench.lore)), assumed


def _taken_off(step: Step, before: list[Duty], fitter: Fitter) -> tuple[Way, ...]:
    """What was put on in an earlier step is what this step takes off again.

    So when an earlier piece stays in until this step, and the first line here is the first line
    there.
    """
    first = set(fitter.duty(step.id).first_line)
    for duty in before:
        earlier = fitter.reference.steps[duty.step]
        if (
            earlier.stays_in_until == step.id
            and first
            and first <= set(fitter.duty(duty.step).good)
        ):
            return duty.ways
    return ()


def _duty(
    step: Step,
    ways: tuple[Way, ...],
    fitter: Fitter,
    assumed: dict[str, tuple[str, ...]],
    *,
    asked: bool,
) -> Duty:
    known = fitter.duty(step.id)
    by_hand = first_hand(known, fitter.present, "preferred", "acceptable", "improvised")
    hand: Grade | None = by_hand.grade if by_hand else None  # type: ignore[assignment]
    if hand == "preferred" and known.first_line:
        # a first-line instrument exists: hands alone are the second best
        hand = "acceptable"
    fair_hand = _fair(hand)
    fair = any(_fair(w.grade) for w in ways)
    beside = _best(fitter.from_patterns(step, fitter.beside))
    if not fair and not _fair(beside) and not fair_hand:
        room = {p: g for p, g in fitter.from_patterns(step, fitter.room(step)).items() if _fair(g)}
        usual = _best(room)
        if usual is not None and (beside is None or RANK[usual] < RANK[beside]):
            beside = usual
            assumed[step.id] = tuple(id_ for id_, grade in room.items() if grade == usual)
    several = step.pieces_together if asked or not (known.helping_hand or step.partners) else 1
    return Duty(
        step=step.id,
        procedure=step.procedure,
        need=step.need,
        ways=ways,
        approaches=step.approaches,
        hand=hand,
        beside=beside,
        together=max(1, several),
        helpers=fitter.helpers(step) if several == 2 else (),
        tool_wanted=fair_hand and bool(known.first_line) and fair and not _fair(beside),
        hands_help=(fair_hand or known.helping_hand) and not asked,
        hinge=step.drop_prone or asked,
        spare_asked=asked,
        drop_prone=step.drop_prone,
        moment=step.order,
        only_with=_only_with(step, fitter),
    )


_WHEN_USED = re.compile(r"^(?:the |an? |another )?(?P<what>.+?) (?:is|are|was|were) used\b", re.I)


def _only_with(step: Step, fitter: Fitter) -> tuple[int, ...] | None:
    """Stock lines that a step on equipment waits for ("when the wire saw is used").

    None: the step waits for nothing, or for something that lies beside the tray.
    """
    found = _WHEN_USED.match(step.when or "") if step.target == "equipment" else None
    if found is None or step.need == "essential":
        return None
    lots: set[int] = set()
    for option in re.split(r"\bor\b", found["what"]):
        words = stems(option)
        if any(words <= stems(fitter.reference.patterns[p].name) for p in fitter.beside):
            return None
        for lot, line in enumerate(fitter.held):
            names = [line.name, *(fitter.reference.patterns[p.id].name for p in line.pieces)]
            if any(len(words & stems(n)) >= min(2, len(words)) for n in names):
                lots.add(lot)
    if not lots:
        # "a separate handle and blade": no line has two of the words, some have one
        words = stems(found["what"])
        lots = {
            lot
            for lot, line in enumerate(fitter.held)
            if fitter.part(lot) and words & stems(line.name)
        }
    return tuple(sorted(lots))


def _fair(grade: Grade | None) -> bool:
    return grade is not None and RANK[grade] <= RANK["acceptable"]


def _best(grades: dict[str, Grade]) -> Grade | None:
    return min(grades.values(), key=RANK.__getitem__, default=None)


def _other_sites(all_: tuple[Duty, ...], lore: Lore) -> tuple[Duty, ...]:
    """The essential steps at other sites of the same operation, wanted but not essential.

    A tray for wounds is chosen for one site and should still do for the others.
    """
    return tuple(
        _replaced(
            duty,
            need="conditional",
            approaches=(),
            hinge=False,
            elsewhere=True,
            together=1,
            helpers=(),
        )
        for duty in all_
        if duty.need == "essential"
        and duty.approaches
        and any(lore.way(duty.procedure, a).kind == "anotherSite" for a in duty.approaches)
    )


def _with_core(all_: tuple[Duty, ...]) -> tuple[Duty, ...]:
    """Make the steps that define an approach essential in it.

    An approach whose own steps (in no other approach) are all conditional is defined by them:
    choosing it fulfils their condition, and without them it would be an empty way.
    """
    essential = {
        (d.procedure, d.approaches[0])
        for d in all_
        if len(d.approaches) == 1 and d.need == "essential"
    }
    return tuple(
        _replaced(d, need="essential")
        if len(d.approaches) == 1
        and d.need == "conditional"
        and (d.procedure, d.approaches[0]) not in essential
        else d
        for d in all_
    )


def _replaced(duty: Duty, **changes: object) -> Duty:
    fields = {name: getattr(duty, name) for name in Duty.__struct_fields__}
    return Duty(**{**fields, **changes})


def moments(
    all_: tuple[Duty, ...], reference: Reference, *, at_once: bool
) -> tuple[tuple[int, ...], ...]:
    """Sets of duties that are in use at the same time, only the largest ones.

    A piece that stays in is busy from its step until the step that frees it, or to the end.
    """
    by_procedure: dict[str, list[int]] = {}
    for index, duty in enumerate(all_):
        if not duty.elsewhere:
            by_procedure.setdefault(duty.procedure, []).append(index)
    per: list[list[frozenset[int]]] = []
    for indexes in by_procedure.values():
        order = {all_[i].step: reference.steps[all_[i].step].order for i in indexes}
        found = []
        for now in indexes:
            at = order[all_[now].step]
            busy = {now}
            for other in indexes:
                step = reference.steps[all_[other].step]
                if step.stays_in_until is None or step.order >= at:
                    continue
                until = order.get(step.stays_in_until)
                if until is None or at <= until:
                    busy.add(other)
            found.append(frozenset(busy))
        per.append(_largest(found))
    if at_once and len(per) > 1:
        sets = per[0]
        for more in per[1:]:
            sets = [a | b for a in sets for b in more]
        return tuple(sorted(tuple(sorted(s)) for s in sets))
    return tuple(sorted(tuple(sorted(s)) for group in per for s in group if len(s) > 1))


def _largest(sets: list[frozenset[int]]) -> list[frozenset[int]]:
    return [s for s in dict.fromkeys(sets) if not any(s < other for other in sets)]


def setting(brief: Brief, fitter: Fitter) -> Setting:
    """The whole problem of a brief."""
    reference, lore = fitter.reference, fitter.bench.lore
    barred, harm = bars(brief, reference)
    all_, assumed = duties(brief, fitter, barred)
    rare = read_hands(brief.operator).rare
    approaches: dict[str, tuple[str, ...]] = {}
    costs: dict[str, int] = {}
    for procedure_id in brief.procedures:
        found = approach_costs(
            reference.procedures[procedure_id], lore, rare=rare, words=brief.words
        )
        approaches[procedure_id] = tuple(found)
        costs.update({f"{procedure_id}/{a}": cost for a, cost in found.items()})
    clashes, plain = likenesses(brief, reference)
    lots = []
    for index, line in enumerate(brief.held):
        pattern = reference.patterns.get(line.pattern) if line.pattern else None
        burden = 0
        if pattern is not None:
            burden += 2 if fitter.part(index) else 0
            single = pattern.care in ("single_use", "either")
            burden += 3 if brief.wishes.single_use and not single else 0
        lots.append(
            Lot(
                name=line.name,
                count=line.count,
                pattern=line.pattern,
                pack=min(pack_of(pattern), max(1, line.count)),
                counted=index not in brief.wishes.uncounted,
                danger=reached_for(line.pattern, brief, fitter) if line.pattern else 0,
                harm=harm.get(index, 0),
                burden=burden,
                required=brief.wishes.required.get(index, 0),
                barred=index in barred,
            )
        )
    kept = tuple(d for d in all_ if _possible(d, approaches))
    return Setting(
        problem=Problem(
            lots=tuple(lots),
            assemblies=tuple(fitter.assemblies),
            duties=kept,
            approaches=approaches,
            moments=moments(kept, reference, at_once=brief.wishes.at_once),
            clashes=clashes,
            likenesses=plain,
            ceiling=brief.wishes.ceiling,
            careful_hands=rare,
            approach_cost=costs,
        ),
        barred=barred,
        assumed=assumed,
        idle=fitter.idle_parts(),
    )


def _possible(duty: Duty, approaches: dict[str, tuple[str, ...]]) -> bool:
    """Whether some approach that can be chosen has this duty."""
    ids = approaches.get(duty.procedure, ())
    return not duty.approaches or not ids or any(a in ids for a in duty.approaches)
