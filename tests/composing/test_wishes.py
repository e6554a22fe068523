"""Wishes in plain words: what fixed wordings settle, and nothing more."""

from __future__ import annotations

import pytest

from etui.trays.compose_sizes import size_range
from etui.trays.compose_wishes import Wishes, hear, stems

NAMES = [
    "Disposable scalpel (handle and blade in one)",
    "Mayo scissors, curved",
    "Gauze swab 10 x 10 cm",
    "Surgical mallet",
    "Clutch-type cranial perforator",
    "Hudson brace (hand cranial drill)",
    "Suture thread with or without needle",
    "Iris scissors",
]


def match(phrase: str) -> tuple[int, ...]:
    words = stems(phrase)
    return tuple(i for i, name in enumerate(NAMES) if words and words <= stems(name))


def heard(*texts: str) -> Wishes:
    return hear(texts, match)


@pytest.mark.parametrize(
    ("text", "ceiling"),
    [
        ("at most 12 pieces", 12),
        ("no more than twelve instruments", 12),
        ("12 pieces at most", 12),
        ("up to 20 items", 20),
        ("maximum of 9 pieces", 9),
        ("the box has 12 compartments", None),
        ("12 mm at most", None),
    ],
)
def test_ceilings(text: str, ceiling: int | None) -> None:
    assert heard(text).ceiling == ceiling


def test_the_lower_of_two_ceilings_holds() -> None:
    assert heard("at most 12 pieces", "at most 9 pieces").ceiling == 9


def test_what_is_not_counted() -> None:
    wishes = heard("at most 12 pieces, swabs not counted")
    assert wishes.ceiling == 12
    assert wishes.uncounted == (2,)


@pytest.mark.parametrize(
    "text",
    [
        "no mallet is in stock",
        "the mallet is broken",
        "mallet is at the steriliser",
        "there is no mallet",
        "no mallet",
        "without a mallet",
        "never use it",
    ],
)
def test_what_is_not_to_hand_or_not_wanted_is_left_out(text: str) -> None:
    barred = heard(text).barred
    assert (3 in barred) == ("mallet" in text)


@pytest.mark.parametrize(
    "text",
    [
        "must have Mayo scissors",
        "always include the Mayo scissors",
        "the Mayo scissors must be on the tray",
    ],
)
def test_what_must_be_there(text: str) -> None:
    assert heard(text).required == {1: 1}


def test_how_many_must_be_there() -> None:
    assert heard("must have two Iris scissors").required == {7: 2}


@pytest.mark.parametrize(
    "text",
    [
        "gloves, tape and suction are kept alongside",
        "kept alongside: gloves, tape, suction",
        "gloves, tape and suction beside the tray",
    ],
)
def test_what_is_kept_alongside(text: str) -> None:
    assert heard(text).beside == ("gloves", "tape", "suction")


def test_descriptions_belong_to_their_own_line() -> None:
    wishes = heard("the Iris scissors are sharp-pointed, the Mayo scissors blunt")
    assert wishes.described == {1: ("blunt",), 7: ("sharp-pointed",)}


def test_what_does_not_fit_and_what_the_place_lacks() -> None:
    wishes = heard(
        "the clutch perforator is made for a powered drill, which the hospital does not have; "
        "it does not fit the Hudson brace"
    )
    assert wishes.misfits == ((4, 5),)
    assert "powered drill" in wishes.absent


def test_single_use() -> None:
    assert heard("no steriliser on the boat: single-use where there is a choice").single_use
    assert not heard("one table-top steriliser").single_use


def test_at_the_same_time() -> None:
    assert heard("two operators at the same time").at_once


@pytest.mark.parametrize(
    "text",
    [
        "must fit one hand-sized pouch",
        "the task asks for a tray that can be used today",
        "one person must be able to start with the first two things out of the pouch",
        "blue lid, please",
        "ask Maria first",
    ],
)
def test_what_is_not_understood_is_handed_back(text: str) -> None:
    wishes = heard(text)
    assert [s.text for s in wishes.statements if not s.taken] == [text]
    assert not wishes.required
    assert not wishes.barred


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("4-0 to 6-0", 4, 6),
        ("6-0 to 4-0", 4, 6),
        ("needles 2-0 and heavier", -float("inf"), 2),
        ("6-0 and finer", 6, float("inf")),
        ("silk 3-0", 3, 3),
        ("2 to 4-0", -2, 4),
    ],
)
def test_sizes_of_thread(text: str, low: float, high: float) -> None:
    found = size_range(text)
    assert found is not None
    assert (found.low, found.high) == (low, high)


def test_no_size_is_no_size() -> None:
    assert size_range("shallow work; lock lets go with more squeeze") is None
