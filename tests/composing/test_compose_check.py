"""Composed trays against the check that any tray gets."""

from __future__ import annotations

import random
from typing import Any

import pytest

from etui.knowledge.model import Reference
from etui.trays.compose import compose
from etui.trays.compose_build import Setting
from etui.trays.compose_check import without
from etui.trays.compose_problem import Lot, Problem
from etui.trays.situation import Bench

from .conftest import Compose

ORDER = ("fit", "fit-with-remarks", "unfit")


def cupboard(reference: Reference, procedures: list[str], seed: int) -> list[dict[str, Any]]:
    """Forty lines: most of use in these procedures, some of none, drawn by *seed*."""
    draw = random.Random(seed)
    useful = sorted(
        {
            j.subject
            for p in procedures
            for s in reference.procedures[p].steps
            for j in reference.steps[s].judgements
            if j.grade in ("preferred", "acceptable")
            and j.subject in reference.patterns
            and "manoeuvre" not in reference.patterns[j.subject].features.get("part", ())
        }
    )
    other = sorted(set(reference.patterns) - set(useful))
    chosen = draw.sample(useful, min(len(useful), 34))
    chosen += draw.sample(other, 40 - len(chosen))
    return [{"name": reference.patterns[p].name, "count": draw.randint(1, 5)} for p in chosen]


@pytest.mark.parametrize("seed", range(12))
def test_no_composed_tray_is_found_unfit(bench: Bench, seed: int) -> None:
    procedures = random.Random(seed).sample(sorted(bench.reference.procedures), 2)
    got = compose(
        {
            "procedures": procedures,
            "operator": "general duties doctor, alone",
            "stock": cupboard(bench.reference, procedures, seed),
        },
        bench.reference,
        bench.reader,
        bench.grader.judge,
        bench=bench,
    )
    assert ORDER.index(got["verdict"]) >= ORDER.index(got["check"]["verdict"])
    if got["tray"]:
        assert got["verdict"] != "unfit"
        assert not [f for f in got["check"]["findings"] if f["severity"] == "violation"]
    else:
        assert got["verdict"] == "unfit"
        assert got["why"]
        assert got["gaps"][0]["need"] == "essential"


def test_what_the_check_misses_leads_the_gaps(composed: Compose) -> None:
    got = composed(
        "peritonsillar abscess drainage",
        """
        Farabeuf retractor: 2
        Syringe, Luer: 3
        Spinal needle, 18 to 22 G: 3
        Hypodermic needle: 3
        Yankauer suction tip: 1
        Kidney dish: 1
        """,
    )
    assert got["verdict"] == "unfit"
    assert got["tray"] == []
    assert got["gaps"][0]["obtain"], got["gaps"][0]


def test_barred_lots_keep_their_reason() -> None:
    made = Setting(
        problem=Problem(
            lots=(Lot(name="a", count=1), Lot(name="b", count=1)),
            assemblies=(),
            duties=(),
            approaches={},
        ),
        barred={0: "none to hand"},
        assumed={},
        idle={},
    )
    left = without(made, {1: "it harms"})
    assert [lot.barred for lot in left.problem.lots] == [False, True]
    assert left.barred == {0: "none to hand", 1: "it harms"}
    assert not made.problem.lots[1].barred, "the first problem stays as it was"
