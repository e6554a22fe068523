"""What the reader makes of a line of text."""

from __future__ import annotations

from typing import Literal

from etui.knowledge.model import Record

Kind = Literal[
    "instrument", "assembly", "consumable", "manoeuvre", "ambiguous", "unknown", "not-an-item"
]


class Attributes(Record, frozen=True):
    """What the line itself states about the piece; ``None`` is not stated.

    ``length_mm`` is rounded to a millimetre (inches x 25.4).  ``teeth``: "toothed", "none" or a
    pattern such as "1x2".  ``form``: a word that picks a form of the pattern (blunt, child ...).
    ``state``: packed or mounted state ("not mounted", "crank missing", "reversed", "unsterile").
    ``absent``: parts that the line says are missing ("crank", "mallet", "one handle").
    """

    length_mm: float | None = None
    curve: str | None = None
    teeth: str | None = None
    jaw: str | None = None
    size: str | None = None
    material: str | None = None
    french: float | None = None
    gauge: float | None = None
    form: str | None = None
    state: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()


class Alternative(Record, frozen=True):
    """Another reading of the same words; ``score`` 0..1."""

    id: str
    name: str
    score: float


class Item(Record, frozen=True):
    """One thing on a line.

    ``pattern`` is a pattern or manoeuvre id, or None (ambiguous, unknown, not an item).
    ``quantity`` is None where the line states none; 0 means named but not there.
    ``parts``: parts of the thing that the line names with it.  ``assumed``: the line names only a
    class of pieces and the usual one of the class was taken.
    """

    text: str
    kind: Kind
    pattern: str | None = None
    name: str | None = None
    quantity: int | None = None
    attributes: Attributes = Attributes()
    alternatives: tuple[Alternative, ...] = ()
    ask: str | None = None
    score: float = 0.0
    parts: tuple[str, ...] = ()
    assumed: bool = False
    why: str = ""


class Reading(Record, frozen=True):
    """What one line says: its first item leads, all items are in ``items`` (in line order)."""

    text: str
    items: tuple[Item, ...]
    why: str = ""

    @property
    def first(self) -> Item:
        return self.items[0]
