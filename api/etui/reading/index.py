"""Every name in the graph as weighted tokens, with the ways from a misspelt word to a right one.

A label is a bag of tokens: name words (eponyms and the like), nouns (forceps, clamp), attribute
words (curved, toothed) and numbers.  A token weighs the more the fewer patterns carry it, so that
"Crile" decides and "forceps" does not.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterable

import jellyfish
from rapidfuzz import process
from rapidfuzz.distance import OSA, JaroWinkler

from etui.knowledge.model import Pattern, Reference
from etui.reading.lexicon import ATTRIBUTES, Lexicon, singular
from etui.reading.text import Mark, fold

__all__ = ["Index", "Label", "Token", "number_text", "tokens"]

SILENT = frozenset(
    (
        "with", "without", "and", "on", "filler", "count", "count-before", "number-mark", "pair",
        "pack", "each-of", "now", "was", "missing", "state", "unit", "french", "gauge", "degree",
        "volume", "litre", "width", "depth", "length", "roman", "for",
    )
)  # fmt: skip
"""Groups of words that join, count or measure, and so are no part of a name."""

BASE = {"core": 1.0, "noun": 0.55, "attr": 0.35, "num": 0.8, "weak": 0.3}
UNKNOWN = 0.75
"""Weight of a word of the line that no name has: it speaks against every reading."""

CLAIMING = frozenset(("preferred", "preferred-us", "preferred-uk", "us", "uk", "trade", "also"))
PAREN = re.compile(r"\(([^()]*)\)")


class Token:
    """One token of a label or of a line; ``families``: of a noun, where it may be meant."""

    __slots__ = ("cls", "families", "plural", "text", "unit")

    def __init__(
        self, text: str, cls: str, unit: int = 0, plural: bool = False, families: Iterable[str] = ()
    ) -> None:
        self.text, self.cls, self.unit, self.plural = text, cls, unit, plural
        self.families = tuple(families)

    def __repr__(self) -> str:
        return f"{self.text}/{self.cls}"


def number_text(mark: Mark) -> str:
    """A number as a token: "6.0" and "6" are one."""
    return f"{mark.value:g}"


def _in_range(found: list[Mark], at: int) -> bool:
    """Whether the number is an end of a range ("16 to 24 G"), which names nothing."""
    for step in (1, -1):
        if 0 <= at + step < len(found) and found[at + step].text == "to":
            far = at + 2 * step
            return 0 <= far < len(found) and found[far].kind == "num"
    return False


def tokens(found: list[Mark]) -> list[Token]:
    """The naming tokens among *found*, in order."""
    out: list[Token] = []
    for at, mark in enumerate(found):
        if mark.kind == "dims":
            out.append(Token(mark.text, "num"))
        elif mark.kind in ("num", "usp"):
            if _in_range(found, at):
                continue
            text = number_text(mark) if mark.kind == "num" else mark.text
            follows = found[at + 1] if at + 1 < len(found) else None
            if follows and follows.kind == "word" and follows.glued and len(follows.text) == 1:
                text += follows.text
            out.append(Token(text, "num"))
        elif mark.kind == "word":
            if mark.group in SILENT:
                continue
            if at and mark.glued and len(mark.text) == 1 and found[at - 1].kind == "num":
                continue
            if mark.group == "noun":
                out.append(Token(mark.means, "noun", mark.unit, mark.plural, mark.families))
            elif mark.group in ATTRIBUTES:
                out.append(Token(mark.means, "attr"))
            elif mark.group:
                weak = "weak" if mark.group == "heading" else "core"
                out.extend(
                    Token(singular(w), weak, mark.unit) for w in mark.text.split() if w.isalpha()
                )
            else:
                out.append(Token(mark.means, "core", mark.unit, mark.plural))
    return out


class Label:
    """One name of one pattern as tokens."""

    __slots__ = (
        "bag",
        "bare",
        "core",
        "firm",
        "hidden",
        "joins",
        "pattern",
        "plural",
        "text",
        "tokens",
        "weight",
    )

    def __init__(self, pattern: str, text: str, found: list[Token], hidden: bool) -> None:
        self.pattern, self.text, self.tokens, self.hidden = pattern, text, found, hidden
        self.bag = frozenset(t.text for t in found)
        self.core = frozenset(t.text for t in found if t.cls in ("core", "weak"))
        nouns = any(t.cls in ("noun", "attr", "num") for t in found)
        self.bare = bool(self.core) and not nouns and not hidden
        self.plural = any(t.plural for t in found)
        self.joins: frozenset[str] = frozenset()
        self.weight = 0.0
        self.firm = 0.0


class Index:
    """All labels with postings, weights and spelling helps; built once, never changed."""

    def __init__(self, reference: Reference, lexicon: Lexicon) -> None:
        self.patterns = reference.patterns
        self.lexicon = lexicon
        self.class_names = [n for c in reference.class_names.values() for n in c.names]
        self.labels: list[Label] = []
        self.aliases: dict[str, list[tuple[str, str]]] = defaultdict(list)
        self.families: dict[str, str] = {}
        self.names: dict[str, str] = {}
        for pattern in reference.patterns.values():
            self.families[pattern.id] = pattern.family
            self.names[pattern.id] = pattern.name
            if pattern.replaced_by is None:
                self._add(pattern)
        for hand in reference.manoeuvres.values():
            if hand.id not in reference.patterns:
                self.families[hand.id], self.names[hand.id] = "manoeuvre", hand.name
                for name in hand.names or ():
                    self._label(hand.id, name.text, hidden=name.kind == "hidden")
        self._weigh()
        self.proper = self._proper()
        self._spellings()

    # -- building ----------------------------------------------------------------------------

    def _add(self, pattern: Pattern) -> None:
        first = len(self.labels)
        odd: list[str] = []
        for name in pattern.names:
            if name.kind == "hidden" and fold(name.text).isalpha():
                odd.append(name.text)
            elif name.text.startswith("("):
                continue
            else:
                self._label(pattern.id, name.text, hidden=name.kind == "hidden")
        mine = self.labels[first:]
        words = {t.text for lab in mine if not lab.hidden for t in lab.tokens if t.cls == "core"}
        # a misspelling of several words that reads as fewer of the right ones adds nothing
        self.labels[first:] = [
            lab for lab in mine if not lab.hidden or not self._explained(lab, words)
        ]
        for text in odd:
            self._alias(pattern.id, fold(text), words)

    def _explained(self, lab: Label, words: set[str]) -> bool:
        """Whether every word of a misspelt name is, or is now tied to, a right word."""
        odd = sorted(lab.core - words)
        tied = {w: self._nearest(w, words) for w in odd}
        if not all(tied.values()):
            return False
        for word, right in tied.items():
            if right:
                self.aliases[word].append((right, "core"))
        return bool(lab.core)

    @staticmethod
    def _nearest(plain: str, words: set[str]) -> str | None:
        best = max(words, key=lambda w: (JaroWinkler.similarity(plain, w), w), default=None)
        if best and (
            JaroWinkler.similarity(plain, best) >= 0.72
            or jellyfish.metaphone(plain) == jellyfish.metaphone(best)
        ):
            return best
        return None

    def _alias(self, pattern: str, text: str, words: set[str]) -> None:
        """A one-word misspelling belongs to the word of the same pattern that it is nearest to."""
        read = tokens(self.lexicon.read(text))
        if all(t.text in words or t.cls != "core" for t in read):
            return
        plain = singular("".join(c for c in text if c.isalpha()))
        best = self._nearest(plain, words)
        if best:
            self.aliases[plain].append((best, "core"))
        else:
            self._label(pattern, text, hidden=True)

    def _label(self, pattern: str, text: str, *, hidden: bool) -> None:
        plain = fold(text)
        asides = PAREN.findall(plain)
        head = " ".join(PAREN.sub(" ", plain).split())
        seen = {lab.bag for lab in self.labels if lab.pattern == pattern} if asides else set()
        found = tokens(self.lexicon.read(head))
        if asides and all(t.cls == "noun" for t in found):
            seen.add(frozenset(t.text for t in found))  # the bracket is what tells it apart
        if found and frozenset(t.text for t in found) not in seen:
            self.labels.append(Label(pattern, text, found, hidden))
            self.labels[-1].joins = self._joins(head)
        if not asides:
            return
        whole = tokens(self.lexicon.read(plain))
        if len(whole) > len(found):
            self.labels.append(Label(pattern, text, whole, hidden))
            self.labels[-1].joins = self._joins(plain)
        for aside in asides:
            for part in re.split(r",|;|\bor\b|\band\b", aside):
                extra = tokens(self.lexicon.read(part.strip()))
                if extra and len(extra) <= 2 and any(t.cls == "core" for t in extra):
                    known = {t.text for t in extra}
                    rest = [t for t in found if t.text not in known]
                    if any(t.cls == "noun" for t in rest) and len(rest) <= 4:
                        self.labels.append(Label(pattern, text, rest + extra, hidden=False))

    def _proper(self) -> frozenset[str]:
        """Words that names always write with a capital: eponyms."""
        upper: set[str] = set()
        lower: set[str] = set()
        for pattern in self.patterns.values():
            for name in pattern.names:
                words = re.findall(r"[^\W\d_]+", name.text)
                for at, word in enumerate(words):
                    plain = singular(fold(word))
                    if word[0].islower():
                        lower.add(plain)
                    elif (
                        at or not name.kind.startswith("preferred") or name.kind != "preferred"
                    ) and (len(word) > 3 and not word.isupper()):
                        upper.add(plain)
        return frozenset(upper - lower)

    def _joins(self, text: str) -> frozenset[str]:
        """Joining words inside the name ("trocar and cannula")."""
        words = ("and", "with", "on", "without", "for")
        return frozenset(m.group for m in self.lexicon.read(text) if m.group in words)

    def _weigh(self) -> None:
        carriers: dict[str, set[str]] = defaultdict(set)
        kinds: dict[str, str] = {}
        for lab in self.labels:
            for t in lab.tokens:
                carriers[t.text].add(lab.pattern)
                kinds.setdefault(t.text, t.cls)
        total = math.log(1 + len(self.patterns))
        self.idf = {
            word: math.log(1 + len(self.patterns) / len(who)) / total
            for word, who in carriers.items()
        }
        self.carriers = {word: frozenset(who) for word, who in carriers.items()}
        self.postings: dict[str, list[tuple[int, float]]] = defaultdict(list)
        self.of_pattern: dict[str, frozenset[str]] = {}
        bags: dict[str, set[str]] = defaultdict(set)
        for at, lab in enumerate(self.labels):
            once: dict[str, Token] = {t.text: t for t in lab.tokens}
            lab.tokens = list(once.values())
            for t in lab.tokens:
                weight = self.weight(t)
                lab.weight += weight
                if t.cls in ("core", "num", "weak"):
                    lab.firm += weight
                self.postings[t.text].append((at, weight))
                bags[lab.pattern].add(t.text)
        self.labels_of: dict[str, list[Label]] = defaultdict(list)
        for lab in self.labels:
            self.labels_of[lab.pattern].append(lab)
        self.of_pattern = {p: frozenset(bag) for p, bag in bags.items()}
        self.kinds = kinds
        self.solid = frozenset(
            t.text for lab in self.labels if lab.pattern in self.patterns for t in lab.tokens
        )
        """Words of patterns; words of phrases for the hand are matched but not misspelt into."""

    def weight(self, token: Token) -> float:
        """How much *token* decides."""
        return BASE[token.cls] * self.idf.get(token.text, UNKNOWN)

    def _spellings(self) -> None:
        """Written words (plain, run together, misspelt) and the tokens they lead to."""
        words: dict[str, list[tuple[str, ...]]] = defaultdict(list)
        for word, cls in self.kinds.items():
            if (
                word in self.solid
                and cls != "attr"
                and cls != "num"
                and len(word) > 2
                and word.replace(" ", "").isalpha()
            ):
                words[word.replace(" ", "")].append((word,))
        for lab in self.labels:
            for left, right in zip(lab.tokens, lab.tokens[1:], strict=False):
                if left.cls == "core" and right.cls in ("core", "noun"):
                    words[left.text + right.text].append((left.text, right.text))
        for name in self.class_names:
            for t in tokens(self.lexicon.read(fold(name))):
                if t.cls in ("core", "weak") and len(t.text) > 3 and t.text.isalpha():
                    words[t.text].append((t.text,))
        for word, meant in self.aliases.items():
            for text, _ in meant:
                words[word].append((text,))
        for word, entries in self.lexicon.spellings().items():
            for entry in entries:
                parts = (entry.means,) if entry.group == "noun" else tuple(entry.means.split())
                if all(p in self.idf or entry.group == "noun" for p in parts):
                    words[word].append(parts)
        self.words = {w: tuple(dict.fromkeys(t)) for w, t in words.items()}
        self.long_words = sorted(w for w in self.words if len(w) >= 4)
        self.sounds: dict[str, list[str]] = defaultdict(list)
        for w in self.long_words:
            if len(w) >= 5:
                self.sounds[jellyfish.metaphone(w)].append(w)
        self._near: dict[tuple[str, bool], tuple[tuple[tuple[str, ...], float], ...]] = {}

    # -- looking up --------------------------------------------------------------------------

    def near(self, word: str, *, joined: bool = False) -> tuple[tuple[tuple[str, ...], float], ...]:
        """What *word* may be a misspelling of: (tokens, likeness), best first.

        ``joined``: the word was put together from several that dictation may have torn apart; it
        is then compared more loosely, because such words sound right and look wrong.
        """
        key = (word, joined)
        found = self._near.get(key)
        if found is None:
            if len(self._near) > 50_000:
                self._near.clear()
            found = self._near[key] = self._search(word, joined)
        return found

    def _search(self, word: str, joined: bool) -> tuple[tuple[tuple[str, ...], float], ...]:
        best: dict[tuple[str, ...], float] = {}

        def offer(name: str, likeness: float) -> None:
            for meant in self.words[name]:
                if likeness > best.get(meant, 0.0):
                    best[meant] = likeness

        plain = singular(word)
        for form in {word, plain}:
            if form in self.words:
                offer(form, 0.96)
        size = len(plain)
        if not best and size >= 4:
            allowed = 1 if size <= 6 else 2 if size <= 9 else 3
            for name, distance, _ in process.extract(
                plain, self.long_words, scorer=OSA.distance, score_cutoff=allowed, limit=8
            ):
                if size == 4 and name[0] != plain[0] and name[-1] != plain[-1]:
                    continue
                step = 0.1 if size >= 6 else 0.12
                offer(name, 1.0 - step * distance)
            if size >= 5:
                for name in self.sounds.get(jellyfish.metaphone(plain), ()):
                    like = JaroWinkler.similarity(plain, name)
                    if like >= 0.75 or (joined and like >= 0.6):
                        offer(name, max(0.74, min(0.9, like - 0.05)))
            if joined and not best and size >= 8:
                for name, like, _ in process.extract(
                    plain,
                    self.long_words,
                    scorer=OSA.normalized_similarity,
                    score_cutoff=0.68,
                    limit=4,
                ):
                    if (
                        name[0] == plain[0]
                        or jellyfish.metaphone(name)[:1] == jellyfish.metaphone(plain)[:1]
                    ):
                        offer(name, like)
        return tuple(sorted(best.items(), key=lambda pair: (-pair[1], pair[0]))[:8])
