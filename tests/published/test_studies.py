"""Grades against published study figures (``data/study-figures.csv`` holds figure and source)."""

from __future__ import annotations

import pytest

from etui.judging import Judge
from etui.judging.model import Candidate, Piece
from etui.knowledge import load_reference
from etui.knowledge.model import GRADES, USABLE
from etui.reading.model import Attributes
from tests.published.tables import rows

REFERENCE = load_reference()
JUDGE = Judge(REFERENCE)
FIGURES = {r["id"]: r for r in rows("study-figures.csv")}


def grade(step: str, *pieces: str | Piece) -> str:
    """The grade to work with: the careful one where a question is open."""
    answer = JUDGE.judge(
        step, Candidate(pieces=tuple(Piece(id=p) if isinstance(p, str) else p for p in pieces))
    )
    return answer.grade or answer.careful or "unable"


def rank(word: str) -> int:
    return GRADES.index(word)  # type: ignore[arg-type]


def test_every_figure_names_its_source() -> None:
    assert len(FIGURES) > 100
    assert all(r["citation"].strip() and r["how_known"].strip() for r in FIGURES.values())


@pytest.mark.parametrize(
    ("figure", "step", "piece"),
    [
        ("SF-084", "field-amputation/saw-hand", "saw-hack"),
        ("SF-085", "field-amputation/saw-power", "saw-reciprocating"),
        ("SF-086", "field-amputation/hydraulic", "cutter-hydraulic"),
    ],
)
def test_tools_that_cut_through_a_limb_in_a_study_are_not_unable(
    figure: str, step: str, piece: str
) -> None:
    """Times to cut a limb with wire saw, hacksaw, reciprocating saw and hydraulic cutter."""
    assert float(FIGURES[figure]["value"].split("+")[0]) > 0
    assert grade(step, piece) in USABLE


def test_the_wire_saw_of_the_same_study_cuts_bone_with_both_handles() -> None:
    """SF-083: 91 s with the wire saw."""
    assert grade("field-amputation/saw-wire", "gigli-wire",
                 Piece(id="gigli-handle", count=2)) in USABLE


def test_the_hydraulic_cutter_is_not_better_than_the_saws() -> None:
    """SF-087, SF-088: bone 2.5 of 5 and soft tissue 3 of 5, the worst of the four tools."""
    hydraulic = grade("field-amputation/hydraulic", "cutter-hydraulic")
    for step, piece in (("field-amputation/saw-hand", "saw-hack"),
                        ("field-amputation/saw-power", "saw-reciprocating")):
        assert rank(hydraulic) >= rank(grade(step, piece))


def test_a_rescue_hook_releases_the_leg_with_a_loss() -> None:
    """SF-091 to SF-095: all four compartments released, one nerve cut with hooks, none with
    scissors."""
    assert grade("fasciotomy/split-fascia", "hook-rescue") == "improvised"
    scissors = grade("fasciotomy/split-fascia", "scissors-mayo-curved")
    assert rank(scissors) < rank("improvised")


def test_a_finger_hole_is_a_stated_way_of_chest_decompression() -> None:
    """SF-096 to SF-101: finger and tube thoracostomy compared in 255 patients."""
    ways = {a.id for a in REFERENCE.procedures["tube-thoracostomy"].approaches}
    assert {"open", "finger"} <= ways


def test_a_short_cannula_is_not_taken_for_a_decompression_needle() -> None:
    """SF-107, SF-108: 65 % failure at 3.2 cm, 4 % at 4.5 cm; here the long one is asked for."""
    step = "tube-thoracostomy/seldinger-needle"
    long_one = grade(step, "cannula-iv-14-long")
    short = grade(step, Piece(id="cannula-iv-14", attributes=Attributes(length_mm=32)))
    assert long_one in USABLE
    assert rank(short) > rank(long_one)


def test_a_tracheal_tube_drains_a_chest_only_as_a_makeshift() -> None:
    """SF-112 to SF-115: re-expansion in 90 %, blocked in 10 %."""
    made_for_it = grade("tube-thoracostomy/drain-chest", "drain-chest")
    swap = grade("tube-thoracostomy/drain-chest", "tube-tracheal-70")
    assert rank(swap) > rank(made_for_it)


def test_a_soft_jaw_clamp_spares_a_vessel_that_a_crushing_one_kills() -> None:
    """SF-122 to SF-133: damage rises with closing force; soft jaws did least harm."""
    step = "limb-haemorrhage-control/occlude-keep"
    assert grade(step, "clamp-soft-jaw") in ("preferred", "acceptable")
    assert grade(step, "haemostat-pean") == "unsafe"
    assert grade(step, "haemostat-kocher") == "unsafe"


def test_slack_and_tense_heart_sac() -> None:
    """SF-144, SF-145: toothed forceps then scissors when slack; knife or sharp point when tense."""
    assert grade("resuscitative-thoracotomy/lift-pericardium", "forceps-tissue-rat") in (
        "preferred", "acceptable")
    assert grade("resuscitative-thoracotomy/open-pericardium-tense", "scalpel-blade-10",
                 "scalpel-handle-3") in USABLE


def test_neonatal_drain_sizes() -> None:
    """Published list PL-05: 8 or 10 F below 2000 g, 12 F above; 28 F has no place in a newborn."""
    from etui.judging.model import Circumstance

    def drain(french: float) -> str:
        answer = JUDGE.judge(
            "tube-thoracostomy/drain-chest",
            Candidate(pieces=(Piece(id="drain-chest", attributes=Attributes(french=french)),)),
            Circumstance(patient="newborn"),
        )
        return answer.grade or answer.careful or "unable"

    assert drain(10) in USABLE
    assert drain(28) not in USABLE
