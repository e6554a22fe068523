"""The solver on made-up problems, against counting everything through."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etui.trays.compose_problem import RANK, Assembly, Duty, Lot, Plan, Problem, Way
from etui.trays.compose_served import served
from etui.trays.compose_solve import solve

ONE = Assembly(needs=((0, 1),))


def lot(name: str, count: int, **more: object) -> Lot:
    return Lot(name=name, count=count, **more)


def duty(step: str, *ways: tuple[int, str], **more: object) -> Duty:
    return Duty(
        step=step,
        procedure="p",
        need=more.pop("need", "essential"),
        ways=tuple(Way(assembly=a, grade=g) for a, g in ways),
        **more,
    )


def problem(
    lots: list[Lot],
    assemblies: list[tuple[tuple[int, int], ...]],
    duties: list[Duty],
    **more: object,
) -> Problem:
    return Problem(
        lots=tuple(lots),
        assemblies=tuple(Assembly(needs=a) for a in assemblies),
        duties=tuple(duties),
        approaches=more.pop("approaches", {"p": ()}),
        **more,
    )


KNIVES = [lot("handle", 2), lot("blade", 5), lot("joined knife", 1), lot("shears", 1)]
CUTS = [((0, 1), (1, 1)), ((2, 1),), ((3, 1),)]


def value(plan: Plan, aim: str) -> float:
    return next(level.value for level in plan.levels if level.aim == aim)


def test_the_joined_knife_is_one_piece_less() -> None:
    plan = solve(problem(KNIVES, CUTS, [duty("cut", (0, "preferred"), (1, "preferred"))]))
    assert plan.pieces == (0, 0, 1, 0)
    assert plan.optimal


def test_a_spare_survives_the_loss_of_any_piece() -> None:
    cut = duty("cut", (0, "preferred"), (1, "preferred"), hinge=True, spare_asked=True)
    plan = solve(problem(KNIVES, CUTS, [cut]))
    # one joined knife and one put together: any one piece may fall
    assert plan.pieces == (1, 1, 1, 0)
    assert not plan.served[0].no_spare


def test_a_blade_does_not_spare_a_handle() -> None:
    alone = [lot("handle", 1), lot("blade", 5)]
    cut = duty("cut", (0, "preferred"), hinge=True, spare_asked=True)
    plan = solve(problem(alone, [((0, 1), (1, 1))], [cut]))
    assert plan.served[0].no_spare
    assert plan.pieces == (1, 1), "a second blade without a second handle is no reserve"


def test_an_expedient_is_taken_only_when_nothing_better_is_there() -> None:
    both = [duty("cut", (1, "acceptable"), (2, "improvised"))]
    assert solve(problem(KNIVES, CUTS, both)).pieces == (0, 0, 1, 0)
    poor = [duty("cut", (2, "improvised"))]
    plan = solve(problem(KNIVES, CUTS, poor))
    assert plan.pieces == (0, 0, 0, 1)
    assert value(plan, "essential steps served") == 1.0


def test_pieces_in_use_at_one_moment_are_different_pieces() -> None:
    lots = [lot("clamp", 3)]
    duties = [duty("hold", (0, "preferred")), duty("close", (0, "preferred"))]
    apart = solve(problem(lots, [((0, 1),)], duties))
    assert apart.pieces == (1,)
    together = solve(problem(lots, [((0, 1),)], duties, moments=((0, 1),)))
    assert together.pieces == (2,)


def test_a_step_that_takes_several_pieces_gets_them() -> None:
    plan = solve(
        problem([lot("clamp", 6)], [((0, 1),)], [duty("clip", (0, "preferred"), together=4)])
    )
    assert plan.pieces == (4,)


def test_never_more_than_the_stock_or_the_ceiling() -> None:
    wide = [duty("clip", (0, "preferred"), together=9)]
    assert solve(problem([lot("clamp", 3)], [((0, 1),)], wide)).pieces == (3,)
    assert solve(problem([lot("clamp", 9)], [((0, 1),)], wide, ceiling=2)).pieces == (2,)
    free = solve(problem([lot("swab", 9, counted=False)], [((0, 1),)], wide, ceiling=2))
    assert free.pieces == (9,)


def test_packs_are_drawn_whole() -> None:
    plan = solve(
        problem(
            [lot("swab", 12, pack=5)], [((0, 1),)], [duty("press", (0, "preferred"), together=6)]
        )
    )
    assert plan.pieces == (10,)


def test_what_is_taken_for_something_else_with_harm_stays_apart() -> None:
    lots = [lot("right", 1), lot("alike", 1)]
    duties = [
        duty("sew", (0, "preferred")),
        duty("close", (1, "preferred"), need="closing"),
    ]
    apart = solve(problem(lots, [((0, 1),), ((1, 1),)], duties, clashes=((0, 1, 1),)))
    assert apart.pieces == (1, 0)
    assert solve(problem(lots, [((0, 1),), ((1, 1),)], duties)).pieces == (1, 1)


def test_a_piece_that_harms_when_reached_for_is_worth_no_closing_step() -> None:
    lots = [lot("danger", 1, danger=1)]
    closing = duty("close", (0, "preferred"), need="closing")
    assert solve(problem(lots, [((0, 1),)], [closing])).pieces == (0,)
    assert solve(problem(lots, [((0, 1),)], [duty("sew", (0, "preferred"))])).pieces == (1,)


def test_the_standard_approach_is_taken_when_both_are_whole() -> None:
    lots = [lot("long", 3), lot("short", 1)]
    duties = [
        duty("a", (0, "preferred"), approaches=("standard",)),
        duty("b", (1, "preferred"), approaches=("other",)),
    ]
    more = {"approaches": {"p": ("standard", "other")}, "approach_cost": {"p/other": 1}}
    plan = solve(problem(lots, [((0, 2),), ((1, 1),)], duties, **more))
    assert plan.approaches == {"p": "standard"}
    lots[0] = lot("long", 1)
    plan = solve(problem(lots, [((0, 2),), ((1, 1),)], duties, **more))
    assert plan.approaches == {"p": "other"}


def test_a_step_that_waits_for_a_thing_asks_for_nothing_without_it() -> None:
    lots = [lot("knife", 1), lot("mallet", 1)]
    duties = [
        duty("cut", (0, "preferred")),
        duty("strike", (1, "preferred"), need="conditional", only_with=(0,)),
    ]
    assert solve(problem(lots, [((0, 1),), ((1, 1),)], duties)).pieces == (1, 1)
    assert solve(problem(lots, [((0, 1),), ((1, 1),)], duties[1:])).pieces == (0, 0)


def test_required_and_barred() -> None:
    lots = [lot("a", 1), lot("b", 2, required=2)]
    plan = solve(problem(lots, [((0, 1),), ((1, 1),)], [duty("x", (0, "preferred"))]))
    assert plan.pieces == (1, 2)
    lots = [lot("a", 1, barred=True), lot("b", 1)]
    plan = solve(
        problem(lots, [((0, 1),), ((1, 1),)], [duty("x", (0, "preferred"), (1, "acceptable"))])
    )
    assert plan.pieces == (0, 1)


def test_wishes_that_contradict_one_another_are_not_feasible() -> None:
    lots = [lot("a", 1, required=2)]
    assert not solve(problem(lots, [((0, 1),)], [])).feasible
    lots = [lot("a", 3, required=3)]
    assert not solve(problem(lots, [((0, 1),)], [], ceiling=2)).feasible


def test_the_next_best_differs() -> None:
    lots = [lot("a", 1), lot("b", 1)]
    task = problem(lots, [((0, 1),), ((1, 1),)], [duty("x", (0, "preferred"), (1, "acceptable"))])
    first = solve(task)
    assert first.pieces == (1, 0)
    fields = {name: getattr(task, name) for name in Problem.__struct_fields__}
    second = solve(Problem(**{**fields, "excluded": (((0, 1),),)}))
    assert second.pieces != first.pieces
    assert second.served[0].grade is not None


def _essential(task: Problem, pieces: tuple[int, ...]) -> float:
    cost = 0.0
    for found in served(task, pieces, {}):
        if found.grade is None:
            cost += 5.0
        elif RANK[found.grade] > RANK["acceptable"]:
            cost += 1.0
    return cost


@st.composite
def small_problems(draw: st.DrawFn) -> Problem:
    lots = [lot(f"l{i}", draw(st.integers(0, 2))) for i in range(4)]
    assemblies = draw(
        st.lists(
            st.lists(st.integers(0, 3), min_size=1, max_size=2, unique=True).map(
                lambda ids: tuple((i, 1) for i in sorted(ids))
            ),
            min_size=1,
            max_size=5,
            unique=True,
        )
    )
    grades = st.sampled_from(["preferred", "acceptable", "improvised"])
    duties = [
        duty(
            f"s{n}",
            *draw(
                st.lists(
                    st.tuples(st.integers(0, len(assemblies) - 1), grades),
                    max_size=3,
                    unique_by=lambda way: way[0],
                )
            ),
        )
        for n in range(draw(st.integers(1, 4)))
    ]
    return problem(lots, assemblies, duties)


@settings(max_examples=60, deadline=None)
@given(small_problems())
def test_no_selection_serves_more_or_as_much_with_fewer_pieces(task: Problem) -> None:
    plan = solve(task)
    assert plan.optimal
    every = list(product(*(range(x.count + 1) for x in task.lots)))
    least = min(_essential(task, pieces) for pieces in every)
    assert _essential(task, plan.pieces) == least == value(plan, "essential steps served")
    first_line = value(plan, "first line for essential steps")

    def missed(pieces: tuple[int, ...]) -> int:
        return sum(s.grade != "preferred" for s in served(task, pieces, {}))

    equals = [p for p in every if _essential(task, p) == least]
    assert first_line == min(missed(p) for p in equals)
    shortest = min(sum(p) for p in equals if missed(p) == first_line)
    assert sum(plan.pieces) == shortest


@pytest.mark.parametrize("name", ["value", "bound"])
def test_the_proof_states_the_bound_of_every_aim(name: str) -> None:
    plan = solve(problem(KNIVES, CUTS, [duty("cut", (0, "preferred"), (1, "preferred"))]))
    assert len(plan.levels) >= 8
    for level in plan.levels:
        assert level.optimal
        assert getattr(level, name) == pytest.approx(level.value, abs=1e-6)
