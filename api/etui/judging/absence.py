"""What a wording says is missing or does not fit: "no mallet", "the blade is lost".

A missing part counts only when the pieces work with it; anything else that is said to be missing
is returned in words, so that "no light" does not make a clamp useless.
"""

from __future__ import annotations

import re

from etui.judging.pieces import PieceReader, Pieces
from etui.judging.units import Units, names_slot
from etui.judging.wording import cut, stems
from etui.knowledge.model import Reference, Slot

_ABSENT = re.compile(
    r"\b(?:(?:with\s+)?(?:no|not\s+any)\b(?!\.?\s*\d)|without|lacking|minus|lost\s+its|missing\s+its)"
    r"\s+(?:an?\s+|the\s+|its\s+|any\s+|matching\s+|spare\s+)*"
    r"(?P<what>[a-z][a-z0-9 \-]*?)"
    r"(?=\s+(?:in|to|that|on|at|for|which|here|there|and|but|or|left|ready|available)\b|\s*[,;.)]|$)",
    re.IGNORECASE,
)
_GONE = re.compile(
    r"(?:\b(?:but|and|with|its|the)\s+)*\b(?P<what>[a-z][a-z0-9\-]*(?:\s+[a-z][a-z0-9\-]*)?)\s+"
    r"(?:is\s+|are\s+|was\s+|has\s+)*"
    r"(?:missing|lost|broken\s+off|gone|not\s+there|not\s+to\s+hand|nowhere|left\s+behind|absent|"
    r"flat|dead|empty|cannot\s+be\s+found)\b",
    re.IGNORECASE,
)
_MISFIT = re.compile(
    r"\b(?:that|which|but\s+it|it)?\s*(?:does|will|do)(?:\s+not|n't)\s+(?:fit|seat|match|go\s+on)"
    r"[a-z ]*",
    re.IGNORECASE,
)
_INSTEAD = re.compile(
    r"\b(?:instead\s+of|in\s+place\s+of|rather\s+than)\s+(?:an?\s+|the\s+|its\s+)?"
    r"(?P<what>[a-z][a-z0-9 \-]*?)\s*(?=[,;.]|$)",
    re.IGNORECASE,
)

_NO_KIND = frozenset(("whol", "onli", "consumabl", "accessori", "part", "two", "thre"))


def take_absent(text: str) -> tuple[str, tuple[str, ...]]:
    """Cut "no mallet in the room" and the like out of *text*; what is missing in words."""
    rest = _MISFIT.sub("", text).strip(" ,;")
    absent: list[str] = []
    for pattern in (_INSTEAD, _ABSENT, _GONE):
        for match in pattern.finditer(rest):
            absent.append(match.group("what").strip())
        rest = cut(rest, [m.span() for m in pattern.finditer(rest)])
    return rest or text, tuple(absent)


class Absence:
    """Finds the parts that are missing from what the pieces work with."""

    def __init__(self, reference: Reference, reader: PieceReader, units: Units) -> None:
        self.reference = reference
        self.reader = reader
        self.units = units

    def parts(
        self, found: Pieces, said: tuple[str, ...]
    ) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Parts said to be missing that the pieces work with, and the rest in words."""
        ids = [p.id for p in found.pieces]
        if found.choice:
            ids += [o.id for o in found.choice.options]
        slots = [
            slot
            for id_ in ids
            for unit in self.units.of.get(id_, ())
            for slot in self.reference.units[unit].slots
            if id_ not in slot.alternatives or slot.count > 1
        ]
        absent: list[str] = []
        beside: list[str] = []
        for part in (*found.absent, *said):
            named = self._resolve(part)
            slot = next((s for s in slots if self._is_of(part, named, s)), None)
            if slot is not None:
                if names_slot(part, slot):
                    absent.append(part)  # as said: an id shares words with other parts
                else:
                    absent.append(named if named in slot.alternatives else slot.alternatives[0])
            elif any(self._needs(id_, part) for id_ in ids):
                absent.append(named or part)
            else:
                beside.append(f"{part} (said to be missing): not known as a part of it")
        return tuple(dict.fromkeys(absent)), tuple(dict.fromkeys(beside))

    def _is_of(self, words: str, named: str | None, slot: Slot) -> bool:
        """Whether the words name what belongs in *slot*: by id, by the slot's own word, or by
        the kind of part that it is (a bit, a handle, a blade)."""
        if named is not None and named in slot.alternatives:
            return True
        if names_slot(words, slot):
            return True
        kinds = {
            word
            for id_ in slot.alternatives
            if (pattern := self.reference.patterns.get(id_)) is not None
            for part in pattern.features.get("part", ())
            for word in stems(part.replace("_", " "))
        }
        return bool(set(stems(words)) & (kinds - _NO_KIND))

    def _resolve(self, words: str) -> str | None:
        if words in self.reference.patterns:
            return words
        items = self.reader.items(words)
        return items[0].pattern if items else None

    def _needs(self, id_: str, words: str) -> bool:
        pattern = self.reference.patterns.get(id_)
        if pattern is None:
            return False
        needed = " ".join((
            *pattern.features.get("needs_partner", ()), *pattern.pairs_with,
            *(offer.part_complete or "" for offer in pattern.offers),
        ))
        return bool(set(stems(words)) & set(stems(needed.replace("_", " "))))
