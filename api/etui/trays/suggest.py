"""What would fill a gap: from the tray, from the stock, from the reference, with grades."""

from __future__ import annotations

from collections.abc import Iterable

from etui.knowledge.model import USABLE, Grade
from etui.trays.held import Contents
from etui.trays.model import Suggestion
from etui.trays.parts import rank
from etui.trays.situation import Situation
from etui.trays.units import Inventory
from etui.trays.ways import StepCover, Way

MOST = 6
"""Suggestions named for one gap."""


def _name(situation: Situation, pattern: str) -> str:
    reference = situation.reference
    known = reference.patterns.get(pattern) or reference.units.get(pattern)
    return known.name if known else pattern


def for_step(
    situation: Situation, cover: StepCover, *, more: bool = False
) -> tuple[Suggestion, ...]:
    """What would do a step: lesser things on the tray, the stock, then first-line patterns.

    Args:
        more: A second piece is wanted; what is on the tray is then no help.
    """
    found: list[Suggestion] = []
    if not more:
        found += _from_ways(situation, cover.ways, "tray")
    if situation.stock.held:
        found += _from_ways(situation, _stock_ways(situation, cover), "stock")
    stated = cover.duty.stated
    for pattern in cover.duty.good:
        found.append(
            Suggestion(
                id=pattern, name=_name(situation, pattern), grade=stated[pattern].grade,
                origin="reference",
            )
        )
    return _best(found)


def _from_ways(situation: Situation, ways: Iterable[Way], origin: str) -> list[Suggestion]:
    return [
        Suggestion(
            id=way.pattern, name=_name(situation, way.pattern), grade=way.grade,
            origin="tray" if origin == "tray" else "stock",
        )
        for way in ways
        if not way.lead.beside
    ]


def _stock_ways(situation: Situation, cover: StepCover) -> tuple[Way, ...]:
    """Ways that pieces of the stock give, joined with parts of the tray where needed."""
    both = Contents(
        (*situation.stock.held, *situation.contents.held), (), situation.contents.denied, ()
    )
    on_shelf = {h.key for h in situation.stock.held}
    here = situation.bench.coverer.cover(cover.id, Inventory(both), {})
    listed = {w.lead.key for w in cover.ways}
    return tuple(w for w in here.ways if w.lead.key in on_shelf and w.lead.key not in listed)


def for_parts(situation: Situation, patterns: Iterable[str]) -> tuple[Suggestion, ...]:
    """The parts themselves: from the stock if they lie there, else from the reference."""
    shelf = {p for h in situation.stock.held for p in h.choices}
    found: list[Suggestion] = []
    grade: Grade = "preferred"
    for pattern in patterns:
        found.append(
            Suggestion(
                id=pattern, name=_name(situation, pattern), grade=grade,
                origin="stock" if pattern in shelf else "reference",
            )
        )
    return _best(found)


def _best(found: list[Suggestion]) -> tuple[Suggestion, ...]:
    """Each pattern once, usable ones only; what is nearer to hand first within a grade."""
    near = {"tray": 0, "stock": 1, "reference": 2}
    first: dict[str, Suggestion] = {}
    for one in found:
        if one.grade in USABLE:
            first.setdefault(one.id, one)
    ranked = sorted(
        enumerate(first.values()), key=lambda p: (-rank(p[1].grade), near[p[1].origin], p[0])
    )
    return tuple(one for _, one in ranked[:MOST])
