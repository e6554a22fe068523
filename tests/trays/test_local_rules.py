"""A hospital's own rules: added, made stricter, switched off; broken files told in one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from etui.errors import BadInput
from tests.trays.conftest import Check
from tests.trays.test_check import BESIDE, DRAIN

HEAD = """
@prefix etui: <https://w3id.org/etui/ns#> .
@prefix house: <https://example.org/house#> .
@prefix id: <https://w3id.org/etui/id/> .
@prefix sh: <http://www.w3.org/ns/shacl#> .
@prefix shp: <https://w3id.org/etui/shapes/readiness#> .
"""
TRAY = "house:Tray a sh:NodeShape ; sh:targetClass etui:CheckedTray ; sh:property house:rule .\n"


def written(folder: Path, text: str) -> Path:
    path = folder / "house.ttl"
    path.write_text(HEAD + text, encoding="utf-8")
    return path


def test_a_pattern_is_forbidden(check: Check, tmp_path: Path) -> None:
    rules = written(
        tmp_path,
        TRAY
        + """house:rule a sh:PropertyShape ; sh:path etui:holdsPattern ;
        sh:qualifiedValueShape house:Scalpel ; sh:qualifiedMaxCount 0 ;
        sh:severity sh:Violation ; sh:message "No one-piece scalpels here. Use handles." .
        house:Scalpel sh:hasValue id:scalpel-disposable .""",
    )
    done = check("tube-thoracostomy", DRAIN, beside=BESIDE, rules=[rules])
    (found,) = [f for f in done.report.findings if f.kind == "local_rule"]
    assert found.rule == "rule"
    assert found.severity == "violation"
    assert found.text == "No one-piece scalpels here. Use handles."
    assert done.report.verdict == "unfit"
    assert done.report.checked["rule"] == 1
    without = DRAIN.replace("Disposable scalpel No. 10", "Scalpel handle No. 3\nBlade No. 10")
    assert check("tube-thoracostomy", without, beside=BESIDE, rules=[rules]).report.verdict == "fit"


def test_a_requirement_is_added_on_working_units(check: Check, tmp_path: Path) -> None:
    rules = written(
        tmp_path,
        """@prefix act: <https://w3id.org/etui/id/action/> .
        house:Tray a sh:NodeShape ; sh:targetClass etui:CheckedTray ; sh:property house:rule .
        house:rule a sh:PropertyShape ; sh:path ( etui:holdsUnit etui:doesAction ) ;
        sh:hasValue act:stab ; sh:severity sh:Warning ; sh:message "A knife on every tray." .""",
    )
    knife = check("tube-thoracostomy", DRAIN, beside=BESIDE, rules=[rules])
    assert "rule" not in {f.rule for f in knife.report.findings}
    misfit = DRAIN.replace("Disposable scalpel No. 10", "Scalpel handle No. 4\nBlade No. 10")
    without = check("tube-thoracostomy", misfit, beside=BESIDE, rules=[rules])
    assert "rule" in {f.rule for f in without.report.findings}


def test_a_severity_is_changed_and_a_rule_switched_off(check: Check, tmp_path: Path) -> None:
    lines = DRAIN + "Deaver retractor\nBlade No. 22"
    plain = check("tube-thoracostomy", lines, beside=BESIDE).report
    assert {"every-piece-has-a-step", "assembly-complete"} <= {f.rule for f in plain.findings}
    rules = written(
        tmp_path,
        "shp:every-piece-has-a-step sh:severity sh:Violation .\n"
        "shp:assembly-complete sh:deactivated true .\n",
    )
    strict = check("tube-thoracostomy", lines, beside=BESIDE, rules=[rules]).report
    severities = {f.rule: f.severity for f in strict.findings}
    assert severities["every-piece-has-a-step"] == "violation"
    assert "assembly-complete" not in severities
    assert "assembly-complete" not in strict.checked
    assert strict.verdict == "unfit"


def test_more_of_shacl_than_is_compiled_is_left_to_pyshacl(check: Check, tmp_path: Path) -> None:
    rules = written(
        tmp_path,
        """house:Tray a sh:NodeShape ; sh:targetClass etui:CheckedTray ; sh:property house:rule .
        house:rule a sh:PropertyShape ; sh:path etui:holdsPattern ; sh:not house:Drain ;
        sh:severity sh:Warning ; sh:message "Drains lie in their own box here." .
        house:Drain a sh:NodeShape ; sh:in ( id:drain-chest ) .""",
    )
    done = check("tube-thoracostomy", DRAIN, beside=BESIDE, rules=[rules])
    assert [f.text for f in done.report.findings if f.rule == "rule"] == [
        "Drains lie in their own box here."
    ]


def test_a_rule_that_matched_nothing_is_reported(check: Check, tmp_path: Path) -> None:
    rules = written(
        tmp_path,
        """house:None a sh:NodeShape ; sh:targetClass etui:AlikePairInRareHands ;
        sh:property house:rule .
        house:rule a sh:PropertyShape ; sh:path etui:harmfulSwaps ; sh:maxInclusive 0 .""",
    )
    report = check("tube-thoracostomy", DRAIN, beside=BESIDE, rules=[rules]).report
    assert report.checked["rule"] == 0
    assert any(f.kind == "local_rule" and "matched nothing" in f.text for f in report.findings)


@pytest.mark.parametrize(
    ("text", "what", "mend"),
    [
        ("house:rule a sh:PropertyShape ; sh:path", "not Turtle", "Mend that line"),
        ("house:a house:b house:c .", "holds no rule", "sh:path"),
        (TRAY + "house:rule sh:path etui:holdsPattern ; sh:minCout 1 .", "sh:minCout", "minCount"),
        (TRAY + "house:rule sh:path etui:holdsPatern ; sh:minCount 1 .", "holdsPatern", "holdsP"),
        ("shp:every-piece-has-a-stp sh:severity sh:Info .", "every-piece-has-a-stp", "every-piece"),
        (
            TRAY + "house:rule sh:path etui:holds ; sh:minCount 1 ; sh:severity sh:Warning ;"
            ' etui:findingKind "odd" .',
            "odd",
            "local_rule",
        ),
    ],
)
def test_a_broken_file_is_explained_in_one_line(
    check: Check, tmp_path: Path, text: str, what: str, mend: str
) -> None:
    rules = written(tmp_path, text)
    with pytest.raises(BadInput) as error:
        check("tube-thoracostomy", DRAIN, rules=[rules])
    assert "house.ttl" in error.value.line
    assert what in error.value.line
    assert mend in error.value.line
    assert "\n" not in error.value.line


def test_a_file_that_is_not_there(check: Check, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"gone\.ttl"):
        check("tube-thoracostomy", DRAIN, rules=[tmp_path / "gone.ttl"])


def test_the_house_rules_of_the_demo_hospital(check: Check, demo: Path) -> None:
    files = sorted((demo / "rules").iterdir())
    report = check("tube-thoracostomy", DRAIN, beside=BESIDE, rules=files).report
    own = [f for f in report.findings if f.kind == "local_rule"]
    assert {f.rule for f in own} == {"two-knives-on-every-tray"}
