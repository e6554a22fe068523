"""Anatomy ids against the published ontology of anatomy (ids and labels as read)."""

from __future__ import annotations

import re

from etui.knowledge import load_reference
from tests.published.tables import rows

REFERENCE = load_reference()


def test_anatomy_ids_are_well_formed_and_published() -> None:
    published = {r["uberon_id"].replace(":", "_") for r in rows("tissue-ids.csv")}
    seen = 0
    for term in REFERENCE.terms["tissue"]:
        for match in REFERENCE.matches.get(term, ()):
            assert re.fullmatch(r"UBERON_\d{7}", match.target)
            assert match.target in published
            seen += 1
    assert seen >= 25


def test_the_cord_and_the_trachea_are_the_right_ones() -> None:
    """UBERON:0002331 umbilical cord, UBERON:0003126 trachea (read in the published release)."""
    assert REFERENCE.matches["umbilical_cord"][0].target == "UBERON_0002331"
    assert REFERENCE.matches["trachea"][0].target == "UBERON_0003126"
