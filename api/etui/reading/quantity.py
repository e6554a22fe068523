"""How many pieces an item is, in all the ways in which people write it."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import prod

from msgspec.structs import replace

from etui.knowledge.model import Pattern
from etui.reading.items import Draft
from etui.reading.model import Attributes, Item

__all__ = ["counts_of", "variants"]

TELLING = frozenset(
    ("size", "curve", "colour", "side", "teeth", "length", "form", "material", "french")
)
"""Groups of attributes by which pieces of one pattern are counted apart."""


SAME_MM = 3.0
"""Lengths closer than this are one size, written in inches and in centimetres."""

SAME_SHARE = 0.1
"""The same for small sizes, as a share of the larger."""


LIKE_SIZES = 3.0
"""Sizes of one series differ by less than this factor; else one is a width, one a length."""

BESIDE = frozenset(("and", "&", "/", "+"))
"""Separators that set kinds side by side."""


def pieces_in_pair(pattern: Pattern | None, one: tuple[str, ...], nouns: set[str]) -> int:
    """1 where a pair is one piece with two halves (scissors, thumb forceps), else 2."""
    if pattern is not None:
        return 1 if pattern.family in one else 2
    return 1 if nouns & set(one) else 2


def counts_of(
    draft: Draft, pattern: Pattern | None, one: tuple[str, ...]
) -> tuple[int | None, str]:
    """Pieces of the item (None: not stated, 0: named but not there) and how that was read."""
    nouns = {f for t in draft.tokens if t.cls == "noun" for f in t.families[:1]}
    each = pieces_in_pair(pattern, one, nouns)
    explicit = [c for ch in draft.chunks for c in ch.counts if c.kind == "explicit"]
    pairs = [c for ch in draft.chunks for c in ch.counts if c.kind == "pair"]
    bare = [b for ch in draft.chunks for b in ch.bare if b[2] != "decimal"]
    if draft.gone and not any(c.value for c in explicit):
        return 0, "named, but said not to be there"
    if explicit:
        values = [c.value for c in explicit]
        kinds = _kinds(draft)
        if len(values) == 1 and explicit[0].each and kinds > 1:
            return values[0] * kinds, f"{values[0]} each of {kinds} kinds"
        rest = [*values[1:], *(int(b[1].value) for b in bare)]
        if len(rest) > 1 and prod(rest) == values[0]:
            return values[0], "counted twice"
        if len(values) > 1 and len(set(values)) > 1:
            if pairs and any(v == p.value * each for v in values for p in pairs):
                return next(
                    v for v in values for p in pairs if v == p.value * each
                ), "counted twice"
            return sum(values) if not bare else values[-1], f"counts {values} of its kinds added"
        if len(values) > 1 and len(_tellings(draft)) >= len(values):
            return sum(values), f"counts {values} of its kinds added"
        if any(ch.sets for ch in draft.chunks):
            return values[0], f"counted by the set ({values[0]}); its pieces are not stated"
        return values[0], f"count {values[0]} as written"
    if not pairs and not bare and any(c.kind == "sides" for ch in draft.chunks for c in ch.counts):
        return 2, "a left and a right"
    if len(pairs) > 1 and len(_tellings(draft)) >= len(pairs):
        return sum(p.value for p in pairs) * each, "pairs of its kinds added"
    if pairs:
        if bare and bare[-1][1].value == pairs[0].value * each:
            return int(bare[-1][1].value), "pair and pieces agree"
        many = pairs[0].value * each
        return many, f"a pair counts {each}"
    if bare:
        firsts = [b for b in bare if b[2] in ("first", "last")]
        if len(bare) > 1 and len(_tellings(draft)) >= len(bare):
            return sum(int(b[1].value) for b in bare), "counts of its kinds added"
        chosen = firsts[-1] if firsts else bare[-1]
        value = int(chosen[1].value)
        return value, f"the number {value} standing alone is the count"
    if draft.gone:
        return 0, "named, but said not to be there"
    return None, ""


def _kinds(draft: Draft) -> int:
    """How many kinds of the piece the line tells apart (6 in and 8 in, red and blue: two)."""
    told = [[(g, v) for g, v, _ in ch.flow if g in TELLING] for ch in draft.chunks]
    most = 1
    for group in sorted({g for pairs in told for g, _ in pairs} - {"length", "french"}):
        # side by side they are kinds; one after the other they may describe one piece
        values = {
            v
            for ch, pairs in zip(draft.chunks, told, strict=True)
            for g, v in pairs[:1]
            if g == group and ch.joiner in ("", *BESIDE)
        }
        most = max(most, len(values))
    most = max(most, len({v for pairs in told for g, v in pairs if g == "french"}))
    for kind in ("length", "width"):
        sizes = sorted(m.mm for ch in draft.chunks for m in ch.measures if m.mm and m.kind == kind)
        if sizes and sizes[-1] <= LIKE_SIZES * sizes[0]:
            most = max(most, 1 + sum(_apart(a, b) for a, b in pairwise(sizes)))
    return most


def _apart(less: float, more: float) -> bool:
    return more - less > min(SAME_MM, SAME_SHARE * more)


def _tellings(draft: Draft) -> list[tuple[str, str]]:
    return [(g, v) for ch in draft.chunks for g, v, _ in ch.flow if g in TELLING]


def variants(item: Item, draft: Draft, name: Callable[[Item, str, str], Item]) -> list[Item] | None:
    """ "small x6, large x2": one item per kind, when each count has an attribute of its own.

    *name* gives an item the pattern that it has by that attribute ("2 curved, 1 straight").
    """
    if item.pattern is None or item.quantity == 0:
        return None
    flow = [
        f for ch in draft.chunks for f in ch.flow if f[0] in TELLING or f[0] in ("count", "bare")
    ]
    counts = [f for f in flow if f[0] != "count" or f[1] == "explicit"]
    numbers = [f for f in counts if f[0] in ("count", "bare")]
    if len(numbers) < 2:
        return None
    best: list[tuple[str, str, int]] | None = None
    for group in sorted({f[0] for f in flow if f[0] in TELLING}):
        tells = [f for f in flow if f[0] == group]
        if len(tells) != len(numbers) or len({t[1] for t in tells}) != len(tells):
            continue
        order = [f for f in flow if f[0] == group or f in numbers]
        kinds = ["n" if f[0] in ("count", "bare") else "a" for f in order]
        if kinds == ["n", "a"] * len(numbers) or kinds == ["a", "n"] * len(numbers):
            best = [(group, t[1], n[2]) for t, n in zip(tells, numbers, strict=True)]
            break
    if best is None:
        return None
    out = []
    for group, value, number in best:
        base = item.attributes
        field = {"length": "length_mm"}.get(group, group)
        if group == "length":
            mm = next((m.mm for ch in draft.chunks for m in ch.measures if m.text == value), None)
            base = replace(base, length_mm=float(round(mm)) if mm else None)
        elif field in Attributes.__struct_fields__:
            base = replace(base, **{field: value})
        kind = replace(
            item, quantity=number, attributes=base, why=f"{item.why}; {value} counted apart"
        )
        out.append(name(kind, group, value))
    return out
