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
    "on onto in into inside over under beneath around along through down up behind against "
    "across between beside above below to at from near off toward towards"
)
_PURPOSE = "as for because until while before after that which who so where when"
_DONE = (
    "held gripped mounted fixed fitted used laid lying pushed pulled drawn run swept wound stuck "
    "tied put placed pressed stabbed jabbed rolled twisted bent closed clamped clipped spread "
    "taped wrapped led slid passed left kept cut soaked cleaned boiled wiped joined threaded "
    "pushing pulling pressing holding lifting turned lifted hooked squeezed sewn carried poked "
    "forced rammed driven wedged looped knotted opened shut folded padded straightened pumped "
    "inflated blown"
)
_JOIN = "and with plus using by but"

_DOING_WORD = re.compile(r"[a-z]{3,}(?:ed|ing)")
# "Round" is a place before an article and a shape otherwise.
_MARKS = "|".join(
    [*f"{_PLACE} {_PURPOSE} {_DONE} {_JOIN}".split(), r"round(?=\s+(?:the|an?|its|it|each)\b)"]
)
_BREAK = re.compile(rf"\s+(?=(?:{_MARKS})\b)", re.IGNORECASE)
_LEAD = re.compile(rf"^(?:(?:{_MARKS})\b\s*)+", re.IGNORECASE)
_INCHES = re.compile(r"(\d)\s+in\b(?!\s+(?:the|an?|its|place)\b)", re.IGNORECASE)
_ARTICLE = re.compile(r"^(?:an?|the|its|his|her|their|your|my|our|some)\s+", re.IGNORECASE)
_DEFINITE = re.compile(r"^the\b|^(?:his|her|it|them|itself|place|view)\b", re.IGNORECASE)
_PLACES = frozenset([*_PLACE.split(), "round"])
_PURPOSES = frozenset(_PURPOSE.split())


_AMOUNTS = frozenset(
    (
        "a", "an", "the", "one", "two", "three", "four", "some", "several", "both", "pair", "few",
        "old", "clean", "small", "large", "single",
    )
)


class Segment(Record, frozen=True):
    """One part of a text.

    ``whole``: with its joining words; ``text``: without them.  ``may_name``: it may name a piece;
    otherwise it says where, what for or how.  ``apart``: a comma stands before it.
    """

    whole: str
    text: str
    may_name: bool
    apart: bool = False


def segments(
    text: str, is_place: Callable[[Sequence[str]], bool], is_name: Callable[[str], bool]
) -> tuple[Segment, ...]:
    """Parts of *text* in order.

    Args:
        text: Words of a candidate.
        is_place: Says whether words name tissue, so that a part says where.
        is_name: Says whether a word belongs to some name of a pattern ("toothed", "cutting").
    """
    out: list[Segment] = []
    for row, apart in _rows(_INCHES.sub(r"\1in", text), is_name):
        lead = _LEAD.match(row) if out else None
        joins = [w.lower() for w in lead.group().split()] if lead else []
        rest = row[lead.end() :] if lead else row
        first = rest.split()[0].lower() if rest.split() else ""
        if out and _DOING_WORD.fullmatch(first) and not is_name(first):
            joins.append(first)
            rest = rest[len(first) :].strip()
        bare = _ARTICLE.sub("", rest).strip()
        words = re.findall(r"[A-Za-z0-9]+", bare.lower())
        placed = any(j in _PLACES for j in joins)
        may_name = bool(words)
        if (joins and joins[-1] in _PURPOSES) or (placed and _DEFINITE.match(rest)):
            may_name = False
        if joins and words and is_place(words):
            may_name = False
        out.append(Segment(whole=row, text=bare or row, may_name=may_name, apart=apart))
    return tuple(out)


def _rows(text: str, is_name: Callable[[str], bool]) -> list[tuple[str, bool]]:
    """Pieces of the text between joining words, and whether a comma stands before each."""
    rows: list[tuple[str, bool]] = []
    for at, chunk in enumerate(re.split(r"\s*[,;:]\s*", text)):
        apart = at > 0
        for row in _BREAK.split(chunk):
            words = row.split()
            start = 0
            for here in range(1, len(words)):
                word = words[here].lower().strip(".()")
                if _DOING_WORD.fullmatch(word) and not is_name(word):
                    rows.append((" ".join(words[start:here]), apart))
                    start, apart = here, False
            if words[start:]:
                rows.append((" ".join(words[start:]), apart))
            apart = False
    merged: list[tuple[str, bool]] = []
    for row, apart in rows:
        if merged and not apart and set(merged[-1][0].lower().split()) <= _AMOUNTS:
            row, apart = f"{merged[-1][0]} {row}", merged[-1][1]  # "two bent paper clips"
            merged.pop()
        merged.append((row, apart))
    return merged


def joined(parts: Sequence[Segment]) -> str:
    """Parts as one text again; the first loses its joining words."""
    return parts[0].text + "".join(
        f"{',' if part.apart else ''} {part.whole}" for part in parts[1:]
    )
