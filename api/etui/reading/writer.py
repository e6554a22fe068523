"""Writing a piece in the house style of a place, so that the reader reads it back."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Literal

from etui.errors import UnknownTerm
from etui.knowledge.model import Manoeuvre, Pattern, Record
from etui.reading.model import Attributes
from etui.reading.reader import Reader

__all__ = ["Namer", "Style"]

INCH_MM = 25.4
EIGHTH_ERROR_MM = 1.0
"""A length further than this from an eighth of an inch is written in decimals."""


class Style(Record, frozen=True):
    """The house style of a place.

    ``words``: which names come first.  ``length``: unit of lengths.  ``short``: with the
    abbreviations of the lexicon (sciss, cvd).  ``count``: how a count is written, with ``{}`` for
    the number.
    """

    words: Literal["uk", "us", "neutral"] = "uk"
    length: Literal["mm", "cm", "in"] = "mm"
    short: bool = False
    count: str = "x{}"


class Namer:
    """Writes pieces; every text is checked by reading it back.

    Args:
        reader: The reader whose reference and lexicon are used.
    """

    def __init__(self, reader: Reader) -> None:
        self.reader = reader
        self.reference = reader.reference

    def write(
        self,
        pattern: str,
        attributes: Attributes | None = None,
        quantity: int | None = None,
        style: Style | None = None,
    ) -> str:
        """The piece as a place of that style writes it on a count sheet.

        Args:
            pattern: Id of a pattern or manoeuvre.
            attributes: What is to be said of the piece; only what is stated is written.
            quantity: Pieces; None writes no count.
            style: House style; UK names and millimetres when absent.

        Returns:
            The first wording, in order of the style, that reads back as *pattern*; the neutral
            name when none does.

        Raises:
            UnknownTerm: If *pattern* is not in the reference.
        """
        record = self.reference.patterns.get(pattern) or self.reference.manoeuvres.get(pattern)
        if record is None:
            raise UnknownTerm(f'There is no pattern "{pattern}".')
        style = style or Style()
        said = attributes or Attributes()
        for name in self._names(record, style):
            text = self._compose(name, said, quantity, style)
            if self._reads_back(text, pattern):
                return text
        return self._compose(record.name, said, quantity, style)

    def _reads_back(self, text: str, pattern: str) -> bool:
        items = self.reader.read(text).items
        return len(items) == 1 and items[0].pattern == pattern

    def _names(self, record: Pattern | Manoeuvre, style: Style) -> Iterator[str]:
        """Names in the order in which the place prefers them; misspellings never."""
        order = {
            "uk": ("preferred-uk", "uk", "preferred", "also", "trade", "preferred-us", "us"),
            "us": ("preferred-us", "us", "preferred", "also", "trade", "preferred-uk", "uk"),
            "neutral": ("preferred", "also", "preferred-uk", "preferred-us", "uk", "us", "trade"),
        }[style.words]
        names = record.names
        seen: set[str] = set()
        for kind in order:
            for name in names:
                if name.kind == kind and name.text not in seen and not name.text.startswith("("):
                    seen.add(name.text)
                    yield name.text
        if record.name not in seen:
            yield record.name

    # -- putting together --------------------------------------------------------------------

    def _compose(self, name: str, said: Attributes, quantity: int | None, style: Style) -> str:
        lower = name.casefold()
        words = [self._shorten(name) if style.short else name]
        words += [w for w in self._attribute_words(said, style) if w.casefold() not in lower]
        length = self._length(said.length_mm, style)
        if length:
            words.append(length)
        text = " ".join(words)
        text = text[:1].upper() + text[1:]
        return f"{text} {style.count.format(quantity)}" if quantity is not None else text

    def _attribute_words(self, said: Attributes, style: Style) -> Iterator[str]:
        if said.form:
            yield said.form
        if said.curve:
            word = said.curve.replace("_", " ")
            yield self._word(f"curve:{said.curve}", word, style)
        if said.teeth:
            yield self._teeth(said.teeth, style)
        if said.size:
            digits = said.size.rstrip("abcdlABCDL").replace(".", "").isdigit()
            yield f"No. {said.size}" if digits else said.size
        if said.material:
            yield said.material
        if said.french is not None:
            yield f"{said.french:g} Fr"
        if said.gauge is not None:
            yield f"{said.gauge:g} G"

    def _teeth(self, teeth: str, style: Style) -> str:
        if teeth == "none":
            return self._word("teeth:none", "non-toothed", style)
        if teeth == "toothed":
            return self._word("teeth:toothed", "toothed", style)
        return f"{teeth} teeth" if "x" in teeth else teeth

    def _word(self, key: str, plain: str, style: Style) -> str:
        return self.reader.lexicon.short.get(key, plain) if style.short else plain

    def _shorten(self, name: str) -> str:
        """The name with the short forms that the lexicon has for its words."""
        short = {
            key.split(":", 1)[1]: form
            for key, form in self.reader.lexicon.short.items()
            if key.split(":", 1)[0] in ("noun", "curve", "size")
        }
        out = name
        for word in sorted(short, key=len, reverse=True):
            at = out.casefold().find(word)
            end = at + len(word)
            whole = (
                at >= 0
                and (at == 0 or not out[at - 1].isalpha())
                and (end == len(out) or not out[end].isalpha())
            )
            if whole:
                out = out[:at] + short[word] + out[end:]
        return out

    @staticmethod
    def _length(mm: float | None, style: Style) -> str:
        if mm is None:
            return ""
        if style.length == "mm":
            return f"{mm:g} mm"
        if style.length == "cm":
            return f"{mm / 10:g} cm"
        return f"{inches(mm)} in"


def inches(mm: float) -> str:
    """Millimetres as the inch size that the trade writes: "5 1/2", else decimals."""
    eighths = round(mm / INCH_MM * 8)
    if eighths and abs(eighths / 8 * INCH_MM - mm) <= EIGHTH_ERROR_MM:
        whole, rest = divmod(Fraction(eighths, 8), 1)
        if not rest:
            return str(whole)
        return f"{whole} {rest}" if whole else str(rest)
    return f"{mm / INCH_MM:.2f}"
