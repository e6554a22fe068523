"""Reading the quantity cell of a row: "2", "x2", "(3)", "pr", "0", "-1"."""

from __future__ import annotations

import re

from msgspec import Struct

from etui.errors import BadInput

MAX_QUANTITY = 10_000

_NUMBER = re.compile(
    r"""^(?:qty|no|n)?[.:\s]*            # qty. 2
        [x×*(\[{\s]*                     # x2, (3), [3]
        (?P<number>\d+)(?:\.0+)?
        [\s)\]}]*(?P<unit>[a-zA-Z.×]*)\s*$""",
    re.VERBOSE | re.IGNORECASE,
)
_COUNTED_SINGLY = frozenset(
    {"", "x", "×", "ea", "each", "pc", "pcs", "piece", "pieces", "off", "no", "nos", "of", "item",
     "items", "unit", "units"}
)
_NOT_STATED = frozenset({"", "-", "–", "—", "?", "n/a", "na", "nil stated", ".", "…", "✓", "✔",
                         "☑", "☐", "□", "x", "yes", "y", "tick", "ok"})
_WORDS = {
    "nil": 0, "none": 0, "zero": 0, "one": 1, "single": 1, "two": 2, "three": 3, "four": 4,
    "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10, "twelve": 12, "dozen": 12,
    "doz": 12,
}


class Quantity(Struct, frozen=True):
    """A count, or the words that stand where a count is expected ("pr"), or neither."""

    count: int | None = None
    words: str = ""


def read_quantity(cell: str, *, where: str) -> Quantity:
    """Read one quantity cell.

    Words that are no number ("pr", "box") are handed back: whether a pair is one piece or two
    depends on what the item is, and that is for the reader of the line to say.

    Raises:
        BadInput: A negative or broken number, or one too large to be a count.
    """
    text = cell.strip()
    low = text.lower().rstrip(".")
    if low in _NOT_STATED:
        return Quantity()
    if low in _WORDS:
        return Quantity(count=_WORDS[low])
    match = _NUMBER.match(text)
    if match:
        count = int(match["number"])
        unit = match["unit"].lower().rstrip(".")
        if count > MAX_QUANTITY:
            raise _bad(text, where, f"is more than {MAX_QUANTITY:,}")
        if unit in _COUNTED_SINGLY:
            return Quantity(count=count)
        return Quantity(words=text)
    if re.match(r"^[-−–]\s*\d", text):
        raise _bad(text, where, "is below nought")
    if any(c.isdigit() for c in text):
        raise _bad(text, where, "is not a count")
    return Quantity(words=text)


def check_count(value: object, *, where: str) -> int | None:
    """A count given as a JSON or Turtle number: a whole number from 0, or None for not stated."""
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int):
        raise _bad(str(value), where, "is not a count")
    if value < 0:
        raise _bad(str(value), where, "is below nought")
    if value > MAX_QUANTITY:
        raise _bad(str(value), where, f"is more than {MAX_QUANTITY:,}")
    return value


def _bad(value: str, where: str, why: str) -> BadInput:
    return BadInput(
        f'the quantity "{value[:40]}" {why}.', where=where,
        mend="Write a whole number (0 for named but not there), or leave it empty.",
    )
