"""Sizes of thread, and the holders that suit them.

A size such as 4-0 counts as 4 (the more noughts, the finer), 0 as 0, and 1, 2 as -1, -2, so that
"2-0 and heavier" is everything up to 2 and "6-0 and finer" everything from 6.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from etui.knowledge.model import Pattern, Range

_SIZE = r"(?<![\d.])(\d{1,2})-0(?!\d)|(?<![\d.-])([0-5])(?![\d.-]|-0)"
_TO = re.compile(rf"(?:{_SIZE})\s*(?:to|-|–|and)\s*(?:{_SIZE})")
_HEAVIER = re.compile(r"(\d{1,2})-0 and (?:heavier|coarser|thicker|larger)", re.I)
_FINER = re.compile(r"(\d{1,2})-0 and (?:finer|thinner|smaller)", re.I)
_ONE = re.compile(r"(?<![\d.])(\d{1,2})-0(?!\d)")


def size_range(text: str) -> Range | None:
    """The range of thread sizes that words state, or None."""
    found = _TO.search(text)
    if found:
        first = _number(found[1], found[2])
        second = _number(found[3], found[4])
        return Range(low=min(first, second), high=max(first, second))
    found = _HEAVIER.search(text)
    if found:
        return Range(low=-math.inf, high=float(found[1]))
    found = _FINER.search(text)
    if found:
        return Range(low=float(found[1]), high=math.inf)
    found = _ONE.search(text)
    return Range(low=float(found[1]), high=float(found[1])) if found else None


def _number(noughts: str | None, plain: str | None) -> float:
    return float(noughts) if noughts is not None else -float(plain or 0)


def holds(pattern: Pattern) -> Range | None:
    """The thread sizes for whose needles a holder is made, as its offer states, or None."""
    for offer in pattern.offers:
        if offer.action == "drive_needle" and offer.limits:
            return size_range(offer.limits)
    return None


def misfit(pattern: Pattern, threads: Iterable[Range]) -> str | None:
    """Why a holder suits none of the threads to be used, or None."""
    own = holds(pattern)
    ranges = list(threads)
    if own is None or not ranges or any(r.low <= own.high and own.low <= r.high for r in ranges):
        return None
    limits = next(o.limits for o in pattern.offers if o.action == "drive_needle")
    return f"its jaw does not suit the thread to be used ({limits})"
