"""Can it be put together?  Parts, their partners, and what stands in for a missing part.

A unit works as one thing.  The leading piece tells which unit is meant; a part is missing when
the wording says so, when a part that only works in pairs is there once, or when what is there in
its place does not fit.  What is not spoken of is taken to be there, unless the question says that
nothing else is.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Literal

from etui.judging.model import Candidate, Piece
from etui.judging.wording import stems
from etui.knowledge.model import GRADES, USABLE, Grade, Record, Reference, Slot, StandIn, Unit

_ROLES = {"main": 0, "also": 1, "makeshift": 2}


class Assembly(Record, frozen=True):
    """How the pieces of a candidate fit together.

    ``state``: complete (nothing speaks against it), stand-in (a part is replaced, with the grade
    that leaves), without (a part is not there that can be done without, likewise), missing or
    misfit (with the part in words).  ``lead``: the piece that does the
    work.
    """

    state: Literal["complete", "stand-in", "without", "missing", "misfit"]
    lead: Piece
    unit: str | None = None
    part: str = ""
    cap: Grade | None = None
    note: str = ""


class Units:
    """All units of the reference, looked up by their parts."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        of: dict[str, list[str]] = defaultdict(list)
        for unit in sorted(reference.units.values(), key=lambda u: u.id):
            for slot in unit.slots:
                for id_ in slot.alternatives:
                    if unit.id not in of[id_]:
                        of[id_].append(unit.id)
        self.of: dict[str, tuple[str, ...]] = {id_: tuple(ids) for id_, ids in of.items()}
        self.part_only = frozenset(
            id_ for id_, pattern in reference.patterns.items()
            if any(offer.action == "unit_part" for offer in pattern.offers)
            and not any((offer.part_complete or "yes") == "yes" for offer in pattern.offers)
        )

    def assemble(self, candidate: Candidate, action: str) -> Assembly:
        """Put the pieces of *candidate* together for *action*."""
        pieces = candidate.pieces
        lead = self._lead(pieces, action)
        if not candidate.absent and len(pieces) == 1 and not candidate.alone:
            return Assembly(state="complete", lead=lead, unit=self.best_unit(lead.id, action))
        unit = self._unit(lead.id, action, pieces, candidate.absent)
        if unit is None:
            if candidate.absent:
                return Assembly(
                    state="missing", lead=lead, part=_named(self.reference, candidate.absent[0]),
                )
            return Assembly(state="complete", lead=lead)
        return self._check(unit, lead, candidate, action)

    def best_unit(self, id_: str, action: str) -> str | None:
        """The unit of which *id_* is a part and that does *action*."""
        for unit_id in self.of.get(id_, ()):
            if action in self.reference.units[unit_id].actions:
                return unit_id
        return None

    def _lead(self, pieces: tuple[Piece, ...], action: str) -> Piece:
        """The piece that does the work: made for the action, else part of a unit that does it.

        The order in which pieces are named does not matter.
        """

        def place(piece: Piece) -> tuple[int, bool, str]:
            pattern = self.reference.patterns.get(piece.id)
            offers = pattern.offers if pattern is not None else ()
            roles = [_ROLES.get(o.role or "main", 0) for o in offers if o.action == action]
            return (min(roles, default=9), self.best_unit(piece.id, action) is None, piece.id)

        return min(pieces, key=place)

    def _unit(
        self, lead: str, action: str, pieces: tuple[Piece, ...], absent: tuple[str, ...]
    ) -> Unit | None:
        """The unit that fits best what is there and what is said to be missing."""
        best: tuple[int, str] | None = None
        there = {piece.id for piece in pieces if piece.id != lead}
        for unit_id in self.of.get(lead, ()):
            unit = self.reference.units[unit_id]
            score = 2 * (action in unit.actions)
            for slot in unit.slots:
                if lead in slot.alternatives:
                    continue
                score += 4 * any(self.names(word, slot, unit) for word in absent)
                score += 3 * bool(there & set(slot.alternatives))
            if best is None or score > best[0]:
                best = (score, unit_id)
        if best is None or (best[0] == 0 and not absent):
            return None
        return self.reference.units[best[1]]

    def _check(self, unit: Unit, lead: Piece, candidate: Candidate, action: str) -> Assembly:
        rest = [piece for piece in candidate.pieces if piece is not lead]
        outcome = Assembly(state="complete", lead=lead, unit=unit.id)
        unnamed = list(candidate.absent)
        for slot in unit.slots:
            named = [word for word in candidate.absent if self.names(word, slot, unit)]
            unnamed = [word for word in unnamed if word not in named]
            served = [p for p in candidate.pieces if p.id in slot.alternatives]
            if lead.id in slot.alternatives and not named:
                if not self._too_few(slot, [*served]):
                    continue
                named = ["one of two"]
            short = served and self._too_few(slot, served)
            short = short or (slot.count == 2 and any(w.startswith("one ") for w in named))
            misfit = self._misfit(unit, slot, rest) if not served else None
            lacking = bool(named) or bool(short) or misfit is not None
            if not lacking and candidate.alone and not served:
                lacking = self._needed(lead.id, action)
            if not lacking:
                continue
            stand = self._stand_in(unit, slot, rest, short=bool(short))
            stand = stand or self._in_words(unit, slot, candidate.text)
            if stand is None and slot.without is not None and slot.without in USABLE and named:
                if outcome.cap is None or GRADES.index(slot.without) > GRADES.index(outcome.cap):
                    outcome = Assembly(
                        state="without", lead=lead, unit=unit.id, part=slot.name,
                        cap=slot.without, note=unit.when_missing,
                    )
                continue
            if stand is not None and stand.grade != "unable":
                if outcome.cap is None or GRADES.index(stand.grade) > GRADES.index(outcome.cap):
                    outcome = Assembly(
                        state="stand-in", lead=lead, unit=unit.id, part=slot.name,
                        cap=stand.grade, note=stand.text,
                    )
                continue
            return Assembly(
                state="misfit" if misfit is not None and not named else "missing", lead=lead,
                unit=unit.id, part=misfit or slot.name, note=unit.when_missing,
            )
        if unnamed and outcome.state == "complete":
            return Assembly(
                state="missing", lead=lead, unit=unit.id,
                part=_named(self.reference, unnamed[0]), note=unit.when_missing,
            )
        return outcome

    def names(self, word: str, slot: Slot, unit: Unit) -> bool:
        """Whether a missing part, by id or in words, means *slot* and no other of the unit."""
        if word == slot.name or word in slot.alternatives:
            return True
        if word in self.reference.patterns:
            return False
        mine = _slot_words(slot)
        for other in unit.slots:
            if other is not slot:
                mine -= _slot_words(other)
        spoken = word.lower().replace("-", " ").replace("_", " ").split()
        return bool(spoken) and _stem(spoken[-1]) in mine

    def _too_few(self, slot: Slot, served: list[Piece]) -> bool:
        """Parts that do nothing alone and work in pairs must be there as often as it takes."""
        if slot.count != 2 or not all(id_ in self.part_only for id_ in slot.alternatives):
            return False
        return sum(max(piece.count, 1) for piece in served) < slot.count

    def _misfit(self, unit: Unit, slot: Slot, rest: list[Piece]) -> str | None:
        """A piece that fills the like-named place of another unit does not fit this one."""
        for piece in rest:
            if any(piece.id in s.alternatives for s in unit.slots):
                continue
            if self._stand_in(unit, slot, [piece], short=False) is not None:
                return _named(self.reference, piece.id)
            for other_id in self.of.get(piece.id, ()):
                other = self.reference.units[other_id]
                if any(
                    s.name == slot.name and piece.id in s.alternatives for s in other.slots
                ) and set(other.actions) & set(unit.actions) and self._is_part(piece.id):
                    return _named(self.reference, piece.id)
        return None

    def _is_part(self, id_: str) -> bool:
        pattern = self.reference.patterns.get(id_)
        part = pattern.features.get("part", ()) if pattern is not None else ()
        return id_ in self.part_only or bool({"handle_only", "blade_only", "bit"} & set(part))

    def _needed(self, lead: str, action: str) -> bool:
        """Whether the leading piece cannot do the action without its partners."""
        pattern = self.reference.patterns.get(lead)
        if pattern is None:
            return False
        own = [o for o in pattern.offers if o.action == action]
        return not own or all((o.part_complete or "yes") != "yes" for o in own)

    def _stand_in(
        self, unit: Unit, slot: Slot, rest: list[Piece], *, short: bool
    ) -> StandIn | None:
        """What is in hand in place of the part; the worst grade where several would do."""
        found: StandIn | None = None
        for stand in unit.stand_ins:
            if not part_is(stand.part, slot, short=short):
                continue
            there = any(self._same_kind(stand, piece) for piece in rest)
            if there and (found is None or GRADES.index(stand.grade) > GRADES.index(found.grade)):
                found = stand
        return found

    def _in_words(self, unit: Unit, slot: Slot, text: str) -> StandIn | None:
        """A hand or an everyday thing said to take the place of the part; the worst of several."""
        said = set(stems(text))
        told = [
            s for s in unit.stand_ins
            if s.subject is None and s.text not in self.reference.patterns
            and part_is(s.part, slot, short=False)
            and len(own := set(stems(s.text))) > 1 and own <= said
        ]
        return max(told, key=lambda s: GRADES.index(s.grade), default=None)

    def _same_kind(self, stand: StandIn, piece: Piece) -> bool:
        """The very piece, or one of its family with the same lock."""
        if stand.subject is None:
            return False
        if piece.id == stand.subject:
            return True
        mine = self.reference.patterns.get(piece.id)
        named = self.reference.patterns.get(stand.subject)
        return (
            mine is not None and named is not None and mine.family == named.family
            and mine.features.get("lock") == named.features.get("lock")
            and mine.features.get("weight") == named.features.get("weight")
        )


def part_is(part: str, slot: Slot, *, short: bool) -> bool:
    """Whether a stand-in's part word ("handle", "one handle", "mallet") means *slot*."""
    words = part.lower().split()
    if "one" in words and not short:
        return False
    if "both" in words and short:
        return False
    return any(_stem(word) in _slot_words(slot) for word in words)


def names_slot(words: str, slot: Slot) -> bool:
    """Whether words for a part may mean *slot*: its name, an id, or a word that it shares."""
    if words == slot.name or words in slot.alternatives:
        return True
    spoken = words.lower().replace("-", " ").split()
    return any(_stem(word) in _slot_words(slot) for word in spoken)


def _slot_words(slot: Slot) -> frozenset[str]:
    words = set(slot.name.lower().replace("-", " ").split())
    for id_ in slot.alternatives:
        words.update(id_.split("-"))
    return frozenset(_stem(word) for word in words)


def _stem(word: str) -> str:
    return word[:-1] if word.endswith("s") and len(word) > 3 else word


def _named(reference: Reference, id_: str) -> str:
    pattern = reference.patterns.get(id_)
    return pattern.name if pattern is not None else id_
