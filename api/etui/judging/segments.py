"""A candidate's words in parts: each piece, and what is said about it.

"No. 11 blade gripped in a Kelly forceps" holds two pieces and how they are joined; "Kocher closed
on the vein" holds one piece and a place.  A part that says where or what for is no piece, and
neither is a thing with "the" after a word of place: it is already there.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from etui.knowledge.model import Record

_PLACE = (
    "on onto in into inside over under beneath round around along through down up behind against "
    "across between beside above below to at from near off toward towards"
)
_PURPOSE = "as for because until while before after that which who so where when"
_DONE = (
    "held gripped mounted fixed fitted used laid lying pushed pulled drawn run swept wound stuck "
    "tied put placed pressed stabbed jabbed rolled twisted bent closed clamped clipped spread "
    "taped wrapped led slid passed left kept cut soaked cleaned boiled wiped joined threaded "
    "pushing pulling pressing holding lifting turned lifted hooked squeezed sewn carried poked "
    "forced rammed driven wedged looped knotted opened shut folded padded straightened"
)
_JOIN = "and with plus using by"

_BREAK = re.compile(
    r"\s*[,;:]\s*|\s+(?=(?:" + "|".join(f"{_PLACE} {_PURPOSE} {_DONE} {_JOIN}".split()) + r")\b)",
    re.IGNORECASE,
)
_LEAD = re.compile(
    r"^(?:(?:" + "|".join(f"{_PLACE} {_PURPOSE} {_DONE} {_JOIN}".split()) + r")\b\s*)+",
    re.IGNORECASE,
)
_ARTICLE = re.compile(r"^(?:an?|the|its|his|her|their|your|my|our|some)\s+", re.IGNORECASE)
_DEFINITE = re.compile(r"^the\b|^(?:his|her|it|them|itself|place|view)\b", re.IGNORECASE)
_PLACES = frozenset(_PLACE.split())
_PURPOSES = frozenset(_PURPOSE.split())
_DOING = frozenset(_DONE.split())


class Segment(Record, frozen=True):
    """One part of a text.

    ``whole``: with its joining words; ``text``: without them.  ``may_name``: it may name a piece;
    otherwise it says where, what for or how.
    """

    whole: str
    text: str
    may_name: bool


def segments(text: str, is_place: Callable[[Sequence[str]], bool]) -> tuple[Segment, ...]:
    """Parts of *text* in order.

    Args:
        text: Words of a candidate.
        is_place: Says whether words name tissue, so that a part says where.
    """
    rows = [row for row in _BREAK.split(text) if row and row.strip()]
    out: list[Segment] = []
    for row in rows:
        whole = row.strip()
        lead = _LEAD.match(whole)
        joins = [w.lower() for w in lead.group().split()] if lead else []
        rest = whole[lead.end() :] if lead else whole
        bare = _ARTICLE.sub("", rest).strip()
        words = re.findall(r"[A-Za-z0-9]+", bare.lower())
        placed = any(j in _PLACES for j in joins)
        may_name = bool(words)
        if (joins and joins[-1] in _PURPOSES) or (placed and _DEFINITE.match(rest)):
            may_name = False
        if joins and words and is_place(words):
            may_name = False
        if out and not bare:
            may_name = False
        out.append(Segment(whole=whole, text=bare or whole, may_name=may_name))
    return tuple(_with_done(out))


def _with_done(parts: list[Segment]) -> list[Segment]:
    """Parts that are a doing word alone ("twisted", "cut off") describe and do not name."""
    out = []
    for at, part in enumerate(parts):
        first = part.whole.split()[0].lower() if part.whole.split() else ""
        describes = at > 0 and first in _DOING and len(part.text.split()) < 1
        out.append(
            Segment(whole=part.whole, text=part.text, may_name=False) if describes else part
        )
    return out


def joined(parts: Sequence[Segment]) -> str:
    """Parts as one text again; the first loses its joining words."""
    return " ".join([parts[0].text, *(p.whole for p in parts[1:])])
