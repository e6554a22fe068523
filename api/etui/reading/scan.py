"""Cuts a line at its separators and reads each stretch from left to right."""

from __future__ import annotations

from itertools import pairwise

from etui.reading.chunks import Chunk, Count, Measure
from etui.reading.index import Index, Token, tokens
from etui.reading.lexicon import ATTRIBUTES, Lexicon
from etui.reading.prepass import settle_marks
from etui.reading.text import Mark

__all__ = ["read_chunks"]

SEPARATORS = frozenset(",;:()/+-&=")
JOINING = frozenset(("and", "with", "on", "without", "for"))

OPENING = frozenset(("", "noun", *ATTRIBUTES))
"""Groups of the words with which another thing may begin."""

SMALL_MM = 22.0
"""A measure below this is a width, bite or bore, not a length of an instrument."""


def read_chunks(found: list[Mark], index: Index, lexicon: Lexicon, nouns: set[str]) -> list[Chunk]:
    """Split *found* and read every stretch; *nouns* are those of the heading above the line."""
    found = settle_marks(found)
    chunks = _split(found)
    line_nouns = nouns | {m.means for m in found if m.group == "noun"}
    for chunk in chunks:
        Scan(chunk, index, lexicon, line_nouns).run()
    return [c for c in chunks if c.marks]


def _split(found: list[Mark]) -> list[Chunk]:
    chunks: list[Chunk] = []
    current = Chunk()
    depth = 0
    for at, mark in enumerate(found):
        joiner = ""
        if mark.kind == "dots":
            joiner = "-"
        elif mark.kind == "sign" and mark.text in SEPARATORS:
            joiner = mark.text
            if joiner == "(":
                depth = 1
            elif joiner == ")":
                depth, joiner = 0, ","
            if joiner == "-" and mark.glued and at + 1 < len(found) and found[at + 1].glued:
                continue
        elif mark.group in JOINING:
            after = found[at + 1] if at + 1 < len(found) else None
            if mark.glued and at and found[at - 1].kind == "num" and len(mark.text) == 1:
                current.marks.append(mark)  # the c of 15c
                continue
            if (
                len(mark.text) == 1
                and mark.text.isalpha()
                and (after is None or after.kind != "word")
                and not (after is not None and after.kind == "num" and mark.group == "with")
            ):
                continue
            joiner = mark.group
            if mark.group == "and" and depth:
                joiner = "(,"
        if joiner:
            if current.marks:
                chunks.append(current)
                current = Chunk(joiner="(," if depth and joiner != "(" else joiner)
            elif current.joiner in ("", ",", "-", ":", "/") or joiner in JOINING:
                current.joiner = (
                    joiner
                    if not (current.joiner in JOINING and joiner in ",:-")
                    else current.joiner
                )
            continue
        current.marks.append(mark)
    if current.marks:
        chunks.append(current)
    return [part for chunk in chunks for part in _side_by_side(chunk)]


def _side_by_side(chunk: Chunk) -> list[Chunk]:
    """Stretches that name several things without a separator, one chunk for each.

    "handle 4 blade 22", "plain forceps 1 toothed forceps 1": noun and number, twice.
    "Gigli saw 1 wire 2 handles": a name, then numbers each with a noun.
    """
    marks = chunk.marks
    counted = [
        i
        for i, mark in enumerate(marks)
        if mark.kind == "num"
        and i
        and marks[i - 1].group not in ("number-mark", "count-before")
        and mark.value == int(mark.value)
    ]
    cuts: list[int] = []
    if len(counted) > 1 and marks[-1].kind == "num":
        cuts = [
            i + 1
            for i in counted
            if _named(marks[:i]) and _named(marks[i + 1 :]) and marks[i + 1].group in OPENING
        ]
    elif len(counted) > 1 and marks[-1].group == "noun" and _named(marks[: counted[0]]):
        cuts = [i for i in counted if marks[i + 1].group == "noun"]
        cuts = cuts if len(cuts) == len(counted) else []
    if not cuts:
        return [chunk]
    edges = [0, *cuts, len(marks)]
    parts = [marks[a:b] for a, b in pairwise(edges)]
    return [
        Chunk(joiner=chunk.joiner if at == 0 else ",", marks=part) for at, part in enumerate(parts)
    ]


def _named(marks: list[Mark]) -> bool:
    return any(m.group == "noun" for m in marks)


class Scan:
    """Reads one chunk from left to right."""

    def __init__(self, chunk: Chunk, index: Index, lexicon: Lexicon, nouns: set[str]) -> None:
        self.c, self.index, self.lexicon, self.line_nouns = chunk, index, lexicon, nouns
        self.naming: list[Mark] = []
        self.swabs = any(set(lexicon.families.get(n, ())) == {"consumable"} for n in nouns)
        self.heads = any(m.group == "heading" for m in chunk.marks)
        self.tubes = any("airway" in lexicon.families.get(n, ()) for n in nouns)
        self.handles = bool(nouns & {n for n, f in lexicon.families.items() if "scalpel" in f})

    def run(self) -> None:
        marks = self.c.marks
        i = 0
        while i < len(marks):
            i += self._step(marks, i)
        thread = self.c.thread_size or any(g == "thread" for g, _ in self.c.attrs)
        if thread and not any(m.group in ("noun", "other-thing") for m in marks):
            # a thread size or material alone speaks of a suture
            self.naming += self.lexicon.read("suture")
        self.c.names = tokens(self.naming)
        self.c.plain_names = tokens([m for m in self.naming if m.group != "part"])
        extra = list(self.c.designators)
        extra += [f"{n:g}" for n in (self.c.french, self.c.gauge) if n is not None]
        if self.c.angle is not None:
            extra.append(f"{self.c.angle:g}")
        extra += [
            m.text.split()[0] for m in self.c.measures if m.text.endswith(" mm") and m.mm < SMALL_MM
        ]
        if self.c.volume:
            extra.append(self.c.volume.split()[0])
        for number in extra:
            token = Token(number, "num")
            self.c.names.append(token)
            self.c.plain_names.append(token)

    def _step(self, marks: list[Mark], i: int) -> int:
        """Reads the mark at *i*; returns how many marks were used."""
        mark = marks[i]
        after = marks[i + 1] if i + 1 < len(marks) else None
        if mark.kind == "counted":
            self._add_count(int(mark.value), "explicit")
            return 1
        if mark.kind == "num":
            return self._number(marks, i)
        if mark.kind == "frac":
            return self._fraction(marks, i)
        if mark.kind == "dims":
            return self._dims(marks, i)
        if mark.kind == "range":
            self.c.range = mark.text
            return 1
        if mark.kind == "usp":
            if self.tubes:
                # "6-0 ETT" is a bore of 6.0 mm, no thread
                number = mark.text.split("-")[0]
                self.c.designators += [number, mark.text]
                self.c.written[number] = f"{number}.0"
                return 1
            self.c.thread_size = mark.text
            return 1
        if mark.kind == "roman":
            self._add_count(int(mark.value), "explicit")
            return 1
        if mark.kind != "word":
            return 1
        group = mark.group
        if group == "number-mark" and after is not None and after.kind == "num":
            text, used = self._suffixed(marks, i + 1)
            self.c.designators.append(text)
            return 1 + used
        if group == "count-before" and after is not None and after.kind == "num":
            if mark.text == "x" and self._starts_name(marks, i + 2) and self.c.bare:
                # "2 x 15 blade": the number before the sign counts
                _, figure, _ = self.c.bare.pop()
                self._add_count(int(figure.value), "explicit")
                return 1
            return self._counted(marks, i + 1) + 1
        if group == "pair":
            described = i > 1 and marks[i - 1].group in ATTRIBUTES
            if self.c.bare and self.c.bare[-1][0] == (i - 2 if described else i - 1):
                _, figure, _ = self.c.bare.pop()  # "1 pr", "1 large pr"
                if described:
                    self.c.flow.remove(("bare", "", int(figure.value)))
                self._add_count(int(figure.value), "pair")
            else:
                self._add_count(1, "pair")
            return 1
        if group == "pack":
            return self._pack(marks, i)
        if group in ATTRIBUTES:
            value = mark.means.split(":", 1)[1]
            if group == "side" and " and " in value:
                self._add_count(2, "sides")
                return 1
            self.c.attrs.append((group, value))
            self.c.flow.append((group, value, 0))
            self.naming.append(mark)
            return 1
        if group == "state":
            words = [m.text for m in marks[max(0, i - 2) : i] if m.group in ("part", "noun", "")]
            said = mark.means if not words else f"{self._part_words(marks, i)} {mark.means}"
            self.c.states.append(said)
            return 1
        if group == "missing":
            self.c.missing = True
            return 1
        if group == "not-an-item":
            self.c.nots.append(mark.means)
            self.naming.append(mark)
            return 1
        if group == "part":
            self.c.parts.append(mark.means.removesuffix(" part"))
            self.naming.append(mark)
            return 1
        if group == "other-thing":
            self.c.others.append(mark.text)
            self.naming.append(mark)
            return 1
        if group == "heading":
            self.c.heads.append(mark.text)
            self.naming.append(mark)
            return 1
        self.naming.append(mark)
        return 1

    def _part_words(self, marks: list[Mark], i: int) -> str:
        before = marks[i - 1]
        return before.means if before.group in ("part", "noun") else before.text

    def _starts_name(self, marks: list[Mark], at: int) -> bool:
        return at < len(marks) and marks[at].kind == "word" and marks[at].group in ("noun", "")

    def _suffixed(self, marks: list[Mark], i: int) -> tuple[str, int]:
        """A number with a letter glued to it: "3l", "15c", "35w"."""
        mark = marks[i]
        after = marks[i + 1] if i + 1 < len(marks) else None
        text = f"{mark.value:g}"
        self.c.written[text] = mark.text if mark.means != "spelt" else text
        if (
            after is not None
            and after.kind == "word"
            and after.glued
            and len(after.text) == 1
            and after.text.isalpha()
            and after.text not in "xts"
        ):
            return text + after.text, 2
        return text, 1

    def _number(self, marks: list[Mark], i: int) -> int:
        mark = marks[i]
        after = marks[i + 1] if i + 1 < len(marks) else None
        group = after.group if after is not None else ""
        if after is not None and after.glued and len(after.text) == 1 and after.kind == "word":
            letter = after.text
            handle = letter == "l" and self.handles
            if handle or (letter.isalpha() and letter not in "xtsfgl"):
                text, used = self._suffixed(marks, i)
                self.c.designators.append(text)
                return used
        if group == "unit" and after is not None:
            return self._measured(marks, i, mark.value * after.value)
        if group == "width" and after is not None and self._kinds_counted(marks):
            # "1 narrow 1 wide": a count and a size word
            self.c.bare.append((i, mark, "first" if i == 0 else "middle"))
            self.c.flow += [("bare", "", int(mark.value)), ("size", after.means, 0)]
            self.c.attrs.append(("size", after.means))
            return 2
        if group in ("width", "depth") and mark.value < 40:
            self.c.measures.append(
                Measure(0.0, f"{mark.text} {after.text}" if after else "", "width")
            )
            return 2
        if group == "french":
            self.c.french = mark.value
            self.c.flow.append(("french", f"{mark.value:g}", 0))
            return 2
        if group == "gauge":
            self.c.gauge = mark.value
            return 2
        if group == "degree":
            self.c.angle = mark.value
            return 2
        if group == "weight" and after is not None:
            self.c.measures.append(Measure(0.0, f"{mark.text} {after.means}", "width"))
            return 2
        if group in ("volume", "litre"):
            self.c.volume = f"{mark.value:g} {'mL' if group == 'volume' else 'L'}"
            return 2
        if after is not None and after.means == "teeth:prongs":
            return 1
        if after is not None and after.means == "form:upward":
            self.c.angle = mark.value
            return 2
        if group == "count-before" and after is not None and after.text == "x":
            return self._times(marks, i)
        if group == "each-of" and self.heads and i + 2 < len(marks) and marks[i + 2].kind == "num":
            self.c.nots.append("page")  # "tray 2 of 3"
            return 3
        if group == "count" or (group == "each-of" and after is not None):
            self._add_count(int(mark.value), "explicit")
            self.c.counts[-1].each = after is not None and after.means == "each"
            return 2
        if after is not None and after.means == "set" and self._eponym(marks):
            # "Army-Navy 1 set" counts; a set of any other name is a tray
            self._add_count(int(mark.value), "explicit")
            self.c.sets = True
            return 2
        if after is not None and self._packed(after):
            return self._packs(marks, i)
        if group == "pack" and not self._names_blade(marks, i):
            return self._packs(marks, i)
        if 0 < mark.value < 1:
            self.c.measures.append(Measure(0.0, f"{mark.value:g} in", "width"))
            return 1
        if mark.value != int(mark.value):
            self.c.bare.append((i, mark, "decimal"))
            return 1
        where = "first" if i == 0 else "last" if i == len(marks) - 1 else "middle"
        self.c.bare.append((i, mark, where))
        self.c.flow.append(("bare", "", int(mark.value)))
        return 1

    def _kinds_counted(self, marks: list[Mark]) -> bool:
        """Whether another number stands before a size word ("1 narrow ...")."""
        return any(a.kind == "num" and b.group == "size" for a, b in pairwise(marks))

    def _eponym(self, marks: list[Mark]) -> bool:
        return any(m.kind == "word" and m.means in self.index.proper for m in marks)

    def _packed(self, mark: Mark) -> bool:
        """Whether "pack" after a number is how the thing before it is packed ("ties 1 pack")."""
        named = any(m.group in ("noun", "thread", "") for m in self.naming)
        return mark.group == "noun" and named and mark.means in self.lexicon.packings

    def _names_blade(self, marks: list[Mark], i: int) -> bool:
        """Whether the number belongs to the noun before it ("blade 10 box of 100")."""
        before = marks[i - 1] if i else None
        if before is None or before.group != "noun":
            return False
        posted = self.index.postings.get(f"{marks[i].value:g}", ())
        return any(before.means in self.index.labels[at].bag for at, _ in posted)

    def _times(self, marks: list[Mark], i: int) -> int:
        """A number followed by x: "2x Kelly", "15 x 2", "4 x 4 gauze", "10 x 10 cm"."""
        second = marks[i + 2] if i + 2 < len(marks) else None
        if second is None or second.kind != "num":
            sides = self._sides(marks, i)
            if sides:
                self.c.dims.append((sides, "size in"))
                return 4
            if second is not None and second.kind == "frac":
                self.c.bare.append((i, marks[i], "middle"))
                return 1
            self._add_count(int(marks[i].value), "explicit")
            return 2
        third = marks[i + 3] if i + 3 < len(marks) else None
        both = f"{marks[i].text}x{second.text}"
        unit = third is not None and third.group == "unit"
        teeth = third is not None and (third.group == "teeth" or third.text in ("t", "ts"))
        swab = self.swabs and marks[i].value == second.value and marks[i].value >= 2
        if unit or teeth or swab:
            made = Mark("dims", both)
            self.c.marks = [*marks[:i], made, *marks[i + 3 :]]
            marks[i : i + 3] = [made]
            return self._dims(marks, i)
        self.c.bare.append((i, marks[i], "first" if i == 0 else "middle"))
        return 1

    def _counted(self, marks: list[Mark], i: int) -> int:
        """The number after "x" or "qty"."""
        self._add_count(int(marks[i].value), "explicit")
        after = marks[i + 1] if i + 1 < len(marks) else None
        if after is not None and after.group == "count":
            return 2
        if after is not None and after.group == "pair":
            self.c.counts.pop()
            self.c.flow.pop()
            self._add_count(int(marks[i].value), "pair")
            return 2
        return 1

    def _packs(self, marks: list[Mark], i: int) -> int:
        """ "2 pk of 5", "2 packets": as many pieces as are to be counted."""
        used, many = 2, int(marks[i].value)
        nxt = marks[i + 2] if i + 2 < len(marks) else None
        if nxt is not None and nxt.group in ("each-of", "filler", "count-before"):
            used += 1
            nxt = marks[i + used] if i + used < len(marks) else None
        if nxt is not None and nxt.kind == "num":
            follows = marks[i + used + 1] if i + used + 1 < len(marks) else None
            if follows is None or follows.group not in ("unit", "french", "gauge"):
                self._add_count(many * int(nxt.value), "explicit")
                return used + 1
        self._add_count(many, "explicit")
        return 2

    def _pack(self, marks: list[Mark], i: int) -> int:
        after = marks[i + 1] if i + 1 < len(marks) else None
        nxt = after
        used = 1
        if nxt is not None and nxt.group in ("each-of", "filler"):
            used, nxt = 2, (marks[i + 2] if i + 2 < len(marks) else None)
        if nxt is not None and nxt.kind == "num":
            # "in packs of five" says how it is packed, not how many lie there
            if not marks[i].text.startswith("in ") and "packs" not in marks[i].text:
                self._add_count(int(nxt.value), "explicit")
            return used + 1
        return 1

    def _fraction(self, marks: list[Mark], i: int) -> int:
        after = marks[i + 1] if i + 1 < len(marks) else None
        made = self._sides(marks, i)
        if made:
            self.c.dims.append((made, "size in"))
            return 4
        if (
            after is not None
            and (after.group == "teeth" or after.text == "t")
            and "/" in marks[i].text
        ):
            self.c.dims.append((marks[i].text.replace("/", "x"), "teeth"))
            return 2
        if after is not None and after.group == "unit":
            return self._measured(marks, i, marks[i].value * after.value)
        if after is not None and after.group == "number-mark":
            pass
        return self._measured(marks, i, marks[i].value * 25.4, unit="in")

    @staticmethod
    def _sides(marks: list[Mark], i: int) -> str:
        """ "2 1/2 x 3 in": two sides in inches, one of them a fraction, else nothing."""
        four = marks[i : i + 4]
        if len(four) < 4 or four[1].text != "x" or four[3].value != 25.4:
            return ""
        kinds = {four[0].kind, four[2].kind}
        if "frac" not in kinds or not kinds <= {"frac", "num"}:
            return ""
        return f"{four[0].value:g}x{four[2].value:g}"

    def _measured(self, marks: list[Mark], i: int, mm: float, unit: str = "") -> int:
        """A number with a unit: a length, or a width when it says so or is small."""
        used = 1 if unit else 2
        number = (
            marks[i].text
            if marks[i].kind == "frac" and "/" in marks[i].text
            else f"{marks[i].value:g}"
        )
        factor = marks[i + 1].value if used == 2 else 25.4
        word = unit or {25.4: "in", 10.0: "cm", 1.0: "mm"}.get(factor, "m")
        after = marks[i + used] if i + used < len(marks) else None
        text = f"{number} {word}"
        if after is not None and after.group in ("width", "depth"):
            self.c.measures.append(
                Measure(mm, f"{text} {after.means if after.group == 'depth' else 'wide'}", "width")
            )
            return used + 1
        if after is not None and (after.group == "length" or after.means == "form:long"):
            self.c.measures.append(Measure(mm, text, "length"))
            self.c.flow.append(("length", text, 0))
            return used + 1
        kind = "width" if mm < SMALL_MM else "length"
        self.c.measures.append(Measure(mm, text, kind))
        self.c.flow.append(("length", text, 0))
        return used

    def _dims(self, marks: list[Mark], i: int) -> int:
        mark = marks[i]
        after = marks[i + 1] if i + 1 < len(marks) else None
        used = 1
        text = mark.text.rstrip("ts")
        kind = ""
        if after is not None and (
            after.text in ("t", "ts") or after.group == "teeth" or after.means == "teeth:prongs"
        ):
            kind, used = "teeth", 2
        elif after is not None and after.group == "unit":
            unit = {25.4: "in", 10.0: "cm", 1.0: "mm"}.get(after.value, "")
            kind, used = f"size {unit}", 2
        elif after is not None and after.text == "s" and after.glued:
            kind, used = "size in", 2
        elif self.swabs:
            kind = "size in" if all(float(p) < 10 for p in text.split("x")) else "size cm"
        self.c.dims.append((text, kind))
        self.naming.append(mark)
        return used

    def _add_count(self, value: int, kind: str) -> None:
        self.c.counts.append(Count(value, kind))
        self.c.flow.append(("count", kind, value))
