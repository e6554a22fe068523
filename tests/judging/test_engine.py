"""The order of judging: technique, harm, parts, stated, lowered, derived, asked."""

from __future__ import annotations

import pytest

from etui.errors import BadInput, UnknownTerm
from etui.judging import Candidate, Judge, Piece
from etui.judging.engine import worse_of
from etui.knowledge.model import GRADES, USABLE

from .conftest import Grade, plain


def test_a_stated_judgement_is_given_with_its_source(judge: Judge, grade: Grade) -> None:
    step = judge.reference.steps["tube-thoracostomy/open-pleura"]
    stated = next(j for j in step.judgements if j.subject == "haemostat-kelly")
    answer = grade(step.id, "haemostat-kelly")
    assert answer.stated
    assert answer.grade == stated.grade
    assert answer.grounds[0].consequence == stated.because
    assert answer.grounds[0].how_known == stated.how_known


def test_a_stated_technique_outranks_the_piece(judge: Judge, grade: Grade) -> None:
    step = judge.reference.steps["tube-thoracostomy/one-way-seal"]
    technique = next(t for t in step.techniques if t.grade == "unsafe")
    good = Candidate(pieces=(Piece(id="seal-underwater"),))
    assert grade(step.id, good).grade in USABLE
    answer = grade(step.id, Candidate(pieces=good.pieces, techniques=(technique.id,)))
    assert answer.grade == "unsafe"
    assert answer.stated
    assert answer.hazards == ((technique.hazard,) if technique.hazard else ())


def test_a_met_never_is_unsafe_even_with_a_part_missing(grade: Grade) -> None:
    step = "resuscitative-thoracotomy/occlude-aorta"
    answer = grade(step, Candidate(pieces=(Piece(id="haemostat-kocher"),), absent=("ratchet",)))
    assert answer.grade == "unsafe"


@pytest.mark.parametrize(
    ("step", "pieces", "absent"),
    [
        ("resuscitative-thoracotomy/divide-sternum", ["lebsche-knife"], ["mallet"]),
        ("resuscitative-thoracotomy/divide-sternum", ["gigli-wire"], ["gigli-handle"]),
        ("resuscitative-thoracotomy/divide-sternum", ["gigli-wire", "gigli-handle"], []),
        ("resuscitative-thoracotomy/spread-ribs-left", ["retractor-finochietto"], ["crank"]),
        ("burr-hole/start-hole", ["brace-hudson"], ["perforator-cranial"]),
        ("tube-thoracostomy/incise-skin", ["scalpel-blade-10", "scalpel-handle-4"], []),
        ("tube-thoracostomy/incise-skin", ["scalpel-handle-4"], ["blade"]),
        ("escharotomy/incise-limb", ["pencil-diathermy"], ["electrode-return"]),
    ],
)
def test_without_a_part_it_is_unable(grade: Grade, step, pieces, absent) -> None:
    candidate = Candidate(
        pieces=tuple(Piece(id=id_) for id_ in pieces), absent=tuple(absent)
    )
    answer = grade(step, candidate)
    assert answer.grade in ("unable", "unsafe")
    assert any(g.rule in ("part-missing", "part-misfits") for g in answer.grounds)


def test_a_complete_unit_is_judged_as_one_thing(grade: Grade) -> None:
    step = "resuscitative-thoracotomy/divide-sternum"
    wire = Piece(id="gigli-wire")
    handles = Piece(id="gigli-handle", count=2)
    assert grade(step, Candidate(pieces=(wire, handles))).grade in USABLE
    assert grade(step, Candidate(pieces=(handles, wire))).grade in USABLE


def test_a_stand_in_for_a_part_caps_the_grade(grade: Grade) -> None:
    held = Candidate(
        pieces=(Piece(id="gigli-wire"), Piece(id="haemostat-pean", count=2)),
        absent=("gigli-handle",),
    )
    answer = grade("resuscitative-thoracotomy/divide-sternum", held)
    assert answer.grade == "improvised"
    assert any(g.rule == "part-stand-in" for g in answer.grounds)


def test_a_short_piece_is_lowered_and_the_reason_named(grade: Grade) -> None:
    step = "resuscitative-thoracotomy/occlude-aorta"
    usual = grade(step, "clamp-debakey-aortic")
    short = grade(step, plain("clamp-debakey-aortic", length_mm=90))
    assert usual.grade in USABLE
    assert short.grade not in USABLE
    assert not short.stated
    assert any("length" in g.demand or "long" in g.offer for g in short.grounds)


def test_an_edge_led_blind_beside_what_must_live_is_unsafe(grade: Grade) -> None:
    step = "resuscitative-hysterotomy/extend-uterus"
    scissors = Candidate(pieces=(Piece(id="scissors-mayo-curved"),))
    assert grade(step, scissors).grade in USABLE
    answer = grade(step, Candidate(pieces=scissors.pieces, manners=("blind",)))
    assert answer.grade == "unsafe"
    assert answer.hazards


def test_a_locked_ridged_jaw_on_what_must_live_is_unsafe(judge: Judge, grade: Grade) -> None:
    hit = 0
    for step in judge.reference.steps.values():
        task = judge.task_of(judge.main_task(step))
        if step.fate != "preserve" or not task.permitted or "crushing" in task.permitted:
            continue
        piece = Candidate(pieces=(Piece(id="haemostat-kelly"),))
        usual = grade(step.id, piece)
        if usual.grade not in USABLE or usual.role is not None:
            continue
        locked = grade(step.id, Candidate(pieces=piece.pieces, manners=("locked",)))
        assert locked.grade not in ("preferred", "acceptable"), step.id
        hit += 1
    assert hit > 5


def test_a_guard_lifts_unsafe_to_improvised_only_if_it_removes_the_hazard(
    judge: Judge, grade: Grade
) -> None:
    removed = set(judge.reference.manners["guarded"].hazards_remove)
    lifted = kept = 0
    for step in judge.reference.steps.values():
        for judgement in step.judgements:
            if judgement.grade != "unsafe" or judgement.subject not in judge.reference.patterns:
                continue
            bare = grade(step.id, judgement.subject)
            if not bare.stated or bare.grade != "unsafe" or not bare.hazards:
                continue
            guarded = grade(
                step.id, Candidate(pieces=(Piece(id=judgement.subject),), manners=("guarded",))
            )
            if set(bare.hazards) <= removed:
                assert guarded.grade in ("improvised", "unsafe", "unable")
                lifted += guarded.grade == "improvised"
            else:
                assert guarded.grade == "unsafe"
                kept += 1
    assert lifted > 20
    assert kept > 20


def test_only_what_was_judged_counts_as_stated(judge: Judge) -> None:
    for step in judge.reference.steps.values():
        for judgement in step.judgements:
            if judgement.features_only and judgement.how_known == "practice":
                same = [
                    j for j in step.judgements
                    if j.subject == judgement.subject and not j.features_only
                ]
                if not same:
                    assert judge.stated.of(step.id, judgement.subject) is None


def test_a_question_says_what_would_decide_and_gives_the_careful_grade(judge: Judge) -> None:
    table = judge.grade_table()
    asked = 0
    for row, step in enumerate(table.steps):
        for column in (table.grades[row] == -1).nonzero()[0][:2]:
            answer = judge.judge(step, plain(table.patterns[column]))
            assert answer.grade is None
            assert answer.asks
            assert answer.asks.endswith("?")
            assert answer.careful in ("unsafe", "unable")
            asked += 1
    assert asked > 100


def test_a_manoeuvre_is_judged_by_what_is_stated_of_it(judge: Judge, grade: Grade) -> None:
    for step in judge.reference.steps.values():
        for judgement in step.judgements:
            if judgement.subject in judge.reference.manoeuvres and judgement.role is None:
                answer = grade(step.id, judgement.subject)
                assert answer.grade is not None
                assert GRADES.index(answer.grade) >= GRADES.index(judgement.grade)


def test_an_everyday_thing_of_which_nothing_is_known_is_asked_about(grade: Grade) -> None:
    answer = grade("tube-thoracostomy/open-pleura", Candidate(improvised="a chopstick"))
    assert answer.grade is None
    assert answer.careful == "unsafe"
    assert "chopstick" in (answer.asks or "")


def test_side_tasks_are_judged_by_their_own_action(judge: Judge, grade: Grade) -> None:
    answer = grade("wound-repair/drive-needle", "haemostat-mosquito")
    assert answer.grade in USABLE or answer.grade == "unable"
    step = next(
        s for s in judge.reference.steps.values()
        if any(j.role == "driver" for j in s.judgements) and s.action != "drive_needle"
    )
    driver = next(j for j in step.judgements if j.role == "driver")
    answer = grade(step.id, driver.subject, side_task="drive_needle")
    assert answer.stated
    assert answer.role == "driver"
    assert answer.grade == driver.grade


def test_a_dispute_is_shown_and_the_more_careful_grade_taken(judge: Judge) -> None:
    from msgspec.structs import replace

    step = judge.reference.steps["tube-thoracostomy/open-pleura"]
    first = next(j for j in step.judgements if j.subject == "haemostat-kelly")
    second = replace(first, id=first.id + ".2", grade="unsafe", hazard="plunges", source="other")
    changed = replace(step, judgements=(*step.judgements, second))
    steps = {**judge.reference.steps, step.id: changed}
    other = Judge(replace(judge.reference, steps=steps, version=""), judge.book)
    answer = other.judge(step.id, plain("haemostat-kelly"))
    assert answer.grade == "unsafe"
    assert answer.disputed
    assert {g.consequence for g in answer.grounds} >= {first.because}
    assert len(answer.grounds) == 2


def test_a_derived_answer_can_show_its_trace(judge: Judge, grade: Grade) -> None:
    table = judge.grade_table()
    row = table.row["tube-thoracostomy/open-pleura"]
    derived = [
        p for n, p in enumerate(table.patterns)
        if not table.stated[row, n] and table.grades[row, n] >= 0
    ]
    answer = grade("tube-thoracostomy/open-pleura", derived[0])
    assert not answer.stated
    assert answer.balance is not None
    assert answer.grounds
    assert all(g.rule in judge.book.rules for g in answer.grounds)
    assert all(g.how_known in ("derived", "practice", "memory", "read") for g in answer.grounds)


def test_what_is_not_there_is_told(judge: Judge) -> None:
    with pytest.raises(UnknownTerm):
        judge.judge("no/step", plain("haemostat-kelly"))
    with pytest.raises(UnknownTerm):
        judge.judge("tube-thoracostomy/open-pleura", plain("no-such-piece"))
    with pytest.raises(BadInput):
        judge.judge("tube-thoracostomy/open-pleura", Candidate())


def test_harm_comes_before_inability() -> None:
    assert worse_of("unable", "unsafe") == "unsafe"
    assert worse_of("unsafe", "unable") == "unsafe"
    assert worse_of("improvised", "unable") == "unable"
    assert worse_of("preferred", "acceptable") == "acceptable"
