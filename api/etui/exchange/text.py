"""Plain and pasted text: one thing per line, with what people write above and beside it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, islice

from msgspec import Struct, structs

from etui.errors import BadInput
from etui.exchange.heading import TRAY_WORD, Heading, directive
from etui.exchange.quantity import MAX_QUANTITY
from etui.trays.model import Line, Place

_BULLET = re.compile(r"^\s*(?:[-–—*•·▪◦‣>+]|\[[ xX✓]?\]|☐|☑|□)\s+")
_TIGHT_HYPHEN = re.compile(r"^\s*[-–—](?=\w)")
_NUMBERED = re.compile(r"^\s*(\d{1,5})\s*[.)]\s+")
_RULE_LINE = re.compile(r"^\s*[-=_*~#–—.]{3,}\s*$")
_MARK = re.compile(r"^\s*#{1,4}\s+")
_BELOW_NOUGHT = re.compile(r"^\s*[-−–](\d+)\s*(?:x|×|\b)", re.IGNORECASE)
_HUGE = re.compile(r"^\s*(\d{5,})\s*(?:x|×)?\s+[A-Za-z]")
_HEAD_LINES = 40


class TextList(Struct):
    """A text list on the way to lines; ``alongside`` fills while the lines are taken."""

    heading: Heading
    lines: Iterator[Line]
    alongside: list[Line]


def read_text(
    lines: Iterable[tuple[int, str]], *, file: str, titled: bool = True
) -> TextList:
    """Read a plain list.

    The first line is the title only where it shows: underlined, marked, or naming a tray and set
    apart; a first item must never be lost as a heading.
    """
    stream = iter(lines)
    head = list(islice(stream, _HEAD_LINES))
    heading, start = _head(head) if titled else (Heading(), 0)
    body = [text for _, text in head[start:] if text.strip()]
    tight = sum(1 for text in body if _TIGHT_HYPHEN.match(text))
    alongside: list[Line] = [
        Line(text=t, place=Place(file=file)) for t in heading.alongside
    ]
    bulleted = tight > 1 and tight >= 0.5 * len(body)
    rest: Iterable[tuple[int, str]] = chain(head[start:], stream)
    if _is_numbered(body):
        rest = _unnumbered(rest)
    return TextList(heading, _lines(rest, file, bulleted, alongside), alongside)


def _is_numbered(body: Sequence[str]) -> bool:
    """Do the lines count themselves ("1. scalpel", "2. Kelly")?  Then no number is a quantity."""
    numbers = [int(m[1]) for text in body if (m := _NUMBERED.match(text))]
    return len(numbers) >= max(3, 0.7 * len(body)) and numbers == list(
        range(numbers[0], numbers[0] + len(numbers))
    )


def _unnumbered(lines: Iterable[tuple[int, str]]) -> Iterator[tuple[int, str]]:
    expected: int | None = None
    for number, text in lines:
        match = _NUMBERED.match(text)
        if match and expected in (None, int(match[1])):
            expected = int(match[1]) + 1
            text = text[match.end():]
        yield number, text


def _head(head: Sequence[tuple[int, str]]) -> tuple[Heading, int]:
    heading = Heading()
    index = 0
    while index < len(head):
        text = head[index][1]
        if not text.strip() or _RULE_LINE.match(text):
            index += 1
            continue
        found = directive(_MARK.sub("", _BULLET.sub("", text)))
        if found:
            key, value = found
            if key in ("contents",) or (key == "alongside" and not value):
                break
            heading = heading.with_(key, value)
            index += 1
            continue
        if heading.title is None and _is_title(head, index):
            heading = structs.replace(heading, title=_MARK.sub("", text).strip(" =-*_#"))
            index += 1
            continue
        break
    return heading, index


def _is_title(head: Sequence[tuple[int, str]], index: int) -> bool:
    text = head[index][1].strip()
    if _BULLET.match(head[index][1]) or re.match(r"^\W*\d", text):
        return False
    if _MARK.match(text):
        return True
    following = head[index + 1][1] if index + 1 < len(head) else ""
    if _RULE_LINE.match(following) and following.strip():
        return True
    if not TRAY_WORD.search(text):
        return False
    if text.endswith(":"):
        return True
    if directive(following):
        return True
    blanks = sum(1 for _, t in head[index + 1:] if not t.strip())
    spaced_out = blanks >= 0.4 * max(len(head) - index - 1, 1)
    return not following.strip() and not spaced_out


def _lines(
    lines: Iterable[tuple[int, str]], file: str, bulleted: bool, alongside: list[Line]
) -> Iterator[Line]:
    aside = False
    for number, raw in lines:
        text = raw.strip()
        if not text or _RULE_LINE.match(text):
            if not text:
                aside = False
            continue
        text = _MARK.sub("", text)
        found = directive(_BULLET.sub("", text))
        if found and found[0] in ("alongside", "contents"):
            key, value = found
            aside = key == "alongside" and not value
            if key == "alongside" and value:
                for thing in Heading().with_("alongside", value).alongside:
                    alongside.append(Line(text=thing, place=Place(file=file, row=number)))
            elif key == "contents" and value:
                yield Line(text=value, place=Place(file=file, row=number))
            continue
        text = _BULLET.sub("", text)
        if bulleted:
            text = _TIGHT_HYPHEN.sub("", text)
        place = Place(file=file, row=number)
        for pattern, why in ((_BELOW_NOUGHT, "is below nought"),
                             (_HUGE, f"is more than {MAX_QUANTITY:,}")):
            match = pattern.match(text)
            if match and (why.startswith("is below") or int(match[1]) > MAX_QUANTITY):
                raise BadInput(
                    f'the quantity "{match[0].strip()}" {why}.', where=str(place),
                    mend="Write a whole number (0 for named but not there), or leave it out.",
                )
        line = Line(text=" ".join(text.split()), place=place)
        if aside:
            alongside.append(line)
        else:
            yield line
