"""From pieces to working units: what each piece needs beside it, and what is lacking.

Which partners an action of a pattern needs is read from its offer ("needs mallet", "needs
perforator or burr of its own fitting") and matched with the slots of the units that the pattern
belongs to.  A part may be on the tray, beside it, packed with its piece, in every room, or replaced
by a stand-in that the unit names; otherwise it is lacking.
"""

from __future__ import annotations

import re

import msgspec

from etui.knowledge.model import USABLE, Pattern, Reference, Slot, Unit
from etui.trays.held import Contents, Held
from etui.trays.lore import Lore
from etui.trays.parts import ALONE, Assembly, Need, Part, makeshift, rank, words_of

_PART_KINDS = frozenset(
    {
        "handle_only", "blade_only", "bit", "driver_only", "applier_only", "wire_only",
        "swaged_or_eyed", "eyed_or_swaged", "drain_plus_trocar",
    }
)
_HANDS = frozenset({"hand", "hands", "finger", "fingers", "fist"})
PAIR = 2
"""Pieces of one slot that a unit cannot do without; more of a kind (clips, wires) are usual."""


class Inventory:
    """Pieces by pattern, and what is stated to be absent."""

    def __init__(self, contents: Contents) -> None:
        self.denied = contents.denied
        self.by_pattern: dict[str, list[Held]] = {}
        self.fills: dict[tuple[str, int, str], Part] = {}
        self.leads = tuple((piece.pattern, piece) for piece in contents.held)
        for piece in contents.held:
            for pattern in piece.choices:
                self.by_pattern.setdefault(pattern, []).append(piece)

    def of(self, patterns: tuple[str, ...]) -> tuple[Held, ...]:
        """Pieces that are certainly one of these patterns."""
        found: dict[tuple[str, bool], Held] = {}
        for pattern in patterns:
            for piece in self.by_pattern.get(pattern, []):
                if all(c in patterns for c in piece.choices):
                    found[piece.key, piece.beside] = piece
        return tuple(found.values())


class Workshop:
    """Which partners each pattern needs, worked out once per reference."""

    def __init__(self, reference: Reference, lore: Lore) -> None:
        self.reference = reference
        self.lore = lore
        self.places: dict[str, list[tuple[Unit, int]]] = {}
        for unit in reference.units.values():
            for index, slot in enumerate(unit.slots):
                for pattern in slot.alternatives:
                    self.places.setdefault(pattern, []).append((unit, index))
        self._slot_words: dict[tuple[str, int], frozenset[str]] = {}
        self._needs: dict[tuple[str, str], tuple[Need, ...]] = {}

    def slot_words(self, unit: Unit, index: int) -> frozenset[str]:
        """Words by which a slot may be called: its name and what its alternatives share."""
        key = (unit.id, index)
        if key not in self._slot_words:
            slot = unit.slots[index]
            names = [words_of(a) for a in slot.alternatives]
            shared = frozenset.intersection(*names) if names else frozenset()
            self._slot_words[key] = words_of(slot.name) | shared | (
                names[0] if len(names) == 1 else frozenset()
            )
        return self._slot_words[key]

    def needs(self, pattern: str, action: str) -> tuple[Need, ...]:
        """Units that would do, each with the slots needed; empty when the piece works alone."""
        key = (pattern, action)
        if key not in self._needs:
            self._needs[key] = self._work_out(pattern, action)
        return self._needs[key]

    def _work_out(self, pattern: str, action: str) -> tuple[Need, ...]:
        record = self.reference.patterns.get(pattern)
        if record is None:
            return ()
        offer = next((o for o in record.offers if o.action == action), None)
        if offer is None and self._is_bare_part(record):
            # a bare part needs its partner for whatever it is used
            offer = next((o for o in record.offers if (o.part_complete or "")[:5] == "needs"), None)
        text = (offer.part_complete or "") if offer else ""
        if not text.startswith("needs"):
            return ()
        groups_of_words = self._groups(text)
        found: list[Need] = []
        for unit, own in self.places.get(pattern, []):
            groups = []
            for options in groups_of_words:
                slots = tuple(
                    sorted({s for o in options if (s := self._slot_for(unit, own, o)) is not None})
                )
                if slots:
                    groups.append(slots)
            if groups:
                chained = self._chained(unit, own, action, groups)
                found.append(Need(unit.id, tuple(groups), chained))
        fitting = [n for n in found if action in self.reference.units[n.unit].actions]
        return tuple(fitting or found)

    def _chained(
        self, unit: Unit, own: int, action: str, groups: list[tuple[int, ...]]
    ) -> tuple[tuple[int, ...], ...]:
        """What the partners need in turn: thread needs a needle, and that a holder."""
        chain: list[tuple[int, ...]] = []
        for group in groups:
            if len(group) != 1:
                continue
            for alternative in unit.slots[group[0]].alternatives[:1]:
                record = self.reference.patterns.get(alternative)
                offers = record.offers if record else ()
                text = next((o.part_complete or "" for o in offers if o.action == action), "")
                if not text.startswith("needs"):
                    continue
                for options in self._groups(text):
                    slots = {s for o in options if (s := self._slot_for(unit, own, o)) is not None}
                    further = tuple(sorted(slots - {own, group[0]}))
                    if further and further not in chain and further not in groups:
                        chain.append(further)
        return tuple(chain)

    @staticmethod
    def _groups(text: str) -> list[list[frozenset[str]]]:
        """Words of "needs X and Y or Z": groups of options; a hand as an option needs nothing."""
        first = text.removeprefix("needs").partition(";")[0]
        groups = []
        for clause in re.split(r",|\band\b", first):
            options = [words_of(o) for o in re.split(r"\bor\b", clause)]
            options = [o for o in options if o]
            if options and not any(o & _HANDS for o in options):
                groups.append(options)
        return groups

    def _slot_for(self, unit: Unit, own: int, wanted: frozenset[str]) -> int | None:
        best, score = None, 0.0
        for index in range(len(unit.slots)):
            if index == own and unit.slots[index].count == 1:
                continue
            shared = len(wanted & self.slot_words(unit, index))
            if shared > score:
                best, score = index, shared
        return best

    def fill(self, unit: Unit, index: int, lead: Held, inventory: Inventory) -> Part:
        """How one slot beside a leading piece is filled; worked out once per inventory."""
        key = (unit.id, index, lead.key)
        found = inventory.fills.get(key)
        if found is None:
            found = inventory.fills[key] = self._fill(unit, index, lead, inventory)
        return found

    def _fill(self, unit: Unit, index: int, lead: Held, inventory: Inventory) -> Part:
        slot = unit.slots[index]
        if slot.count > PAIR:
            # so many are usual; the unit works with one
            slot = msgspec.structs.replace(slot, count=1)
        patterns = self._expand(slot)
        held = tuple(
            h for h in inventory.of(patterns) if h.key != lead.key or h.count >= slot.count
        )
        wanted = slot.alternatives
        if sum(h.count for h in held) >= slot.count:
            return Part(slot.name, "held", held, wanted=wanted, count=slot.count)
        stated_absent = self._stated_absent(unit, index, lead) or any(
            p in inventory.denied for p in patterns
        )
        comes = self.lore.comes.get((unit.id, index))
        if not stated_absent and lead.whole:
            comes = "withIt"
        if comes and not stated_absent:
            return Part(slot.name, "presumed", words=comes, wanted=wanted, count=slot.count)
        return self._stand_in(unit, index, held, inventory) or Part(
            slot.name, "lacking", held, wanted=wanted, count=slot.count
        )

    def _expand(self, slot: Slot) -> tuple[str, ...]:
        """Patterns of a slot; a unit named in a slot stands for its leading alternatives."""
        out: list[str] = []
        for alternative in slot.alternatives:
            unit = self.reference.units.get(alternative)
            out.extend(unit.slots[-1].alternatives if unit else (alternative,))
        return tuple(out)

    def named_whole(self, pattern: str, text: str) -> bool:
        """Whether a line names a whole unit and then the blade in it ("scalpel with blade 10").

        Only blades are listed so; "scalpel blade 10" is the blade alone.
        """
        record = self.reference.patterns.get(pattern)
        if record is None or "blade_only" not in record.features.get("part", ()):
            return False
        words = text.lower()
        return any(
            re.search(
                rf"\b{re.escape(word)}s?\b[^a-z]*(?:,|\(|with|and|plus|fitted)\W.*"
                rf"\b{re.escape(unit.slots[own].name.split()[0].lower())}",
                words,
            )
            for unit, own in self.places.get(pattern, [])
            for word in words_of(unit.name) - words_of(unit.slots[own].name)
        )

    def _stated_absent(self, unit: Unit, index: int, lead: Held) -> bool:
        names = self.slot_words(unit, index)
        said = [*lead.attributes.absent]
        said += [s for s in lead.attributes.state if re.search(r"missing|without|no |lack", s)]
        return any(words_of(text) & names for text in said)

    def _stand_in(
        self, unit: Unit, index: int, held: tuple[Held, ...], inventory: Inventory
    ) -> Part | None:
        slot = unit.slots[index]
        names = self.slot_words(unit, index)
        short = slot.count - sum(h.count for h in held)
        best: Part | None = None
        for stand_in in unit.stand_ins:
            part = words_of(stand_in.part)
            if stand_in.grade not in USABLE or stand_in.subject is None or not part & names:
                continue
            if "both" in stand_in.part and short < slot.count:
                continue
            pieces = inventory.of((stand_in.subject,))
            if sum(p.count for p in pieces) < max(short, 1):
                continue
            found = Part(
                slot.name, "stand-in", (*held, *pieces), stand_in.grade, stand_in.text,
                slot.alternatives, slot.count,
            )
            if best is None or rank(found.cap) > rank(best.cap):
                best = found
        return best

    def assemble(self, lead: Held, pattern: str, action: str, inventory: Inventory) -> Assembly:
        """The best unit that a piece can be put into for an action.

        The unit with least lacking wins, then the one with the best stand-ins.
        """
        needs = self.needs(pattern, action)
        if not needs:
            return ALONE
        best: Assembly | None = None
        for need in needs:
            unit = self.reference.units[need.unit]
            parts = tuple(
                [self._any_of(unit, group, lead, inventory) for group in need.groups]
                + [makeshift(self._any_of(unit, g, lead, inventory)) for g in need.chained]
            )
            found = Assembly(need.unit, parts)
            if best is None or (len(found.lacking), -rank(found.cap)) < (
                len(best.lacking), -rank(best.cap),
            ):
                best = found
        return best or ALONE

    def _any_of(
        self, unit: Unit, group: tuple[int, ...], lead: Held, inventory: Inventory
    ) -> Part:
        parts = [self.fill(unit, index, lead, inventory) for index in group]
        order = ("held", "presumed", "stand-in", "lacking")
        return min(parts, key=lambda p: order.index(p.fill))

    def dependent(self, record: Pattern) -> bool:
        """Whether a piece is a part only: useless by itself whatever it is wanted for."""
        kinds = set(record.features.get("part", ()))
        if kinds & _PART_KINDS or "needs_partner" in record.features:
            return True
        main = [o for o in record.offers if o.role == "main"]
        return bool(main) and all(
            any(self._decides(n) for n in self.needs(record.id, o.action)) for o in main
        )

    def _decides(self, need: Need) -> bool:
        """Whether a need holds a slot that is neither packed with the piece nor in every room."""
        unit = self.reference.units[need.unit]
        return any(
            all(
                (need.unit, i) not in self.lore.comes
                and not any(a in self.lore.everyday for a in unit.slots[i].alternatives)
                for i in group
            )
            for group in need.groups
        )

    def whole_unit(self, lead: Held, pattern: str, inventory: Inventory) -> Assembly | None:
        """The fullest unit of which a part is a member, with every slot that a list must name.

        None when the pattern belongs to no unit that could tell.
        """
        best: Assembly | None = None
        record = self.reference.patterns[pattern]
        offers = [o for o in record.offers if o.role == "main"] or list(record.offers)
        meant = {n.unit for o in offers for n in self.needs(pattern, o.action)}
        for unit, own in self.places.get(pattern, []):
            if meant and unit.id not in meant:
                continue
            parts = tuple(
                self.fill(unit, index, lead, inventory)
                for index in range(len(unit.slots))
                if index != own or PAIR >= unit.slots[index].count > max(lead.count, 1)
            )
            if not parts:
                continue
            found = Assembly(unit.id, parts)
            if best is None or len(found.lacking) < len(best.lacking):
                best = found
        return best

    @staticmethod
    def _is_bare_part(record: Pattern) -> bool:
        return bool(set(record.features.get("part", ())) & _PART_KINDS) or all(
            o.action == "unit_part" for o in record.offers
        )
