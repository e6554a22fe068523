"""Questions in words: within tolerance, never on the dangerous side, never about another step."""

from __future__ import annotations

import pytest
from questions import Asked, development_questions, own_questions

from etui.judging.ask import Asker

OWN = own_questions()


def test_there_are_questions_on_all_procedures_of_the_first_edition(reference) -> None:
    from etui.judging.procedure_match import ProcedureMatcher

    matcher = ProcedureMatcher(reference)
    asked = {matcher.match(q.procedure).procedure for q in OWN}
    assert len(OWN) >= 150
    assert len(asked) >= 22
    assert asked <= set(reference.procedures)


def test_every_procedure_name_in_the_questions_is_found(reference) -> None:
    from etui.judging.procedure_match import ProcedureMatcher

    matcher = ProcedureMatcher(reference)
    for question in [*OWN, *development_questions()]:
        assert matcher.match(question.procedure).procedure is not None, question.procedure


@pytest.fixture(scope="module")
def answers(asker: Asker) -> list[tuple[Asked, dict]]:
    return [(q, asker.replace(q.query)) for q in OWN]


def test_the_step_is_the_one_that_is_meant(answers) -> None:
    wrong = [
        (q.id, q.step, a["step"]["id"])
        for q, a in answers
        if a["step"]["id"] is not None and a["step"]["id"].split("/")[1] not in q.steps
    ]
    assert len(wrong) <= 0.02 * len(answers), wrong


def test_steps_are_rarely_left_open(answers) -> None:
    left = [(q.id, q.step) for q, a in answers if a["step"]["id"] is None]
    assert len(left) <= 0.02 * len(answers), left


def test_the_candidate_is_the_one_that_is_meant(answers, reference) -> None:
    wrong = []
    for q, a in answers:
        resolved = [r["id"] for r in a["candidate"]["resolved"]]
        if not q.candidates or not resolved:
            continue
        names = [reference.manoeuvres[r].name for r in resolved if r in reference.manoeuvres]
        meant = any(
            c in resolved or any(c in name for name in names) for c in q.candidates
        )
        if not meant:
            wrong.append((q.id, q.candidate, resolved))
    assert len(wrong) <= 0.02 * len(answers), wrong


def test_own_questions_are_answered_within_tolerance(answers) -> None:
    wrong = [(q.id, q.candidate, q.right, a["grade"]) for q, a in answers
             if a["grade"] not in q.right]
    assert len(wrong) <= 0.05 * len(answers), wrong


def test_no_own_question_is_answered_on_the_dangerous_side(answers) -> None:
    wrong = [(q.id, q.candidate, q.grade, a["grade"]) for q, a in answers
             if q.is_dangerous(a["grade"])]
    assert wrong == []


def test_development_questions_are_answered_within_tolerance(asker: Asker) -> None:
    cases = development_questions()
    answers = [(q, asker.replace(q.query)["grade"]) for q in cases]
    wrong = [(q.id, q.candidate, grade) for q, grade in answers if grade not in q.right]
    assert [w for w in answers if w[0].is_dangerous(w[1])] == []
    assert len(wrong) <= 0.05 * len(cases), wrong
