"""Stock lines as things that can be drawn on: what each line is, and what is kept beside."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from etui.errors import BadInput
from etui.judging.model import Piece
from etui.knowledge.model import Pattern, Record, Reference
from etui.reading.model import Attributes, Reading
from etui.trays.compose_wishes import Matcher, Wishes, stems
from etui.trays.held import Reads


class Held(Record, frozen=True):
    """One stock line: its words, how many, and the pieces that one of it consists of.

    ``ask``: why the line could not be used, or None.
    """

    name: str
    count: int
    pieces: tuple[Piece, ...] = ()
    ask: str | None = None

    @property
    def pattern(self) -> str | None:
        """The pattern of a line that holds one; None for a bundle or an unread line."""
        return self.pieces[0].id if len(self.pieces) == 1 else None


_USABLE_KINDS = frozenset({"instrument", "assembly", "consumable"})
_MOST = 100_000
"""Largest count of a stock line that is taken for a count."""


def stock_lines(stock: object) -> tuple[tuple[str, int], ...]:
    """Names and counts from the ``stock`` of a brief.

    Lines with the same words are added up.

    Raises:
        BadInput: If it is no list of ``{"name", "count"}`` with whole counts from 0.
    """
    if not isinstance(stock, list | tuple):
        raise BadInput(
            "The stock is not a list.",
            where="stock",
            mend='Give a list of {"name": "Mayo scissors, curved", "count": 2}.',
        )
    counts: dict[str, int] = {}
    for place, line in enumerate(stock, start=1):
        where = f"stock line {place}"
        if not isinstance(line, dict) or not isinstance(line.get("name"), str):
            raise BadInput("It has no name.", where=where, mend='Give {"name": ..., "count": ...}.')
        name, count = " ".join(line["name"].split()), line.get("count", 1)
        if not name:
            raise BadInput(
                "The name is empty.", where=where, mend="Name the item or drop the line."
            )
        if isinstance(count, bool) or not isinstance(count, int) or not 0 <= count <= _MOST:
            raise BadInput(
                f"The count of {name!r} is {count!r}.",
                where=where,
                mend="Give a whole number, 0 or more.",
            )
        counts[name] = counts.get(name, 0) + count
    if not counts:
        raise BadInput("The stock is empty.", where="stock", mend="List what is to hand.")
    return tuple(counts.items())


def name_matcher(names: Sequence[str], reference: Reference, reader: Reads) -> Matcher:
    """A function that finds the stock lines that a phrase names (see :func:`hear`)."""
    words = [stems(name) for name in names]
    patterns = [_pattern_of(reader.read(name)) for name in names]

    def match(phrase: str) -> tuple[int, ...]:
        wanted = stems(phrase)
        if not wanted:
            return ()
        exact = tuple(i for i, id_ in enumerate(patterns) if id_ == phrase.strip().lower())
        if exact:
            return exact
        found = tuple(i for i, w in enumerate(words) if wanted <= w)
        if found:
            return found
        # other names of the patterns in stock ("swabs" for gauze)
        other = tuple(
            i
            for i, id_ in enumerate(patterns)
            if id_ is not None
            and any(wanted <= stems(n.text) for n in reference.patterns[id_].names)
        )
        if other:
            return other
        meant = {i.pattern for i in reader.read(phrase).items if i.kind in _USABLE_KINDS}
        return tuple(i for i, id_ in enumerate(patterns) if id_ is not None and id_ in meant)

    return match


def _pattern_of(reading: Reading) -> str | None:
    item = reading.first if reading.items else None
    return item.pattern if item is not None and item.kind in _USABLE_KINDS else None


def hold(
    lines: Sequence[tuple[str, int]], wishes: Wishes, reference: Reference, reader: Reads
) -> tuple[Held, ...]:
    """Read the stock lines; a line that is not understood is kept with its question."""
    held = []
    for index, (name, count) in enumerate(lines):
        reading = reader.read(name)
        pieces = _pieces(reading, reference)
        words = wishes.described.get(index, ())
        if words and pieces:
            pieces = _described(words, pieces, reference, reader)
        held.append(
            Held(name=name, count=count, pieces=pieces, ask=None if pieces else _question(reading))
        )
    return tuple(held)


def _pieces(reading: Reading, reference: Reference) -> tuple[Piece, ...]:
    items = [i for i in reading.items if i.kind != "not-an-item"]
    if not items or any(i.kind not in _USABLE_KINDS or i.pattern is None for i in items):
        return ()
    return tuple(
        Piece(id=i.pattern, attributes=i.attributes, count=max(1, i.quantity or 1))
        for i in items
        if i.pattern in reference.patterns
    )


def _question(reading: Reading) -> str:
    for item in reading.items:
        if item.ask:
            return item.ask
        if item.alternatives:
            return "Which is meant: " + ", ".join(a.name for a in item.alternatives) + "?"
    return reading.why or "Not in the reference under this name."


def _described(
    words: Iterable[str], pieces: tuple[Piece, ...], reference: Reference, reader: Reads
) -> tuple[Piece, ...]:
    """The piece with what a statement adds, read behind the plainest name of its pattern.

    Only as long as it is still read as the same pattern, and for lines that hold one thing.
    """
    if len(pieces) != 1:
        return pieces
    old = pieces[0]
    names = [n.text for n in reference.patterns[old.id].names if n.kind.startswith("preferred")]
    plain = min(names, key=lambda n: (len(n), n), default=reference.patterns[old.id].name)
    again = _pieces(reader.read(f"{plain}, {', '.join(words)}"), reference)
    if [p.id for p in again] != [old.id]:
        return pieces
    attributes = _merged(old.attributes, again[0].attributes)
    return (Piece(id=old.id, attributes=attributes, count=old.count),)


def _merged(old: Attributes, new: Attributes) -> Attributes:
    """What the statement says outranks what the name of the line says."""
    fields = {}
    for field in Attributes.__struct_fields__:
        first, second = getattr(old, field), getattr(new, field)
        fields[field] = second if second not in (None, ()) else first
    return Attributes(**fields)


def beside_patterns(texts: Iterable[str], reference: Reference, reader: Reads) -> frozenset[str]:
    """Patterns that lie beside the tray; where words leave several open, any of them may be meant.

    Things kept beside are not missing, so that a loose name ("suction") is taken widely here.
    """
    found: set[str] = set()
    for text in texts:
        for item in reader.read(text).items:
            if item.pattern is not None:
                found.add(item.pattern)
            elif item.kind == "ambiguous":
                found |= {a.id for a in item.alternatives}
    return frozenset(id_ for id_ in found if id_ in reference.patterns)


def pack_of(pattern: Pattern | None) -> int:
    """Pieces that are packed and counted together (swabs in fives); 1 for everything else."""
    packed = pattern.measures.get("packed") if pattern is not None else None
    return max(1, round(packed.low)) if packed is not None else 1


class Brief(Record, frozen=True):
    """A brief with everything resolved that words can settle."""

    title: str
    procedures: tuple[str, ...]
    operator: str
    held: tuple[Held, ...]
    wishes: Wishes
    words: str = ""
