"""Facts about steps: ways to do them, pieces they need at once, what a loss would stop."""

from __future__ import annotations

from functools import partial

from etui.knowledge.model import Step
from etui.trays.allocate import Key
from etui.trays.facts import Fact, Facts, Ref, Value, slug, thing
from etui.trays.held import PLENTY
from etui.trays.model import Place
from etui.trays.parts import rank
from etui.trays.situation import Course, Situation
from etui.trays.suggest import for_step
from etui.trays.ways import StepCover
from etui.trays.why import step_lines, way_lines

NEED_CLASS = {
    "essential": "EssentialCover",
    "conditional": "ConditionalCover",
    "optional": "OptionalCover",
    "closing": "ClosingCover",
}
MUSTER_CLASS = {"essential": "EssentialMuster", "conditional": "ConditionalMuster"}
DEDICATED = 2
"""Up to so many first-line patterns a step has a piece of its own."""
SHOWN = 4
"""Names given in a sentence."""


def names(situation: Situation, patterns: tuple[str, ...] | list[str]) -> str:
    """Names of patterns as words of a sentence: "a, b or c"."""
    shown = [_name(situation, p) for p in list(dict.fromkeys(patterns))[:SHOWN]]
    if len(shown) < 2:
        return "".join(shown)
    return ", ".join(shown[:-1]) + " or " + shown[-1]


def _name(situation: Situation, pattern: str) -> str:
    reference = situation.reference
    known = reference.patterns.get(pattern) or reference.units.get(pattern)
    return known.name if known else pattern


def refs(patterns: tuple[str, ...] | list[str]) -> tuple[Value, ...]:
    """IRIs of patterns or steps."""
    return tuple(thing(p) for p in patterns)


def base(course: Course, cover: StepCover) -> dict[str, tuple[Value, ...]]:
    """What every fact about a step says."""
    step = cover.duty.step
    return {
        "ofStep": (thing(step.id),),
        "stepName": (step.name,),
        "stepNeed": (step.need,),
        "procedureName": (course.procedure.name,),
        "ofProcedure": (thing(course.procedure.id),),
    }


def add_covers(situation: Situation, facts: Facts) -> None:
    """One fact per step of each chosen path: how many ways there are, and of what sort."""
    for number, course in enumerate(situation.courses):
        for place, step in enumerate(course.steps):
            if not arises(situation, step):
                continue
            cover = course.covers[step.id]
            need = "essential" if step.id in course.needed else step.need
            fact = Fact(
                slug(("cover", step.id)), (NEED_CLASS[need],), base(course, cover),
                order=number * 1000 + place,
                suggest=partial(for_step, situation, cover),
                explain=partial(_explain, situation, cover),
            )
            _ways(situation, cover, need, fact)
            facts.add(fact)


def _explain(situation: Situation, cover: StepCover) -> tuple[str, ...]:
    lines = step_lines(situation, cover)
    for way in (*cover.ways[:1], *cover.harmful[:2]):
        lines += way_lines(situation, cover, way)
    return tuple(dict.fromkeys(lines))


def _ways(situation: Situation, cover: StepCover, need: str, fact: Fact) -> None:
    """Count the ways; each finer count is given only where the one before it is not nil."""
    hand = cover.hand
    if need != "essential" and hand is None:
        hand = cover.waived
    by_hand = 1 if hand is not None else 0
    room = [w for w in cover.unlisted if w.origin == "everyday"]
    usual = [w for w in cover.unlisted if w.origin == "usual"]
    values = fact.values
    first = cover.duty.first_line or cover.duty.good
    broken = list(
        dict.fromkeys(
            w.pattern for w in cover.faulty if w.duty == "main" and w.pattern in cover.duty.good
        )
    )
    if broken and not cover.ways:
        values["faultyNames"] = (names(situation, broken),)
    values["waysToDo"] = (len(cover.ways) + by_hand + len(cover.unlisted) + len(cover.asked),)
    values["wanted"] = refs(first)
    sound = [p for p in first if p not in broken]
    if sound:
        values["wantedNames"] = (names(situation, sound),)
    elif broken:
        values["wantedNames"] = (f"what {names(situation, broken)} lacks",)
    meanwhile = cover.duty.hands[0] if cover.duty.hands else None
    if meanwhile is not None:
        values["meanwhile"] = (meanwhile.name,)
    if cover.harmful:
        values["harmfulNames"] = (names(situation, [w.pattern for w in cover.harmful]),)
    if cover.asked:
        # the line is asked about; until it is answered nothing is said to be missing
        return
    if need == "conditional":
        _own_piece(situation, cover, fact)
    if need != "essential" or not (cover.served or cover.unlisted):
        return
    fact.types = (*fact.types, "ServedEssentialCover")
    listed = len(cover.ways) + by_hand if cover.served_well or not cover.unlisted else 0
    values["waysListedOrInRoom"] = (listed + len(room),)
    if usual and not listed:
        values["besideNames"] = (names(situation, [w.pattern for w in usual]),)
        return
    values["waysListed"] = (listed,)
    if room and not listed:
        values["roomNames"] = (names(situation, [w.pattern for w in room]),)
        return
    if hand is not None and hand.grade == "preferred":
        return
    _instrument_ways(situation, cover, by_hand, fact)


def _own_piece(situation: Situation, cover: StepCover, fact: Fact) -> None:
    """Whether the piece that is made for just this step is here, where there is such a piece."""
    first = cover.duty.first_line
    best = cover.main_ways[0] if cover.main_ways else None
    if not first or len(first) > DEDICATED or best is None or rank(best.grade) != 3:
        return
    if cover.hand is not None and cover.hand.grade == "preferred":
        return
    fact.types = (*fact.types, "DedicatedCover")
    here = [w for w in cover.ways if w.pattern in first]
    fact.values["dedicatedWays"] = (len(here),)
    fact.values["bestNames"] = (names(situation, [best.pattern]),)


def _instrument_ways(situation: Situation, cover: StepCover, by_hand: int, fact: Fact) -> None:
    values = fact.values
    direct = cover.main_ways
    values["directWays"] = (len(direct) + by_hand,)
    if not direct and not by_hand:
        values["otherNames"] = (names(situation, [w.pattern for w in cover.ways]),)
        return
    wanted = [w for w in direct if not w.unwanted]
    values["wantedWays"] = (len(wanted) + by_hand,)
    if not wanted and not by_hand:
        values["unwantedNames"] = (names(situation, [w.pattern for w in direct]),)
        values["unwantedBecause"] = (direct[0].unwanted,)
        return
    values["waysInKind"] = (0 if cover.stopgap else len(wanted) + by_hand,)
    if cover.stopgap:
        values["makeshiftNames"] = (names(situation, cover.stopgap),)
        return
    values["bestRank"] = (rank(cover.grade),)
    if cover.ways:
        values["bestNames"] = (names(situation, [cover.ways[0].pattern]),)
    if cover.hand is not None:
        values["handName"] = (cover.hand.name,)
        if cover.duty.first_line and rank(cover.grade) >= 3:
            values["pieceWays"] = (len(wanted),)


def arises(situation: Situation, step: Step) -> bool:
    """Whether a step that hangs on the use of a thing can come up with what is here.

    "when the wire saw is used" comes up only where a wire saw lies.
    """
    options = situation.bench.asked_things(step)
    if not options:
        return True
    return any(
        option <= situation.bench.words_of_pattern(p)
        for h in situation.contents.held
        for p in h.choices
        for option in options
    )


def add_musters(situation: Situation, facts: Facts) -> None:
    """One fact per moment that needs more than one piece at once: needed and free."""
    for course in situation.courses:
        for number, moment in enumerate(course.moments):
            step = situation.reference.steps[moment.step]
            if moment.needed + len(moment.held_by) < 2 or not arises(situation, step):
                continue
            cover = course.covers[moment.step]
            facts.add(_muster(situation, course, cover, moment.needed, moment.free,
                              moment.held_by, ("muster", moment.step), number))
    _add_meetings(situation, facts)


def _muster(
    situation: Situation, course: Course, cover: StepCover, needed: int, free: int,
    held_by: tuple[str, ...], key: tuple[str, ...], order: int,
) -> Fact:
    step = cover.duty.step
    need = "essential" if step.id in course.needed else step.need
    steps = situation.reference.steps
    values = base(course, cover)
    values["piecesNeeded"] = (needed,)
    values["piecesFree"] = (free,)
    values["wanted"] = refs(cover.duty.first_line or cover.duty.good)
    values["usableNow"] = refs(tuple(dict.fromkeys(w.pattern for w in cover.ways)))
    values["usableNames"] = (names(situation, list(dict.fromkeys(w.pattern for w in cover.ways))),)
    if held_by:
        values["heldByNames"] = ("; ".join(steps[s].name for s in held_by),)
        values["heldBy"] = refs(held_by)
    return Fact(
        slug(key), (MUSTER_CLASS.get(need, "OtherMuster"),), values, order=order,
        suggest=lambda: for_step(situation, cover, more=True),
        explain=lambda: step_lines(situation, cover),
    )


def _add_meetings(situation: Situation, facts: Facts) -> None:
    """Two operators at one moment: each needed step of one while the other works on."""
    if situation.hands.operators < 2 or len(situation.courses) < 2:
        return
    for first in situation.courses:
        for second in situation.courses:
            if first is second:
                continue
            for step, moment in first.allocator_with(second).items():
                cover = second.covers[step]
                key = ("meeting", first.procedure.id, step)
                facts.add(_muster(situation, second, cover, moment.needed, moment.free,
                                  moment.held_by, key, cover.duty.step.order))


def add_losses(situation: Situation, facts: Facts) -> None:
    """One fact per piece that a needed step uses: steps that its loss would stop."""
    for course in situation.courses:
        stopped = course.allocator.losses(course.steps)
        for key in course.allocator.tested(course.steps):
            facts.add(_loss(situation, course, key, stopped.get(key, ())))


def _loss(situation: Situation, course: Course, key: Key, steps: tuple[str, ...]) -> Fact:
    held = next(h for h in situation.contents.held if (h.key, h.beside) == key)
    spare = {r.subject: r.because for r in course.procedure.redundancy}
    drop_prone = any(situation.reference.steps[s].drop_prone for s in steps)
    values: dict[str, tuple[Value, ...]] = {
        "ofPiece": refs(held.choices),
        "pieceName": (_name(situation, held.pattern),),
        "procedureName": (course.procedure.name,),
        "ofProcedure": (thing(course.procedure.id),),
        "stepsStopped": (len(steps),),
        "piecesHeld": (min(held.count, PLENTY),),
    }
    if steps:
        values["ofStep"] = refs(steps)
        values["stepName"] = ("; ".join(situation.reference.steps[s].name for s in steps),)
        because = [spare[s] for s in steps if s in spare]
        if because:
            values["spareBecause"] = (because[0],)
    first = course.covers[steps[0]] if steps else None
    return Fact(
        slug(("loss", course.procedure.id, held.key)),
        ("DropProneLoss" if drop_prone else "PieceLoss",), values,
        order=first.duty.step.order if first else 0, place=_line(held.place),
        suggest=(lambda: for_step(situation, first, more=True)) if first else None,
    )


def _line(place: Place) -> Place | None:
    return place if place.row else None


__all__ = ["Ref", "add_covers", "add_losses", "add_musters", "names", "refs"]
