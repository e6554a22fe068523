"""From the marks of a line to chunks: stretches between separators, with what each states.

A chunk holds its naming words, its count, its measures and its attributes.  Which chunks belong
to one item is decided later, when it is known what the words name.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from etui.reading.index import Token
from etui.reading.text import Mark

__all__ = ["Chunk", "Count", "Measure"]


@dataclass(slots=True)
class Count:
    """How many: ``kind`` explicit (x2, 2 ea, (2)), pair, or sides (left and right).

    ``each``: written as "2 each", which counts every kind that the line tells apart.
    """

    value: int
    kind: str
    each: bool = False


@dataclass(slots=True)
class Measure:
    """A size in millimetres with its wording; ``kind``: length, width."""

    mm: float
    text: str
    kind: str


@dataclass(slots=True)
class Chunk:
    """One stretch of a line.

    ``joiner``: the separator before it (",", "and", "with", "on", "without", "(", ...).
    ``sets``: its number counts sets ("1 set").
    ``flow``: counts and telling attributes in the order of the line, for "small x6 large x2".
    """

    joiner: str = ""
    marks: list[Mark] = field(default_factory=list)
    names: list[Token] = field(default_factory=list)
    plain_names: list[Token] = field(default_factory=list)
    attrs: list[tuple[str, str]] = field(default_factory=list)
    counts: list[Count] = field(default_factory=list)
    bare: list[tuple[int, Mark, str]] = field(default_factory=list)
    designators: list[str] = field(default_factory=list)
    written: dict[str, str] = field(default_factory=dict)
    measures: list[Measure] = field(default_factory=list)
    dims: list[tuple[str, str]] = field(default_factory=list)
    thread_size: str | None = None
    french: float | None = None
    gauge: float | None = None
    volume: str | None = None
    range: str | None = None
    angle: float | None = None
    pair: bool = False
    missing: bool = False
    states: list[str] = field(default_factory=list)
    parts: list[str] = field(default_factory=list)
    others: list[str] = field(default_factory=list)
    heads: list[str] = field(default_factory=list)
    sets: bool = False
    nots: list[str] = field(default_factory=list)
    flow: list[tuple[str, str, int]] = field(default_factory=list)

    @property
    def nouns(self) -> list[Token]:
        return [t for t in self.names if t.cls == "noun"]

    @property
    def has_name(self) -> bool:
        return any(t.cls in ("core", "noun", "weak") for t in self.names) or any(
            g == "thread" for g, _ in self.attrs
        )

    @property
    def text(self) -> str:
        return " ".join(m.text for m in self.marks)

    def attribute(self, group: str) -> str | None:
        """The value stated for a group; None when none or two different ones are."""
        values = {v for g, v in self.attrs if g == group}
        return values.pop() if len(values) == 1 else None
