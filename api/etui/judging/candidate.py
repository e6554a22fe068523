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

from msgspec.structs import replace as changed

from etui.judging.circumstance import CircumstanceReader, Said
from etui.judging.improvised import ByHand
from etui.judging.model import Candidate, Piece
from etui.judging.segments import Segment, joined, segments
from etui.judging.units import Units, names_slot
from etui.judging.wording import STOP, cut, stem, stems, words
from etui.knowledge.model import Pattern, Record, Reference, Slot, Step
from etui.reading.model import Alternative, Attributes, Item, Reading

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
_INSTEAD = re.compile(
    r"\b(?:instead\s+of|in\s+place\s+of|rather\s+than)\s+(?:an?\s+|the\s+|its\s+)?"
    r"(?P<what>[a-z][a-z0-9 \-]*?)\s*(?=[,;.]|$)",
    re.IGNORECASE,
)


_TOGETHER = 4
"""How many parts of a text are tried as the name of one thing."""

_TRAILING = frozenset(
    ("alone", "only", "together", "twice", "once", "again", "there", "here", "first", "now", "two",
     "instead", "too", "just", "but")
)
_PLAIN = frozenset(
    ("flat", "metal", "plastic", "sterile", "clean", "large", "big", "small", "long", "short",
     "old", "new", "standard", "ordinary", "simple", "folded", "opened", "single", "bent", "thin",
     "thick", "plain", "wooden", "green", "blue", "steel", "heavy", "fine", "spare", "cut")
)
"""Words that may be left out in front of a name when the whole cannot be read."""

_NEARLY = 0.7
"""Share of the best reading's score from which another reading is nearly as good."""

_PART_OF = frozenset(
    stem(w)
    for w in ("end", "tip", "piece", "pieces", "bit", "bits", "strip", "tie", "ties", "length",
              "loop", "roll", "wad", "ball", "side", "edge", "half", "pair", "couple", "back",
              "handful", "part", "scrap", "layer", "layers")
)
"""Words for a part or an amount: "a piece of tubing" is read as tubing."""

_ARTICLE = re.compile(r"^(?:an?|the|clean|sterile|some)\s+", re.IGNORECASE)

_SURE = 0.75
"""Score from which a part read alone is taken to name a piece of its own."""

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


class Pieces(Record, frozen=True):
    """Pieces named in a text, whatever the step."""

    pieces: tuple[Piece, ...] = ()
    choice: Choice | None = None
    unread: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    nearly: tuple[Alternative, ...] = ()


class CandidateReader:
    """Reads candidates; built once for a reference and safe to share."""

    def __init__(self, reference: Reference, reader: Reads, units: Units) -> None:
        self.reference = reference
        self.reader = reader
        self.units = units
        self.around = CircumstanceReader(reference)
        self.hands = ByHand(reference)
        self._seen: dict[str, Pieces] = {}
        self._lines: dict[str, tuple[Item, ...]] = {}

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
        """Read the text part by part; what joins the first piece to one thing counts as well."""
        called = self._called(text)
        if called is not None:
            return called
        parts = segments(text, self._is_place, self._is_name)
        pieces: list[Piece] = []
        unread: list[str] = []
        absent: list[str] = []
        beside: list[Item] = []
        nearly: tuple[Alternative, ...] = ()
        choice: Choice | None = None
        at = 0
        while at < len(parts):
            if not parts[at].may_name:
                at += 1
                continue
            size, items = self._named_from(parts, at)
            for item in items:
                absent += item.attributes.absent
                if item.quantity == 0 and item.pattern is not None:
                    absent.append(item.pattern)
                elif pieces or choice is not None:
                    lead = [p.id for p in pieces[:1]] or [o.id for o in choice.options]  # type: ignore[union-attr]
                    joined_piece = self._joining(lead, parts[at], item)
                    if joined_piece is not None:
                        pieces.append(joined_piece)
                        absent += self._too_few(lead, joined_piece, parts[at])
                    elif item.pattern is not None:
                        beside.append(item)
                elif unread:
                    continue  # what leads could not be read: nothing else stands in for it
                elif item.pattern is not None:
                    pieces.append(_piece(item))
                    if item.score < 1.0:  # a whole name means what it says
                        near = _NEARLY * item.score
                        nearly = tuple(a for a in item.alternatives if a.score >= near)
                elif item.kind == "ambiguous" and item.alternatives:
                    choice = Choice(text=item.text, options=item.alternatives, ask=item.ask)
                else:
                    unread.append(_guess(parts[at].text, item))
            at += size
        return Pieces(
            pieces=tuple(pieces),
            choice=choice,
            unread=tuple(unread),
            absent=tuple(absent),
            beside=tuple(
                f"{i.text} ({i.pattern}): does not work as one thing with it, left out"
                for i in beside
                if i.score >= _SURE
            ),
            others=tuple(i.pattern for i in beside if i.pattern and i.score >= _SURE),
            nearly=nearly,
        )

    def _called(self, text: str) -> Pieces | None:
        """What the whole text is a name of, word for word; several patterns may share it."""
        ids = self._by_name.get(tuple(words(text)), ())
        if not ids:
            return None
        if len(ids) == 1:
            items = self._items(text)
            same = [i for i in items if i.pattern == ids[0]]
            attributes = same[0].attributes if len(items) == 1 and same else Attributes()
            count = same[0].quantity if len(items) == 1 and same else None
            return Pieces(pieces=(Piece(id=ids[0], attributes=attributes, count=count or 1),))
        options = tuple(
            Alternative(id=id_, name=self.reference.patterns[id_].name, score=1.0) for id_ in ids
        )
        return Pieces(choice=Choice(text=text, options=options))

    @cached_property
    def _by_name(self) -> dict[tuple[str, ...], tuple[str, ...]]:
        found: dict[tuple[str, ...], list[str]] = {}
        for pattern in self.reference.patterns.values():
            if pattern.replaced_by:
                continue
            for text in (pattern.name, *(n.text for n in pattern.names)):
                ids = found.setdefault(tuple(words(text)), [])
                if pattern.id not in ids:
                    ids.append(pattern.id)
        return {key: tuple(ids) for key, ids in found.items() if key}

    def _items(self, text: str) -> tuple[Item, ...]:
        found = self._lines.get(text)
        if found is None:
            found = tuple(i for i in self.reader.read(text).items if i.kind != "not-an-item")
            if len(self._lines) > 10_000:
                self._lines.clear()
            self._lines[text] = found
        return found

    def _named_from(self, parts: tuple[Segment, ...], at: int) -> tuple[int, tuple[Item, ...]]:
        """How many parts from *at* on name or describe one thing, and the thing.

        A further part is taken in when it describes the same piece ("curved") or when only
        together they make a name; a part that names another piece stays apart.
        """
        items = self._items(parts[at].text)
        best = items[0] if len(items) == 1 and items[0].pattern is not None else None
        size = 1
        for end in range(at + 2, min(len(parts), at + _TOGETHER) + 1):
            text = joined(parts[at:end])
            together = self._items(text)
            if len(together) != 1 or together[0].pattern is None:
                continue
            found = together[0]
            alone = self._items(parts[end - 1].text) if parts[end - 1].may_name else ()
            other = alone[0].pattern if len(alone) == 1 and alone[0].score >= _SURE else None
            if best is None:
                if other != found.pattern and (items[:1] == () or items[0].pattern is None):
                    best, size = found, end - at
            elif found.pattern == best.pattern:
                if other is None or other == best.pattern:
                    best, size = found, end - at
            elif found.score >= _SURE and other is None:
                best, size = found, end - at
        if best is not None:
            return size, (best,)
        if all(i.pattern is None and i.kind != "ambiguous" for i in items):
            items = self._trimmed(parts[at].text) or items
        return 1, items

    def _trimmed(self, text: str) -> tuple[Item, ...]:
        """The same words without describing words in front or behind that name nothing."""
        words = text.split()
        while len(words) > 1 and words[-1].lower().strip(".") in _TRAILING:
            words.pop()
        for start in range(min(4, len(words))):
            part = " ".join(words[start:])
            items = self._items(part)
            if len(items) == 1 and (items[0].pattern is not None or items[0].kind == "ambiguous"):
                return items
            named = self._contained(part, items)
            if named is not None:
                return (named,)
            if self._is_name(words[start].lower()) and words[start].lower() not in _PLAIN:
                break  # a word of some name is never left out
        head, found, tail = text.partition(" of ")
        if found:
            items = self._items(head)
            if len(items) == 1 and items[0].pattern is not None and items[0].score >= _SURE:
                return items
        if found and set(stems(head)) & _PART_OF:
            return self._trimmed(_ARTICLE.sub("", tail))
        return ()

    def _contained(self, text: str, items: tuple[Item, ...]) -> Item | None:
        """The one alternative of which a whole name of two words or more stands in the text."""
        if len(items) != 1 or items[0].kind != "unknown":
            return None
        row = frozenset(stems(text))
        hits: list[tuple[int, str]] = []
        for option in items[0].alternatives:
            pattern = self.reference.patterns.get(option.id)
            if pattern is None:
                continue
            sizes = [
                len(words)
                for name in (pattern.name, *(n.text for n in pattern.names))
                if len(words := frozenset(stems(name))) > 1 and words <= row
            ]
            if sizes:
                hits.append((max(sizes), option.id))
        hits.sort(key=lambda h: (-h[0], h[1]))
        if not hits or (len(hits) > 1 and hits[0][0] == hits[1][0]):
            return None
        name = self.reference.patterns[hits[0][1]].name
        return changed(items[0], kind="instrument", pattern=hits[0][1], name=name, score=_SURE)

    def _joining(self, lead: Sequence[str], part: Segment, item: Item) -> Piece | None:
        """The piece, when it works as one thing with the leading one; None when it does not."""
        options = [item.pattern] if item.pattern else [a.id for a in item.alternatives]
        words = part.text
        count = _count(part.whole) or item.quantity or 1
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
                    if item.pattern is None and names_slot(words, slot):
                        return Piece(id=slot.alternatives[0], count=count)
                for stand in unit.stand_ins:
                    for option in options:
                        if self._alike(option, stand.subject):
                            return Piece(id=option, attributes=item.attributes, count=count)
        for option in options:
            for unit_id in self.units.of.get(option, ()):
                slots = self.reference.units[unit_id].slots
                if any(id_ in self._members(slot) for slot in slots for id_ in lead):
                    return Piece(id=option, attributes=item.attributes, count=count)
                if self._misfits(option, lead):
                    return Piece(id=option, attributes=item.attributes, count=count)
        return None

    def _too_few(self, lead: Sequence[str], piece: Piece, part: Segment) -> list[str]:
        """The part itself, when the words say one and the unit works with two."""
        if _count(part.whole) != 1:
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

    def _is_place(self, words: Sequence[str]) -> bool:
        """Whether words say where it is used, not with what: they name tissue."""
        row = [stem(w) for w in words]
        telling = [s for s in row if s not in STOP]
        return bool(telling) and all(s in self._tissue_words for s in telling)

    def _is_name(self, word: str) -> bool:
        """Whether a word belongs to some name of a pattern."""
        return stem(word) in self._name_words

    @cached_property
    def _name_words(self) -> frozenset[str]:
        return frozenset(
            s
            for p in self.reference.patterns.values()
            for text in (p.name, *(n.text for n in p.names))
            for s in stems(text)
        )

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
        if self._by_name.get(tuple(words(plain))):
            # A name is a name, whatever its words say elsewhere ("with or without needle").
            manners, rest, said_absent = Said(), plain, tuple[str, ...]()
        else:
            manners = self.around.manners(plain)
            rest, said_absent = _take_absent(plain)
        found = self.pieces(rest)
        if manners.places:
            named = found
            without, absent_without = _take_absent(cut(plain, manners.places))
            found = self.pieces(without)
            kept = self._beside_name(plain, manners, named)
            if kept is not manners and _lead(named) != _lead(found):
                found, manners = named, kept  # "red-hot paper clip" is a name, not a manner
            else:
                said_absent = absent_without
        by_hand = self._by_hand(step, plain, found, manners.ids)
        if by_hand is not None:
            candidate = Candidate(text=plain, pieces=(by_hand,), techniques=techniques)
            return CandidateReading(candidate=candidate, by_hand=True)
        stated = {j.subject for j in step.judgements}
        pieces = tuple(p for p in found.pieces if p.id in stated or not self._is_manoeuvre(p.id))
        found = changed(found, pieces=pieces)
        absent, beside = self._absent(found, said_absent)
        candidate = Candidate(
            text=plain,
            pieces=pieces,
            absent=absent,
            manners=manners.ids,
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
        first = segments(text, self._is_place, self._is_name)[:1]
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
        for part in (*found.absent, *said):
            named = self._resolve(part)
            slot = next((s for s in slots if self._is_of(part, named, s)), None)
            if slot is not None:
                if names_slot(part, slot):
                    absent.append(part)  # as said: an id shares words with other parts
                else:
                    absent.append(named if named in slot.alternatives else slot.alternatives[0])
            elif any(self._needs(id_, part) for id_ in ids):
                absent.append(named or part)
            else:
                beside.append(f"{part} (said to be missing): not known as a part of it")
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
    rest = _MISFIT.sub("", text).strip(" ,;")
    absent: list[str] = []
    for pattern in (_INSTEAD, _ABSENT, _GONE):
        for match in pattern.finditer(rest):
            absent.append(match.group("what").strip())
        rest = cut(rest, [m.span() for m in pattern.finditer(rest)])
    return rest or text, tuple(absent)


_NUMBERS = {"one": 1, "single": 1, "two": 2, "both": 2, "pair": 2, "three": 3, "four": 4}


def _count(text: str) -> int | None:
    """A number said in words or figures at the head of a part ("with one handle")."""
    for word in re.findall(r"[a-z0-9]+", text.lower())[:3]:
        if word in _NUMBERS:
            return _NUMBERS[word]
        if word.isdigit() and len(word) == 1:
            return int(word)
    return None


def _lead(found: Pieces) -> str | None:
    """The first piece read, None when it is open."""
    return found.pieces[0].id if found.pieces else None


def _piece(item: Item) -> Piece:
    count = item.quantity if item.quantity and item.quantity > 0 else 1
    return Piece(id=item.pattern or "", attributes=item.attributes, count=count)


def _guess(text: str, item: Item) -> str:
    near = ", ".join(f"{a.name} ({a.id})" for a in item.alternatives[:3])
    said = f"{text}: {item.ask or 'not in the reference'}"
    return f"{said}; nearest: {near}" if near else said




__all__ = ["CandidateReader", "CandidateReading", "Choice", "Pieces", "Reads"]
