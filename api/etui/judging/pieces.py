"""From words to the pieces that they name, whatever the step.

A text is read part by part (:mod:`etui.judging.segments`), as many words together as name one
thing.  What cannot be read is returned, and nothing that follows takes its place.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cached_property
from typing import Protocol

from msgspec.structs import replace as changed

from etui.judging.joining import Joining
from etui.judging.model import Piece
from etui.judging.segments import Segment, joined, segments
from etui.judging.units import Units
from etui.judging.wording import STOP, stem, stems, words
from etui.knowledge.model import Record, Reference
from etui.reading.model import Alternative, Attributes, Item, Reading

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


class Reads(Protocol):
    """What is needed of the reader of instrument lines."""

    def read(self, text: str, *, heading: str | None = None) -> Reading: ...


class Choice(Record, frozen=True):
    """Several patterns that the leading words may mean; the answer must hold for all of them."""

    text: str
    options: tuple[Alternative, ...]
    ask: str | None = None


class Pieces(Record, frozen=True):
    """Pieces named in a text, whatever the step."""

    pieces: tuple[Piece, ...] = ()
    choice: Choice | None = None
    unread: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    nearly: tuple[Alternative, ...] = ()


class PieceReader:
    """Reads pieces; built once for a reference and safe to share."""

    def __init__(self, reference: Reference, reader: Reads, units: Units) -> None:
        self.reference = reference
        self.reader = reader
        self.joining = Joining(reference, units)
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
        parts = segments(text, self.is_place, self.is_name)
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
                    joined_piece = self.joining.piece(lead, parts[at], item)
                    if joined_piece is not None:
                        pieces.append(joined_piece)
                        absent += self.joining.too_few(lead, joined_piece, parts[at])
                    elif item.pattern is not None:
                        beside.append(item)
                elif unread:
                    continue  # what leads could not be read: nothing else stands in for it
                elif item.pattern is not None:
                    pieces.append(_piece(item))
                    if item.score < 1.0:  # a whole name means what it says
                        near = _NEARLY * item.score
                        nearly = tuple(a for a in item.alternatives if a.score >= near)
                elif item.attributes != Attributes() and item.kind == "unknown":
                    continue  # it describes and names nothing
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
        ids = self.by_name.get(tuple(words(text)), ())
        if not ids:
            return None
        if len(ids) == 1:
            items = self.items(text)
            same = [i for i in items if i.pattern == ids[0]]
            attributes = same[0].attributes if len(items) == 1 and same else Attributes()
            count = same[0].quantity if len(items) == 1 and same else None
            return Pieces(pieces=(Piece(id=ids[0], attributes=attributes, count=count or 1),))
        options = tuple(
            Alternative(id=id_, name=self.reference.patterns[id_].name, score=1.0) for id_ in ids
        )
        return Pieces(choice=Choice(text=text, options=options))

    @cached_property
    def by_name(self) -> dict[tuple[str, ...], tuple[str, ...]]:
        found: dict[tuple[str, ...], list[str]] = {}
        for pattern in self.reference.patterns.values():
            if pattern.replaced_by:
                continue
            for text in (pattern.name, *(n.text for n in pattern.names)):
                ids = found.setdefault(tuple(words(text)), [])
                if pattern.id not in ids:
                    ids.append(pattern.id)
        return {key: tuple(ids) for key, ids in found.items() if key}

    def items(self, text: str) -> tuple[Item, ...]:
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
        items = self.items(parts[at].text)
        best = items[0] if len(items) == 1 and items[0].pattern is not None else None
        size = 1
        for end in range(at + 2, min(len(parts), at + _TOGETHER) + 1):
            text = joined(parts[at:end])
            together = self.items(text)
            if len(together) != 1 or together[0].pattern is None:
                continue
            found = together[0]
            alone = self.items(parts[end - 1].text) if parts[end - 1].may_name else ()
            other = alone[0].pattern if len(alone) == 1 and alone[0].score >= _SURE else None
            if best is None:
                # "Curved, Kelly" is one piece; "necktie and pen" is not the pen.
                describes = not items or items[0].attributes != Attributes()
                if other != found.pattern or describes:
                    best, size = found, end - at
            elif found.pattern == best.pattern:
                if other is None or other == best.pattern:
                    best, size = found, end - at
            elif found.score >= _SURE and (other is None or _describes(items[0])):
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
            items = self.items(part)
            if len(items) == 1 and (items[0].pattern is not None or items[0].kind == "ambiguous"):
                return items
            named = self._contained(part, items)
            if named is not None:
                return (named,)
            if self.is_name(words[start].lower()) and words[start].lower() not in _PLAIN:
                break  # a word of some name is never left out
        head, found, tail = text.partition(" of ")
        if found:
            items = self.items(head)
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
        if not hits:
            return None
        even = {id_ for size, id_ in hits if size == hits[0][0]}
        if len(even) > 1:
            # Names of several stand in the text: what is meant is asked, or all must agree.
            kept = tuple(a for a in items[0].alternatives if a.id in even)
            return changed(items[0], kind="ambiguous", alternatives=kept)
        name = self.reference.patterns[hits[0][1]].name
        return changed(items[0], kind="instrument", pattern=hits[0][1], name=name, score=_SURE)

    def is_place(self, words: Sequence[str]) -> bool:
        """Whether words say where it is used, not with what: they name tissue."""
        row = [stem(w) for w in words]
        telling = [s for s in row if s not in STOP]
        return bool(telling) and all(s in self._tissue_words for s in telling)

    def is_name(self, word: str) -> bool:
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


def _describes(item: Item) -> bool:
    """Whether a single word was read that describes as well as names ("toothed")."""
    return len(item.text.split()) == 1 and item.attributes != Attributes()


def _piece(item: Item) -> Piece:
    count = item.quantity if item.quantity and item.quantity > 0 else 1
    return Piece(id=item.pattern or "", attributes=item.attributes, count=count)


def _guess(text: str, item: Item) -> str:
    near = ", ".join(f"{a.name} ({a.id})" for a in item.alternatives[:3])
    said = f"{text}: {item.ask or 'not in the reference'}"
    return f"{said}; nearest: {near}" if near else said
