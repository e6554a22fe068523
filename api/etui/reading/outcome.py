"""What matching the words of one item comes to."""

from __future__ import annotations

from dataclasses import dataclass, replace

from etui.reading.index import Token

__all__ = ["Match", "Scored"]


@dataclass(frozen=True, slots=True)
class Scored:
    """One reading: pattern id and score 0..1, with the label that spoke for it."""

    id: str
    score: float
    label: str = ""


@dataclass(frozen=True, slots=True)
class Match:
    """The outcome for one item.

    ``pattern`` is None when nothing is sure: ``asks`` then says whether ``ranked`` holds
    candidates to choose from.  ``named``: at least one word names something.
    """

    pattern: str | None
    score: float
    ranked: tuple[Scored, ...] = ()
    ask: str | None = None
    why: str = ""
    named: bool = False
    assumed: bool = False
    class_id: str | None = None
    explained: float = 0.0
    exact: bool = False
    bag: frozenset[str] = frozenset()
    """Tokens of the label or class name that spoke for the reading."""

    joins: frozenset[str] = frozenset()
    spelt: tuple[tuple[str, str], ...] = ()

    def mended(self, found: list[Token]) -> list[Token]:
        """Tokens with the spelling that this match read them in."""
        fixed = dict(self.spelt)
        return [Token(fixed[t.text], t.cls) if t.text in fixed else t for t in found]

    def changed(self, **changes: object) -> Match:
        """The match with some values changed."""
        return replace(self, **changes)  # type: ignore[arg-type]
