"""From the words of what somebody wants to use to a :class:`Candidate`.

Read in this order, each taking its words out of the text: how it is used (manner), what is said
to be missing or not to fit, then the pieces with counts and attributes.  What is a hand or a way
of doing is matched with what the step states of it.  Words that cannot be read are returned as
unresolved; they are never passed over in silence.
"""

from __future__ import annotations

from functools import cached_property

from msgspec.structs import replace as changed

from etui.judging.absence import Absence, take_absent
from etui.judging.circumstance import TOWARD_VITAL, CircumstanceReader, Said
from etui.judging.improvised import ByHand
from etui.judging.model import Candidate, Piece
from etui.judging.pieces import Choice, PieceReader, Pieces, Reads
from etui.judging.segments import segments
from etui.judging.units import Units
from etui.judging.wording import cut, stems, words
from etui.knowledge.model import Pattern, Record, Reference, Step
from etui.reading.model import Alternative

_PLACE_WORDS = frozenset(("on", "onto", "across", "in", "into", "through", "over", "under"))


class CandidateReading(Record, frozen=True):
    """A candidate as read.

    ``choice``: set when the leading piece may be one of several patterns.  ``unresolved``: what
    could not be read, in words.  ``by_hand``: a hand does it.  ``others``: further pieces that do
    not work as one thing with the first.  ``nearly``: what the leading words may mean nearly as
    well.
    """

    candidate: Candidate
    choice: Choice | None = None
    unresolved: tuple[str, ...] = ()
    by_hand: bool = False
    others: tuple[str, ...] = ()
    nearly: tuple[Alternative, ...] = ()


class CandidateReader:
    """Reads candidates; built once for a reference and safe to share."""

    def __init__(self, reference: Reference, reader: Reads, units: Units) -> None:
        self.reference = reference
        self.reader = PieceReader(reference, reader, units)
        self.absence = Absence(reference, self.reader, units)
        self.around = CircumstanceReader(reference)
        self.hands = ByHand(reference)

    def pieces(self, text: str) -> Pieces:
        """The pieces that *text* names (an id or words), with what they may also mean."""
        return self.reader.pieces(text)

    def read(self, step: Step, text: str) -> CandidateReading:
        """The candidate that *text* names for *step*."""
        plain = text.strip()
        if plain in self.reference.patterns or plain in self.reference.manoeuvres:
            return CandidateReading(candidate=Candidate(text=plain, pieces=(Piece(id=plain),)))
        if self.reader.by_name.get(tuple(words(plain))):
            # A name is a name, whatever its words say elsewhere ("with or without needle").
            manners, rest, said_absent = Said(), plain, tuple[str, ...]()
        else:
            manners = self.around.manners(plain)
            rest, said_absent = take_absent(plain)
        found = self.pieces(rest)
        if manners.places:
            named = found
            holes = [_before_place(plain, place) for place in manners.places]
            without, absent_without = take_absent(cut(plain, holes))
            found = self.pieces(without)
            kept = self._beside_name(plain, manners, named)
            if kept is not manners and _lead(named) != _lead(found):
                found, manners = named, kept  # "red-hot paper clip" is a name, not a manner
            else:
                said_absent = absent_without
        techniques = self.hands.techniques(step, plain, self._names_of(found))
        by_hand = self._by_hand(step, plain, found, manners.ids)
        if by_hand is not None:
            candidate = Candidate(text=plain, pieces=(by_hand,), techniques=techniques)
            return CandidateReading(candidate=candidate, by_hand=True)
        stated = {j.subject for j in step.judgements}
        pieces = tuple(p for p in found.pieces if p.id in stated or not self._is_manoeuvre(p.id))
        found = changed(found, pieces=pieces)
        absent, beside = self.absence.parts(found, said_absent)
        candidate = Candidate(
            text=plain,
            pieces=pieces,
            absent=absent,
            manners=self._with_place(step, plain, manners),
            techniques=techniques,
            improvised=None if pieces or found.choice else plain,
        )
        return CandidateReading(
            candidate=candidate,
            choice=found.choice,
            unresolved=(*found.unread, *found.beside, *beside),
            others=found.others,
            nearly=found.nearly,
        )

    def _names_of(self, found: Pieces) -> tuple[str, ...]:
        """Every name of the leading piece: a technique may call it by another."""
        pattern = self.reference.patterns.get(_lead(found) or "")
        return (pattern.name, *(n.text for n in pattern.names)) if pattern else ()

    def _with_place(self, step: Step, text: str, said: Said) -> tuple[str, ...]:
        """The manners said, and that of a piece turned toward what the step must leave whole."""
        if not self.around.toward_vital(step, text):
            return said.ids
        return tuple(sorted({*said.ids, TOWARD_VITAL}))

    def _beside_name(self, text: str, manners: Said, found: Pieces) -> Said:
        """Manners without those whose words are part of the piece's own name."""
        pattern = self.reference.patterns.get(_lead(found) or "")
        if pattern is None:
            return manners
        own = {s for n in (pattern.name, *(x.text for x in pattern.names)) for s in stems(n)}
        said = {s for start, end in manners.places for s in stems(text[start:end])}
        return Said() if said and said <= own else manners

    # -- by hand ---------------------------------------------------------------------------

    def _by_hand(
        self, step: Step, text: str, found: Pieces, manners: tuple[str, ...]
    ) -> Piece | None:
        """A manoeuvre, when a hand is what works or no instrument could be read.

        A manoeuvre that the graph knows as a pattern is taken when the step states it.
        """
        led = self.hands.led_by_hand(text) and not self._named_for_hand(text, found)
        stated = {j.subject for j in step.judgements}
        known = [p for p in found.pieces if self._is_manoeuvre(p.id)]
        match = self.hands.best(step, text)
        if (found.pieces or found.choice) and not led and not known:
            # Words that match a stated way almost wholly outrank a piece named within them.
            known_here = any(p.id in stated for p in found.pieces[:1])
            need = 0.8 if known_here or found.choice else 0.66
            return Piece(id=match.id) if match and match.score >= need else None
        here = [p for p in known if p.id in stated]
        if match is not None and (not here or match.score >= 0.75):
            return Piece(id=match.id)
        if here:
            return here[0]
        if not led:
            return known[0] if known and known[0] is found.pieces[0] else None
        if not any(self.reference.manners[m].hazards_add for m in manners):
            near = self.hands.nearest(step, text)
            if near is not None:
                return Piece(id=near.id)
            pattern = [id_ for id_ in sorted(stated) if self._is_pattern_hand(id_)]
            if len(pattern) == 1:
                return Piece(id=pattern[0])
        generic = self._generic(step, text)
        return Piece(id=generic) if generic is not None else (known[0] if known else None)

    def _named_for_hand(self, text: str, found: Pieces) -> bool:
        """Whether the hand is part of an instrument's name ("thumb forceps", "hand drill")."""
        ids = [p.id for p in found.pieces[:1]]
        ids += [o.id for o in found.choice.options] if found.choice else []
        hand = self.hands.first_hand(text)
        first = segments(text, self.reader.is_place, self.reader.is_name)[:1]
        more = {s for part in first for s in stems(part.text) if not self.hands.is_hand(s)}
        return hand is not None and any(
            hand in spoken and more & spoken
            for id_ in ids
            if not self._is_manoeuvre(id_)
            for name in self.reference.patterns[id_].names
            for spoken in [frozenset(stems(name.text))]
        )

    def _is_pattern_hand(self, id_: str) -> bool:
        return id_ in self.reference.patterns and self._is_manoeuvre(id_)

    def _is_manoeuvre(self, id_: str) -> bool:
        pattern = self.reference.patterns.get(id_)
        if pattern is None:
            return id_ in self.reference.manoeuvres
        return "manoeuvre" in pattern.features.get("part", ())

    @cached_property
    def _any_hands(self) -> tuple[Pattern, ...]:
        """Records of hands in general: manoeuvres that no step names."""
        named = {j.subject for step in self.reference.steps.values() for j in step.judgements}
        return tuple(
            p
            for p in self.reference.patterns.values()
            if p.id not in named and self._is_manoeuvre(p.id)
        )

    def _generic(self, step: Step, text: str) -> str | None:
        """A hand in general that offers the step's action; the words choose among several."""
        row = set(stems(text))
        best: tuple[int, int, str] | None = None
        for pattern in self._any_hands:
            offered = [o for o in pattern.offers if o.action == step.action]
            if not offered:
                continue
            spoken = {s for n in (pattern.name, *(x.text for x in pattern.names)) for s in stems(n)}
            key = (-len(row & spoken), 0 if offered[0].role == "main" else 1, pattern.id)
            if best is None or key < best:
                best = key
        return best[2] if best else None


def _before_place(text: str, place: tuple[int, int]) -> tuple[int, int]:
    """A manner's words without a last word of place when a place follows: "closed | on the loop".

    What is left then still says where, and does not run into the name of the piece.
    """
    start, end = place
    said = text[start:end]
    last = said.rsplit(None, 1)[-1]
    if len(last) < len(said) and last.lower() in _PLACE_WORDS and text[end : end + 1] == " ":
        return start, end - len(last)
    return place


def _lead(found: Pieces) -> str | None:
    """The first piece read, None when it is open."""
    return found.pieces[0].id if found.pieces else None


__all__ = ["CandidateReader", "CandidateReading", "Choice", "Pieces", "Reads"]
