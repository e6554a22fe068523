"""What is wrong with a piece, in many wordings: found where it is said, and only there."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from etui.judging import Judge
from etui.judging.ask import Asker
from etui.judging.circumstance import CircumstanceReader
from etui.judging.manner import Effect, effect
from etui.judging.model import Candidate, Piece
from etui.knowledge.model import GRADES, USABLE, Reference


@pytest.fixture(scope="module")
def around(reference: Reference) -> CircumstanceReader:
    return CircumstanceReader(reference)


@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("Kelly, its ratchet no longer holds or slips", "lock_broken"),
        ("Satinsky whose lock does not hold", "lock_broken"),
        ("Allis with a worn out catch", "lock_broken"),
        ("Mayo scissors, blades dulled by use", "blunted"),
        ("needle holder with inserts that are worn", "worn_jaws"),
        ("forceps, the points no longer meet", "jaws_apart"),
        ("Kocher with a twisted shank", "bent_end"),
        ("wire with a kink", "kinked"),
        ("valve fitted back to front", "reversed"),
        ("tube, balloon perished", "leaking"),
        ("scalpel from the previous patient", "soiled"),
        ("blade with no finger behind", "unguarded"),
        ("tourniquet, buckle sheared off", "part_missing"),
    ],
)
def test_a_state_is_found_in_any_order_of_words(
    around: CircumstanceReader, text: str, state: str
) -> None:
    assert state in around.manners(text).ids


@pytest.mark.parametrize(
    "text",
    [
        "needle holder, ratchet not broken",
        "clamp whose jaws never slip",
        "Senn retractor, dull",
        "two bent paper clips",
        "Adson forceps, fine tips",
        "forceps with teeth, worn on the belt",  # a comma parts the two words
        "Freer elevator, blunt end",
    ],
)
def test_no_state_is_read_where_none_is_said(around: CircumstanceReader, text: str) -> None:
    told = around.manners(text).ids
    assert not {m for m in told if around.reference.manners[m].about_piece}


def test_a_step_that_leaks_says_nothing_of_the_piece(
    around: CircumstanceReader, reference: Reference
) -> None:
    step = next(s for s in reference.steps.values() if s.action == "drain")
    assert "leaking" not in around.read(step, "stop the tube that is leaking").manners


def test_a_state_lowers_only_what_needs_the_part(asker: Asker) -> None:
    """A lock that does not hold ruins a clamp, spoils a needle holder, and spares a spreader."""
    broken = {}
    for procedure, step, missing, candidate in (
        ("resuscitative thoracotomy", "stop flow in the descending aorta", "aortic clamp",
         "Satinsky, ratchet broken"),
        ("wound repair", "drive the needle", "needle holder", "needle holder, ratchet broken"),
        ("tube thoracostomy", "spread through the muscle", "Kelly", "Kelly, ratchet broken"),
    ):
        query = {"procedure": procedure, "step": step, "missing": missing, "candidate": candidate}
        broken[step] = asker.replace(query)["grade"]
    assert list(broken.values()) == ["unable", "improvised", "preferred"]


def test_no_state_ever_raises_a_grade(judge: Judge) -> None:
    states = [m.id for m in judge.reference.manners.values() if m.about_piece]
    assert len(states) > 8
    tried = 0
    for step in sorted(judge.reference.steps.values(), key=lambda s: s.id)[::3]:
        for judgement in step.judgements[:2]:
            if judgement.subject not in judge.reference.patterns:
                continue
            sound = Candidate(pieces=(Piece(id=judgement.subject),))
            grade = judge.judge(step.id, sound, told=False).grade
            for state in states:
                faulty = judge.judge(step.id, replace(sound, manners=(state,)), told=False)
                if grade is not None:
                    assert faulty.grade is not None
                    worse = "unsafe" in (faulty.grade, grade) or (
                        GRADES.index(faulty.grade) >= GRADES.index(grade)
                    )
                    assert worse, (step.id, judgement.subject, state)
                if state == "soiled":
                    assert faulty.grade == "unsafe", (step.id, judgement.subject)
                tried += 1
    assert tried > 1000


def test_harm_outweighs_inability_among_caps(asker: Asker) -> None:
    judge = asker.judge
    wire = judge.piece("guidewire-j")
    step = next(s for s in asker.reference.steps.values()
                if s.action == "guide" and s.target == "vein")
    task = judge.task_of(judge.main_task(step))
    kinked = (asker.reference.manners["kinked"],)
    found: Effect = effect(task, wire, wire.offer("guide"), kinked, judge.book)
    assert {r.cap for r in judge.book.manner_rules if r.trigger == "kinked"} == {"unable", "unsafe"}
    assert found.cap == "unsafe"


def test_a_part_that_can_be_done_without_is_said_so(asker: Asker) -> None:
    query = {"procedure": "open tracheostomy", "step": "put in the tube", "missing": "tube",
             "candidate": "tracheostomy tube without its obturator"}
    answer = asker.replace(query)
    assert answer["grade"] == "acceptable"
    assert any("done without" in r["consequence"] for r in answer["reasons"])
    # Without the tube itself nothing is done.
    query["candidate"] = "obturator of a tracheostomy tube, no tube"
    assert asker.replace(query)["grade"] not in USABLE


@pytest.mark.parametrize(
    ("candidate", "unsafe"),
    [
        ("No. 11 blade turned toward the globe", True),
        ("No. 11 blade pressed against the eyeball", True),
        ("tenotomy scissors, tips away from the globe", False),
    ],
)
def test_an_edge_toward_what_must_stay_whole(asker: Asker, candidate: str, unsafe: bool) -> None:
    query = {"procedure": "lateral canthotomy", "step": "cut the lower tendon",
             "missing": "scissors", "candidate": candidate}
    assert (asker.replace(query)["grade"] == "unsafe") is unsafe
