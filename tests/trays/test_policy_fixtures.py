"""Every rule of readiness keeps and breaks as its fixtures say, compiled and with pySHACL."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from rdflib import Graph

from etui.trays import shacl
from etui.trays.facts import Facts, from_graph
from etui.trays.findings import findings_of
from etui.trays.policy import Policy, evaluate, load_policy

FIXTURES = Path(__file__).parents[1] / "fixtures" / "readiness"
RULES = sorted(p.name for p in FIXTURES.iterdir() if p.is_dir())


@pytest.fixture(scope="module")
def policy() -> Policy:
    return load_policy()


def facts_of(path: Path) -> Facts:
    return from_graph(Graph().parse(path, format="turtle"))


def rows(policy: Policy, results: object) -> list[dict[str, str]]:
    return sorted(
        (
            {"rule": r.rule, "focusNode": r.focus, "severity": policy.rule(r.rule).severity}
            for r in results  # type: ignore[attr-defined]
        ),
        key=lambda row: sorted(row.items()),
    )


def test_every_rule_has_fixtures_and_every_fixture_a_rule(policy: Policy) -> None:
    assert sorted(r.id for r in policy.rules) == RULES
    for rule in RULES:
        names = {p.name for p in (FIXTURES / rule).iterdir()}
        assert names == {"pass.ttl", "fail.ttl", "expected.json"}, rule


@pytest.mark.parametrize("case", ["pass", "fail"])
@pytest.mark.parametrize("rule", RULES)
def test_fixture(rule: str, case: str, policy: Policy) -> None:
    expected = json.loads((FIXTURES / rule / "expected.json").read_text(encoding="utf-8"))
    facts = facts_of(FIXTURES / rule / f"{case}.ttl")
    compiled, checked = evaluate(policy, facts)
    assert rows(policy, compiled) == expected[case]["results"]
    assert checked[rule] == expected["checked"][case]
    judged = shacl.judge(policy, facts)
    assert rows(policy, judged.results) == expected[case]["results"]
    conforms = str(next(judged.report.objects(predicate=_sh("conforms"))))
    assert conforms == str(expected[case]["conforms"]).lower()


def _sh(word: str) -> object:
    from rdflib import URIRef

    return URIRef("http://www.w3.org/ns/shacl#" + word)


@pytest.mark.parametrize("rule", RULES)
def test_what_a_broken_rule_says_is_whole(rule: str, policy: Policy) -> None:
    facts = facts_of(FIXTURES / rule / "fail.ttl")
    results, checked = evaluate(policy, facts)
    (found,) = findings_of(policy, facts, results, checked)
    finding = found[1]
    assert finding.rule == rule
    assert finding.text.endswith((".", ")", "?"))
    for sign in "{}[]":
        assert sign not in finding.text + finding.fix
    assert "something that fits" not in finding.text
    assert finding.fix


def test_every_shape_states_one_constraint_and_its_words() -> None:
    for rule in load_policy().rules:
        assert len(rule.checks) == 1, rule.id
        assert rule.label != rule.id
        assert rule.message
        assert rule.says
        assert rule.mend
        assert not rule.beyond
