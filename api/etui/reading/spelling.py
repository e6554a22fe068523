"""Typing errors in the words of the lexicon, mended before the line is read.

Name words (eponyms) are mended later, with their likeness counted in the score; here only words
that the lexicon knows ("forecps", "curvde", "neddle") are put right, and only when no name is as
near.
"""

from __future__ import annotations

import re

from rapidfuzz import process
from rapidfuzz.distance import OSA

from etui.reading.index import Index
from etui.reading.lexicon import ATTRIBUTES, Lexicon, singular

__all__ = ["Speller"]

WORD = re.compile(r"[^\W\d_]{5,}")
GROUPS = ATTRIBUTES | {
    "noun",
    "word",
    "missing",
    "pair",
    "quantity",
    "unit",
    "part",
    "without",
    "state",
}
LONG = 10
"""Letters from which two errors in a word are still one word."""


class Speller:
    """Mends words of the lexicon in a folded line; remembers what it has mended."""

    def __init__(self, lexicon: Lexicon, index: Index) -> None:
        self.index = index
        parts: set[str] = set()
        every: set[str] = set()
        for key, entries in lexicon.forms.items():
            words = [part for part in key if part.isalpha()]
            every.update(words)
            for entry in entries:
                if entry.group not in GROUPS:
                    continue
                # of name words only the right spelling, and eponyms are mended with the names
                right = (
                    [w for w in words if w in entry.means.split() and w not in index.proper]
                    if entry.group == "word"
                    else words
                )
                parts.update(w for w in right if len(w) >= 5)
        self.every = frozenset(every)
        self.right = sorted(parts)
        self.known = every | set(lexicon.numbers) | set(index.idf) | set(index.words)
        self._mended: dict[str, str] = {}

    def mend(self, folded: str) -> str:
        """The line with misspelt words of the lexicon put right."""
        return WORD.sub(self._word, folded)

    def _word(self, found: re.Match[str]) -> str:
        word = found.group()
        mended = self._mended.get(word)
        if mended is None:
            if len(self._mended) > 50_000:
                self._mended.clear()
            mended = self._mended[word] = self._search(word)
        return mended

    def _search(self, word: str) -> str:
        plain = singular(word)
        if word in self.known or plain in self.known or plain in self.index.aliases:
            return word
        allowed = 2 if len(word) >= LONG else 1
        best = process.extractOne(word, self.right, scorer=OSA.distance, score_cutoff=allowed)
        if best is None:
            return word
        right, distance, _ = best
        if right[0] != word[0] and distance > 1:
            return word
        near = self.index.near(word)
        as_near = 1.0 - 0.12 * distance - 1e-9
        rivals = [
            part
            for meant, like in near
            if like >= as_near
            for part in meant
            if part not in self.every and part != singular(right)
        ]
        return word if rivals else right
