"""Two pieces side by side."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from etui.errors import UnknownTerm
from etui.judging.compare import compare, dangerous_swaps
from etui.judging.confusable import confusable
from etui.judging.likeness import resemblance, visible_differences

PAIRS = json.loads((Path(__file__).parent / "cases" / "pairs.json").read_text("utf-8"))
LEVELS = ("low", "medium", "high")


def test_resemblance_agrees_with_the_development_pairs(reference) -> None:
    found = [compare(p["a"], p["b"], reference)["resemblance"] for p in PAIRS]
    exact = sum(f == p["resemblance"] for f, p in zip(found, PAIRS, strict=True))
    opposite = [
        p["case"]
        for f, p in zip(found, PAIRS, strict=True)
        if abs(LEVELS.index(f) - LEVELS.index(p["resemblance"])) > 1
    ]
    assert exact >= 0.9 * len(PAIRS)
    assert opposite == []


def test_a_piece_looks_like_itself_and_order_does_not_matter(reference) -> None:
    for pair in PAIRS:
        a, b = reference.patterns[pair["a"]], reference.patterns[pair["b"]]
        assert resemblance(a, a) == "high"
        assert visible_differences(a, a) == ()
        assert resemblance(a, b) == resemblance(b, a)


def test_different_handles_are_told_apart_at_a_glance(reference) -> None:
    thumb = reference.patterns["forceps-dressing"]
    ring = reference.patterns["haemostat-crile"]
    assert resemblance(thumb, ring) == "low"


def test_harm_is_that_of_a_stated_judgement(reference) -> None:
    answer = compare("haemostat-pean", "haemostat-kocher", reference)
    assert answer["resemblance"] == "high"
    assert "teeth" in answer["tells"]
    assert answer["steps"], "a mix-up of these two harms somewhere"
    for row in answer["steps"]:
        step = reference.steps[row["step"]["id"]]
        grades = {j.subject: j.grade for j in step.judgements if not j.role}
        assert grades[row["taken"]] in ("unsafe", "unable")
        assert grades[row["meant"]] in ("preferred", "acceptable")


def test_twins_do_little_harm(reference) -> None:
    answer = compare("forceps-sponge-rampley", "forceps-sponge-foerster", reference)
    assert answer["steps"] == []
    assert answer["harm_if_swapped"].startswith("Little")


def test_an_unknown_id_names_the_nearest(reference) -> None:
    with pytest.raises(UnknownTerm, match="haemostat-kocher"):
        compare("haemostat-kochr", "haemostat-pean", reference)


def test_dangerous_pairs_on_a_tray(reference) -> None:
    pairs = confusable(
        ["haemostat-kocher", "haemostat-pean", "scalpel-blade-10", "no-such-thing"], reference
    )
    assert [(p.a, p.b) for p in pairs] == [("haemostat-kocher", "haemostat-pean")]
    assert all(s.taken_grade == "unsafe" for p in pairs for s in p.swaps)


def test_only_the_steps_of_the_tray_count(reference) -> None:
    ids = ["haemostat-kocher", "haemostat-pean"]
    named = {s.step for s in dangerous_swaps(*ids, reference)}
    elsewhere = next(s for s in reference.steps if s not in named)
    assert confusable(ids, reference, steps=[elsewhere]) == ()
