"""Pieces on one tray that look alike and must not be swapped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations

from etui.judging.compare import Swap, dangerous_swaps, tells
from etui.judging.likeness import Resemblance, resemblance
from etui.knowledge.model import Record, Reference


class Pair(Record, frozen=True):
    """Two patterns that can be mixed up, and what a mix-up does."""

    a: str
    b: str
    resemblance: Resemblance
    tells: str
    swaps: tuple[Swap, ...]


def confusable(
    patterns: Iterable[str],
    reference: Reference,
    *,
    steps: Sequence[str] | None = None,
    harm_only: bool = True,
) -> tuple[Pair, ...]:
    """Pairs among *patterns* that look alike and where a swap harms or fails.

    Args:
        patterns: Ids of what lies together; unknown ids are passed over.
        reference: The loaded graph.
        steps: Only mix-ups at these steps count (those of the tray's procedures); all if None.
        harm_only: Leave out swaps that merely fail; a dangerous pair has one that harms.

    A pair counts when the two resemble each other highly, or fairly and the graph names them as
    confused.  Sorted by how much harm a swap does, then by id.
    """
    known = sorted({p for p in patterns if p in reference.patterns})
    within = None if steps is None else frozenset(steps)
    found = []
    for a, b in combinations(known, 2):
        one, other = reference.patterns[a], reference.patterns[b]
        named = b in one.confused_with or a in other.confused_with
        if one.family != other.family and not named:
            continue
        alike = resemblance(one, other)
        if alike == "low" or (alike == "medium" and not named):
            continue
        swaps = tuple(
            s
            for s in dangerous_swaps(a, b, reference)
            if (within is None or s.step in within) and (not harm_only or s.taken_grade == "unsafe")
        )
        if swaps:
            text = tells(one, other, reference)
            found.append(Pair(a=a, b=b, resemblance=alike, tells=text, swaps=swaps))
    return tuple(sorted(found, key=lambda p: (-len(p.swaps), p.resemblance != "high", p.a, p.b)))
