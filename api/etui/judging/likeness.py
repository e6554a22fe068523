"""How alike two patterns look to eyes that do not know them.

Only what shows at arm's length counts: family, handle, lock, size, curve, outline of tip and
blade.  What each difference takes off stands in ``ontology/resemblance.ttl``.  A feature that one
of the two does not state is not compared: unknown is neither alike nor different.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Literal

from etui.errors import BadRecord
from etui.knowledge.model import Form, Pattern, Range, Record

Resemblance = Literal["high", "medium", "low"]

_WEIGHTS = ("micro", "delicate", "medium", "heavy")
_SIZES = ("pocket", "hand", "large", "frame", "machine")
_SIZE_TRAITS = frozenset(("length", "working-length", "working-width", "weight", "size"))
_EITHER = {"either": ("straight", "curved")}


class Trait(Record, frozen=True):
    """One visible difference: what it takes off, and from which to which ratio it grows.

    ``full_from_mm``: a smaller difference in millimetres counts in proportion.
    """

    id: str
    name: str
    weight: float
    less: float = 0.0
    from_ratio: float = 0.0
    to_ratio: float = 0.0
    full_from_mm: float = 0.0


class LookBook(Record, frozen=True):
    """Visible traits, outlines (trait -> word -> outline) and the limits of likeness."""

    traits: dict[str, Trait]
    outlines: dict[str, dict[str, str]]
    high_below: float
    medium_below: float
    seen_from_mm: float
    size_at_most: float


class Difference(Record, frozen=True):
    """One visible difference of two patterns and what it takes off the likeness."""

    trait: str
    name: str
    a: str
    b: str
    weight: float


@lru_cache(maxsize=2)
def load_lookbook(path: Path | None = None) -> LookBook:
    """Read the weights; *path* defaults to ``resemblance.ttl`` of the ontology in use.

    Raises:
        BadRecord: If the file is missing, is not Turtle or lacks a weight.
    """
    from etui.knowledge import ontology_dir
    from etui.knowledge.store import SKOS, Index, View, short

    file = path or ontology_dir() / "resemblance.ttl"
    index = Index().read([file])

    def must(view: View, name: str) -> float:
        found = view.number(name)
        if found is None:
            raise BadRecord(
                f"A record lacks {name}.", where=f"{file.name}: {short(view.iri)}", mend="State it."
            )
        return found

    def last(iri: str) -> str:
        return iri.rsplit("/", 1)[-1]

    traits = {}
    for iri in index.of_type("VisibleTrait"):
        view = index.at(iri)
        traits[last(iri)] = Trait(
            id=last(iri),
            name=view.text(SKOS + "prefLabel") or last(iri),
            weight=must(view, "weight"),
            less=view.number("lessWeight") or 0.0,
            from_ratio=view.number("fromRatio") or 0.0,
            to_ratio=view.number("toRatio") or 0.0,
            full_from_mm=view.number("fullFromMm") or 0.0,
        )
    outlines: dict[str, dict[str, str]] = {}
    for iri in index.of_type("Outline"):
        view = index.at(iri)
        for trait in view.nodes("ofTrait"):
            row = outlines.setdefault(last(trait.value), {})
            row.update({last(word.value): last(iri) for word in view.nodes("word")})
    limits = [index.at(iri) for iri in index.of_type("LikenessLimits")]
    if not limits:
        raise BadRecord("The limits of likeness are missing.", where=file.name, mend="Restore it.")
    return LookBook(
        traits=traits,
        outlines=outlines,
        high_below=must(limits[0], "highBelow"),
        medium_below=must(limits[0], "mediumBelow"),
        seen_from_mm=must(limits[0], "seenFromMm"),
        size_at_most=must(limits[0], "sizeAtMost"),
    )


def visible_differences(
    a: Pattern, b: Pattern, book: LookBook | None = None
) -> tuple[Difference, ...]:
    """Every visible difference of two patterns, weightiest first."""
    return tuple(
        sorted(_Comparison(a, b, book or load_lookbook()).all(), key=lambda d: (-d.weight, d.trait))
    )


def resemblance(a: Pattern, b: Pattern, book: LookBook | None = None) -> Resemblance:
    """How alike the two look: high, medium or low."""
    book = book or load_lookbook()
    found = visible_differences(a, b, book)
    # Length, width and stoutness are one impression: size alone never makes two strangers.
    size = sum(d.weight for d in found if d.trait in _SIZE_TRAITS)
    shape = sum(d.weight for d in found if d.trait not in _SIZE_TRAITS)
    distance = round(shape + min(size, book.size_at_most), 3)
    if distance < book.high_below:
        return "high"
    return "medium" if distance < book.medium_below else "low"


class _Comparison:
    """Goes through the visible traits of one pair."""

    def __init__(self, a: Pattern, b: Pattern, book: LookBook) -> None:
        self.a, self.b, self.book = a, b, book
        self.form_a, self.form_b = _form(a), _form(b)
        self.found: list[Difference] = []

    def all(self) -> list[Difference]:
        a, b = self.a, self.b
        if a.family != b.family:
            self._add("family", a.family, b.family)
        self._words("handle", slight_outside=True)
        self._lock()
        self._length()
        self._size("working-length", "working_length_mm")
        self._size("working-width", "working_width_mm")
        self._steps("weight", _WEIGHTS, a.features.get("weight"), b.features.get("weight"))
        self._steps("size", _SIZES, _one(a.whole_piece_size), _one(b.whole_piece_size))
        self._words("curve", slight_outside=False)
        self._tip()
        self._edge()
        fit_a, fit_b = a.features.get("fitting", ()), b.features.get("fitting", ())
        if fit_a and fit_b and not set(fit_a) & set(fit_b):
            self._add("fitting", "/".join(fit_a), "/".join(fit_b))
        self._rows()
        return self.found

    def _add(self, trait: str, a: str, b: str, weight: float | None = None) -> None:
        known = self.book.traits[trait]
        taken = known.weight if weight is None else weight
        if taken > 0:
            name = known.name
            self.found.append(Difference(trait=trait, name=name, a=a, b=b, weight=round(taken, 3)))

    def _words(self, trait: str, *, slight_outside: bool) -> None:
        """Words of one feature; the same outline in other words is a slight difference."""
        outline = self.book.outlines.get(trait, {})
        mine, other = (_opened(p.features.get(trait, ())) for p in (self.a, self.b))
        if not mine or not other or set(mine) & set(other):
            return
        shapes = [{outline.get(w, w) for w in words} for words in (mine, other)]
        less = self.book.traits[trait].less
        same = bool(shapes[0] & shapes[1])
        if same and not (less or slight_outside):
            return
        self._add(trait, "/".join(mine), "/".join(other), less if same else None)

    def _lock(self) -> None:
        mine, other = (set(p.features.get("lock", ())) for p in (self.a, self.b))
        if mine and other and (mine == {"none"}) != (other == {"none"}):
            self._add("lock", "/".join(sorted(mine)), "/".join(sorted(other)))

    def _length(self) -> None:
        mine, other = self.a.length_mm, self.b.length_mm
        if mine is None or other is None:
            return
        trait = self.book.traits["length"]
        share = _ratio(mine, other)
        if mine.low <= other.high and other.low <= mine.high:
            weight = trait.less if share > trait.from_ratio else 0.0
        else:
            weight = _between(share, trait.from_ratio, trait.to_ratio) * trait.weight
        self._add("length", _mm(mine), _mm(other), weight)

    def _size(self, trait: str, key: str) -> None:
        mine, other = self.form_a.measures.get(key), self.form_b.measures.get(key)
        if mine is None or other is None or (key == "working_length_mm" and self._all_end()):
            return
        known = self.book.traits[trait]
        share = _ratio(mine, other)
        if share < known.from_ratio:
            return
        grown = _between(share, known.from_ratio, known.to_ratio)
        weight = known.less + grown * (known.weight - known.less)
        if known.full_from_mm:
            weight *= min(1.0, abs(_middle(mine) - _middle(other)) / known.full_from_mm)
        self._add(trait, _mm(mine), _mm(other), weight)

    def _all_end(self) -> bool:
        """Whether one of the two is all working end, as a tube is: its length says it already."""
        for pattern, form in ((self.a, self.form_a), (self.b, self.form_b)):
            whole, end = pattern.length_mm, form.measures.get("working_length_mm")
            if whole and end and _middle(end) > 0.7 * _middle(whole):
                return True
        return False

    def _steps(
        self,
        trait: str,
        scale: tuple[str, ...],
        mine: tuple[str, ...] | None,
        other: tuple[str, ...] | None,
    ) -> None:
        ranks = [{scale.index(w) for w in words or () if w in scale} for words in (mine, other)]
        if not ranks[0] or not ranks[1]:
            return
        steps = min(abs(i - j) for i in ranks[0] for j in ranks[1])
        weight = steps * self.book.traits[trait].weight
        self._add(trait, "/".join(mine or ()), "/".join(other or ()), weight)

    def _tip(self) -> None:
        """A pointed outline, a knob or a pad that one has and the other has not."""
        points = [f.words.get("point") for f in (self.form_a, self.form_b)]
        tips = [p.features.get("tip", ()) for p in (self.a, self.b)]
        outline = self.book.outlines.get("tip", {})
        knobs = [any(w in outline for w in words) for words in tips]
        said = ["/".join(words) for words in tips]
        widths = [f.measures.get("tip_width_mm") for f in (self.form_a, self.form_b)]
        pointed = [p == "cutting" for p in points]
        if None not in points and pointed[0] != pointed[1]:
            self._add("tip", said[0] or str(points[0]), said[1] or str(points[1]))
        elif all(tips) and knobs[0] != knobs[1]:
            self._add("tip", said[0], said[1])
        elif all(tips) and widths[0] and widths[1] and not set(tips[0]) & set(tips[1]):
            wide = max(_middle(widths[0]), _middle(widths[1]))
            if wide >= self.book.seen_from_mm and _ratio(widths[0], widths[1]) >= 3:
                self._add("tip", said[0], said[1])

    def _edge(self) -> None:
        """Outline of blades and bits, which are little else."""
        parts = [set(p.features.get("part", ())) for p in (self.a, self.b)]
        if not all(part & {"blade_only", "bit"} for part in parts):
            return
        outline = self.book.outlines.get("edge", {})
        shapes = [
            {outline[w] for w in p.features.get("edge", ()) if w in outline}
            for p in (self.a, self.b)
        ]
        if shapes[0] and shapes[1] and not shapes[0] & shapes[1]:
            words = ["/".join(p.features.get("edge", ())) for p in (self.a, self.b)]
            self._add("edge", words[0], words[1])
        else:
            edges = [f.words.get("edge") for f in (self.form_a, self.form_b)]
            if "bit" in parts[0] | parts[1] and None not in edges and edges[0] != edges[1]:
                self._add("edge", str(edges[0]), str(edges[1]), self.book.traits["edge"].weight / 2)

    def _rows(self) -> None:
        surfaces = [set(p.features.get("jaw_surface", ())) for p in (self.a, self.b)]
        rows = ["atraumatic_rows" in s for s in surfaces]
        if all(surfaces) and rows[0] != rows[1]:
            words = ["/".join(sorted(s)) for s in surfaces]
            self._add("rows", words[0], words[1])


def _form(pattern: Pattern) -> Form:
    general = [f for f in pattern.forms if not f.form]
    return general[0] if general else pattern.forms[0] if pattern.forms else Form(form="")


def _one(word: str | None) -> tuple[str, ...]:
    return (word,) if word else ()


def _opened(words: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(w for word in words for w in _EITHER.get(word, (word,)))


def _middle(size: Range) -> float:
    return (size.low + size.high) / 2


def _ratio(a: Range, b: Range) -> float:
    small, large = sorted((_middle(a), _middle(b)))
    return large / small if small > 0 else float("inf")


def _between(value: float, low: float, high: float) -> float:
    return min(1.0, max(0.0, (value - low) / (high - low))) if high > low else 1.0


def _mm(size: Range) -> str:
    return f"{size.low:g} mm" if size.low == size.high else f"{size.low:g} to {size.high:g} mm"
