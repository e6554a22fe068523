"""Which blade seats on which handle, against published pairs (ISO 7740 names the two fittings)."""

from __future__ import annotations

import pytest

from etui.judging import Judge
from etui.judging.model import Candidate, Piece
from etui.knowledge import load_reference
from tests.published.tables import expect, rows

REFERENCE = load_reference()
JUDGE = Judge(REFERENCE)


def pair(row: dict[str, str]) -> tuple[str, str]:
    return (f"scalpel-handle-{row['handle'].lower()}", f"scalpel-blade-{row['blade'].lower()}")


ROWS = [r for r in rows("blade-handle-fit.csv") if all(i in REFERENCE.patterns for i in pair(r))]


def test_most_published_pairs_are_in_the_graph() -> None:
    assert len(ROWS) >= 60


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r["id"])
def test_fitting_features_say_what_is_published(row: dict[str, str]) -> None:
    handle, blade = (REFERENCE.patterns[i] for i in pair(row))
    same = bool(set(handle.features["fitting"]) & set(blade.features["fitting"]))
    expect(same == (row["fits"] == "yes"), f"{handle.id} and {blade.id}", row["how_known"])


@pytest.mark.parametrize("row", [r for r in ROWS if r["fits"] == "no"], ids=lambda r: r["id"])
def test_a_pair_that_does_not_seat_cannot_cut(row: dict[str, str]) -> None:
    handle, blade = pair(row)
    answer = JUDGE.judge(
        "tube-thoracostomy/incise-skin", Candidate(pieces=(Piece(id=blade), Piece(id=handle)))
    )
    expect(answer.grade in ("unable", "unsafe"), f"{handle} and {blade}: {answer.grade}",
           row["how_known"])


@pytest.mark.parametrize(("handle", "blade"), [("3", "10"), ("3", "15"), ("4", "22"), ("7", "15")])
def test_a_pair_that_seats_cuts(handle: str, blade: str) -> None:
    answer = JUDGE.judge(
        "tube-thoracostomy/incise-skin",
        Candidate(pieces=(Piece(id=f"scalpel-blade-{blade}"),
                          Piece(id=f"scalpel-handle-{handle}"))),
    )
    assert answer.grade in ("preferred", "acceptable")
