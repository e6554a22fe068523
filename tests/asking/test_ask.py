"""The answer of ``replace``: its shape, what it says when it cannot resolve, what it lists."""

from __future__ import annotations

import pytest

from etui.errors import BadInput
from etui.judging.ask import Asker, replace
from etui.knowledge.model import GRADES, USABLE

KEYS = {
    "step", "candidate", "grade", "stated", "asks", "careful", "reasons", "hazards", "better",
    "unresolved",
}  # fmt: skip
DRAIN = {"procedure": "tube thoracostomy", "step": "lead the drain in", "missing": "long Kelly"}


def test_the_answer_has_the_keys_of_the_contract(asker: Asker) -> None:
    answer = asker.replace({**DRAIN, "candidate": "Rochester-Pean"})
    assert set(answer) == KEYS
    assert answer["step"] == {
        "id": "tube-thoracostomy/bring-drain",
        "name": answer["step"]["name"],
    }
    assert answer["candidate"]["resolved"][0]["id"] == "haemostat-pean"
    assert answer["grade"] in GRADES
    for reason in answer["reasons"]:
        assert set(reason) == {"demand", "offer", "consequence", "source", "how_known"}
        assert reason["how_known"] in ("read", "memory", "practice", "derived")


def test_ids_and_words_get_the_same_answer(asker: Asker) -> None:
    words = asker.replace({**DRAIN, "candidate": "Rochester-Pean"})
    ids = asker.replace(
        {
            "procedure": "tube-thoracostomy",
            "step": "tube-thoracostomy/bring-drain",
            "missing": "haemostat-kelly-long",
            "candidate": "haemostat-pean",
        }
    )
    assert words["grade"] == ids["grade"]
    assert words["step"] == ids["step"]


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"procedure": "hip replacement", "step": "ream", "candidate": "Kelly"}, "procedure"),
        ({"procedure": "tube thoracostomy", "step": "remove the appendix", "candidate": "Kelly"},
         "step"),
        ({"procedure": "tube thoracostomy", "candidate": "Kelly"}, "step"),
    ],
)  # fmt: skip
def test_what_cannot_be_resolved_is_said_and_not_answered(asker: Asker, query, field) -> None:
    answer = asker.replace(query)
    assert answer["grade"] is None
    assert answer["asks"]
    assert any(u.startswith(field) for u in answer["unresolved"])


def test_an_unknown_candidate_is_said_and_never_passed(asker: Asker) -> None:
    answer = asker.replace({**DRAIN, "candidate": "Zorbulator Mark II"})
    assert answer["grade"] is None
    assert answer["careful"] not in USABLE
    assert any("Zorbulator" in u for u in answer["unresolved"])


def test_better_pieces_are_better(asker: Asker) -> None:
    answer = asker.replace({**DRAIN, "candidate": "Mosquito forceps"})
    held = GRADES.index(answer["grade"] or answer["careful"])
    assert answer["better"]
    assert all(GRADES.index(b["grade"]) < held for b in answer["better"])
    assert "haemostat-kelly-long" not in [b["id"] for b in answer["better"]]


def test_without_a_candidate_substitutes_are_listed(asker: Asker) -> None:
    answer = asker.replace(DRAIN)
    listed = answer["substitutes"]
    assert listed
    ranks = [GRADES.index(s["grade"]) for s in listed]
    assert ranks == sorted(ranks)
    assert all(s["grade"] in USABLE for s in listed)
    assert all(s["grade"] == "unsafe" for s in answer["do_not_use"])
    assert {"haemostat-kocher", "drain-chest-trocar"} <= {s["id"] for s in answer["do_not_use"]}
    assert "haemostat-kelly-long" not in [s["id"] for s in listed]
    assert any(s.get("by_hand") for s in listed)


def test_the_tray_comes_first_within_a_grade(asker: Asker) -> None:
    answer = asker.replace(
        {**DRAIN, "tray": ["2 Kelly forceps", "Kocher forceps, toothed"], "in_use": []}
    )
    same = [s for s in answer["substitutes"] if s["grade"] == "acceptable"]
    assert same[0]["from"] == "tray"
    assert answer["do_not_use"][0]["id"] == "haemostat-kocher"


def test_what_is_in_use_is_not_offered(asker: Asker) -> None:
    tray = ["1 Kelly forceps"]
    free = asker.replace({**DRAIN, "tray": tray, "in_use": []})
    busy = asker.replace({**DRAIN, "tray": tray, "in_use": ["Kelly forceps"]})

    def from_tray(answer: dict) -> list[str]:
        return [s["id"] for s in answer["substitutes"] if s["from"] == "tray"]

    assert from_tray(free) == ["haemostat-kelly"]
    assert from_tray(busy) == []


def test_a_clamp_that_holds_the_drain_shut_is_not_free(asker: Asker) -> None:
    """The timeline of the procedure, not the question, says what is held."""
    one = asker.replace({**DRAIN, "tray": ["1 Kelly forceps", "1 chest drain", "1 scalpel no. 10"]})
    two = asker.replace({**DRAIN, "tray": ["3 Kelly forceps", "1 chest drain", "1 scalpel no. 10"]})

    def kellys(answer: dict) -> int:
        return sum(
            s.get("free") or 0
            for s in answer["substitutes"]
            if s["id"] == "haemostat-kelly" and s["from"] == "tray"
        )

    assert kellys(one) == 0
    assert 0 < kellys(two) < 3


def test_costs_are_said(asker: Asker) -> None:
    answer = asker.replace({**DRAIN, "stock": [{"name": "Mosquito forceps", "count": 2}]})
    row = next(s for s in answer["substitutes"] if s["from"] == "stock")
    assert "shorter" in row["costs"]


@pytest.mark.parametrize(
    ("query", "what"),
    [
        ({"step": 5}, "step is not text"),
        ({**DRAIN, "tray": 7}, "tray is no list"),
        ({**DRAIN, "stock": [{"count": 2}]}, "entry without text"),
        ({**DRAIN, "stock": [{"name": "Kelly", "count": "two"}]}, "no whole number"),
    ],
)
def test_bad_input_gets_one_clear_line(asker: Asker, query, what) -> None:
    with pytest.raises(BadInput, match=what) as caught:
        asker.replace(query)
    assert "\n" not in caught.value.line


def test_a_question_that_is_no_object_is_refused(reference, reader, judge) -> None:
    with pytest.raises(BadInput):
        replace(["tube thoracostomy"], reference, reader, judge)  # type: ignore[arg-type]


def test_the_function_and_the_asker_agree(asker: Asker, reference, reader, judge) -> None:
    query = {**DRAIN, "candidate": "Rochester-Pean"}
    assert replace(query, reference, reader, judge) == asker.replace(query)
