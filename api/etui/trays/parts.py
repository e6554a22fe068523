"""Units put together: parts, how each is filled, what lacks, and grades in order of care."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from etui.knowledge.model import GRADES, Grade
from etui.trays.held import Held

Fill = Literal["held", "presumed", "stand-in", "lacking"]

_STOP = frozenset(
    {
        "a", "an", "the", "its", "it", "own", "of", "to", "in", "for", "and", "or", "on", "with",
        "needs", "fitting", "kind", "size", "small", "large", "two", "both", "one", "second",
        "right", "pattern", "make", "set", "matched", "that", "same",
    }
)
@lru_cache(maxsize=16384)
def words_of(text: str) -> frozenset[str]:
    """Words of a part's name that tell it apart, singular and lower case."""
    joined = re.sub(r"needle[ -]holder", "needleholder", text.lower())
    found = re.findall(r"[a-z]+", joined.replace("_", " "))
    return frozenset(w[:-1] if len(w) > 3 and w.endswith("s") else w for w in found) - _STOP


def worse(a: Grade, b: Grade) -> Grade:
    """The more careful of two grades: the order is preferred .. improvised, unable, unsafe."""
    order = ("preferred", "acceptable", "improvised", "unable", "unsafe")
    return a if order.index(a) >= order.index(b) else b


def rank(grade: Grade | None) -> int:
    """4 preferred, 3 acceptable, 2 improvised, 1 unsafe, 0 unable or unknown."""
    return 0 if grade is None else _RANK[grade]


_RANK: dict[str, int] = {grade: 4 - place for place, grade in enumerate(GRADES)}


@dataclass(frozen=True, slots=True)
class Need:
    """Slots of one unit that an action needs beside the piece: every group, any slot of a group.

    ``chained``: groups that the partners need in turn; without them the piece is improvised with.
    """

    unit: str
    groups: tuple[tuple[int, ...], ...]
    chained: tuple[tuple[int, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """How one slot is filled: by pieces, by presumption or by a stand-in of a lower grade."""

    slot: str
    fill: Fill
    held: tuple[Held, ...] = ()
    cap: Grade = "preferred"
    words: str = ""
    wanted: tuple[str, ...] = ()
    count: int = 1


@dataclass(frozen=True, slots=True)
class Assembly:
    """A piece with what it needs for an action; ``lacking`` empty = it can work."""

    unit: str | None
    parts: tuple[Part, ...] = ()

    @property
    def lacking(self) -> tuple[Part, ...]:
        """Slots that nothing fills."""
        return tuple(p for p in self.parts if p.fill == "lacking")

    @property
    def cap(self) -> Grade:
        """The best grade that stand-ins leave."""
        cap: Grade = "preferred"
        for part in self.parts:
            cap = worse(cap, part.cap)
        return cap


ALONE = Assembly(None)


def makeshift(part: Part) -> Part:
    """A partner's partner that lacks is done without, as a makeshift."""
    if part.fill != "lacking":
        return part
    words = f"without {part.slot}"
    return Part(part.slot, "stand-in", (), "improvised", words, part.wanted, part.count)
