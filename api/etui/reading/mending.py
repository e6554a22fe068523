"""Putting the words of an item right: misspelt, run together or torn apart by dictation."""

from __future__ import annotations

from dataclasses import dataclass, field

from etui.reading.index import Index, Token
from etui.reading.lexicon import Lexicon
from etui.reading.text import Mark

__all__ = ["Mender", "Query"]


@dataclass(slots=True)
class Query:
    """The words of one item with what each may mean."""

    tokens: list[Token]
    alts: list[tuple[tuple[str, float], ...]] = field(default_factory=list)
    spelt: list[str] = field(default_factory=list)
    fixed: dict[str, str] = field(default_factory=dict)


NEARLY = 0.8
"""Likeness from which one unknown word is taken for two words of everyday speech run together."""


class Mender:
    """Finds what each word may stand for.

    Args:
        known: Words that are right although no pattern bears them (class names and the like).
    """

    def __init__(self, lexicon: Lexicon, index: Index, known: frozenset[str]) -> None:
        self.lexicon, self.index, self.class_words = lexicon, index, known

    def query(self, found: list[Token]) -> Query:
        """Mend spelling: each word with the tokens it may stand for."""
        mended: list[Token] = []
        alts: list[tuple[tuple[str, float], ...]] = []
        spelt: list[str] = []
        fixed: dict[str, str] = {}
        idf = self.index.idf
        known = [
            t.cls not in ("core", "weak") or t.text in idf or t.text in self.class_words
            for t in found
        ]
        i = 0
        while i < len(found):
            token = found[i]
            joined = self._joined(found, known, i)
            if joined:
                size, parts, like = joined
                fixed.update((t.text, parts[0]) for t in found[i : i + size])
                spelt.append(
                    f'"{" ".join(t.text for t in found[i : i + size])}" read as "{" ".join(parts)}"'
                )
                for part in parts:
                    families = self.lexicon.families.get(part, ())
                    mended.append(Token(part, "noun" if families else "core", 0, False, families))
                    alts.append(((part, like),))
                i += size
                continue
            if token.cls in ("attr", "num", "noun"):
                mended.append(token)
                alts.append(((token.text, 1.0),))
            else:
                aliased = self.index.aliases.get(token.text)
                if (token.text in idf and not aliased) or token.text in self.class_words:
                    mended.append(token)
                    alts.append(((token.text, 1.0),))
                else:
                    self._mend(token, mended, alts, spelt)
                    if alts[-1] and alts[-1][0][0] != token.text:
                        fixed[token.text] = alts[-1][0][0]
            i += 1
        return Query(mended, alts, spelt, fixed)

    def _mend(
        self,
        token: Token,
        mended: list[Token],
        alts: list[tuple[tuple[str, float], ...]],
        spelt: list[str],
    ) -> None:
        near = self.index.near(token.text)
        options: list[tuple[str, float]] = []
        if token.text in self.index.idf:
            options.append((token.text, 1.0))
        pair: tuple[str, ...] = ()
        for meant, like in near:
            if len(meant) == 1:
                if meant[0] != token.text:
                    options.append((meant[0], like))
            elif not options and not pair and self._sure_pair(meant, like):
                pair = meant
                for part in meant:
                    families = self.lexicon.families.get(part, ())
                    mended.append(Token(part, "noun" if families else "core", 0, False, families))
                    alts.append(((part, like),))
        if pair:
            spelt.append(f'"{token.text}" read as "{" ".join(pair)}"')
            return
        if options and options[0][0] != token.text:
            spelt.append(f'"{token.text}" read as "{options[0][0]}"')
        top = options[0][0] if options else token.text
        tied = [o for o, like in options if like > options[0][1] - 0.03]
        nouns = all(o in self.lexicon.families for o in tied)
        families = self.lexicon.families.get(top, ()) if options and nouns else ()
        cls = "noun" if families and token.text not in self.index.idf else token.cls
        mended.append(Token(top, cls, token.unit, token.plural, families))
        alts.append(tuple(options))

    def _sure_pair(self, meant: tuple[str, ...], like: float) -> bool:
        """Two everyday words are read into one unknown word only when it is nearly theirs."""
        return like >= NEARLY or any(part in self.index.proper for part in meant)

    def rejoin(self, found: list[Mark]) -> list[Mark]:
        """Marks with names put together that dictation tore apart across little words.

        "long and back" is Langenbeck, "fee no ketty" Finochietto: only windows with a word that
        means nothing are tried, and only a likeness that no part has alone counts.
        """
        out: list[Mark] = []
        i = 0
        while i < len(found):
            made = self._rejoined(found, i)
            if made:
                size, parts = made
                for part in parts:
                    families = self.lexicon.families.get(part, ())
                    mark = Mark("word", part)
                    mark.group, mark.families = ("noun", families) if families else ("", ())
                    mark.unit = 1000 + i
                    out.append(mark)
                i += size
                continue
            out.append(found[i])
            i += 1
        return out

    def _unknown(self, mark: Mark) -> bool:
        return mark.kind == "word" and not mark.group and mark.means not in self.index.solid

    def _rejoined(self, found: list[Mark], at: int) -> tuple[int, tuple[str, ...]] | None:
        for size in (3, 2):
            part = found[at : at + size]
            if len(part) < size or any(m.kind != "word" or not m.text.isalpha() for m in part):
                continue
            little = bool(part[1].group) if size == 3 else any(m.group for m in part)
            if size == 2 and not any(self._unknown(m) for m in part):
                continue
            if all(m.group for m in (part[0], part[-1])):
                continue
            if not little or any(m.means in self.index.proper for m in part):
                continue
            if any(m.group in ("noun", "not-an-item", "thread", "material") for m in part):
                continue
            word = "".join(m.text for m in part)
            if len(word) < 7:
                continue
            near = self.index.near(word, joined=True)
            alone = max(
                (
                    n[0][1]
                    for m in part
                    if self._unknown(m)
                    for n in [self.index.near(m.means)]
                    if n
                ),
                default=0.0,
            )
            if (
                near
                and near[0][1] >= 0.68
                and near[0][1] > alone + 0.02
                and near[0][0][0] in self.index.proper
            ):
                return size, near[0][0]
        return None

    def _joined(
        self, found: list[Token], known: list[bool], at: int
    ) -> tuple[int, tuple[str, ...], float] | None:
        """Words that dictation tore apart ("de bakey", "wheat lander"), put together again."""
        idf = self.index.idf
        for size in (3, 2):
            part = found[at : at + size]
            if len(part) < size or any(t.cls not in ("core", "weak") for t in part):
                continue
            if all(known[at : at + size]):
                continue
            word = "".join(t.text for t in part)
            if len(word) < 6 and not (word in self.index.proper and word in idf):
                continue
            alone = [
                self.index.near(t.text) for t, k in zip(part, known[at:], strict=False) if not k
            ]
            sure = max((a[0][1] for a in alone if a), default=0.0)
            near = self.index.near(word, joined=True)
            if (
                near
                and near[0][1] > max(sure + 0.02, 0.66)
                and not {t.text for t in part} & set(near[0][0])  # the rest may be anything
                and all(len(t.text) > 1 or near[0][1] > 0.9 for t in part)
            ):
                return size, near[0][0], near[0][1]
        return None
