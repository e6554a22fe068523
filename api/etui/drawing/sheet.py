"""From views in millimetres to one SVG sheet with labels and a scale bar."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from html import escape

from etui.drawing.look import Panel
from etui.drawing.pen import Pen

WIDTH = 360.0
"""Width of a sheet in its own units: a phone's width, so that labels stay readable there."""
TALLEST = 300.0
"""No single view is drawn taller than this, in units of the sheet."""
MARGIN = 8.0
TEXT = 11.0
BARS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One finished drawing: SVG body, height, and the words that go with it."""

    body: str
    height: float


def lay_out(
    panels: list[Panel],
    *,
    span_mm: float | None = None,
    labels: bool = True,
    bar: bool = True,
    top: float = MARGIN,
) -> Sheet:
    """Stack views of one scale from the top; ``span_mm`` is what the full width stands for."""
    boxes = [p.pen.box() for p in panels]
    scale = scale_of(panels, span_mm)
    parts: list[str] = []
    y = top
    for panel, box in zip(panels, boxes, strict=True):
        if labels:
            y += _label(parts, y, panel.label)
        parts.append(_placed(panel.pen, scale, MARGIN - box[0] * scale, y - box[1] * scale))
        y += (box[3] - box[1]) * scale + 12
    if bar:
        parts.append(scale_bar(scale, y + 2))
        y += 20
    return Sheet("".join(parts), y + MARGIN - 6)


def lay_out_tips(
    panels: list[Panel],
    *,
    main_scale: float | None = None,
    top: float = MARGIN,
    span_mm: float | None = None,
) -> Sheet:
    """Enlarged views: one scale for the faces, a larger one for small end-on views."""
    faces = [p for p in panels if not p.label.startswith("tips end-on")]
    ends = [p for p in panels if p.label.startswith("tips end-on")]
    boxes = [p.pen.box() for p in faces]
    span = span_mm or max((b[2] - b[0] for b in boxes), default=20.0)
    tallest = max((b[3] - b[1] for b in boxes), default=10.0)
    scale = min((WIDTH - 2 * MARGIN - 20) / span, 240.0 / max(tallest, 1.0), 16.0)
    parts: list[str] = []
    y = top
    for panel, box in zip(faces, boxes, strict=True):
        y += _label(parts, y, panel.label)
        parts.append(_placed(panel.pen, scale, MARGIN - box[0] * scale, y - box[1] * scale))
        y += (box[3] - box[1]) * scale + 12
    times = f" · {scale / main_scale:.1f} × the whole drawing" if main_scale else ""
    parts.append(scale_bar(scale, y + 2, note=times))
    y += 22
    for panel in ends:
        box = panel.pen.box()
        enlarged = 70.0 / max(box[2] - box[0], 0.5)
        y += _label(parts, y, panel.label)
        parts.append(
            _placed(panel.pen, enlarged, MARGIN + 8 - box[0] * enlarged, y - box[1] * enlarged)
        )
        y += (box[3] - box[1]) * enlarged + 12
    return Sheet("".join(parts), y + 2)


def scale_of(panels: list[Panel], span_mm: float | None = None) -> float:
    """Sheet units per millimetre for these views."""
    boxes = [p.pen.box() for p in panels]
    span = span_mm or max((b[2] - b[0] for b in boxes), default=100.0)
    tallest = max((b[3] - b[1] for b in boxes), default=1.0)
    return min((WIDTH - 2 * MARGIN) / max(span, 1.0), TALLEST / max(tallest, 1.0))


def scale_bar(scale: float, y: float, note: str = "") -> str:
    """A bar of a round number of millimetres, not longer than a third of the sheet."""
    size = next((b for b in reversed(BARS) if b * scale <= WIDTH / 3), BARS[0])
    end = MARGIN + size * scale
    tick = f"M{MARGIN} {_n(y + 1)}v6M{_n(end)} {_n(y + 1)}v6M{MARGIN} {_n(y + 4)}H{_n(end)}"
    return f'<path d="{tick}"/>' + _text(end + 6, y + 8, f"{_n(size)} mm{note}")


def svg(
    sheet: Sheet, *, title: str, text: str, key: str, standalone: bool = True, ink: float = 1.3
) -> str:
    """Wrap a sheet with its title and description.

    ``key`` makes the ids unique on a page.  A standalone drawing follows the reader's dark mode
    by itself; one that is part of a page takes its colours from the page.  ``ink``: width of the
    lines, in units of the sheet.
    """
    style = ""
    if standalone:
        style = (
            "<style>svg{color:#1d2a2e}@media (prefers-color-scheme:dark){svg{color:#e9e4d8}"
            ".p{fill:#1b1f20}}</style>"
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" '
        f'viewBox="0 0 {_n(WIDTH)} {_n(sheet.height)}" '
        f'aria-labelledby="{key}-t" aria-describedby="{key}-d">'
        f'<title id="{key}-t">{escape(title)}</title>'
        f'<desc id="{key}-d">{escape(text)}</desc>{style}'
        f'<g fill="none" stroke="currentColor" stroke-width="{_n(ink)}" stroke-linejoin="round" '
        f'stroke-linecap="round">{sheet.body}</g></svg>'
    )


def _label(parts: list[str], y: float, words: str) -> float:
    """Write a label, broken into lines that fit the sheet; returns the height it took."""
    lines = textwrap.wrap(words, 58) or [""]
    for i, line in enumerate(lines):
        parts.append(_text(MARGIN, y + TEXT + i * (TEXT + 3), line))
    return len(lines) * (TEXT + 3) + 5


def _placed(pen: Pen, scale: float, x: float, y: float) -> str:
    moved = Pen()
    moved.place(pen, (x, y), scale=scale)
    return moved.svg()


def _text(x: float, y: float, words: str) -> str:
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(TEXT)}" fill="currentColor" stroke="none" '
        f'font-family="system-ui, sans-serif">{escape(words)}</text>'
    )


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"
