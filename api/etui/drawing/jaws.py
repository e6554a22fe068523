"""Jaws: the face that meets the other jaw, along a straight or bent track."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from etui.drawing.look import Look
from etui.drawing.pen import Pen, Point

BENDS: dict[str, tuple[tuple[float, float, float], ...]] = {
    "straight": (),
    "curved": ((0.06, 1.0, -46.0),),
    "angled": ((0.28, 0.42, -42.0),),
    "right_angle": ((0.5, 0.74, -86.0),),
    "double_angled": ((0.04, 0.14, -42.0), (0.34, 0.44, 46.0), (0.7, 0.8, 44.0)),
    "quarter_to_full": ((0.35, 1.0, -120.0),),
}
"""Where along the jaw (parts of its length) it bends, and by how many degrees (minus: upwards)."""


class Track:
    """The middle line of a jaw, straight or bent; ``at(s, t)`` is s mm along and t mm across."""

    def __init__(self, length: float, curve: str | None, start: Point = (0.0, 0.0)) -> None:
        self.length = length
        self._points: list[Point] = [start]
        self._angles: list[float] = [0.0]
        steps = 120
        for i in range(steps):
            u = (i + 0.5) / steps
            angle = 0.0
            for low, high, degrees in BENDS.get(curve or "straight", ()):
                angle += degrees * min(max((u - low) / (high - low), 0.0), 1.0)
            a = math.radians(angle)
            x, y = self._points[-1]
            step = length / steps
            self._points.append((x + step * math.cos(a), y + step * math.sin(a)))
            self._angles.append(a)

    def at(self, s: float, t: float = 0.0) -> Point:
        """The point s mm along the track and t mm to its right."""
        steps = len(self._points) - 1
        place = s / self.length * steps
        i = min(max(int(place), 0), steps - 1)
        (x0, y0), (x1, y1) = self._points[i], self._points[i + 1]
        f = place - i
        a = self._angles[min(i + 1, steps)]
        return (x0 + (x1 - x0) * f - t * math.sin(a), y0 + (y1 - y0) * f + t * math.cos(a))


@dataclass(frozen=True, slots=True)
class Face:
    """The inner face of one jaw.

    ``kind``: taper, oval, triangle, bowed, flared, loop, cup, point.  ``surface`` and ``teeth``:
    words of the record, None when it has none.  Sizes in mm.
    """

    length: float
    root: float
    tip: float
    kind: str = "taper"
    surface: str | None = None
    teeth: str | None = None
    blades_behind: bool = False

    def half(self, u: float) -> float:
        """Half the width of the face at u (0 root, 1 tip)."""
        root, tip = self.root / 2, self.tip / 2
        neck = min(root, tip, 2.4)
        if self.kind in ("oval", "loop", "cup"):
            start = 0.46 if self.kind == "oval" else 0.38
            if u < start:
                return root + (neck - root) * u / start
            v = (u - start) / (1 - start)
            loop = tip * math.sqrt(max(1 - (2 * v - 1) ** 2, 0.0))
            return max(neck, loop) if v < 0.5 else loop
        if self.kind == "triangle":
            return (
                root + (neck - root) * u / 0.4 if u < 0.4 else neck + (tip - neck) * (u - 0.4) / 0.6
            )
        if self.kind in ("bowed", "flared"):
            start = 0.4 if self.kind == "bowed" else 0.62
            if u < start:
                return root + (neck - root) * u / start
            v = (u - start) / (1 - start)
            return neck + (tip - neck) * math.sin(v * math.pi / 2)
        return root + (tip - root) * u

    @property
    def flat_end(self) -> bool:
        """Whether the tip ends in a straight edge, not round."""
        return self.kind in ("triangle", "bowed", "flared")

    @property
    def window(self) -> bool:
        """Whether the face has an opening (fenestrated)."""
        return self.kind in ("oval", "triangle", "bowed", "loop")


def draw_face(
    pen: Pen, track: Track, face: Face, *, detail: bool = True, known: bool = True
) -> None:
    """The outline of one jaw, its window, and (detail) its ridges and teeth.

    ``known`` false: nothing is recorded of the surface, so the outline is dashed; teeth that are
    recorded are still drawn in full.
    """
    if not known:
        outline = Pen(dashed=True)
        draw_face(outline, track, face, detail=False)
        pen.place(outline)
        _teeth(pen, track, face)
        return
    n = 14
    looped = face.kind in ("oval", "loop", "cup")
    us = [i / n for i in range(n + 1)]
    end = 1.0 if face.flat_end or looped else 1.0 - 0.5 * face.tip / face.length
    upper = [track.at(u * end * face.length, -face.half(u)) for u in us]
    lower = [track.at(u * end * face.length, face.half(u)) for u in us]
    if face.flat_end:
        pen.poly([*upper, *lower[::-1]])
    elif looped:
        # Closer together towards the end, where the outline turns.
        us = [1 - (1 - i / 24) ** 1.6 for i in range(25)]
        upper = [track.at(u * face.length, -face.half(u)) for u in us]
        lower = [track.at(u * face.length, face.half(u)) for u in us[:-1]]
        pen.poly([*upper, *lower[::-1]])
    else:
        tip = [
            track.at(
                end * face.length + math.cos(a) * face.half(1) * 1.0, math.sin(a) * face.half(1)
            )
            for a in (-1.1, -0.5, 0.0, 0.5, 1.1)
        ]
        pen.poly([*upper, *tip, *lower[::-1]])
    if detail:
        _surface(pen, track, face)
    if face.window:
        _window(pen, track, face)
    if detail:
        _teeth(pen, track, face)


def _window(pen: Pen, track: Track, face: Face) -> None:
    """The opening of a fenestrated jaw."""
    band = min(max(face.tip * 0.16, 1.0), 3.2)
    start = {"oval": 0.58, "loop": 0.5, "triangle": 0.52, "bowed": 0.55}[face.kind]
    stop = 1 - band * 1.1 / face.length
    if face.kind in ("oval", "loop"):
        centre, reach = (start + stop) / 2 * face.length, (stop - start) / 2 * face.length
        wide = face.tip / 2 - band
        pen.curve(
            [
                track.at(centre + reach * math.cos(a), wide * math.sin(a))
                for a in (math.tau * k / 14 for k in range(14))
            ],
            closed=True,
        )
        return
    points_up: list[Point] = []
    points_down: list[Point] = []
    for u in _steps(start, stop, 9):
        h = max(face.half(u) - band, 0.15)
        points_up.append(track.at(u * face.length, -h))
        points_down.append(track.at(u * face.length, h))
    pen.poly([*points_up, *points_down[::-1]])


Across = Callable[[float], float]


def _surface(pen: Pen, track: Track, face: Face) -> None:
    """Ridges, rows, hatching: drawn only as far as the record says."""
    word = face.surface
    if word is None or word in ("smooth", "none"):
        return
    start = 0.42 if face.blades_behind else 0.05
    if face.window or face.kind in ("flared", "cup"):
        start = 0.6
    stop = 0.955
    length = face.length

    def edge(u: float) -> float:
        return max(face.half(u) - 0.25, 0.1)

    if "atraumatic" in word:
        for row in (-0.45, 0.0, 0.45):
            pen.ticks(
                [
                    (
                        track.at(u * length, (row - 0.13) * edge(u) * 1.5),
                        track.at((u + 0.006) * length, (row + 0.13) * edge(u) * 1.5),
                    )
                    for u in _steps(start, stop, max(int(length / 1.1), 8))
                ]
            )
        for row in (-0.72, 0.72):
            pen.curve(
                [track.at(u * length, row * edge(u)) for u in _steps(start, stop, 10)], fine=True
            )
    elif "cross_hatch" in word:
        lines: list[tuple[Point, Point]] = []
        count = max(int(length * (stop - start) / (0.9 if "fine" in word else 1.3)), 6)
        for u in _steps(start, stop - 0.02, count):
            e = edge(u)
            v = min(u + 1.1 * e * 2 / length, stop)
            lines += [
                (track.at(u * length, -e), track.at(v * length, edge(v))),
                (track.at(u * length, e), track.at(v * length, -edge(v))),
            ]
        pen.ticks(lines)
        if "groove" in word:
            for row in (-0.3, 0.3):
                pen.curve([track.at(u * length, row) for u in _steps(start, stop, 8)], fine=True)
    elif "longitudinal" in word:
        for row in (-0.75, -0.45, -0.15, 0.15, 0.45, 0.75):
            pen.curve(
                [track.at(u * length, row * edge(u)) for u in _steps(start, stop - 0.03, 8)],
                fine=True,
            )
        if "cross" in word:
            pen.ticks(
                [
                    (track.at(u * length, -edge(u)), track.at(u * length, edge(u)))
                    for u in _steps(0.8, stop, 7)
                ]
            )
    else:
        if "distal" in word or "tip" in word:
            start = max(start, 0.85 if "tip" in word else 0.5)
        pitch = 0.7 if "fine" in word else 1.0
        count = max(int(length * (stop - start) / pitch), 4)
        pen.ticks(
            [
                (track.at(u * length, -edge(u)), track.at(u * length, edge(u)))
                for u in _steps(start, stop, count)
            ]
        )


def _steps(low: float, high: float, count: int) -> list[float]:
    return [low + (high - low) * i / max(count - 1, 1) for i in range(count)]


def tooth_counts(word: str | None) -> tuple[int, int] | None:
    """The teeth of the two jaws as numbers, from words like ``1x2`` or ``4x5``."""
    if not word:
        return None
    head = word.split("_")[0]
    left, cross, right = head.partition("x")
    return (int(left), int(right)) if cross and left.isdigit() and right.isdigit() else None


def _teeth(pen: Pen, track: Track, face: Face) -> None:
    """Teeth as they are seen on the inner face of the jaw that has fewer of them."""
    word = face.teeth or ""
    length = face.length
    if "side_rows" in word:
        for side in (-1, 1):
            row: list[Point] = []
            for i, u in enumerate(_steps(0.68, 0.98, 15)):
                row.append(track.at(u * length, side * face.half(u) * (0.92 if i % 2 else 0.5)))
            pen.poly(row, closed=False, fine=True)
        return
    if "ring_of" in word:
        centre = track.at(length - face.tip * 0.62)
        radius = face.tip / 2
        pen.ticks(
            [
                (
                    (
                        centre[0] + math.cos(a) * radius * 0.55,
                        centre[1] + math.sin(a) * radius * 0.55,
                    ),
                    (
                        centre[0] + math.cos(a) * radius * 0.86,
                        centre[1] + math.sin(a) * radius * 0.86,
                    ),
                )
                for a in [math.tau * k / 18 for k in range(18)]
            ]
        )
        pen.oval(centre, radius * 0.45, body=False, fine=True)
        return
    if word.endswith("rows") or word.isdigit():
        for u in (0.82, 0.9)[: 2 if "2" in word else 1]:
            pen.poly(
                [
                    track.at(u * length + (0.7 if i % 2 else 0), t * face.half(u))
                    for i, t in enumerate(_steps(-0.85, 0.85, 9))
                ],
                closed=False,
            )
        return
    counts = tooth_counts(word)
    if counts is None or "hooks" in word or face.kind == "point":
        return
    few = min(counts)
    wide = face.half(1.0) * 1.7
    size = min(wide / (few + 1.2), 2.2)
    back = length - (0.2 if face.flat_end else face.tip * 0.28)
    for i in range(few):
        t = (i - (few - 1) / 2) * wide / max(few, 1.0)
        pen.poly(
            [
                track.at(back - size * 1.1, t - size / 2),
                track.at(back, t),
                track.at(back - size * 1.1, t + size / 2),
            ]
        )


def end_on(counts: tuple[int, int], width: float) -> Pen:
    """Both tips looked at end-on, slightly apart, so that the teeth can be counted."""
    pen = Pen()
    height, gap = width * 0.42, width * 0.34
    for flip, count in ((False, min(counts)), (True, max(counts))):
        half = Pen()
        tooth = width / (max(counts) + min(counts))
        edge: list[Point] = [(-width / 2, -gap)]
        for i in range(count):
            middle = (i - (count - 1) / 2) * tooth * 2
            edge += [(middle - tooth, -gap), (middle, -gap + tooth * 1.5), (middle + tooth, -gap)]
        edge += [(width / 2, -gap), (width / 2, -gap - height), (-width / 2, -gap - height)]
        kept = [p for p in edge if abs(p[0]) <= width / 2 + 1e-6]
        half.poly(kept)
        pen.place(half, flip=flip)
    return pen


def face_of(
    look: Look, length: float, root: float, tip: float, *, surface: str | None, teeth: str | None
) -> Face:
    """The face of a jaw from what the record says of it."""
    if look.has("jaw", "triangular"):
        kind = "triangle"
    elif look.has("jaw", "bowed"):
        kind = "bowed"
    elif look.has("jaw", "meet_at_tip") or (
        (counts := tooth_counts(teeth)) is not None
        and min(counts) >= 3
        and tip >= root * 0.6
        and look.family == "grasper"
    ):
        kind = "flared"
    elif look.has("jaw", "loop"):
        kind = "loop"
    elif look.has("jaw", "fenestrated"):
        kind = "oval"
    elif look.has("tip", "round_cup"):
        kind = "cup"
    else:
        kind = "taper"
    return Face(
        length=length,
        root=root,
        tip=tip,
        kind=kind,
        surface=surface,
        teeth=teeth,
        blades_behind=look.has("edge", "scissor_behind"),
    )
