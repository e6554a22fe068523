"""Turn one fact of a question: the grade must move the right way, or not at all."""

from __future__ import annotations

import random
from itertools import permutations

import pytest

from etui.judging.ask import Asker
from etui.knowledge.model import GRADES, Reference

CUTTING = [
    ("resuscitative hysterotomy", "lengthen the cut in the womb", "Curved Mayo scissors"),
    ("resuscitative hysterotomy", "lengthen the cut in the womb", "No. 10 blade on a No. 3 handle"),
    ("fasciotomy", "split the fascia along the leg", "No. 10 blade on a No. 3 handle"),
    ("fasciotomy", "split the fascia along the leg", "Straight Mayo scissors"),
    ("escharotomy", "carry the cut across the elbow", "Straight Mayo scissors"),
    ("burr hole", "open the dura", "No. 15 blade on a No. 3 handle"),
    ("laparotomy", "open the peritoneum", "Metzenbaum scissors"),
]

HOLDING = [
    ("resuscitative thoracotomy", "occlude the descending aorta", "Satinsky clamp"),
    ("tube thoracostomy", "open the pleura", "Kelly forceps"),
    ("venous cutdown", "lift the vein out of its bed", "Mosquito forceps"),
    ("limb haemorrhage", "close the artery that is to be repaired", "Bulldog clamp"),
]

UNITS = [
    ("thoracotomy in the emergency room", "cut across the breastbone", "Lebsche knife", "mallet"),
    ("burr hole", "start the hole with the perforator", "Hudson brace", "perforator"),
    ("escharotomy", "cut the eschar of the limb", "Diathermy pencil", "return plate"),
    ("tube thoracostomy", "cut the skin along the rib", "No. 4 scalpel handle", "blade"),
]


def rank(answer: dict) -> int:
    """How good a grade is held to be; an open question counts as its careful grade."""
    return GRADES.index(answer["grade"] or answer["careful"] or "unable")


def ask(asker: Asker, procedure: str, step: str, candidate: str, missing: str = "") -> dict:
    query = {"procedure": procedure, "step": step, "missing": missing, "candidate": candidate}
    answer = asker.replace(query)
    assert answer["step"]["id"], answer["unresolved"]
    return answer


@pytest.mark.parametrize(("procedure", "step", "candidate"), CUTTING)
def test_a_guard_never_lowers(asker: Asker, procedure, step, candidate) -> None:
    bare = ask(asker, procedure, step, candidate)
    for words in ("with a guard under it", "over two fingers laid inside", "on a grooved director"):
        guarded = ask(asker, procedure, step, f"{candidate}, {words}")
        assert rank(guarded) <= rank(bare), (words, bare["grade"], guarded["grade"])


@pytest.mark.parametrize(("procedure", "step", "candidate"), [*CUTTING, *HOLDING])
def test_going_blind_never_raises(asker: Asker, procedure, step, candidate) -> None:
    seen = ask(asker, procedure, step, f"{candidate}, under sight")
    blind = ask(asker, procedure, step, f"{candidate}, used blind")
    assert rank(blind) >= rank(seen)


@pytest.mark.parametrize(("procedure", "step", "candidate"), [*CUTTING, *HOLDING])
def test_force_never_raises(asker: Asker, procedure, step, candidate) -> None:
    plain = ask(asker, procedure, step, candidate)
    forced = ask(asker, procedure, step, f"{candidate}, pushed in with force")
    assert rank(forced) >= rank(plain)


@pytest.mark.parametrize(("procedure", "step", "candidate"), HOLDING)
def test_a_shorter_piece_never_raises(asker: Asker, procedure, step, candidate) -> None:
    ranks = [
        rank(ask(asker, procedure, step, f"{candidate}, {length} cm")) for length in (25, 18, 14, 8)
    ]
    assert ranks == sorted(ranks), ranks


@pytest.mark.parametrize(("procedure", "step", "lead", "partner"), UNITS)
@pytest.mark.parametrize("words", ["no {}", "without its {}", "{} missing", "the {} is lost"])
def test_removing_a_partner_makes_the_pair_unable(
    asker: Asker, procedure, step, lead, partner, words
) -> None:
    answer = ask(asker, procedure, step, f"{lead}, {words.format(partner)}")
    assert answer["grade"] in ("unable", "unsafe"), answer["reasons"][:2]


def test_one_handle_of_two_is_not_enough(asker: Asker) -> None:
    step = ("resuscitative thoracotomy", "cut across the breastbone")
    both = ask(asker, *step, "Gigli wire with two handles")
    one = ask(asker, *step, "Gigli wire with one handle")
    assert both["grade"] in ("preferred", "acceptable")
    assert one["grade"] in ("unable", "unsafe", "improvised")
    assert rank(one) > rank(both)


def test_a_blade_on_the_wrong_handle_is_unable(asker: Asker) -> None:
    step = ("tube thoracostomy", "cut the skin along the rib")
    assert ask(asker, *step, "No. 10 blade on a No. 3 handle")["grade"] in (
        "preferred",
        "acceptable",
    )
    assert ask(asker, *step, "No. 10 blade with a No. 4 handle")["grade"] == "unable"
    assert ask(asker, *step, "No. 22 blade with a No. 3 handle")["grade"] == "unable"


def _twins(reference: Reference) -> list[tuple[str, str, str, str, str]]:
    """(step, procedure, id, US name, UK name) of judged patterns that have both."""
    out = []
    for step in reference.steps.values():
        for judgement in step.judgements:
            pattern = reference.patterns.get(judgement.subject)
            if pattern is None or judgement.role:
                continue
            us = [n.text for n in pattern.names if n.kind in ("us", "preferred-us")]
            uk = [n.text for n in pattern.names if n.kind in ("uk", "preferred-uk")]
            if us and uk and us[0].lower() != uk[0].lower():
                out.append((step.id, step.procedure, pattern.id, us[0], uk[0]))
    return out


def test_american_and_british_names_get_the_same_answer(asker: Asker, reference) -> None:
    rows = _twins(reference)
    assert len(rows) > 100
    sample = random.Random(7).sample(rows, 80)
    differ = []
    for step, procedure, id_, us, uk in sample:
        answers = [asker.replace({"procedure": procedure, "step": step, "candidate": c})
                   for c in (us, uk)]
        resolved = [[r["id"] for r in a["candidate"]["resolved"]] for a in answers]
        # A name that several patterns share is asked about, in either language.
        if [id_] in resolved and resolved[0] == resolved[1]:
            assert answers[0]["grade"] == answers[1]["grade"]
        elif all(resolved):
            differ.append((us, uk, id_, resolved))
    assert len(differ) <= 0.05 * len(sample), differ


def test_the_order_of_words_does_not_matter(asker: Asker) -> None:
    step = ("tube thoracostomy", "open the pleura")
    for parts in (
        ("Kelly forceps", "curved", "20 cm"),
        ("Spencer Wells artery forceps", "8 in", "curved"),
        ("Kocher forceps", "toothed", "straight"),
    ):
        grades = {
            ask(asker, *step, ", ".join(order))["grade"] for order in permutations(parts)
        }
        assert len(grades) == 1, (parts, grades)
    assert (
        ask(asker, *step, "curved Kelly forceps")["grade"]
        == ask(asker, *step, "Kelly forceps curved")["grade"]
    )


def test_a_harder_state_never_raises(asker: Asker) -> None:
    for candidate in ("Metzenbaum scissors", "Toothed dissecting forceps", "Mosquito forceps"):
        slack = ask(asker, "thoracotomy", "pick up a fold of the slack heart sac", candidate)
        tense = ask(asker, "thoracotomy", "pick up a fold of the tense heart sac", candidate)
        if slack["step"] == tense["step"]:
            assert rank(tense) >= rank(slack)


def test_the_same_question_has_the_same_answer(asker: Asker) -> None:
    query = {
        "procedure": "wound repair",
        "step": "evert a skin edge",
        "missing": "Toothed Adson",
        "candidate": "Skin hook",
    }
    assert asker.replace(query) == asker.replace(dict(reversed(query.items())))
