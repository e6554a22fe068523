"""From lines to pieces: what lies on the tray, what lies beside it, what could not be read."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

import msgspec

from etui.knowledge.model import Reference
from etui.reading.model import Attributes, Item, Reading
from etui.trays.model import Line, Place, Tray

PLENTY = 99
"""Pieces of a thing that is kept beside the tray without a number."""

_JOINED = re.compile(r"\s*(?:[,;+&/]|\band\b|\bwith\b|\bplus\b)\s*", re.IGNORECASE)
_KIT = re.compile(r"\w[\w -]* (?:kit|set|tray|pack|system|equipment|bundle)s?$", re.IGNORECASE)
_DENIED = re.compile(r"^(?:no|not|without|missing)\b", re.IGNORECASE)


Whole = Callable[[str, str], bool]


class Reads(Protocol):
    """What a check needs of a reader."""

    def read(self, text: str, *, heading: str | None = None) -> Reading:
        """Reading of one line."""
        ...


@dataclass(frozen=True, slots=True)
class Held:
    """One kind of piece as one line states it.

    ``choices``: patterns that the words may mean (one, if they settle it).  ``count``: pieces.
    ``beside``: kept alongside, not on the tray.  ``key``: stays the same whatever the line order.
    ``text`` is the whole line, ``said`` the words for this piece.  ``whole``: the line names the
    whole unit and with it this part.
    """

    key: str
    choices: tuple[str, ...]
    attributes: Attributes
    count: int
    beside: bool
    text: str
    place: Place
    row: int
    ask: str | None = None
    said: str = ""
    whole: bool = False

    @property
    def pattern(self) -> str:
        """The pattern to reckon with."""
        return self.choices[0]

    @property
    def sure(self) -> bool:
        """Whether the words settle the pattern."""
        return len(self.choices) == 1


@dataclass(frozen=True, slots=True)
class Unread:
    """A line, or a part of one, that no pattern could be read from, or that names a whole kit."""

    text: str
    ask: str
    choices: tuple[str, ...]
    place: Place
    row: int


@dataclass(frozen=True, slots=True)
class Contents:
    """All that a tray and its surroundings hold.

    ``denied``: patterns that the sheet says are not there at all.
    """

    held: tuple[Held, ...]
    unread: tuple[Unread, ...]
    denied: frozenset[str]
    lines: tuple[Line, ...]

    @property
    def on_tray(self) -> tuple[Held, ...]:
        """Pieces on the tray itself."""
        return tuple(h for h in self.held if not h.beside)


def _signature(attributes: Attributes) -> str:
    """Words for what a line states about its piece; empty when it states nothing."""
    fields = msgspec.structs.asdict(attributes)
    parts = []
    for name, value in sorted(fields.items()):
        if value in (None, (), ""):
            continue
        words = ",".join(value) if isinstance(value, tuple) else str(value)
        parts.append(f"{name}={words}")
    return ";".join(parts)


def _count(line: Line, item: Item, alone: bool) -> int:
    if item.quantity == 0:
        return 0
    if line.qty is not None:
        return line.qty if alone else line.qty * max(item.quantity or 1, 1)
    return item.quantity if item.quantity is not None else 1


def _choices(item: Item, reference: Reference) -> tuple[str, ...]:
    known = [item.pattern] if item.pattern else [a.id for a in item.alternatives]
    return tuple(dict.fromkeys(c for c in known if c in reference.patterns))


def _read(reader: Reads, line: Line, heading: str | None) -> Reading:
    return line.reading or reader.read(line.text, heading=heading)


def _held(
    line: Line,
    item: Item,
    choices: tuple[str, ...],
    count: int,
    beside: bool,
    whole: Whole,
) -> Held:
    named = whole(choices[0], line.text)
    said = ";".join(s for s in (_signature(item.attributes), "whole" if named else "") if s)
    name = "|".join(sorted(choices))
    return Held(
        key=f"{name}~{said}" if said else name, choices=choices, attributes=item.attributes,
        count=count, beside=beside, text=line.text, place=line.place, row=line.place.row or 0,
        ask=item.ask if len(choices) > 1 else None, said=item.text or line.text,
        whole=named,
    )


def _on_tray(
    lines: Iterable[Line], reader: Reads, reference: Reference, whole: Whole
) -> tuple[list[Held], list[Unread], list[Line]]:
    held: list[Held] = []
    unread: list[Unread] = []
    read: list[Line] = []
    for number, line in enumerate(lines, 1):
        reading = _read(reader, line, None)
        place = line.place if line.place.row else Place(line.place.file, line.place.sheet, number)
        kept = Line(text=line.text, qty=line.qty, place=place, reading=reading)
        read.append(kept)
        items = [i for i in reading.items if i.kind != "not-an-item"]
        for item in reading.items:
            if item.kind == "not-an-item" and (kit := _kit(item.text or line.text)):
                unread.append(Unread(kit, "What is in it?", (), place, place.row or 0))
        for item in items:
            choices = _choices(item, reference)
            if item.pattern is None and item.kind in {"ambiguous", "unknown"}:
                unread.append(
                    Unread(item.text or line.text, item.ask or "", choices, place, place.row or 0)
                )
            if choices:
                count = _count(line, item, len(items) == 1)
                held.append(_held(kept, item, choices, count, False, whole))
    return held, unread, read


def _kit(text: str) -> str:
    """The words of a line that names a set without saying what is in it; else nothing."""
    words = text.strip(" .:")
    return words if _KIT.search(words) and not text.rstrip().endswith(":") else ""


def _pieces_of_prose(text: str) -> list[str]:
    """The things that a line of prose names, one by one ("suction with tubing" names two)."""
    return [p.strip(" .()") for p in _JOINED.split(text) if p.strip(" .()")]


def _beside(
    lines: Iterable[Line], reader: Reads, reference: Reference, whole: Whole
) -> tuple[list[Held], set[str], list[Line]]:
    """What lies beside: every reading of every part of the prose counts as there."""
    held: list[Held] = []
    denied: set[str] = set()
    read: list[Line] = []
    for line in lines:
        reading = _read(reader, line, None)
        read.append(Line(text=line.text, qty=line.qty, place=line.place, reading=reading))
        parts = _pieces_of_prose(line.text)
        readings = [reading, *(reader.read(p) for p in parts)] if len(parts) > 1 else [reading]
        texts = [line.text, *parts] if len(parts) > 1 else [line.text]
        for text, one in zip(texts, readings, strict=True):
            for item in one.items:
                choices = _choices(item, reference)
                if _DENIED.match(text) or item.quantity == 0:
                    denied.update(choices)
                    continue
                count = line.qty or item.quantity or PLENTY
                for choice in choices:
                    held.append(_held(line, item, (choice,), count, True, whole))
    return held, denied, read


def _merge(held: list[Held]) -> tuple[Held, ...]:
    """One entry per kind and place: counts of lines that say the same are added up."""
    merged: dict[tuple[str, bool], Held] = {}
    for piece in held:
        if piece.count <= 0:
            continue
        key = (piece.key, piece.beside)
        if key in merged:
            first = merged[key]
            count = (
                max(first.count, piece.count) if piece.beside else first.count + piece.count
            )
            row = min(first.row, piece.row)
            place = first.place if first.row <= piece.row else piece.place
            text, said = min(first.text, piece.text), min(first.said, piece.said)
            merged[key] = Held(
                first.key, first.choices, first.attributes, count, first.beside, text, place, row,
                first.ask, said, first.whole,
            )
        else:
            merged[key] = piece
    return tuple(sorted(merged.values(), key=lambda h: (h.beside, h.key)))


def gather(
    tray: Tray, *, reader: Reads, reference: Reference, whole: Whole = lambda _p, _t: False
) -> Contents:
    """Read a tray's lines and what is kept beside it.

    Lines that name several things give several pieces; lines that say the same are added up, so
    that the order of lines changes nothing.

    Args:
        whole: Says of a pattern and a line whether the line names the whole unit of the part.
    """
    held, unread, lines = _on_tray(tray.contents, reader, reference, whole)
    beside, denied, more = _beside(tray.kept_alongside, reader, reference, whole)
    gone = {p for h in held if h.count == 0 for p in h.choices}
    present = {p for h in held if h.count > 0 for p in h.choices}
    return Contents(
        held=_merge([*held, *(b for b in beside if b.pattern not in denied)]),
        unread=tuple(sorted(unread, key=lambda u: (u.text, u.row))),
        denied=frozenset((denied | gone) - present),
        lines=(*lines, *more),
    )
