"""Facts about the tray as a whole, for rules of a hospital's own: items, working units, hands."""

from __future__ import annotations

from etui.trays.derive_steps import refs
from etui.trays.facts import Fact, Facts, Ref, Value, slug, thing
from etui.trays.held import PLENTY, Held
from etui.trays.parts import Assembly
from etui.trays.situation import Situation

MOST_UNITS = 25
"""Working units of one kind that are stated one by one."""


def add_tray(situation: Situation, facts: Facts) -> None:
    """The tray, each kind of piece, and each working unit on it."""
    items = [_item(situation, h) for h in situation.contents.held]
    units = _units(situation)
    here = [h for h in situation.on_tray if h.sure]
    values: dict[str, tuple[Value, ...]] = {
        "title": (situation.tray.title,),
        "forProcedure": refs(tuple(c.procedure.id for c in situation.courses)),
        "rareHands": (situation.hands.rare,),
        "operators": (situation.hands.operators,),
        "holds": tuple(Ref(i.iri) for i in items),
        "holdsUnit": tuple(Ref(u.iri) for u in units),
        "holdsPattern": refs(tuple(sorted({h.pattern for h in here}))),
        "holdsFamily": tuple(
            sorted({situation.reference.patterns[h.pattern].family for h in here})
        ),
        "pieceCount": (sum(min(h.count, PLENTY) for h in situation.on_tray),),
        "takesApproach": tuple(
            thing(f"approach/{c.procedure.id}/{c.path.approach}")
            for c in situation.courses
            if c.path.approach
        ),
    }
    facts.add(Fact(slug(("tray",)), ("CheckedTray",), values))
    for fact in (*items, *units):
        facts.add(fact)


def _item(situation: Situation, held: Held) -> Fact:
    patterns = [situation.reference.patterns[c] for c in held.choices]
    values: dict[str, tuple[Value, ...]] = {
        "ofPattern": refs(held.choices),
        "ofFamily": tuple(sorted({p.family for p in patterns})),
        "pieceName": (patterns[0].name,),
        "piecesHeld": (held.count,),
        "keptBeside": (held.beside,),
    }
    if held.attributes.length_mm is not None:
        values["lengthMm"] = (round(held.attributes.length_mm),)
    where = "beside" if held.beside else "item"
    return Fact(
        slug((where, held.key)), ("HeldItem",), values,
        place=held.place if held.row else None,
    )


def _units(situation: Situation) -> list[Fact]:
    """Working units on the tray: whole pieces, and parts joined as often as parts allow."""
    workshop = situation.bench.workshop
    found: list[Fact] = []
    left = {h.key: h.count for h in situation.on_tray}
    for held in situation.on_tray:
        if not held.sure:
            continue
        record = situation.reference.patterns[held.pattern]
        count = held.count
        if workshop.dependent(record):
            whole = workshop.whole_unit(held, held.pattern, situation.inventory)
            if whole is None or whole.lacking or not _leads(situation, held, whole.unit):
                continue
            count = _joined(whole, count, left)
        actions = sorted({o.action for o in record.offers if o.role in {"main", "also"}})
        for number in range(1, min(count, MOST_UNITS) + 1):
            found.append(
                Fact(
                    slug(("unit", held.key, str(number))), ("WorkingUnit",),
                    {
                        "ofPattern": refs((held.pattern,)),
                        "ofFamily": (record.family,),
                        "doesAction": tuple(thing(f"action/{a}") for a in actions),
                    },
                )
            )
    return found


def _joined(whole: Assembly, count: int, left: dict[str, int]) -> int:
    """How many units the parts left over make up; takes those parts."""
    for part in whole.parts:
        if part.held:
            here = sum(left.get(h.key, h.count) for h in part.held)
            count = min(count, here // max(part.count, 1))
    for part in whole.parts:
        short = count * part.count
        for held in part.held:
            taken = min(short, left.get(held.key, 0))
            left[held.key] = left.get(held.key, 0) - taken
            short -= taken
    return count


def _leads(situation: Situation, held: Held, unit_id: str | None) -> bool:
    """Whether a part is the one that its unit is counted by: the one that works, not its handle."""
    unit = situation.reference.units.get(unit_id or "")
    if unit is None:
        return True
    offers = {o.action for o in situation.reference.patterns[held.pattern].offers}
    return bool(offers & set(unit.actions))
