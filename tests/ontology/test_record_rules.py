"""Every editors' rule has fixtures that pass and fail, and is caught for the right node."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from etui.errors import BadRecord
from etui.knowledge import ontology_dir, shapes_dir
from etui.knowledge.records import RecordReport, rule_names, validate

FIXTURES = Path(__file__).parents[1] / "fixtures" / "records"
RULES = rule_names()


@pytest.fixture(scope="module")
def checked(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, str], RecordReport]:
    """Gives the report on one fixture; the classes and words of core.ttl stand behind it.

    Its properties are left out, save for the rules that are about them: they are many, and
    checking them again for every fixture would take most of the time.
    """
    core = ontology_dir() / "core.ttl"
    blocks = core.read_text(encoding="utf-8").split("\n\n")
    few = tmp_path_factory.mktemp("core") / "classes.ttl"
    few.write_text(
        "\n\n".join(b for b in blocks if "Property ;" not in b.partition("\n")[0]), encoding="utf-8"
    )

    def report(rule: str, name: str) -> RecordReport:
        needs_properties = "term" in rule.lower() or rule == "Record-literal-typed"
        background = core if needs_properties else few
        return validate([FIXTURES / rule / name], background=[background])

    return report


def test_no_rule_lacks_a_fixture_and_no_fixture_a_rule() -> None:
    folders = {folder.name for folder in FIXTURES.iterdir()}
    assert folders == set(RULES)
    for folder in FIXTURES.iterdir():
        assert {f.name for f in folder.iterdir()} == {"pass.ttl", "fail.ttl", "expected.json"}


@pytest.mark.parametrize("rule", RULES)
def test_rule_passes_and_fails_where_it_should(
    rule: str, checked: Callable[[str, str], RecordReport]
) -> None:
    passed, failed = checked(rule, "pass.ttl"), checked(rule, "fail.ttl")
    assert passed.checked[rule] > 0
    assert [f for f in passed.of(rule) if f.file == "pass.ttl"] == []
    expected = json.loads((FIXTURES / rule / "expected.json").read_text(encoding="utf-8"))
    found = [f for f in failed.of(rule) if f.file == "fail.ttl"]
    assert {f.severity for f in found} == {expected["severity"]}
    assert sorted((f.record, f.value) for f in found) == [
        (f["record"], f["value"]) for f in expected["findings"]
    ]


@pytest.mark.parametrize("rule", RULES)
def test_message_says_what_is_wrong_and_what_to_do(rule: str) -> None:
    text = (shapes_dir() / "records.ttl").read_text(encoding="utf-8")
    block = re.search(rf"^rec:{rule} a .*?\n\n", text + "\n\n", re.DOTALL | re.MULTILINE)
    assert block is not None
    message = re.search(r'sh:message "([^"]+)"@en', block[0])
    assert message is not None and len(re.findall(r"[.?](?:\s|$)", message[1])) >= 1
    assert re.search(r'rdfs:label "[^"]+"@en', block[0])


def test_broken_turtle_is_refused_with_file_and_line(tmp_path: Path) -> None:
    file = tmp_path / "broken.ttl"
    file.write_text("@prefix id: <https://w3id.org/etui/id/> .\nid:a id:b\n", encoding="utf-8")
    with pytest.raises(BadRecord) as caught:
        validate([file])
    assert re.match(r"broken\.ttl:\d+: This is not valid Turtle: ", caught.value.line)


def test_unreadable_shapes_are_refused(tmp_path: Path) -> None:
    shapes = tmp_path / "shapes.ttl"
    shapes.write_text("not turtle", encoding="utf-8")
    fixture = FIXTURES / RULES[0] / "pass.ttl"
    with pytest.raises(BadRecord):
        validate([fixture], shapes=shapes)


def test_the_same_report_twice(checked: Callable[[str, str], RecordReport]) -> None:
    first, second = (checked("Pattern-confusion-mutual", "fail.ttl") for _ in range(2))
    assert first.findings == second.findings
