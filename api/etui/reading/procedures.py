"""Procedures by their names: exact ones at once, else the nearest to choose from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from rapidfuzz import fuzz
from rapidfuzz.distance import OSA

from etui.knowledge import load_reference
from etui.knowledge.model import Reference
from etui.reading.lexicon import singular
from etui.reading.text import fold, marks

__all__ = ["ProcedureNames", "match_procedure"]

SURE = 0.86
"""Least likeness at which a name with a typing error is still taken."""

LEAD = 0.06
NEAREST = 5
EMPTY = frozenset(("of", "a", "an", "the", "for", "in", "and", "with", "to", "or", "procedure"))


def _words(text: str) -> tuple[str, ...]:
    found = (singular(m.text) for m in marks(fold(text)) if m.kind in ("word", "num"))
    return tuple(w for w in found if w not in EMPTY)


@dataclass(frozen=True, slots=True)
class _Entry:
    id: str
    name: str
    words: tuple[str, ...]


class ProcedureNames:
    """All names of the procedures of one reference."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.entries: list[_Entry] = []
        for procedure in reference.procedures.values():
            texts = [procedure.name, procedure.id, *(n.text for n in procedure.names)]
            for text in dict.fromkeys(texts):
                words = _words(text.replace("-", " "))
                if words:
                    self.entries.append(_Entry(procedure.id, procedure.name, words))
        self.exact: dict[frozenset[str], str] = {}
        for entry in self.entries:
            self.exact.setdefault(frozenset(entry.words), entry.id)

    def match(self, text: str) -> tuple[str | None, list[tuple[str, str, float]]]:
        """The procedure that *text* names.

        Returns:
            Its id, or None when that is not sure; and the nearest procedures as (id, name,
            likeness 0..1), best first, the match itself included.
        """
        spaced, run_together = (
            _words(text[:300].replace("-", " ")),
            _words(text[:300].replace("-", "")),
        )
        found = self._match(spaced)
        if found[0] is None and run_together != spaced:
            other = self._match(run_together)
            if other[0] or (other[1] and (not found[1] or other[1][0][2] > found[1][0][2])):
                return other
        return found

    def _match(self, words: tuple[str, ...]) -> tuple[str | None, list[tuple[str, str, float]]]:
        if not words:
            return None, []
        best: dict[str, float] = {}
        exact = self.exact.get(frozenset(words))
        line = " ".join(words)
        for entry in self.entries:
            like = self._likeness(words, line, entry)
            if like > best.get(entry.id, 0.0):
                best[entry.id] = like
        if exact:
            best[exact] = 1.0
        ranked = sorted(best.items(), key=lambda kv: (-kv[1], kv[0]))[:NEAREST]
        names = {p.id: p.name for p in self.reference.procedures.values()}
        near = [(id_, names[id_], round(score, 3)) for id_, score in ranked if score > 0.3]
        if not near:
            return None, []
        lead = near[0][2] - (near[1][2] if len(near) > 1 else 0.0)
        said = set(words)
        within = {e.id for e in self.entries if said <= set(e.words)} or {
            e.id for e in self.entries if self._within(words, e)
        }
        if len(within) == 1 and not exact and len(line) <= 120:
            only = within.pop()
            return only, sorted(near, key=lambda n: n[0] != only)
        if exact or (near[0][2] >= SURE and lead >= LEAD):
            return near[0][0], near
        return None, near

    @staticmethod
    def _within(words: tuple[str, ...], entry: _Entry) -> bool:
        """Whether the name says all that the text says, and more ("chest drain insertion")."""
        return all(
            max(OSA.normalized_similarity(w, e) for e in entry.words) >= (0.8 if len(w) > 4 else 1)
            for w in words
        )

    @staticmethod
    def _likeness(words: tuple[str, ...], line: str, entry: _Entry) -> float:
        """Share of words in common, words with one or two wrong letters included."""
        if len(line) > 120:
            return float(fuzz.token_set_ratio(line, " ".join(entry.words)) / 100 * 0.8)
        left, found = list(entry.words), 0.0
        for word in words:
            pick, most = None, 0.0
            for other in left:
                like = OSA.normalized_similarity(word, other)
                if like > most:
                    pick, most = other, like
            if pick is not None and most >= 0.7:
                left.remove(pick)
                found += most
        return 2 * found / (len(words) + len(entry.words))


@lru_cache(maxsize=1)
def _names() -> ProcedureNames:
    return ProcedureNames(load_reference())


def match_procedure(
    text: str, reference: Reference | None = None
) -> tuple[str | None, list[tuple[str, str, float]]]:
    """The procedure that *text* names, whatever its case, plural or a typing error.

    Args:
        text: A name as written ("Chest tube", "tube thoracostomies").
        reference: The graph; the one that comes with Etui when absent.

    Returns:
        (id or None, nearest procedures as (id, name, likeness 0..1), best first).
    """
    if reference is None:
        return _names().match(text)
    return _of(reference).match(text)


_CACHE: dict[str, ProcedureNames] = {}


def _of(reference: Reference) -> ProcedureNames:
    found = _CACHE.get(reference.version)
    if found is None or found.reference is not reference:
        if len(_CACHE) > 8:
            _CACHE.clear()
        found = _CACHE[reference.version] = ProcedureNames(reference)
    return found
