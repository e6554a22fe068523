"""Which pieces of a wording work as one thing: blade and handle, wire and handles, brace, bit."""

from __future__ import annotations

import re
from collections.abc import Sequence

from etui.judging.model import Piece
from etui.judging.segments import Segment
from etui.judging.units import Units, names_slot
from etui.knowledge.model import Reference, Slot, Unit
from etui.reading.model import Item


class Joining:
    """Looks up which parts go with which; built once for a reference."""

    def __init__(self, reference: Reference, units: Units) -> None:
        self.reference = reference
        self.units = units

    def piece(self, lead: Sequence[str], part: Segment, item: Item) -> Piece | None:
        """The piece, when it works as one thing with the leading one; None when it does not."""
        options = [item.pattern] if item.pattern else [a.id for a in item.alternatives]
        words = part.text
        count = count_of(part.whole) or item.quantity or 1
        for id_ in lead:
            for unit_id in self.units.of.get(id_, ()):
                unit = self.reference.units[unit_id]
                for slot in unit.slots:
                    if id_ in slot.alternatives:
                        continue
                    members = self._members(slot)
                    for option in options:
                        if option in members:
                            return Piece(id=option, attributes=item.attributes, count=count)
                meant = self._of_class(item, unit)
                for stand in unit.stand_ins:
                    for option in [meant] if meant else options:
                        if self._alike(option, stand.subject):
                            return Piece(id=option, attributes=item.attributes, count=count)
                for slot in unit.slots:
                    if id_ in slot.alternatives or item.pattern is not None:
                        continue
                    if names_slot(words, slot):
                        return Piece(id=slot.alternatives[0], count=count)
        for option in options:
            for unit_id in self.units.of.get(option, ()):
                slots = self.reference.units[unit_id].slots
                if any(id_ in self._members(slot) for slot in slots for id_ in lead):
                    return Piece(id=option, attributes=item.attributes, count=count)
                if self._misfits(option, lead):
                    return Piece(id=option, attributes=item.attributes, count=count)
        return None

    @staticmethod
    def _of_class(item: Item, unit: Unit) -> str | None:
        """Of a class of pieces that is all that is said, the one that stands in for a part here."""
        if not item.assumed:
            return None
        named = {a.id for a in item.alternatives}
        return next((s.subject for s in unit.stand_ins if s.subject in named), None)

    def too_few(self, lead: Sequence[str], piece: Piece, part: Segment) -> list[str]:
        """The part itself, when the words say one and the unit works with two."""
        if count_of(part.whole) != 1:
            return []
        return [
            slot.name
            for id_ in lead
            for unit_id in self.units.of.get(id_, ())
            for slot in self.reference.units[unit_id].slots
            if slot.count == 2 and piece.id in slot.alternatives and id_ not in slot.alternatives
        ][:1]

    def _misfits(self, id_: str, lead: Sequence[str]) -> bool:
        """Whether both are parts of the same kind of unit that do not go together."""
        own = {s.name for u in self.units.of.get(id_, ()) for s in self.reference.units[u].slots}
        for other in lead:
            for unit_id in self.units.of.get(other, ()):
                unit = self.reference.units[unit_id]
                actions = set(unit.actions)
                for mine in self.units.of.get(id_, ()):
                    if actions & set(self.reference.units[mine].actions) and own & {
                        s.name for s in unit.slots
                    }:
                        return True
        return False

    def _members(self, slot: Slot) -> frozenset[str]:
        """Patterns that fill a slot; a slot that takes a unit takes its parts."""
        out: set[str] = set()
        for id_ in slot.alternatives:
            unit = self.reference.units.get(id_)
            if unit is None:
                out.add(id_)
            else:
                out.update(a for inner in unit.slots for a in inner.alternatives)
        return frozenset(out)

    def _alike(self, id_: str, subject: str | None) -> bool:
        if subject is None:
            return False
        if id_ == subject:
            return True
        mine, named = self.reference.patterns.get(id_), self.reference.patterns.get(subject)
        return mine is not None and named is not None and mine.family == named.family


_NUMBERS = {"one": 1, "single": 1, "two": 2, "both": 2, "pair": 2, "three": 3, "four": 4}


def count_of(text: str) -> int | None:
    """A number said in words or figures at the head of a part ("with one handle")."""
    for word in re.findall(r"[a-z0-9]+", text.lower())[:3]:
        if word in _NUMBERS:
            return _NUMBERS[word]
        if word.isdigit() and len(word) == 1:
            return int(word)
    return None
