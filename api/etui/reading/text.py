"""From raw text to marks: cleaned, lower-cased, cut into words, numbers and signs.

Nothing here knows what a word means; that is the lexicon's work.  Control characters and marks of
writing direction are dropped and spreadsheet lead-ins (``=``, ``@``) are only signs here, so that
a line can never do anything but be read.
"""

from __future__ import annotations

import re
import unicodedata

__all__ = ["LONGEST_LINE", "Mark", "clean", "fold", "marks"]

LONGEST_LINE = 2000
"""Characters of the longest line that is read; a line of a count sheet has some eighty."""

VULGAR = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
    "⅓": "1/3",
    "⅔": "2/3",
}
SIGNS = str.maketrans(
    {
        "″": '"', "”": '"', "“": '"', "„": '"', "‟": '"', "〃": '"',
        "′": "'", "’": "'", "‘": "'", "`": "'", "´": "'",
        "×": "x", "✕": "x", "✖": "x", "∗": "x", "*": "x",
        "–": "-", "—": "-", "‐": "-", "‑": "-", "‒": "-", "―": "-", "−": "-",
        "•": ",", "·": ",", "|": ",", "\t": " , ", "…": "...", "⁄": "/",
        "º": "°", "˚": "°", "[": "(", "]": ")", "{": "(", "}": ")",
    }
)  # fmt: skip

TOKEN = re.compile(
    r"""
    (?P<frac>\d{1,2}\s*[-\s]\s*\d{1,2}/(?:2|3|4|8|16)(?![\d/])|(?<![\d/])\d{1,2}/(?:2|3|4|8|16)(?![\d/]))
  | (?P<usp>(?<![\d.])\d{1,2}[-/]0(?![\d.]))
  | (?P<dims>\d{1,3}(?:\.\d+)?x\d{1,3}(?:\.\d+)?(?:x\d{1,3})?(?=t\b|s\b|ts\b|[^\w]|cm|mm|in\b|$))
  | (?P<num>\d+\.\d+|(?<![^\W\d_])\.\d+|\d+)
  | (?P<word>[^\W\d_]+(?:'[^\W\d_]+)*)
  | (?P<dots>\.{2,}|_{2,}|-{2,})
  | (?P<sign>[^\w\s.])
    """,
    re.VERBOSE,
)


class Mark:
    """One word, number or sign of a line.

    ``kind``: word, num, frac, usp (thread size), dims (4x4), dots (leaders), sign.  ``text``: the
    folded text; ``value``: of numbers.  ``glued``: no space before it.  ``group`` and ``means``
    are filled in by the lexicon, ``unit`` ties the words of one double name together.
    """

    __slots__ = ("families", "glued", "group", "kind", "means", "plural", "text", "unit", "value")

    def __init__(self, kind: str, text: str, value: float = 0.0, glued: bool = False) -> None:
        self.kind, self.text, self.value, self.glued = kind, text, value, glued
        self.group = ""
        self.means = text
        self.unit = 0
        self.plural = False
        self.families: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return f"{self.kind}:{self.group}:{self.means}"


def clean(text: str) -> str:
    """Drop what cannot be read (controls, direction marks), unify signs, keep the wording."""
    if text.isascii():
        plain = text
    else:
        for sign, spelt in VULGAR.items():
            if sign in text:
                text = text.replace(sign, f" {spelt}")
        plain = unicodedata.normalize("NFKD", text.translate(SIGNS)).translate(SIGNS)
        plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = "".join(c if c.isprintable() else " " for c in plain.translate(SIGNS))
    return " ".join(plain.split())


def fold(text: str) -> str:
    """Case-folded :func:`clean` text with double apostrophes read as inch marks."""
    return clean(text).casefold().replace("''", '"')


def _fraction(text: str) -> float:
    whole, _, rest = text.replace("-", " ").rpartition(" ")
    above, below = rest.split("/")
    return (int(whole) if whole.strip() else 0) + int(above) / int(below)


def marks(folded: str) -> list[Mark]:
    """Cut folded text into marks."""
    out: list[Mark] = []
    end = -1
    for found in TOKEN.finditer(folded):
        kind = found.lastgroup or "sign"
        text = found.group()
        glued = found.start() == end
        end = found.end()
        if kind == "word":
            out.append(Mark("word", text.replace("'", ""), glued=glued))
        elif kind == "frac":
            out.append(Mark("frac", text, _fraction(text), glued))
        elif kind == "num":
            out.append(Mark("num", text, float(text), glued))
        elif kind == "usp":
            out.append(Mark("usp", text.replace("/", "-"), glued=glued))
        else:
            out.append(Mark(kind, text, glued=glued))
    return out
