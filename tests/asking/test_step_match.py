"""From a sentence to a step: the right one, or none."""

from __future__ import annotations

import pytest
from questions import own_questions

from etui.judging.procedure_match import ProcedureMatcher
from etui.judging.step_match import StepMatcher

# What another operation does is no step of this one, however familiar the verb.
FOREIGN = [
    ("tube-thoracostomy", "remove the appendix"),
    ("tube-thoracostomy", "take out the gall bladder"),
    ("tube-thoracostomy", "make the tea"),
    ("wound-repair", "drill the skull"),
    ("wound-repair", "set the broken wrist"),
    ("burr-hole", "sew the bowel"),
    ("lateral-canthotomy", "clamp the aorta"),
    ("abscess-drainage", "intubate the patient"),
    ("fasciotomy", "deliver the placenta"),
    ("resuscitative-thoracotomy", "clip the cystic duct"),
    ("epistaxis-control", "cut the vocal cord"),
    ("escharotomy", "do the next thing"),
    ("venous-cutdown", "x"),
    ("venous-cutdown", ""),
]

STATES = [
    ("pick up the slack heart sac", "resuscitative-thoracotomy/lift-pericardium"),
    ("nick the tight heart sac", "resuscitative-thoracotomy/open-pericardium-tense"),
    ("snip a window into the slack sac", "resuscitative-thoracotomy/open-pericardium-slack"),
]

PATIENTS = [
    ("leave the hole open in a ventilated patient", "tube-thoracostomy/leave-open"),
    ("cover the hole, the patient breathes by himself", "tube-thoracostomy/seal-breathing"),
]


@pytest.mark.parametrize(("procedure", "sentence"), FOREIGN)
def test_a_sentence_about_something_else_names_no_step(
    steps: StepMatcher, procedure: str, sentence: str
) -> None:
    assert steps.match(procedure, sentence).step is None


@pytest.mark.parametrize(("sentence", "meant"), STATES)
def test_the_state_of_the_tissue_chooses_the_step(
    steps: StepMatcher, sentence: str, meant: str
) -> None:
    assert steps.match("resuscitative-thoracotomy", sentence).step == meant


@pytest.mark.parametrize(("sentence", "meant"), PATIENTS)
def test_how_the_patient_breathes_chooses_the_step(
    steps: StepMatcher, sentence: str, meant: str
) -> None:
    assert steps.match("tube-thoracostomy", sentence).step == meant


def test_every_step_is_found_by_its_own_names(steps: StepMatcher, reference) -> None:
    missed = []
    for step in reference.steps.values():
        match = steps.match(step.procedure, step.name)
        if match.step != step.id:
            missed.append((step.id, match.step))
    assert missed == []


def test_most_names_that_people_call_a_step_find_it(steps: StepMatcher, reference) -> None:
    total = missed = 0
    for step in reference.steps.values():
        for name in step.names:
            if name.kind == "preferred":
                continue
            total += 1
            match = steps.match(step.procedure, name.text)
            missed += match.step not in (step.id, *match.near) and step.id not in match.near
    assert missed <= 0.06 * total, (missed, total)


def test_the_missing_piece_breaks_a_tie(steps: StepMatcher) -> None:
    procedure, sentence = "open-tracheostomy", "fix it"
    tube = steps.match(procedure, sentence, missing=["tie-tube"])
    assert tube.step is None or tube.step == "open-tracheostomy/secure-tube"


def test_an_id_is_taken_as_it_is(steps: StepMatcher) -> None:
    assert steps.match(None, "tube-thoracostomy/open-pleura").step == (
        "tube-thoracostomy/open-pleura"
    )
    assert steps.match("tube-thoracostomy", "open-pleura").score == 1.0


def test_matching_is_the_same_every_time(steps: StepMatcher) -> None:
    for question in own_questions()[:40]:
        first = steps.match(None, question.step)
        assert first == steps.match(None, question.step)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("chest tube", "tube-thoracostomy"),
        ("EDT", "resuscitative-thoracotomy"),
        ("perimortem C-section", "resuscitative-hysterotomy"),
        ("escharotamy", "escharotomy"),
        ("tracheotomy", "open-tracheostomy"),
        ("nosebleed", "epistaxis-control"),
        ("hip replacement", None),
        ("appendicectomy", None),
    ],
)
def test_procedures_are_found_by_what_people_call_them(reference, text, meant) -> None:
    assert ProcedureMatcher(reference).match(text).procedure == meant
