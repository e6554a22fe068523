"""A pen for line drawings: points in millimetres in, SVG paths out.

The pen knows nothing of instruments.  A drawing is a list of strokes; each stroke is a path of
straight and cubic segments that can be shifted, turned, mirrored and enlarged before it is
written.  Bodies are filled with the colour of the paper, so that what lies in front hides what
lies behind, and the result is still a drawing in lines only.

x runs from the held end (left) to the working end (right), y runs down, as in SVG.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

Point = tuple[float, float]
Segment = tuple[str, tuple[Point, ...]]


@dataclass(frozen=True, slots=True)
class Stroke:
    """One path with its manner of drawing.

    ``body``: filled with paper.  ``line``: stroked.  ``fine``: thinner, for surface detail.
    ``dashed``: what is not recorded, or one of several forms.
    """

    segments: tuple[Segment, ...]
    body: bool = False
    line: bool = True
    fine: bool = False
    dashed: bool = False

    def mapped(self, move: Callable[[Point], Point]) -> Stroke:
        """The same stroke with every point moved."""
        segments = tuple((k, tuple(move(p) for p in pts)) for k, pts in self.segments)
        return replace(self, segments=segments)

    def points(self) -> Iterable[Point]:
        for _, pts in self.segments:
            yield from pts


@dataclass(slots=True)
class Pen:
    """Collects strokes; what is drawn later lies in front."""

    strokes: list[Stroke] = field(default_factory=list)
    dashed: bool = False
    """While true, every stroke is dashed: a part whose shape is not recorded."""

    # -- drawing ------------------------------------------------------------------------------
    def add(self, segments: Sequence[Segment], **manner: bool) -> None:
        """Add one path; ``manner`` as the fields of :class:`Stroke`."""
        if self.dashed:
            manner["dashed"] = True
        self.strokes.append(Stroke(tuple(segments), **manner))

    def poly(self, points: Sequence[Point], *, closed: bool = True, **manner: bool) -> None:
        """Straight lines through the points; a closed one is a body unless told otherwise."""
        manner.setdefault("body", closed)
        segments: list[Segment] = [("M", (points[0],))]
        segments += [("L", (p,)) for p in points[1:]]
        if closed:
            segments.append(("Z", ()))
        self.add(segments, **manner)

    def curve(self, points: Sequence[Point], *, closed: bool = False, **manner: bool) -> None:
        """A smooth curve through the points; a closed one is a body unless told otherwise."""
        manner.setdefault("body", closed)
        self.add(smooth(points, closed=closed), **manner)

    def oval(
        self,
        centre: Point,
        rx: float,
        ry: float | None = None,
        *,
        turn: float = 0.0,
        **manner: bool,
    ) -> None:
        """An ellipse, turned by ``turn`` degrees."""
        manner.setdefault("body", True)
        self.add(oval(centre, rx, rx if ry is None else ry, turn), **manner)

    def finger_ring(
        self, centre: Point, rx: float, ry: float, band: float, turn: float = 0.0
    ) -> None:
        """A finger ring: two ovals with paper between them and nothing inside."""
        self.add(
            [*oval(centre, rx, ry, turn), *oval(centre, rx - band, ry - band, turn, back=True)],
            body=True,
        )

    def ribbon(
        self,
        spine: Sequence[Point],
        widths: Sequence[float],
        *,
        start: str = "flat",
        end: str = "flat",
        **manner: bool,
    ) -> None:
        """A bar along a spine, with its width given at each point of it.

        ``start`` and ``end``: flat, round, point, or open (no line: it runs into another part).
        """
        left, right = offset(spine, widths)
        manner.setdefault("body", True)
        head = _cap(left[-1], right[-1], spine[-1], spine[-2], end)
        tail = _cap(right[0], left[0], spine[0], spine[1], start)
        forth, back = smooth(left), smooth(right[::-1])
        outline = [*forth, *head, *_joined(back), *tail, ("Z", ())]
        if "open" not in (start, end):
            self.add(outline, **manner)
            return
        self.add(outline, **{**manner, "line": False})
        manner["body"] = False
        if start == end == "open":
            self.add(forth, **manner)
            self.add(back, **manner)
        elif start == "open":
            self.add([*forth, *head, *_joined(back)], **manner)
        else:
            self.add([*back, *tail, *_joined(forth)], **manner)

    def ticks(self, lines: Iterable[tuple[Point, Point]], **manner: bool) -> None:
        """Many short lines as one path: ridges of a jaw, notches of a rack."""
        segments: list[Segment] = []
        for a, b in lines:
            segments += [("M", (a,)), ("L", (b,))]
        if segments:
            manner.setdefault("fine", True)
            self.add(segments, **manner)

    def place(
        self,
        other: Pen,
        at: Point = (0.0, 0.0),
        *,
        scale: float = 1.0,
        turn: float = 0.0,
        flip: bool = False,
    ) -> None:
        """Put another drawing here: mirrored about the x axis, turned, enlarged, shifted."""
        cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))

        def move(p: Point) -> Point:
            x, y = p[0], -p[1] if flip else p[1]
            return (at[0] + scale * (x * cos - y * sin), at[1] + scale * (x * sin + y * cos))

        for stroke in other.strokes:
            moved = stroke.mapped(move)
            self.strokes.append(replace(moved, dashed=True) if self.dashed else moved)

    def join(self, part: Pen, about: Point, degrees: float, *, flip: bool = False) -> None:
        """Add a part, mirrored about the x axis if ``flip``, then turned about a point."""

        def move(p: Point) -> Point:
            return turned([(p[0], -p[1] if flip else p[1])], about, degrees)[0]

        self.strokes += [stroke.mapped(move) for stroke in part.strokes]

    # -- measuring ----------------------------------------------------------------------------
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of everything drawn (control points included)."""
        points = [p for s in self.strokes for p in s.points()]
        if not points:
            return (0.0, 0.0, 0.0, 0.0)
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return (min(xs), min(ys), max(xs), max(ys))

    # -- writing ------------------------------------------------------------------------------
    def svg(self) -> str:
        """The strokes as SVG path elements; line widths in screen pixels, whatever the scale."""
        return "".join(_written(s) for s in self.strokes)


def _written(stroke: Stroke) -> str:
    d = "".join(
        kind + " ".join(f"{_n(x)} {_n(y)}" for x, y in pts) for kind, pts in stroke.segments
    )
    attributes = [f'd="{d}"']
    if stroke.body:
        attributes.append('class="p" fill="#fff" fill-rule="evenodd"')
    if not stroke.line:
        attributes.append('stroke="none"')
    if stroke.fine:
        attributes.append('class="f" stroke-width=".8"' if not stroke.body else 'stroke-width=".8"')
    if stroke.dashed:
        attributes.append('stroke-dasharray="5 3"')
    return f"<path {' '.join(attributes)}/>"


def _n(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


# -- geometry ----------------------------------------------------------------------------------
def smooth(points: Sequence[Point], *, closed: bool = False) -> list[Segment]:
    """Cubic segments that pass through the points without corners."""
    n = len(points)
    if n < 3:
        return [("M", (points[0],)), *[("L", (p,)) for p in points[1:]]]

    def at(i: int) -> Point:
        return points[i % n] if closed else points[min(max(i, 0), n - 1)]

    segments: list[Segment] = [("M", (points[0],))]
    for i in range(n if closed else n - 1):
        a, b, c, d = at(i - 1), at(i), at(i + 1), at(i + 2)
        # The pull of the neighbours is cut to a third of this stretch, so that uneven spacing
        # never makes loops.
        reach = math.dist(b, c) / 3
        one, two = (
            _towards((c[0] - a[0], c[1] - a[1]), reach),
            _towards((d[0] - b[0], d[1] - b[1]), reach),
        )
        segments.append(("C", ((b[0] + one[0], b[1] + one[1]), (c[0] - two[0], c[1] - two[1]), c)))
    if closed:
        segments.append(("Z", ()))
    return segments


def _towards(direction: Point, length: float) -> Point:
    size = math.hypot(*direction)
    return (0.0, 0.0) if size == 0 else (direction[0] / size * length, direction[1] / size * length)


def oval(
    centre: Point, rx: float, ry: float, turn: float = 0.0, *, back: bool = False
) -> list[Segment]:
    """An ellipse of four cubic segments."""
    k = 0.5523
    corners = [
        (1, 0),
        (1, k),
        (k, 1),
        (0, 1),
        (-k, 1),
        (-1, k),
        (-1, 0),
        (-1, -k),
        (-k, -1),
        (0, -1),
        (k, -1),
        (1, -k),
        (1, 0),
    ]
    if back:
        corners.reverse()
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    pts = [
        (centre[0] + x * rx * cos - y * ry * sin, centre[1] + x * rx * sin + y * ry * cos)
        for x, y in corners
    ]
    segments: list[Segment] = [("M", (pts[0],))]
    segments += [("C", (pts[i], pts[i + 1], pts[i + 2])) for i in (1, 4, 7, 10)]
    segments.append(("Z", ()))
    return segments


def offset(spine: Sequence[Point], widths: Sequence[float]) -> tuple[list[Point], list[Point]]:
    """The two sides of a bar along a spine: half the width to either side of each point."""
    left: list[Point] = []
    right: list[Point] = []
    for i, (p, w) in enumerate(zip(spine, widths, strict=True)):
        a, b = spine[max(i - 1, 0)], spine[min(i + 1, len(spine) - 1)]
        nx, ny = _towards((-(b[1] - a[1]), b[0] - a[0]), w / 2)
        left.append((p[0] - nx, p[1] - ny))
        right.append((p[0] + nx, p[1] + ny))
    return left, right


def arc(centre: Point, radius: float, start: float, end: float, count: int = 9) -> list[Point]:
    """Points on a circle from one angle to another, in degrees."""
    step = (end - start) / (count - 1)
    return [
        (
            centre[0] + radius * math.cos(math.radians(start + step * i)),
            centre[1] + radius * math.sin(math.radians(start + step * i)),
        )
        for i in range(count)
    ]


def turned(points: Iterable[Point], about: Point, degrees: float) -> list[Point]:
    """Points turned about a point; positive turns clockwise on the screen."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return [
        (
            about[0] + (x - about[0]) * cos - (y - about[1]) * sin,
            about[1] + (x - about[0]) * sin + (y - about[1]) * cos,
        )
        for x, y in points
    ]


def _cap(a: Point, b: Point, centre: Point, inner: Point, kind: str) -> list[Segment]:
    """The end of a bar from side a to side b."""
    if kind == "open":
        return [("L", (b,))]
    out = _towards((centre[0] - inner[0], centre[1] - inner[1]), math.dist(a, b) / 2)
    if kind == "round":
        k = 4 / 3
        return (
            [
                (
                    "C",
                    (
                        (a[0] + out[0] * k, a[1] + out[1] * k),
                        (b[0] + out[0] * k, b[1] + out[1] * k),
                        b,
                    ),
                )
            ]
            if out != (0.0, 0.0)
            else [("L", (b,))]
        )
    if kind == "point":
        tip = (centre[0] + out[0] * 2.5, centre[1] + out[1] * 2.5)
        return [("L", (tip,)), ("L", (b,))]
    return [("L", (b,))]


def _joined(segments: Sequence[Segment]) -> list[Segment]:
    """A path that goes on from where the pen is: its first move becomes a line."""
    first, *rest = segments
    return [("L", first[1]), *rest]
