"""Example briefs: stock, ceiling and rules are kept, and what cannot be done is said.

What must not be on a tray is written here again in ids, since the briefs say it in sentences.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from etui.trays.compose import compose
from etui.trays.situation import Bench

CASES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "cases" / "briefs.json").read_text(encoding="utf-8")
)
NEVER: dict[str, set[str]] = {
    "B001": {
        "lebsche-knife",
        "retractor-rib-approximator",
        "suture-needle-cutting",
        "scalpel-blade-11",
    },
    "B002": {"stylet-tube", "guidewire-j", "drain-chest-trocar", "seal-chest-vented"},
    "B003": {"haemostat-kocher", "retractor-balfour", "scissors-episiotomy"},
    "B004": {"scalpel-handle-4", "needle-holder-mayo-hegar", "scissors-operating-ss"},
    "B005": {"brace-hudson", "perforator-clutch", "osteotome", "gouge", "mallet", "gigli-wire"},
}
SAID: dict[str, set[str]] = {
    # things that must be named as lacking
    "B001": {"clamp-debakey-aortic", "mallet"},
    "B003": {"clamp-green-armytage"},
    "B004": {"retractor-desmarres", "tonometer-handheld"},
    "B005": {"perforator-cranial", "burr-cranial", "drill-cranial-powered"},
}


@pytest.fixture(scope="module", params=CASES, ids=[c["case"] for c in CASES])
def answered(request: pytest.FixtureRequest, bench: Bench) -> tuple[dict[str, Any], dict[str, Any]]:
    case = request.param
    keys = (
        "title",
        "procedures",
        "operator",
        "constraints",
        "piece_ceiling",
        "piece_ceiling_excludes",
    )
    brief = {key: case[key] for key in keys}
    brief["stock"] = [{"name": s["name"], "count": s["count"]} for s in case["stock"]]
    return case, compose(brief, bench.reference, bench.reader, bench.grader.judge, bench=bench)


def test_within_stock_and_ceiling(answered: tuple[dict[str, Any], dict[str, Any]]) -> None:
    case, got = answered
    stock = {s["name"]: s for s in case["stock"]}
    counted = 0
    for line in got["tray"]:
        assert line["count"] <= stock[line["name"]]["count"]
        assert line["id"] == stock[line["name"]]["id"]
        if line["id"] not in case["piece_ceiling_excludes"]:
            counted += line["count"]
    assert counted <= case["piece_ceiling"]


def test_the_verdict(answered: tuple[dict[str, Any], dict[str, Any]]) -> None:
    case, got = answered
    if case["good_tray"]:
        assert got["verdict"] in ("fit", "fit-with-remarks")
        assert got["tray"]
    else:
        assert got["verdict"] == "unfit"
        assert got["tray"] == []
        assert got["why"]
    assert got["proof"]["optimal"] is True


def test_nothing_that_must_not_be_there(answered: tuple[dict[str, Any], dict[str, Any]]) -> None:
    case, got = answered
    there = {line["id"] for line in got["tray"]}
    assert not there & NEVER[case["case"]]
    # what is only set aside is no tray, but holds no useless part either
    aside = {line["id"] for line in got.get("set_aside", [])}
    assert not aside & NEVER[case["case"]]


def test_parts_come_with_their_partners(answered: tuple[dict[str, Any], dict[str, Any]]) -> None:
    _, got = answered
    have = {line["id"]: line["count"] for line in got["tray"]}
    small = {i for i in have if i in {"scalpel-blade-10", "scalpel-blade-11", "scalpel-blade-15"}}
    assert not small or "scalpel-handle-3" in have
    assert "scalpel-blade-22" not in have or "scalpel-handle-4" in have
    assert ("gigli-wire" in have) == (have.get("gigli-handle", 0) >= 2)
    if "drain-chest" in have:
        assert {"seal-underwater", "valve-heimlich"} & set(have)


def test_what_is_lacking_is_named(answered: tuple[dict[str, Any], dict[str, Any]]) -> None:
    case, got = answered
    named = {thing["id"] for gap in got["gaps"] for thing in gap["obtain"]}
    for wanted in SAID.get(case["case"], set()):
        assert wanted in named, wanted
    for gap in got["gaps"]:
        assert gap["text"].endswith((".", "?"))
        assert {"step", "text", "obtain", "by_hand"} <= gap.keys()


def test_by_hand_is_offered_where_hands_do_it(
    answered: tuple[dict[str, Any], dict[str, Any]],
) -> None:
    case, got = answered
    if case["case"] == "B001":
        aorta = next(g for g in got["gaps"] if g["step"].endswith("/occlude-aorta"))
        assert {"manoeuvre-aortic-hand"} <= {h["id"] for h in aorta["by_hand"]}


def test_the_composed_tray_passes_its_own_check(
    answered: tuple[dict[str, Any], dict[str, Any]],
) -> None:
    _, got = answered
    order = ("fit", "fit-with-remarks", "unfit")
    assert order.index(got["verdict"]) >= order.index(got["check"]["verdict"])
