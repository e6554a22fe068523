"""What a sentence says of tissue, patient and manner."""

from __future__ import annotations

import pytest

from etui.judging.circumstance import CircumstanceReader
from etui.judging.wording import cut, stem, stems, tokens


@pytest.fixture(scope="module")
def around(reference) -> CircumstanceReader:
    return CircumstanceReader(reference)


@pytest.mark.parametrize(
    ("text", "manners"),
    [
        ("Kocher, toothed, closed on the vein", ("locked",)),
        ("Mayo scissors pushed along blind", ("blind",)),
        ("No. 11 blade run along unseen inside", ("blind",)),
        ("Curved Mayo over two fingers laid inside", ("guarded",)),
        ("Mayo, tips half open, under sight", ("push_cut", "under_vision")),
        ("Spencer Wells, closed tip then spread", ("closed", "opened")),
        ("Kitchen scissors boiled in a pan", ("boiled",)),
        ("Laparotomy pad", ()),
        ("Workshop hammer", ()),
        ("Felt pledgets", ()),
        ("Forceps with a guarded jaw name of Smith", ("guarded",)),
        ("Blind man's stick", ("blind",)),
    ],
)
def test_manners_are_read_as_spoken(around: CircumstanceReader, text: str, manners) -> None:
    assert around.manners(text).ids == manners


def test_a_manner_does_not_reach_over_a_comma(around: CircumstanceReader) -> None:
    assert around.manners("Clamp closed, on the tray").ids == ()


@pytest.mark.parametrize(
    ("text", "states"),
    [
        ("nick a tight sac", ("tense",)),
        ("a slack sac", ("slack",)),
        ("the bleeding edge of the womb", ("bleeding",)),
        ("cut the skin", ()),
    ],
)
def test_states_are_read(around: CircumstanceReader, text: str, states) -> None:
    assert around.states(text) == states


def test_patients_are_read(around: CircumstanceReader) -> None:
    assert around.patient("airway in a small child") == "child"
    assert around.patient("cord of a newborn") == "newborn"
    assert around.patient("deliver the baby") is None


def test_a_site_counts_only_where_the_step_makes_a_difference_by_it(around, reference) -> None:
    joint = reference.steps["escharotomy/joint"]
    assert around.read(joint, "release over the elbow").site is not None
    other = reference.steps["tube-thoracostomy/open-pleura"]
    assert around.read(other, "release over the elbow").site is None


def test_spelling_and_endings_are_levelled() -> None:
    assert stems("haemostasis of the oesophagus") == stems("hemostasis of the esophagus")
    assert stem("tied") == stem("tie") or stem("ties") == stem("tie")
    assert stems("artery's") == stems("artery")


def test_what_comes_first_counts_more() -> None:
    weights = {t.stem: t.weight for t in tokens("hold the hole open while the bougie is sought")}
    assert weights[stem("hole")] > weights[stem("bougie")]


def test_cutting_leaves_clean_words() -> None:
    text = "Mayo scissors, boiled, curved"
    start = text.index("boiled")
    assert cut(text, [(start, start + 6)]) == "Mayo scissors, curved"
