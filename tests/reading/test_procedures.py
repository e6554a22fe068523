"""Procedures by their names."""

from __future__ import annotations

import pytest

from etui.reading import Reader, match_procedure


@pytest.mark.parametrize(
    ("text", "procedure"),
    [
        ("Chest tubes", "tube-thoracostomy"),
        ("TUBE THORACOSTOMY", "tube-thoracostomy"),
        ("tube thoracostomies", "tube-thoracostomy"),
        ("tube thoracostmy", "tube-thoracostomy"),
        ("burr holes", "burr-hole"),
        ("Resuscitative Thoracotomy", "resuscitative-thoracotomy"),
        ("central line", "central-venous-line"),
        ("lateral canthotomy", "lateral-canthotomy"),
        ("nosebleed", "epistaxis-control"),
    ],
)
def test_names_are_found(text: str, procedure: str) -> None:
    assert match_procedure(text)[0] == procedure


@pytest.mark.parametrize("text", ["", "chest", "knee replacement", "appendicectomy"])
def test_what_is_not_known_is_not_guessed(text: str) -> None:
    assert match_procedure(text)[0] is None


def test_nearest_names_come_best_first() -> None:
    _, near = match_procedure("thoracotomy of some sort")
    assert near
    assert [n[2] for n in near] == sorted((n[2] for n in near), reverse=True)


def test_every_name_of_every_procedure(reader: Reader) -> None:
    shared = []
    for procedure in reader.reference.procedures.values():
        for name in (procedure.name, *(n.text for n in procedure.names)):
            found = reader.match_procedure(name)[0]
            if found != procedure.id:
                shared.append((procedure.id, name, found))
    assert len(shared) <= 3, shared
