"""The rules are data: what the code may fire has a record, and fitted signs hold."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from etui.errors import BadRecord
from etui.judging import Judge
from etui.judging.evaluation_report import write_numbers
from etui.judging.fitting import Fitted, chain
from etui.judging.rulebook import load_rulebook
from etui.judging.votes import collect
from etui.knowledge import ontology_dir
from etui.knowledge.model import Demand

from .conftest import plain


def test_every_rule_that_fires_has_a_record_with_a_definition(judge: Judge) -> None:
    fired = {e.rule for case in collect(judge) for e in case.evidence}
    assert len(fired) > 50
    for rule in fired:
        assert judge.book.rules[rule].definition


def test_no_rule_speaks_the_wrong_way(judge: Judge) -> None:
    for rule in judge.book.rules.values():
        if rule.outcome in ("unsafe", "unable", "lower") and not rule.id.startswith("action-"):
            assert rule.weight >= 0, rule.id
            assert rule.cost >= 0, rule.id
        if rule.outcome == "support" and not rule.id.startswith("action-"):
            assert rule.weight <= 0, rule.id
            assert rule.cost <= 0, rule.id


def test_a_graver_finding_never_weighs_less_than_the_one_it_includes(judge: Judge) -> None:
    graver = 0
    for rule in judge.book.rules.values():
        links = [judge.book.rules[name] for name in chain(rule.id, judge.book)]
        weights = [link.weight for link in links]
        assert weights == sorted(weights, reverse=True), rule.id
        graver += len(links) > 1
    assert graver > 8


def test_demands_name_features_that_are_read_somewhere(judge: Judge) -> None:
    """A sample of the words that meet others: the graph, not the code, says so."""
    assert judge.book.met_by("tip", "blunt") >= {"blunt", "rounded", "probe"}
    assert "ratchet" in judge.book.met_by("lock", "present")
    assert "none" not in judge.book.met_by("teeth", "present")


@pytest.mark.parametrize(
    ("compare", "values", "length", "usable"),
    [
        ("at_least", ("125",), 150, True),
        ("at_least", ("125",), 110, None),
        ("at_least", ("125",), 70, False),
    ],
)
def test_a_number_is_met_missed_narrowly_or_widely(
    judge: Judge, compare, values, length, usable
) -> None:
    step = judge.reference.steps["tube-thoracostomy/open-pleura"]
    demand = Demand(
        id="x", level="must", feature="length_mm", compare=compare, values=values
    )
    steps = {**judge.reference.steps, step.id: replace(step, demands=(demand,))}
    other = Judge(replace(judge.reference, steps=steps, version=""), judge.book)
    answer = other.judge(step.id, plain("haemostat-kelly", length_mm=length))
    expected = {True: "preferred", None: "improvised", False: "unable"}[usable]
    assert answer.grade == expected


def test_a_broken_rule_file_is_told_in_one_line(tmp_path: Path) -> None:
    text = (ontology_dir() / "rules.ttl").read_text(encoding="utf-8")
    broken = tmp_path / "rules.ttl"
    broken.write_text(text.replace("etui:outcome etui:unsafe", "etui:outcome etui:fatal", 1))
    with pytest.raises(BadRecord, match="outcome fatal"):
        load_rulebook(broken)
    broken.write_text("rule:x a etui:Rule")
    with pytest.raises(BadRecord, match=r"rules\.ttl"):
        load_rulebook(broken)
    with pytest.raises(BadRecord):
        load_rulebook(tmp_path / "missing.ttl")


def test_fitted_numbers_are_written_where_they_belong(tmp_path: Path, judge: Judge) -> None:
    path = tmp_path / "rules.ttl"
    path.write_text((ontology_dir() / "rules.ttl").read_text(encoding="utf-8"))
    fitted = Fitted({"weak-by-one": 1.25}, {"weak-by-one": 0.5}, {"weak-by-one": -0.75})
    assert write_numbers(path, fitted, {"balance-shift": 0.125}) == 2
    book = load_rulebook(path)
    rule = book.rules["weak-by-one"]
    assert (rule.weight, rule.cost, rule.harm) == (1.25, 0.5, -0.75)
    assert book.value("balance-shift") == 0.125
    assert book.rules["weak-by-more"] == judge.book.rules["weak-by-more"]
    with pytest.raises(BadRecord, match="no-such-rule"):
        write_numbers(path, Fitted({"no-such-rule": 1.0}, {"no-such-rule": 0.0},
                                   {"no-such-rule": 0.0}), {})
