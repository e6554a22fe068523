"""Turn one fact: the grade moves the right way, or not at all."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from etui.judging import Candidate, Circumstance, Judge, Piece
from etui.knowledge.model import GRADES, Demand, Limit, Range, Step
from etui.reading.model import Attributes

from .conftest import plain, rank

LENGTHS = (60.0, 90.0, 110.0, 130.0, 150.0, 170.0, 200.0, 230.0, 260.0, 300.0, 350.0)


def caps_length(step: Step) -> bool:
    """Whether the step itself asks for a short piece: then a shorter one may rightly be better."""
    return any(
        (d.feature == "length_mm" and d.compare in ("at_most", "between", "is", "one_of"))
        or (d.level == "never" and d.feature == "length_mm") for d in step.demands
    )


def pairs(judge: Judge, count: int, seed: int) -> list[tuple[str, str]]:
    """Some (step, pattern) pairs, half of them judged by somebody."""
    chooser = random.Random(seed)
    steps = sorted(judge.reference.steps)
    patterns = sorted(judge.reference.patterns)
    stated = sorted(
        (step.id, j.subject) for step in judge.reference.steps.values() for j in step.judgements
        if j.subject in judge.reference.patterns
    )
    return [
        *chooser.sample(stated, count // 2),
        *((chooser.choice(steps), chooser.choice(patterns)) for _ in range(count // 2)),
    ]


def test_a_shorter_piece_is_never_better(judge: Judge) -> None:
    moved = tried = 0
    for step, pattern in pairs(judge, 600, 1):
        if caps_length(judge.reference.steps[step]):
            continue
        ranks = [rank(judge.judge(step, plain(pattern, length_mm=mm))) for mm in LENGTHS]
        assert ranks == sorted(ranks, reverse=True), (step, pattern, ranks)
        moved += ranks[0] != ranks[-1]
        tried += 1
    assert tried > 300
    assert moved > 30


def test_a_guard_never_lowers(judge: Judge) -> None:
    raised = 0
    for step, pattern in pairs(judge, 600, 2):
        for manners in ((), ("blind",), ("forceful",), ("unguarded",)):
            pieces = (Piece(id=pattern),)
            bare = judge.judge(step, Candidate(pieces=pieces, manners=manners))
            for guard in sorted(judge.book.guard_manners):
                kept = judge.judge(step, Candidate(pieces=pieces, manners=(*manners, guard)))
                assert rank(kept) <= rank(bare), (step, pattern, manners, guard)
                raised += rank(kept) < rank(bare)
    assert raised > 20


def test_a_harder_manner_never_raises(judge: Judge) -> None:
    lowered = 0
    for step, pattern in pairs(judge, 400, 3):
        usual = judge.judge(step, plain(pattern))
        for manner in ("blind", "unguarded", "opened_then_closed_inside", "unsterile", "levered"):
            worse = judge.judge(step, Candidate(pieces=(Piece(id=pattern),), manners=(manner,)))
            assert rank(worse) >= rank(usual), (step, pattern, manner)
            lowered += rank(worse) > rank(usual)
    assert lowered > 50


def test_removing_a_partner_makes_every_unit_unable(judge: Judge) -> None:
    tried = 0
    for unit in judge.reference.units.values():
        actions = list(unit.actions)
        steps = [s for s in judge.reference.steps.values() if s.action in actions]
        if len(unit.slots) < 2 or not steps:
            continue
        for slot in unit.slots:
            lead_slot = next(s for s in unit.slots if s is not slot)
            lead = next((a for a in lead_slot.alternatives if a in judge.reference.patterns), None)
            if lead is None or lead in slot.alternatives:
                continue
            for missing in (slot.alternatives[0],):
                if missing not in judge.reference.patterns:
                    continue
                candidate = Candidate(pieces=(Piece(id=lead),), absent=(missing,))
                answer = judge.judge(steps[0].id, candidate)
                if slot.without is not None:
                    # Stated as a part that can be done without: never better than stated.
                    assert answer.grade is not None
                    assert GRADES.index(answer.grade) >= GRADES.index(slot.without), unit.id
                    continue
                assert answer.grade in ("unable", "unsafe"), (unit.id, lead, missing, answer.grade)
                tried += 1
    assert tried > 60


def with_step(judge: Judge, step: Step) -> Judge:
    """A judge on a graph with one step changed; neighbours' votes stay as they were."""
    steps = {**judge.reference.steps, step.id: step}
    other = Judge(replace(judge.reference, steps=steps, version=""), judge.book)
    other.__dict__["votes"] = judge.votes
    return other


def stricter(step: Step) -> list[Step]:
    """The step with one demand or limit made stricter in turn."""
    out = []
    for place, demand in enumerate(step.demands):
        if demand.feature == "length_mm" and demand.compare == "at_least":
            harder = replace(demand, values=(str(float(demand.values[0]) + 80),))
            out.append(replace(step, demands=_put(step.demands, place, harder)))
        if demand.level == "should":
            harder = replace(demand, level="must")
            out.append(replace(step, demands=_put(step.demands, place, harder)))
    never = Demand(
        id=f"{step.id}.added", level="never", feature="lock", compare="is", values=("ratchet",),
        hazard="crushes_preserved",
    )
    out.append(replace(step, demands=(*step.demands, never)))
    added = Demand(
        id=f"{step.id}.added", level="must", feature="length_mm", compare="at_least",
        values=("180",),
    )
    out.append(replace(step, demands=(*step.demands, added)))
    for kind in ("blunt", "crushing", "cutting", "piercing_fine"):
        rows = tuple(
            replace(r, permitted_trauma=tuple(k for k in r.permitted_trauma if k != kind))
            for r in step.limits
        )
        if rows != step.limits and all(r.permitted_trauma for r in rows):
            out.append(replace(step, limits=rows))
    narrow = tuple(_narrower(row) for row in step.limits)
    if narrow != step.limits:
        out.append(replace(step, limits=narrow))
    return out


def _put(demands: tuple[Demand, ...], place: int, demand: Demand) -> tuple[Demand, ...]:
    return (*demands[:place], demand, *demands[place + 1:])


def _narrower(row: Limit) -> Limit:
    width = row.measures.get("widest_working_end_mm")
    if width is None:
        return row
    half = Range(low=width.low / 3, high=width.high / 3)
    return replace(row, measures={**row.measures, "widest_working_end_mm": half})


def test_a_stricter_demand_never_raises_a_derived_grade(judge: Judge) -> None:
    chooser = random.Random(4)
    lowered = tried = 0
    for id_ in chooser.sample(sorted(judge.reference.steps), 40):
        step = judge.reference.steps[id_]
        patterns = [
            p for p in chooser.sample(sorted(judge.reference.patterns), 60)
            if judge.stated.of(id_, p) is None
        ]
        patterns += [
            p.id for p in judge.reference.patterns.values()
            if judge.stated.of(id_, p.id) is None
            and any(o.action == step.action for o in p.offers)
        ][:25]
        before = {p: rank(judge.judge(id_, plain(p))) for p in patterns}
        for harder in stricter(step):
            other = with_step(judge, harder)
            for pattern in patterns:
                after = rank(other.judge(id_, plain(pattern)))
                assert after >= before[pattern], (id_, pattern)
                lowered += after > before[pattern]
                tried += 1
    assert tried > 5000
    assert lowered > 100


def test_a_harder_state_never_raises(judge: Judge) -> None:
    for step, pattern in pairs(judge, 300, 5):
        usual = judge.judge(step, plain(pattern))
        for state in ("tense", "friable"):
            harder = judge.judge(step, plain(pattern), Circumstance(states=(state,)))
            assert rank(harder) >= rank(usual), (step, pattern, state)


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_no_order_matters(judge: Judge, data: st.DataObject) -> None:
    """Pieces, manners, states, and the order of records: the answer is the same."""
    unit = data.draw(st.sampled_from(sorted(judge.reference.units)))
    slots = judge.reference.units[unit].slots
    pieces = [
        Piece(id=s.alternatives[0], count=s.count) for s in slots
        if s.alternatives[0] in judge.reference.patterns
    ]
    if not pieces:
        return
    step = data.draw(st.sampled_from(sorted(
        s.id for s in judge.reference.steps.values()
        if s.action in judge.reference.units[unit].actions
    ) or sorted(judge.reference.steps)))
    manners = ["under_vision", "guarded", "gentle"]
    states = ["tense", "bleeding"]
    first = judge.judge(
        step, Candidate(text="unit", pieces=tuple(pieces), manners=tuple(manners)),
        Circumstance(states=tuple(states)),
    )
    second = judge.judge(
        step,
        Candidate(
            text="unit", pieces=tuple(data.draw(st.permutations(pieces))),
            manners=tuple(data.draw(st.permutations(manners))),
        ),
        Circumstance(states=tuple(data.draw(st.permutations(states)))),
    )
    assert (first.grade, first.careful, first.hazards) == (
        second.grade, second.careful, second.hazards
    )


def test_the_order_of_records_does_not_matter(judge: Judge) -> None:
    chooser = random.Random(6)

    def shuffled(items: tuple) -> tuple:
        items = list(items)
        chooser.shuffle(items)
        return tuple(items)

    def mapped(table: dict) -> dict:
        return {key: table[key] for key in shuffled(tuple(table))}

    steps = {
        id_: replace(
            s, judgements=shuffled(s.judgements), limits=shuffled(s.limits),
            demands=shuffled(s.demands), techniques=shuffled(s.techniques),
        ) for id_, s in judge.reference.steps.items()
    }
    patterns = {
        id_: replace(p, offers=p.offers, forms=shuffled(p.forms))
        for id_, p in judge.reference.patterns.items()
    }
    turned = Judge(
        replace(
            judge.reference, steps=mapped(steps), patterns=mapped(patterns), version="",
            units=mapped(judge.reference.units),
        ),
        judge.book,
    )
    for step, pattern in pairs(judge, 300, 7):
        a, b = judge.judge(step, plain(pattern)), turned.judge(step, plain(pattern))
        assert (a.grade, a.careful, a.stated, a.hazards) == (
            b.grade, b.careful, b.stated, b.hazards
        ), (step, pattern)


@pytest.mark.parametrize("form", ["sharp", "blunt"])
def test_the_form_on_the_line_decides_for_patterns_that_come_in_both(judge: Judge, form) -> None:
    both = [
        p for p in judge.reference.patterns.values()
        if {"sharp", "blunt"} <= {f.form for f in p.forms}
    ]
    assert both
    worse = 0
    for step in judge.reference.steps.values():
        if not any(
            d.level == "never" and d.feature == "tip" and "sharp" in d.values
            and d.condition is None for d in step.demands
        ):
            continue
        for pattern in both:
            chosen = judge.judge(step.id, plain(pattern.id, form=form))
            if form == "sharp":
                if chosen.role is None:  # a side task does not touch what the never protects
                    assert chosen.grade not in ("preferred", "acceptable")
            else:
                sharp = Attributes(form="sharp")
                other = judge.judge(
                    step.id, Candidate(pieces=(Piece(id=pattern.id, attributes=sharp),))
                )
                assert rank(chosen) <= rank(other)
                worse += rank(chosen) < rank(other)
    assert form == "sharp" or worse > 0
