"""What a composed tray may rely on, and what it says about itself."""

from __future__ import annotations

import random
from typing import Any

import pytest

from etui.errors import BadInput, UnknownTerm
from etui.trays.compose import compose
from etui.trays.situation import Bench

from .conftest import Compose, counts

NECK = """
Disposable scalpel No. 10: 3
Tracheal tube introducer (bougie), coude tip: 2
Tracheal tube stylet: 2
Cuffed tracheal tube, 6.0 mm internal diameter: 2
Syringe, Luer: 2
Halsted mosquito forceps: 2
"""
WOUND = """
Webster needle holder: 1
Mayo-Hegar needle holder: 2
Adson tissue forceps, 1x2 teeth: 2
Iris scissors: 1
Mayo scissors, straight: 1
Halsted mosquito forceps: 4
Skin hook, single or double: 2
Suture thread with or without needle: 6
Gauze swab 10 x 10 cm, X-ray detectable: 20
Syringe, Luer: 4
Hypodermic needle: 4
Scalpel handle No. 3: 1
Scalpel blade No. 15: 5
Scalpel blade No. 22: 5
Kocher forceps, toothed (Ochsner): 6
Deaver retractor: 1
Sponge forceps (Foerster): 1
"""


def test_the_neck_pouch(composed: Compose) -> None:
    beside = "suction and capnograph kept alongside"
    got = composed("scalpel-bougie cricothyroidotomy", NECK, beside)
    assert got["verdict"] in ("fit", "fit-with-remarks")
    tray = counts(got)
    # second scalpel, second introducer, second tube: each is easily dropped
    assert tray["Disposable scalpel No. 10"] == 2
    assert tray["Tracheal tube introducer (bougie), coude tip"] == 2
    assert tray["Cuffed tracheal tube, 6.0 mm internal diameter"] == 2
    assert "Tracheal tube stylet" not in tray
    out = {line["name"]: line["why"] for line in got["left_out"]}
    assert "mistaken for the bougie" in out["Tracheal tube stylet"]


def test_an_honest_no_without_the_knife(composed: Compose) -> None:
    stock = "\n".join(line for line in NECK.strip().splitlines() if "scalpel" not in line)
    got = composed("scalpel-bougie cricothyroidotomy", stock)
    assert got["verdict"] == "unfit"
    assert got["tray"] == []
    first = got["gaps"][0]
    assert any("scalpel" in thing["id"] for thing in first["obtain"])


def test_a_blade_without_its_handle_is_useless(composed: Compose) -> None:
    got = composed("wound repair", WOUND)
    tray = counts(got)
    assert "Scalpel blade No. 22" not in tray
    why = next(line["why"] for line in got["left_out"] if line["name"] == "Scalpel blade No. 22")
    assert "alone" in why or "serves no step" in why


def test_every_line_serves_something(composed: Compose) -> None:
    got = composed("wound repair", WOUND)
    assert got["tray"]
    for line in got["tray"]:
        assert line["for"] or line.get("reserve_for"), line["name"]


def test_every_line_is_needed(composed: Compose, bench: Bench) -> None:
    got = composed("wound repair", WOUND)
    lines = dict(line.rsplit(": ", 1) for line in WOUND.strip().splitlines())
    full = _aims(got)
    for line in got["tray"]:
        if line["id"] in bench.lore.everyday:
            continue  # every treatment room has it, so that a stock without it does as well
        fewer = {**lines, line["name"]: str(line["count"] - 1)}
        stock = "\n".join(f"{name}: {count}" for name, count in fewer.items())
        assert _aims(composed("wound repair", stock)) > full, line["name"]


def _aims(got: dict[str, Any]) -> list[float]:
    """Values of the aims before the number of pieces, then the rest, as one list to compare."""
    return [aim["value"] for aim in got["proof"]["aims"]]


def test_the_order_of_the_stock_changes_nothing(composed: Compose) -> None:
    lines = WOUND.strip().splitlines()
    first = composed("wound repair", "\n".join(lines))
    shuffled = lines[:]
    random.Random(7).shuffle(shuffled)
    second = composed("wound repair", "\n".join(shuffled))
    assert counts(first) == counts(second)
    assert first["verdict"] == second["verdict"]


def test_more_stock_never_serves_less(composed: Compose) -> None:
    lines = WOUND.strip().splitlines()
    before = None
    for size in range(4, len(lines) + 1, 4):
        got = composed("wound repair", "\n".join(lines[:size]))
        missed = got["proof"]["aims"][0]["value"]
        assert before is None or missed <= before
        before = missed


def test_a_ceiling_is_kept_and_the_rest_is_told(composed: Compose) -> None:
    got = composed("wound repair", WOUND, "at most 9 pieces, swabs not counted")
    counted = {n: c for n, c in counts(got).items() if "swab" not in n.lower()}
    assert sum(counted.values()) <= 9
    assert got["verdict"] != "unfit"


def test_must_and_must_not(composed: Compose) -> None:
    got = composed(
        "wound repair", WOUND, must_have=["Deaver retractor"], must_not=["Iris scissors"]
    )
    tray = counts(got)
    assert tray["Deaver retractor"] == 1
    assert "Iris scissors" not in tray


def test_wishes_that_contradict_one_another(composed: Compose) -> None:
    got = composed(
        "wound repair", WOUND, "at most 1 piece", must_have=["Deaver retractor", "Iris scissors"]
    )
    assert got["verdict"] == "unfit"
    assert "cannot be met together" in got["why"]


def test_alternatives_differ_and_do_without(composed: Compose) -> None:
    got = composed("wound repair", WOUND, alternatives=2)
    others = [counts(other) for other in got["alternatives"]]
    assert len(others) == 2
    assert counts(got) not in others
    assert others[0] != others[1]
    without = composed("wound repair", WOUND, without=["Webster needle holder"])
    assert "Webster needle holder" not in counts(without)
    assert "Mayo-Hegar needle holder" in counts(without)


def test_fine_thread_wants_a_fine_holder(composed: Compose) -> None:
    got = composed("wound repair", WOUND, "thread sizes 5-0 to 6-0")
    assert "Mayo-Hegar needle holder" not in counts(got)
    why = {line["name"]: line["why"] for line in got["left_out"]}
    assert "does not suit the thread" in why["Mayo-Hegar needle holder"]


def test_what_is_kept_alongside_is_not_drawn(composed: Compose) -> None:
    beside = composed("wound repair", WOUND, "gauze swabs kept alongside")
    assert "Gauze swab 10 x 10 cm, X-ray detectable" not in counts(beside)


def test_two_operations_at_once_share_no_piece(composed: Compose) -> None:
    both = ["wound repair", "abscess drainage"]
    one = composed(both, WOUND, "one after the other")
    two = composed(both, WOUND, "both at the same time, two operators")
    assert two["pieces"] >= one["pieces"]
    assert any("at the same time" in s["meaning"] for s in two["understood"])


def test_an_unread_line_is_asked_about_and_not_used(composed: Compose) -> None:
    got = composed("wound repair", WOUND + "\nthe usual thing from the second drawer: 3\n")
    assert any("drawer" in u["text"] for u in got["unresolved"])
    assert "the usual thing from the second drawer" not in counts(got)


def test_a_line_with_none_to_hand_is_not_used(composed: Compose) -> None:
    got = composed(
        "wound repair", WOUND.replace("Webster needle holder: 1", "Webster needle holder: 0")
    )
    assert "Webster needle holder" not in counts(got)


@pytest.mark.parametrize(
    ("brief", "words"),
    [
        ([], "not an object"),
        ({"procedures": ["wound repair"]}, "not a list"),
        ({"procedures": ["wound repair"], "stock": []}, "empty"),
        ({"procedures": [], "stock": [{"name": "x", "count": 1}]}, "No procedure"),
        ({"procedures": ["wound repair"], "stock": [{"count": 1}]}, "no name"),
        ({"procedures": ["wound repair"], "stock": [{"name": "x", "count": -1}]}, "-1"),
        ({"procedures": ["wound repair"], "stock": [{"name": "x", "count": True}]}, "True"),
        ({"procedures": ["wound repair"], "stock": [{"name": "x", "count": "2"}]}, "'2'"),
        ({"procedures": ["wound repair"], "stock": [{"name": "x", "count": 10**9}]}, "1000000000"),
        ({"procedures": 3, "stock": [{"name": "x", "count": 1}]}, "3"),
        (
            {
                "procedures": ["wound repair"],
                "stock": [{"name": "x", "count": 1}],
                "piece_ceiling": -2,
            },
            "-2",
        ),
        (
            {
                "procedures": ["wound repair"],
                "stock": [{"name": "x", "count": 1}],
                "constraints": [4],
            },
            "[4]",
        ),
    ],
)
def test_a_bad_brief_is_one_clear_line(bench: Bench, brief: Any, words: str) -> None:
    with pytest.raises(BadInput) as caught:
        compose(brief, bench.reference, bench.reader, bench.grader.judge, bench=bench)
    assert words in caught.value.line
    assert "\n" not in caught.value.line


def test_an_unknown_procedure_names_the_nearest(bench: Bench) -> None:
    brief = {"procedures": ["moon landing on the chest"], "stock": [{"name": "x", "count": 1}]}
    with pytest.raises(UnknownTerm) as caught:
        compose(brief, bench.reference, bench.reader, bench.grader.judge, bench=bench)
    assert caught.value.nearest
