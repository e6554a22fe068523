"""What an item's line states about the piece, once it is known what the piece is."""

from __future__ import annotations

import math

from etui.knowledge.model import Pattern
from etui.reading.chunks import Chunk, Measure
from etui.reading.items import Draft
from etui.reading.model import Attributes

__all__ = ["attributes_of"]

SHORT_OF_RANGE = 0.45
"""A stated length below this share of the shortest made is a width of the working end."""


def whole_mm(mm: float) -> float:
    """Millimetres rounded half up, as inch sizes are quoted."""
    return float(math.floor(mm + 0.5))


def attributes_of(draft: Draft, pattern: Pattern | None) -> Attributes:
    """The attributes that the line states; nothing is filled in from the pattern."""
    chunks = draft.chunks
    length, size = _length_and_size(chunks, pattern)
    teeth, dims_size = _dims(chunks, pattern)
    curve = _one(chunks, "curve")
    for chunk in chunks:
        if chunk.angle is not None and curve in (None, "angled"):
            curve = "right_angle" if 80 <= chunk.angle <= 100 else "angled"
    forms = [v for c in chunks for g, v in c.attrs if g == "form"]
    materials = _one(chunks, "material") or _one(chunks, "thread")
    words = _one(chunks, "size")
    if words == "big":
        words = None
    thread = next((c.thread_size for c in chunks if c.thread_size), None)
    numbers = [_designator(d, c, forms, pattern) for c in chunks for d in c.designators]
    if thread is None and pattern is not None and pattern.family == "suture" and not numbers:
        numbers = _thread_number(chunks)
    volume = next((c.volume for c in chunks if c.volume), None)
    if pattern is not None and "syringe" not in pattern.name.lower():
        volume = None
    decimals = [b[1].text for c in chunks for b in c.bare if b[2] == "decimal"]
    if length is None and len(decimals) == 1 and _inches(float(decimals[0]), pattern):
        length, decimals = whole_mm(float(decimals[0]) * 25.4), []
    stated = thread or dims_size or (numbers[0].upper() if numbers else None)
    ranged = next((c.range for c in chunks if c.range), None)
    size = stated or ranged or volume or (decimals[0] if decimals else None) or size or words
    return Attributes(
        length_mm=length,
        curve=curve,
        teeth=teeth or _one(chunks, "teeth"),
        size=size,
        material=materials,
        french=next((c.french for c in chunks if c.french is not None), None),
        gauge=next((c.gauge for c in chunks if c.gauge is not None), None),
        form=" ".join(dict.fromkeys(forms)) or None,
        state=tuple(dict.fromkeys(draft.states)),
        absent=tuple(dict.fromkeys(draft.absent)),
    )


def _inches(number: float, pattern: Pattern | None) -> bool:
    """Whether a decimal without a unit is a length in inches: a handled piece is made so long."""
    if pattern is None or pattern.length_mm is None or "handle" not in pattern.features:
        return False
    return number * 4 == int(number * 4) and number * 25.4 in pattern.length_mm


def _designator(number: str, chunk: Chunk, forms: list[str], pattern: Pattern | None) -> str:
    """The number as written; a form word that is part of the number is put in ("long 3": 3L)."""
    if pattern is not None:
        for form in forms:
            joined = f"{number}{form[0]}"
            if any(
                joined in name.text.casefold().replace("#", " ").split() for name in pattern.names
            ):
                return joined
    return chunk.written.get(number, number)


def _one(chunks: list[Chunk], group: str) -> str | None:
    values = list(dict.fromkeys(v for c in chunks for g, v in c.attrs if g == group))
    return values[0] if len(values) == 1 else None


def _thread_number(chunks: list[Chunk]) -> list[str]:
    """ "silk 0": a whole thread size, when another number is the count."""
    for chunk in chunks:
        for at, (_, mark, _) in enumerate(chunk.bare):
            others = sum(len(c.bare) + len(c.counts) for c in chunks) - 1
            if mark.value == 0 or (others and mark.value <= 2):
                del chunk.bare[at]
                return [f"{mark.value:g}"]
    return []


def _length_and_size(
    chunks: list[Chunk], pattern: Pattern | None
) -> tuple[float | None, str | None]:
    lengths: list[Measure] = [m for c in chunks for m in c.measures if m.kind == "length"]
    widths: list[Measure] = [m for c in chunks for m in c.measures if m.kind == "width"]
    if pattern is not None and pattern.length_mm is not None:
        short = [m for m in lengths if m.mm < SHORT_OF_RANGE * pattern.length_mm.low]
        widths += short
        lengths = [m for m in lengths if m not in short]
        # a small measure is the length of a piece that is so small
        if not lengths:
            whole = [
                m for m in widths if m.mm and m.mm in pattern.length_mm and "wide" not in m.text
            ]
            lengths, widths = whole[:1], [m for m in widths if m not in whole]
    texts = list(dict.fromkeys(m.text for m in widths))
    size = texts[0] if len(texts) == 1 else None
    values = {m.mm for m in lengths}
    if not values or len(values) > 1:
        if len(values) > 1 and not any(c.counts and len(c.counts) > 1 for c in chunks):
            return whole_mm(max(values)), size
        return None, size
    return whole_mm(values.pop()), size


def _dims(chunks: list[Chunk], pattern: Pattern | None) -> tuple[str | None, str | None]:
    """ "1x2" are teeth of forceps, "4x4" the inches of a swab."""
    teeth = size = None
    for chunk in chunks:
        for text, kind in chunk.dims:
            if kind == "teeth":
                teeth = text
            elif kind.startswith("size"):
                size = f"{text} {kind[5:]}".strip()
            elif pattern is not None and pattern.family in ("consumable",):
                size = f"{text} in"
            elif pattern is not None and (
                "teeth" in pattern.features or "blades" in pattern.features
            ):
                teeth = text
            else:
                small = all(float(p) <= 10 for p in text.split("x"))
                teeth, size = (text, size) if small else (teeth, text)
    return teeth, size
