"""Words of a phrase, levelled so that "cutting" and "cuts" count as one."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

_WORD = re.compile(r"[a-z]+")
_PARTS = re.compile(r"[;,]")
_EMPTY = frozenset((
    "the", "and", "for", "with", "that", "which", "when", "not", "from", "into", "over", "under",
    "between", "who", "what", "use", "used", "using", "any", "other", "its", "are",
))
_ENDINGS = ("ing", "ies", "es", "ed", "s")


def bag(text: str) -> frozenset[str]:
    """The words of *text* that carry meaning."""
    words = _WORD.findall(text.lower().replace("_", " "))
    return frozenset(_stem(word) for word in words if len(word) > 2 and word not in _EMPTY)


@lru_cache(maxsize=4096)
def _stem(word: str) -> str:
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word[: -len(ending)]
    return word


def phrases(texts: Iterable[str]) -> tuple[frozenset[str], ...]:
    """The words of each phrase in a list of remarks."""
    return tuple(
        words for text in texts for part in _PARTS.split(text) if (words := bag(part))
    )
