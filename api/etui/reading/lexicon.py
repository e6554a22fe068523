"""The words of reading, compiled from the graph: what a written form stands for, and when.

Every form is data (``ontology/lexicon.ttl``).  The code knows only the groups: which group of
word says how many, which says how long, which joins two items.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from etui.knowledge.model import Abbreviation
from etui.reading.text import Mark, fold, marks

__all__ = ["AFTER_NUMBER", "ATTRIBUTES", "Lexicon", "singular"]

ATTRIBUTES = frozenset(("curve", "teeth", "form", "size", "material", "thread", "colour", "side"))
"""Groups that describe a piece and do not name it."""

AFTER_NUMBER = frozenset(
    ("unit", "french", "gauge", "degree", "volume", "litre", "weight", "width", "depth", "length")
)
"""Groups that are read so only after a number."""

NEVER_FIRST = frozenset(("roman",))
LONGEST_PHRASE = 6


def singular(word: str) -> str:
    """The word without a plural ending, as far as names of the trade need it."""
    if len(word) < 4 or (word.endswith(("ss", "us", "is", "ps")) and not word.endswith("ips")):
        return word
    if word.endswith("ies") and len(word) > 5:
        return word[:-3] + "y"
    if word.endswith(("ches", "shes", "xes", "sses", "zes")):
        return word[:-2]
    return word[:-1] if word.endswith("s") else word


class Entry:
    """One meaning of one written form."""

    __slots__ = ("families", "group", "means", "needs")

    def __init__(self, word: Abbreviation) -> None:
        self.group, self.means, self.needs = word.group, word.means, word.needs
        self.families = word.families


class Lexicon:
    """All written forms, by their first mark, longest first."""

    def __init__(self, words: Iterable[Abbreviation]) -> None:
        forms: dict[tuple[str, ...], list[Entry]] = defaultdict(list)
        self.families: dict[str, tuple[str, ...]] = {}
        self.short: dict[str, str] = {}
        self.numbers: dict[str, float] = {}
        self.multiples: set[str] = set()
        self.one_pair: tuple[str, ...] = ()
        self.packings: set[str] = set()
        for word in words:
            key = tuple(m.text for m in marks(fold(word.text)))
            if not key:
                continue
            if word.group in ("number", "multiple"):
                self.numbers[" ".join(key)] = float(word.means)
                if word.group == "multiple":
                    self.multiples.add(" ".join(key))
                continue
            forms[key].append(Entry(word))
            if word.group in ("noun", "curve") and len(key) == 2 and all(k.isalpha() for k in key):
                forms[(key[1], ",", key[0])].append(Entry(word))  # "HOLDER, NEEDLE"
            if word.group == "noun":
                self.families[word.means] = word.families
            if word.group == "pair" and word.families:
                self.one_pair = word.families
            if word.group == "pack":
                self.packings.add(word.means)
            if word.short_form:
                self.short[f"{word.group}:{word.means}"] = word.short_form
        self.by_first: dict[str, list[tuple[tuple[str, ...], list[Entry]]]] = defaultdict(list)
        for key, entries in forms.items():
            # a meaning with a condition is tried before the plain one
            entries.sort(key=lambda e: e.needs is None)
            self.by_first[key[0]].append((key, entries))
        for found in self.by_first.values():
            found.sort(key=lambda pair: -len(pair[0]))
        self.forms = forms
        elsewhere = {
            part
            for key, entries in forms.items()
            if len(key) > 1 and any(e.group != "noun" for e in entries)
            for part in key
        }
        self.respelt = {
            key[0]: entries[0].means
            for key, entries in forms.items()
            if len(key) == 1
            and entries[0].group == "noun"
            and entries[0].means.isalpha()
            and entries[0].means not in (key[0], singular(key[0]))
            and key[0] not in elsewhere
        }
        """Other spellings of one noun by another, so that phrases need only the right one."""
        self.known_words = frozenset(
            singular(part)
            for key, entries in forms.items()
            for entry in entries
            if entry.group in ("other-thing", "heading", "part", "not-an-item")
            for part in key
            if part.isalpha()
        )
        """Words that are right as they are, so that none is taken for a misspelt name."""

    def spellings(self) -> dict[str, tuple[Entry, ...]]:
        """Forms that stand for a name word or noun, run together, for finding misspellings."""
        out: dict[str, tuple[Entry, ...]] = {}
        for key, entries in self.forms.items():
            joined = "".join(part for part in key if part.isalpha())
            kept = tuple(e for e in entries if e.group in ("noun", "word") and not e.needs)
            if kept and len(joined) >= 4:
                out.setdefault(joined, kept)
        return out

    # -- reading -----------------------------------------------------------------------------

    def read(self, text: str) -> list[Mark]:
        """The marks of *text* (folded) with group and meaning."""
        raw = self._numbers(marks(text))
        for at, mark in enumerate(raw[:-1]):
            # only where a phrase may follow: "needel driver"
            right = self.respelt.get(mark.text)
            if right and raw[at + 1].kind == "word":
                mark.text = right
        present = {m.text for m in raw}
        out: list[Mark] = []
        i, unit = 0, 0
        while i < len(raw):
            mark = raw[i]
            if mark.kind in ("word", "sign"):
                taken = self._phrase(raw, i, present, out)
                if taken:
                    unit += 1
                    used, entry = taken
                    out.extend(self._meant(entry, raw[i : i + used], unit))
                    i += used
                    continue
                if mark.kind == "word":
                    plain = singular(mark.text)
                    mark.means, mark.plural = plain, plain != mark.text
            out.append(mark)
            i += 1
        self._tie_hyphens(out, unit + 1)
        return out

    def _phrase(
        self, raw: list[Mark], at: int, present: set[str], before: Sequence[Mark]
    ) -> tuple[int, Entry] | None:
        for key, entries in self.by_first.get(raw[at].text, ()):
            size = len(key)
            if size > 1:
                if at + size > len(raw):
                    continue
                if any(raw[at + k].text != key[k] for k in range(1, size)):
                    continue
            for entry in entries:
                if self._fits(entry, present, before, raw, at, size):
                    return size, entry
        return None

    def _fits(
        self,
        entry: Entry,
        present: set[str],
        before: Sequence[Mark],
        raw: list[Mark],
        at: int,
        size: int,
    ) -> bool:
        number = bool(before) and before[-1].kind in ("num", "frac", "dims")
        follows = raw[at + size] if at + size < len(raw) else None
        if entry.group == "dangling":
            # "pickups with", "Adsons without": nothing follows that they could join
            return (
                bool(before)
                and (
                    follows is None
                    or self._counts(raw, at + size)
                    or follows.kind not in ("word", "num", "usp")
                    or (
                        follows.text == "x"
                        and at + size + 1 < len(raw)
                        and raw[at + size + 1].kind == "num"
                    )
                )
                and raw[at].kind == "word"
                and (before[-1].kind == "word" or self._unlike(entry, before))
                and not raw[at].glued
            )
        # "x2" and "2 x" count, whatever else a single letter may stand for
        counted = len(raw[at].text) == 1 and (
            number or (follows is not None and follows.kind == "num")
        )
        if counted and entry.group == "word" and size == 1:
            return False
        if entry.group in AFTER_NUMBER:
            if not number:
                # "4 x 8 in wide": the width word may follow a unit
                return entry.group in ("width", "depth", "length") and bool(
                    before and before[-1].group == "unit"
                )
            # a unit of one letter stands close to its number or ends the line
            return not (
                len(raw[at].text) == 1
                and raw[at].kind == "word"
                and not raw[at].glued
                and entry.group in ("litre",)
            )
        if entry.group == "roman":
            # at the end of the line, or alone in brackets: "(ii)"
            return at > 0 and all(m.kind == "sign" for m in raw[at + size :])
        if entry.needs:
            return all(
                word in present or self._stands(word, present) for word in entry.needs.split()
            )
        return True

    @staticmethod
    def _unlike(entry: Entry, before: Sequence[Mark]) -> bool:
        """ "2 with teeth, 2 without": after a number, when the other kind was named before."""
        return before[-1].kind == "num" and any(
            m.group == "teeth" and m.means != f"teeth:{entry.means}" for m in before
        )

    def _counts(self, raw: list[Mark], at: int) -> bool:
        """Whether only counts and measures follow ("2 ea", "120 mm")."""
        rest = raw[at:]
        groups = AFTER_NUMBER | {"count", "count-before", "pair"}
        return bool(rest) and all(
            m.kind != "word" or any(e.group in groups for e in self.forms.get((m.text,), ()))
            for m in rest
        )

    def _stands(self, word: str, present: set[str]) -> bool:
        """Whether *word* is on the line in any of its spellings."""
        return any(
            entry.means == word or entry.means.startswith(word)
            for text in present
            for entry in self.forms.get((text,), ())
        )

    def _meant(self, entry: Entry, raw: list[Mark], unit: int) -> list[Mark]:
        if entry.group == "word":
            out = []
            for part in entry.means.split():
                mark = Mark("word", part, glued=raw[0].glued)
                mark.unit = unit
                if part in self.families:
                    mark.group, mark.families = "noun", self.families[part]
                out.append(mark)
            out[0].plural = raw[-1].text.endswith("s")
            return out
        mark = Mark("word", " ".join(m.text for m in raw), glued=raw[0].glued)
        mark.group, mark.families, mark.value = entry.group, entry.families, 0.0
        mark.means = entry.means
        if entry.group == "dangling":
            mark.group = "teeth"
        if mark.group in ATTRIBUTES:
            mark.means = f"{mark.group}:{entry.means}"
        elif entry.group == "unit":
            mark.value = float(entry.means)
        elif entry.group == "roman":
            mark.kind, mark.value = "roman", float(entry.means.split()[0])
        return [mark]

    def _tie_hyphens(self, out: list[Mark], unit: int) -> None:
        """Words joined by a hyphen ("Crile-Wood") are one double name; drop the hyphen."""
        i = 1
        while i < len(out) - 1:
            hyphen = out[i].kind == "sign" and out[i].text == "-"
            if hyphen and out[i].glued and out[i + 1].glued:
                left, right = out[i - 1], out[i + 1]
                if left.kind == right.kind == "word" and not left.group and not right.group:
                    left.unit = right.unit = left.unit or unit
                    unit += 1
                    del out[i]
                    continue
                if left.kind == "word" or right.kind == "word":
                    del out[i]
                    continue
            i += 1

    # -- numbers in words --------------------------------------------------------------------

    def _numbers(self, raw: list[Mark]) -> list[Mark]:
        """Number words as numbers: "twenty two", "nine and a half", "four by four"."""
        out: list[Mark] = []
        i = 0
        while i < len(raw):
            mark = raw[i]
            taken, many = self._dozens(raw, i)
            if taken:
                out.append(Mark("num", f"{many:g}", many, mark.glued))
                out[-1].means = "spelt"
                i += taken
                continue
            value = self.numbers.get(mark.text) if mark.kind == "word" else None
            if value is not None and self._compound(raw, i):
                value = None
            if value is None:
                if mark.kind == "num":
                    size, extra = self._and_part(raw, i + 1)
                    if size:
                        out.append(Mark("frac", mark.text, mark.value + extra, mark.glued))
                        i += 1 + size
                        continue
                out.append(mark)
                i += 1
                continue
            size = 1
            if value >= 20 and i + 1 < len(raw):
                step = 2 if raw[i + 1].text == "-" else 1
                unit = self.numbers.get(raw[i + step].text) if i + step < len(raw) else None
                if unit is not None and 0 < unit < 10:
                    value, size = value + unit, step + 1
            more, extra = self._and_part(raw, i + size)
            whole = f"{value:g}"
            if more:
                out.append(Mark("frac", whole, value + extra, mark.glued))
            elif value in (0.5, 0.25, 0.75):
                out.append(Mark("frac", whole, value, mark.glued))
            else:
                out.append(Mark("num", whole, value, mark.glued))
                out[-1].means = "spelt"
            i += size + more
        return self._by(out)

    def _dozens(self, raw: list[Mark], at: int) -> tuple[int, float]:
        """Marks taken and value of "2 dozen", "half a dozen", or (0, 0)."""
        mark = raw[at]
        value = mark.value if mark.kind == "num" else self.numbers.get(mark.text, 0.0)
        after = at + 1
        if value == 0.5 and after < len(raw) and raw[after].text == "a":
            after += 1
        if not value or after >= len(raw) or raw[after].text not in self.multiples:
            return 0, 0.0
        return after + 1 - at, value * self.numbers[raw[after].text]

    def _compound(self, raw: list[Mark], at: int) -> bool:
        """ "one-piece": a number word that is the head of a compound counts nothing."""
        rest = raw[at + 1 : at + 3]
        return (
            len(rest) == 2
            and rest[0].text == "-"
            and rest[0].glued
            and rest[1].glued
            and rest[1].kind == "word"
            and rest[1].text not in self.numbers
        )

    def _and_part(self, raw: list[Mark], at: int) -> tuple[int, float]:
        """Marks taken and value of "and a half", "and three quarters", "point five"."""
        words = [m.text for m in raw[at : at + 4]]
        if words[:1] == ["point"] and len(words) > 1:
            digit = self.numbers.get(words[1])
            if digit is None and raw[at + 1].kind == "num":
                digit = raw[at + 1].value
            return (2, digit / 10) if digit is not None and digit < 10 else (0, 0.0)
        start = 1 if words[:1] == ["and"] else 0
        rest = words[start:]
        if rest[:1] == ["a"]:
            rest, start = rest[1:], start + 1
        if not start and rest[:1] not in (["half"], ["quarter"]) and rest[1:2] not in (
            ["quarter"], ["quarters"],
        ):  # fmt: skip
            return 0, 0.0
        if rest[:1] == ["half"]:
            return start + 1, 0.5
        if rest[:1] in (["quarter"], ["quarters"]):
            return start + 1, 0.25
        if len(rest) > 1 and rest[1] in ("quarter", "quarters", "eighths", "eighth"):
            above = self.numbers.get(rest[0])
            if above and above < 8:
                return start + 2, above / (4 if rest[1].startswith("quarter") else 8)
        if len(rest) > 0 and start and raw[at + start].kind == "frac":
            return start + 1, raw[at + start].value
        return 0, 0.0

    @staticmethod
    def _by(raw: list[Mark]) -> list[Mark]:
        """ "4 by 4" as "4x4"."""
        out: list[Mark] = []
        i = 0
        while i < len(raw):
            three = raw[i : i + 3]
            if (
                len(three) == 3
                and three[0].kind == three[2].kind == "num"
                and three[1].text == "by"
            ):
                out.append(Mark("dims", f"{three[0].text}x{three[2].text}", glued=three[0].glued))
                i += 3
            else:
                out.append(raw[i])
                i += 1
        return out
