"""The report: the machine contract, and a text that a nurse can read."""

from __future__ import annotations

import json

from etui.trays.report import LIMITS, report_json, report_text
from tests.trays.conftest import Check
from tests.trays.test_check import BESIDE, DRAIN, NECK, NECK_BESIDE

CONTRACT = {"verdict", "procedures", "findings", "coverage", "checked"}
FINDING = {"kind", "severity", "text", "fix", "items", "steps", "suggestions", "rule"}


def test_the_machine_contract(check: Check) -> None:
    done = check("tube-thoracostomy", "Blade No. 11\nKelly forceps 8 in")
    data = json.loads(json.dumps(report_json(done.report, done.situation.reference)))
    assert set(data) >= CONTRACT
    assert data["verdict"] == "unfit"
    for finding in data["findings"]:
        assert set(finding) >= FINDING
        for suggestion in finding["suggestions"]:
            assert set(suggestion) == {"id", "name", "grade", "from"}
            assert suggestion["grade"] in {"preferred", "acceptable", "improvised"}
    for covered in data["coverage"]:
        assert set(covered) >= {"step", "need", "grade", "by", "pieces"}


def test_the_text_tells_what_to_do_first(check: Check) -> None:
    done = check(
        "tube-thoracostomy",
        DRAIN.replace("Disposable scalpel No. 10", "Scalpel handle No. 4\nBlade No. 11"),
        beside=BESIDE,
    )
    text = report_text(done.report, done.situation.reference)
    assert text.startswith("Ward tray, Saltmarsh Ferry Hospital: NOT FIT")
    assert text.index("MUST BE MENDED") < text.index("STEP BY STEP") < text.index("IF ONE IS LOST")
    assert " ".join(LIMITS.split()) in " ".join(text.split())
    assert "| " not in text
    steps = [x for x in text.split("STEP BY STEP")[1].splitlines() if x.startswith("  - ")]
    assert steps[0].startswith("  - Numb skin")


def test_reason_and_source_on_request(check: Check) -> None:
    done = check("scalpel-bougie-cricothyroidotomy", NECK, beside=NECK_BESIDE)
    plain = report_text(done.report, done.situation.reference)
    told = report_text(done.report, done.situation.reference, why=True)
    assert len(told) > len(plain)
    assert "common practice" in told or "read:" in told
    assert "Rule: " in told


def test_no_line_is_wider_than_asked(check: Check) -> None:
    done = check("tube-thoracostomy", DRAIN, beside=BESIDE)
    text = report_text(done.report, done.situation.reference, why=True, width=60)
    assert max(len(line) for line in text.splitlines()[2:]) <= 110
