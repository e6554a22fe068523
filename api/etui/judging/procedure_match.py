"""From what people call a procedure to its id."""

from __future__ import annotations

import math
from collections import Counter

from rapidfuzz import fuzz

from etui.judging.wording import stems
from etui.knowledge.model import Record, Reference

SURE = 0.45
"""Likeness from which a procedure is taken to be meant."""


class ProcedureMatch(Record, frozen=True):
    """The procedure that is meant, or None with the nearest ones: (id, name, score)."""

    procedure: str | None
    nearest: tuple[tuple[str, str, float], ...] = ()


class ProcedureMatcher:
    """Finds procedures by id, name or what people call them."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self._seen: dict[str, ProcedureMatch] = {}
        rows: list[tuple[str, frozenset[str]]] = []
        for procedure in reference.procedures.values():
            spoken = {procedure.name, procedure.id.replace("-", " ")}
            spoken |= {n.text for n in procedure.names}
            rows += [(procedure.id, frozenset(stems(text))) for text in sorted(spoken)]
        self._rows = [(id_, words) for id_, words in rows if words]
        seen: Counter[str] = Counter()
        for procedure_id in reference.procedures:
            seen.update(frozenset().union(*(w for id_, w in self._rows if id_ == procedure_id)))
        count = len(reference.procedures)
        self._worth = {word: math.log((count + 1) / (n + 0.5)) for word, n in seen.items()}

    def match(self, text: str) -> ProcedureMatch:
        """The procedure that *text* names."""
        plain = text.strip()
        found = self._seen.get(plain)
        if found is None:
            if len(self._seen) > 1_000:
                self._seen.clear()
            found = self._seen[plain] = self._match(plain)
        return found

    def _match(self, plain: str) -> ProcedureMatch:
        if plain in self.reference.procedures:
            name = self.reference.procedures[plain].name
            return ProcedureMatch(procedure=plain, nearest=((plain, name, 1.0),))
        asked = frozenset(stems(plain))
        best: dict[str, float] = {}
        for id_, words in self._rows:
            score = self._likeness(asked, words)
            if score > best.get(id_, 0.0):
                best[id_] = score
        ranked = sorted(best.items(), key=lambda r: (-r[1], r[0]))
        nearest = tuple(
            (id_, self.reference.procedures[id_].name, round(score, 3)) for id_, score in ranked[:3]
        )
        margin = 0.02 if ranked and ranked[0][1] >= 0.85 else 0.05
        clear = len(ranked) < 2 or ranked[0][1] - ranked[1][1] > margin
        if ranked and ranked[0][1] >= SURE and clear:
            return ProcedureMatch(procedure=ranked[0][0], nearest=nearest)
        return ProcedureMatch(procedure=None, nearest=nearest)

    def _likeness(self, asked: frozenset[str], words: frozenset[str]) -> float:
        if not asked:
            return 0.0
        met = 0.0
        total = sum(self._worth.get(w, 1.5) for w in asked)
        named = sum(self._worth[w] for w in words)
        got = 0.0
        for word in words:
            if word in asked:
                got += self._worth[word]
            elif len(word) >= 5 and any(
                len(a) >= 5 and fuzz.ratio(a, word, score_cutoff=84) for a in asked
            ):
                got += 0.85 * self._worth[word]
        for word in asked:
            worth = self._worth.get(word, 1.5)
            if word in words:
                met += worth
            elif len(word) >= 5 and any(
                len(w) >= 5 and fuzz.ratio(w, word, score_cutoff=84) for w in words
            ):
                met += 0.85 * worth
        recall, precision = met / total, got / named if named else 0.0
        return 2 * recall * precision / (recall + precision) if recall + precision else 0.0
