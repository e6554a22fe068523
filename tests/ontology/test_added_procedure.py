"""A procedure that was added in Turtle alone is read, judged and checked like any other."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from etui.exchange import read_tray
from etui.judging import Judge
from etui.judging.ask import replace
from etui.knowledge import load_reference
from etui.reading import Reader
from etui.trays import check
from etui.trays.model import Report

PROCEDURE = "peritonsillar-abscess-drainage"
FULL = [
    "Headlight",
    "Tongue depressor",
    "Spinal needle 18 G",
    "Syringe 10 ml",
    "Dental syringe with cartridge",
    "Yankauer sucker",
    "Kidney dish",
]


@pytest.fixture(scope="module")
def ask() -> Callable[[str, str, str], dict[str, Any]]:
    reference = load_reference()
    reader, judge = Reader(reference), Judge(reference)

    def asked(step: str, missing: str, candidate: str) -> dict[str, Any]:
        query = {
            "procedure": "quinsy drainage",
            "step": step,
            "missing": missing,
            "candidate": candidate,
        }
        return replace(query, reference, reader, judge)

    return asked


def checked(lines: list[str]) -> Report:
    reference = load_reference()
    text = "\n".join(["Quinsy tray", *(f"1 {line}" for line in lines)])
    tray = read_tray(text.encode(), procedures=(PROCEDURE,))
    return check(tray, reference=reference, reader=Reader(reference), judge=Judge(reference))


@pytest.mark.parametrize(
    ("step", "missing", "candidate", "stated", "grades"),
    [
        ("needle the quinsy", "spinal needle", "dental cartridge syringe", True, {"unable"}),
        ("cut the quinsy", "15 blade", "No. 22 blade on a No. 4 handle", True, {"unsafe"}),
        ("cut the quinsy", "15 blade", "No. 21 blade on a No. 4 handle", False, {"unsafe"}),
        ("spread the pocket open", "tonsil forceps", "Kocher forceps", True, {"unsafe"}),
        (
            "spread the pocket open",
            "tonsil forceps",
            "Mixter forceps",
            False,
            {"preferred", "acceptable", "improvised"},
        ),
        ("depress the tongue", "tongue depressor", "Gelpi retractor", False, {"unsafe"}),
    ],
)
def test_stand_ins(
    ask: Callable[[str, str, str], dict[str, Any]],
    step: str,
    missing: str,
    candidate: str,
    stated: bool,
    grades: set[str],
) -> None:
    answer = ask(step, missing, candidate)
    assert answer["step"]["id"].startswith(f"{PROCEDURE}/")
    assert answer["stated"] is stated
    assert (answer["grade"] or answer.get("careful")) in grades


def test_a_whole_tray_is_fit_for_the_needle_way() -> None:
    report = checked(FULL)
    assert report.verdict in ("fit", "fit-with-remarks")
    assert not [f for f in report.findings if f.kind == "missing_step"]


def test_a_tray_with_which_nobody_sees_the_throat_is_unfit() -> None:
    report = checked([line for line in FULL if line != "Tongue depressor"])
    assert report.verdict == "unfit"
    missing = {s for f in report.findings if f.kind == "missing_step" for s in f.steps}
    assert missing == {f"{PROCEDURE}/see"}
