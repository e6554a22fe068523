"""From the words of what somebody wants to use to a :class:`Candidate`.

Read in this order, each taking its words out of the text: how it is used (manner), what is said
to be missing or not to fit, then the pieces with counts and attributes.  What is a hand or a way
of doing is matched with what the step states of it.  Words that cannot be read are returned as
unresolved; they are never passed over in silence.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cached_property
from typing import Protocol

from etui.judging.circumstance import CircumstanceReader
from etui.judging.improvised import ByHand
from etui.judging.model import Candidate, Piece
from etui.judging.segments import Segment, joined, segments
from etui.judging.units import Units, names_slot
from etui.judging.wording import STOP, cut, stem, stems
from etui.knowledge.model import Pattern, Record, Reference, Slot, Step
from etui.reading.model import Alternative, Item, Reading

_ABSENT = re.compile(
    r"\b(?:(?:with\s+)?(?:no|not\s+any)\b(?!\.?\s*\d)|without|lacking|minus|lost\s+its|missing\s+its)"
    r"\s+(?:an?\s+|the\s+|its\s+|any\s+|matching\s+|spare\s+)*"
    r"(?P<what>[a-z][a-z0-9 \-]*?)"
    r"(?=\s+(?:in|to|that|on|at|for|which|here|there|and|but|or|left|ready|available)\b|\s*[,;.)]|$)",
    re.IGNORECASE,
)
_GONE = re.compile(
    r"(?:\b(?:but|and|with|its|the)\s+)*\b(?P<what>[a-z][a-z0-9\-]*(?:\s+[a-z][a-z0-9\-]*)?)\s+"
    r"(?:is\s+|are\s+|was\s+|has\s+)*"
    r"(?:missing|lost|broken\s+off|gone|not\s+there|not\s+to\s+hand|nowhere|left\s+behind|absent|"
    r"flat|dead|empty|cannot\s+be\s+found)\b",
    re.IGNORECASE,
)
_MISFIT = re.compile(
    r"\b(?:that|which|but\s+it|it)?\s*(?:does|will|do)(?:\s+not|n't)\s+(?:fit|seat|match|go\s+on)"
    r"[a-z ]*",
    re.IGNORECASE,
)
_INSTEAD = re.compile(r"\b(?:instead\s+of|in\s+place\s+of|rather\s+than)\b.*$", re.IGNORECASE)


_TOGETHER = 4
"""How many parts of a text are tried as the name of one thing."""

_TRAILING = frozenset(
    ("alone", "only", "together", "twice", "once", "again", "there", "here", "first", "now", "two",
     "instead", "too", "just")
)
_NO_KIND = frozenset(("whol", "onli", "consumabl", "accessori", "part", "two", "thre"))


class Reads(Protocol):
    """What is needed of the reader of instrument lines."""

    def read(self, text: str, *, heading: str | None = None) -> Reading: ...


class Choice(Record, frozen=True):
    """Several patterns that the leading words may mean; the answer must hold for all of them."""

    text: str
    options: tuple[Alternative, ...]
    ask: str | None = None


class CandidateReading(Record, frozen=True):
    """A candidate as read.

    ``choice``: set when the leading piece may be one of several patterns.  ``unresolved``: what
    could not be read, in words.  ``whole``: nothing of importance was left unread.
    """

    candidate: Candidate
    choice: Choice | None = None
    unresolved: tuple[str, ...] = ()
    by_hand: bool = False


class Pieces(Record, frozen=True):
    """Pieces named in a text, whatever the step."""

    pieces: tuple[Piece, ...] = ()
    choice: Choice | None = None
    unread: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()


class CandidateReader:
    """Reads candidates; built once for a reference and safe to share."""

    def __init__(self, reference: Reference, reader: Reads, units: Units) -> None:
        self.reference = reference
        self.reader = reader
        self.units = units
        self.around = CircumstanceReader(reference)
        self.hands = ByHand(reference)
        self._seen: dict[str, Pieces] = {}

    def pieces(self, text: str) -> Pieces:
        """The pieces that *text* names (an id or words), with what they may also mean."""
        plain = text.strip()
        if plain in self.reference.patterns or plain in self.reference.manoeuvres:
            return Pieces(pieces=(Piece(id=plain),))
        found = self._seen.get(plain)
        if found is None:
            found = self._read_pieces(plain) if plain else Pieces()
            if len(self._seen) > 5_000:
                self._seen.clear()
            self._seen[plain] = found
        return found

    def _read_pieces(self, text: str) -> Pieces:
        """Read the text part by part, as many words together as name one thing."""
        parts = segments(text, self._is_place)
        pieces: list[Piece] = []
        unread: list[str] = []
        absent: list[str] = []
        choice: Choice | None = None
        at = 0
        while at < len(parts):
            size, items = self._longest(parts, at)
            for item in items:
                absent += item.attributes.absent
                if item.pattern is not None:
                    if item.quantity == 0:
                        absent.append(item.pattern)
                    else:
                        pieces.append(_piece(item))
                elif item.kind == "ambiguous" and item.alternatives:
                    if not pieces and choice is None:
                        choice = Choice(text=item.text, options=item.alternatives, ask=item.ask)
                    else:
                        pieces.append(
                            Piece(
                                id=item.alternatives[0].id,
                                attributes=item.attributes,
                                count=item.quantity or 1,
                            )
                        )
                elif item.kind != "not-an-item" and parts[at].may_name:
                    unread.append(_guess(item))
            at += size
        return Pieces(
            pieces=tuple(pieces), choice=choice, unread=tuple(unread), absent=tuple(absent)
        )

    def _longest(self, parts: tuple[Segment, ...], at: int) -> tuple[int, tuple[Item, ...]]:
        """How many parts from *at* on name things when read together, and the things."""
        alone: tuple[Item, ...] = ()
        for end in range(min(len(parts), at + _TOGETHER), at, -1):
            if end - at > 1 and not parts[at].may_name:
                continue
            text = joined(parts[at:end])
            items = tuple(i for i in self.reader.read(text).items if i.kind != "not-an-item")
            if len(items) == 1 and items[0].pattern is not None:
                return end - at, items
            if end - at == 1:
                alone = items
        if alone and all(i.pattern is None and i.kind != "ambiguous" for i in alone):
            alone = self._trimmed(parts[at].text) or alone
        return 1, alone

    def _trimmed(self, text: str) -> tuple[Item, ...]:
        """The same words without describing words in front or behind that nobody knows."""
        words = text.split()
        while len(words) > 1 and words[-1].lower().strip(".") in _TRAILING:
            words.pop()
        for start in range(min(4, len(words))):
            items = self.reader.read(" ".join(words[start:])).items
            if len(items) == 1 and (items[0].pattern is not None or items[0].kind == "ambiguous"):
                return items
        return ()

    def _is_place(self, words: Sequence[str]) -> bool:
        """Whether words say where it is used, not with what: they name tissue."""
        row = [stem(w) for w in words]
        telling = [s for s in row if s not in STOP]
        return bool(telling) and all(s in self._tissue_words for s in telling)

    @cached_property
    def _tissue_words(self) -> frozenset[str]:
        terms = self.reference.terms.get("tissue", {}).values()
        return frozenset(
            s for term in terms for text in (term.name, *term.aliases) for s in stems(text)
        )

    def read(self, step: Step, text: str) -> CandidateReading:
        """The candidate that *text* names for *step*."""
        plain = text.strip()
        if plain in self.reference.patterns or plain in self.reference.manoeuvres:
            return CandidateReading(candidate=Candidate(text=plain, pieces=(Piece(id=plain),)))
        techniques = self.hands.techniques(step, plain)
        manners = self.around.manners(plain)
        rest = cut(plain, manners.places)
        rest, said_absent = _take_absent(rest)
        found = self.pieces(rest)
        candidate = Candidate(
            text=plain,
            pieces=found.pieces,
            absent=(),
            manners=manners.ids,
            techniques=techniques,
        )
        by_hand = self._by_hand(step, plain, found, manners.ids)
        if by_hand is not None:
            return CandidateReading(
                candidate=Candidate(
                    text=plain, pieces=(by_hand,), manners=(), techniques=techniques
                ),
                by_hand=True,
            )
        absent, beside = self._absent(found, said_absent)
        unresolved = (*found.unread, *beside)
        candidate = Candidate(
            text=plain, pieces=found.pieces, absent=absent, manners=manners.ids,
            techniques=techniques,
            improvised=None if found.pieces or found.choice else plain,
        )
        return CandidateReading(candidate=candidate, choice=found.choice, unresolved=unresolved)

    # -- by hand ---------------------------------------------------------------------------

    def _by_hand(
        self, step: Step, text: str, found: Pieces, manners: tuple[str, ...]
    ) -> Piece | None:
        """A manoeuvre, when a hand is what works or no instrument could be read.

        A manoeuvre that the graph knows as a pattern is taken when the step states it.
        """
        led = self.hands.led_by_hand(text)
        stated = {j.subject for j in step.judgements}
        known = [p for p in found.pieces if self._is_manoeuvre(p.id)]
        match = self.hands.best(step, text)
        if found.pieces and not led and not known:
            # Words that match a stated way almost wholly outrank a piece named within them.
            need = 0.8 if found.pieces[0].id in stated else 0.66
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

    # -- what is missing -------------------------------------------------------------------

    def _absent(
        self, found: Pieces, said: tuple[str, ...]
    ) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Parts said to be missing that the pieces work with, and the rest in words."""
        ids = [p.id for p in found.pieces]
        if found.choice:
            ids += [o.id for o in found.choice.options]
        slots = [
            slot
            for id_ in ids
            for unit in self.units.of.get(id_, ())
            for slot in self.reference.units[unit].slots
            if id_ not in slot.alternatives or slot.count > 1
        ]
        absent: list[str] = []
        beside: list[str] = []
        for words in (*found.absent, *said):
            named = self._resolve(words)
            slot = next((s for s in slots if self._is_of(words, named, s)), None)
            if slot is not None:
                absent.append(named if named in slot.alternatives else slot.alternatives[0])
            elif any(self._needs(id_, words) for id_ in ids):
                absent.append(named or words)
            else:
                beside.append(f"{words} (said to be missing): not known as a part of it")
        return tuple(dict.fromkeys(absent)), tuple(dict.fromkeys(beside))

    def _is_of(self, words: str, named: str | None, slot: Slot) -> bool:
        """Whether the words name what belongs in *slot*: by id, by the slot's own word, or by
        the kind of part that it is (a bit, a handle, a blade)."""
        if named is not None and named in slot.alternatives:
            return True
        if names_slot(words, slot):
            return True
        kinds = {
            word
            for id_ in slot.alternatives
            if (pattern := self.reference.patterns.get(id_)) is not None
            for part in pattern.features.get("part", ())
            for word in stems(part.replace("_", " "))
        }
        return bool(set(stems(words)) & (kinds - _NO_KIND))

    def _resolve(self, words: str) -> str | None:
        if words in self.reference.patterns:
            return words
        items = self.reader.read(words).items
        return items[0].pattern if items else None

    def _needs(self, id_: str, words: str) -> bool:
        pattern = self.reference.patterns.get(id_)
        if pattern is None:
            return False
        needed = " ".join((
            *pattern.features.get("needs_partner", ()), *pattern.pairs_with,
            *(offer.part_complete or "" for offer in pattern.offers),
        ))
        return bool(set(stems(words)) & set(stems(needed.replace("_", " "))))


def _take_absent(text: str) -> tuple[str, tuple[str, ...]]:
    """Cut "no mallet in the room" and the like out of *text*; what is missing in words."""
    rest = _INSTEAD.sub("", text).strip(" ,;")
    rest = _MISFIT.sub("", rest).strip(" ,;")
    absent: list[str] = []
    for pattern in (_ABSENT, _GONE):
        for match in pattern.finditer(rest):
            absent.append(match.group("what").strip())
        rest = cut(rest, [m.span() for m in pattern.finditer(rest)])
    return rest or text, tuple(absent)


def _piece(item: Item) -> Piece:
    count = item.quantity if item.quantity and item.quantity > 0 else 1
    return Piece(id=item.pattern or "", attributes=item.attributes, count=count)


def _guess(item: Item) -> str:
    near = ", ".join(f"{a.name} ({a.id})" for a in item.alternatives[:3])
    said = f"{item.text}: {item.ask or 'not in the reference'}"
    return f"{said}; nearest: {near}" if near else said




__all__ = ["CandidateReader", "CandidateReading", "Choice", "Pieces", "Reads"]
