"""What is wrong with a piece, said in two words: a part and its fault.

"Ratchet does not hold", "with a broken ratchet" and "the lock slips" mean the same.  The graph
names the parts and the faults of each state; one of each near the other, in either order and in
the same clause, means that state.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from etui.judging.wording import NEGATIONS, Span, spans, words
from etui.knowledge.model import Manner

_BETWEEN = 4
"""Most words that may stand between the part and its fault."""

_LEAD = frozenset(
    ("with", "whose", "its", "the", "a", "an", "that", "which", "has", "have", "but", "and", "all",
     "already", "just")
)
"""Small words before the phrase that say nothing without it."""

_STOPS = re.compile(r"[,;:()]|\.(?!\d)")


class Conditions:
    """Finds states of a piece in a wording; built once for the manners of a reference."""

    def __init__(self, manners: Iterable[Manner]) -> None:
        self._rows = [
            (m.id, [words(t) for t in m.said_of], [words(t) for t in m.said_how])
            for m in sorted(manners, key=lambda m: m.id)
            if m.said_of and m.said_how
        ]

    def find(self, text: str) -> tuple[tuple[str, int, int], ...]:
        """(manner, start, end) of every state said in *text*."""
        out = []
        for clause in _clauses(text):
            row = [span.word for span in clause]
            for id_, parts, faults in self._rows:
                place = _pair(row, parts, faults)
                if place is not None:
                    first, last = place
                    while first > 0 and row[first - 1] in _LEAD:
                        first -= 1
                    out.append((id_, clause[first].start, clause[last].end))
        return tuple(out)


def _clauses(text: str) -> list[list[Span]]:
    """The words of the text, a new list from each comma or stop on."""
    out: list[list[Span]] = [[]]
    end = 0
    for span in spans(text):
        if _STOPS.search(text[end : span.start]):
            out.append([])
        out[-1].append(span)
        end = span.end
    return [clause for clause in out if clause]


def _pair(
    row: Sequence[str], parts: Sequence[list[str]], faults: Sequence[list[str]]
) -> tuple[int, int] | None:
    """First and last place of a part and a fault that are near each other, None without one."""
    best: tuple[int, int] | None = None
    for part_at, part_end in _places(row, parts):
        for at, end in _places(row, faults):
            if at >= part_end:
                between, first, last = at - part_end, part_at, end
            elif part_at >= end:
                between, first, last = part_at - end, at, part_end
            else:
                continue
            if between > _BETWEEN or (first > 0 and row[first - 1] in NEGATIONS):
                continue
            if at > 0 and row[at - 1] in NEGATIONS:
                continue
            if best is None or last - first < best[1] + 1 - best[0]:
                best = (first, last - 1)
    return best


def _places(row: Sequence[str], phrases: Sequence[list[str]]) -> list[tuple[int, int]]:
    return [
        (at, at + len(phrase))
        for phrase in phrases
        for at in range(len(row) - len(phrase) + 1)
        if phrase and list(row[at : at + len(phrase)]) == phrase
    ]
