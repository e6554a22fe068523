"""Scalpels and knives: handles with their fitting, and blades by the form of their edge."""

from __future__ import annotations

from etui.drawing.look import Look, Panel
from etui.drawing.pen import Pen, Point

FITTING = {"small": (13.0, 3.4), "large": (16.0, 4.6)}
"""Length and width (mm) of the slotted part that takes the blade; usual sizes, from memory."""


def knife(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A handle, a blade, or a knife in one piece."""
    if look.has("part", "blade_only") or look.family == "scalpel_blade":
        return _loose_blade(look)
    pen = Pen()
    length = look.length
    tips: list[Panel] = []
    if look.has("edge", "circular"):
        _pen_handle(pen, length * 0.9, 7.0)
        pen.poly([(length * 0.9, -2.5), (length, -2.5), (length, 2.5), (length * 0.9, 2.5)])
        pen.oval((length, 0), 0.8, 2.5)
        return [Panel(pen, "front")], []
    if look.has("part", "handle_only"):
        reach, wide = FITTING.get(look.word("fitting") or "", (12.0, 3.4))
        body = length - reach
        _handle(pen, look, body)
        fitting = Pen()
        _fitting(fitting, look, reach, wide)
        pen.place(fitting, (body, 0.0))
        close = Pen()
        _handle_end(close, look, wide)
        close.place(fitting)
        word = look.word("fitting", "fitting")
        tips.append(
            Panel(
                close,
                f"end that takes the blade: {word or 'fitting not recorded'}"
                + (" fitting" if word in FITTING else ""),
                magnified=True,
            )
        )
        return [Panel(pen, "flat side")], tips
    blade_long = min(look.mm("working_length_mm", length * 0.3), length * 0.7)
    wide = look.mm("working_width_mm", 10.0)
    edge = look.word("edge", "edge")
    body = length - blade_long
    if look.has("handle", "bar"):
        _bar(pen, body, max(wide * 0.9, 12.0))
    else:
        _handle(pen, look, body)
    blade = Pen(dashed=edge in (None, "as_blade_number"))
    if edge == "as_blade_number":
        look.note("the blade is the one whose number is printed on it: drawn dashed")
    if look.has("edge", "guarded_notch"):
        _notch(blade, blade_long, wide)
    else:
        _blade_outline(blade, edge or "curved_belly", blade_long, wide, slot=None)
    pen.place(blade, (body, -wide / 2))
    return [Panel(pen, "flat side")], tips


def _loose_blade(look: Look) -> tuple[list[Panel], list[Panel]]:
    pen = Pen()
    edge = look.word("edge", "form of the edge")
    cutting = look.mm("working_length_mm", 28.0)
    wide = look.mm("working_width_mm", 7.0)
    fitting = look.word("fitting")
    if edge == "crescent_notch":
        _notch(pen, look.length, wide)
        return [Panel(pen, "flat side")], []
    reach, slot = FITTING.get(fitting or "", (6.0, 2.0))
    if look.has("edge", "toothed"):
        _toothed_blade(pen, cutting, wide)
        return [Panel(pen, "flat side")], []
    part = Pen(dashed=edge is None)
    _blade_outline(
        part,
        edge or "curved_belly",
        cutting + reach * 0.75,
        wide,
        slot=(reach, slot) if fitting in FITTING else None,
    )
    pen.place(part)
    look.length_mm = cutting + reach * 0.75
    word = (edge or "edge not recorded").replace("_", " ")
    fits = f", {fitting} fitting" if fitting in FITTING else (f", {fitting}" if fitting else "")
    return [Panel(pen, f"flat side: {word}{fits}")], []


def _blade_outline(
    pen: Pen, edge: str, long: float, w: float, slot: tuple[float, float] | None
) -> None:
    """A blade with its back at y = 0 and its edge below; the slot takes the handle."""
    heel = (slot[0] if slot else long * 0.1) * 0.8
    start: list[Point] = [(heel * 0.12, w), (0.0, w * 0.62), (heel * 0.3, 0.0)]
    if not slot:
        start = [(0.0, w * 0.8), (0.0, w * 0.15)]
    if edge == "straight_oblique":
        pen.poly([*start, (long, w * 0.08), (heel + 3, w), (heel, w)])
        line: list[Point] = [(long - 2, w * 0.16), (heel + 3, w * 0.9)]
    elif edge == "concave_hook":
        pen.curve(
            [
                *start,
                (heel * 1.1, 0.0),
                (long * 0.72, -w * 0.1),
                (long * 0.93, w * 0.4),
                (long, w * 1.15),
                (long * 0.9, w * 0.86),
                (long * 0.76, w * 0.7),
                (heel + (long - heel) * 0.3, w * 0.82),
                (heel, w),
            ],
            closed=True,
        )
        line = []
    elif edge in ("small_curved_belly", "narrow_curved_belly"):
        n = 0.52 if edge == "small_curved_belly" else 0.4
        pen.poly(
            [
                *start,
                (heel * 1.2, 0.0),
                *_bend(
                    [
                        (heel * 1.6, w * 0.1),
                        (long * 0.6, w * (1 - n) * 0.7),
                        (long * 0.9, w * (1 - n)),
                        (long, w * (1 - n * 0.62)),
                        (long * 0.96, w * 0.92),
                        (long * 0.86, w),
                    ]
                ),
                (heel, w),
            ]
        )
        line = [(long * 0.55, w * 0.86), (long * 0.84, w * 0.86)]
    elif edge == "leaf":
        pen.poly(
            [
                *start,
                (heel * 1.2, 0.0),
                *_bend(
                    [
                        (long * 0.55, 0.0),
                        (long * 0.82, w * 0.12),
                        (long, w * 0.5),
                        (long * 0.84, w * 0.9),
                        (long * 0.6, w),
                    ]
                ),
                (heel, w),
            ]
        )
        line = [
            (heel + 2, w * 0.86),
            (long * 0.6, w * 0.86),
            (long * 0.82, w * 0.78),
            (long * 0.95, w * 0.5),
        ]
    elif edge == "semicircular_large":
        pen.poly(
            [
                *start,
                (heel * 1.2, 0.0),
                *_bend(
                    [
                        (long * 0.66, -w * 0.02),
                        (long * 0.86, w * 0.05),
                        (long * 0.98, w * 0.3),
                        (long, w * 0.6),
                        (long * 0.92, w * 1.02),
                        (long * 0.76, w * 1.18),
                        (long * 0.6, w * 1.12),
                    ]
                ),
                (heel, w),
            ]
        )
        line = [
            (long * 0.6, w * 0.98),
            (long * 0.76, w * 1.04),
            (long * 0.9, w * 0.9),
            (long * 0.96, w * 0.6),
        ]
    elif edge == "angled_large":
        pen.poly([*start, (long * 0.62, 0.0), (long, w * 0.95), (long * 0.9, w), (heel, w)])
        line = [(heel + 2, w * 0.88), (long * 0.88, w * 0.88)]
    elif edge in ("long_straight", "straight", "plain", "wedge_serrated", "serrated_long"):
        pen.poly(
            [
                *start,
                *_bend(
                    [
                        (long * 0.5, 0.0),
                        (long * 0.82, w * 0.06),
                        (long, w * 0.5),
                        (long * 0.9, w * 0.88),
                        (long * 0.75, w),
                    ]
                ),
                (0.0, w),
            ]
        )
        line = [(2, w * 0.84), (long * 0.74, w * 0.84), (long * 0.88, w * 0.74)]
        if "serrated" in edge:
            pen.ticks(
                [
                    ((long * u, w), (long * u - 1.2, w - 2))
                    for u in [0.06 + 0.7 * i / 24 for i in range(25)]
                ]
            )
    else:
        pen.poly(
            [
                *start,
                (heel * 1.2, 0.0),
                *_bend(
                    [
                        (long * 0.66, 0.0),
                        (long * 0.86, w * 0.05),
                        (long, w * 0.34),
                        (long * 0.95, w * 0.68),
                        (long * 0.84, w * 0.93),
                        (long * 0.68, w),
                    ]
                ),
                (heel, w),
            ]
        )
        line = [
            (heel + 2, w * 0.86),
            (long * 0.66, w * 0.86),
            (long * 0.82, w * 0.8),
            (long * 0.92, w * 0.62),
        ]
    if line:
        pen.curve(line, fine=True)
    if slot:
        _slot(pen, slot, w)


def _bend(points: list[Point]) -> list[Point]:
    """Points of a curve in place of its corner points, for use inside a polygon."""
    result: list[Point] = []
    for i in range(len(points) - 1):
        a, b = points[max(i - 1, 0)], points[i]
        c, d = points[i + 1], points[min(i + 2, len(points) - 1)]
        for k in range(4):
            t = k / 4
            result.append(
                tuple(  # type: ignore[arg-type]
                    0.5
                    * (
                        2 * b[j]
                        + (c[j] - a[j]) * t
                        + (2 * a[j] - 5 * b[j] + 4 * c[j] - d[j]) * t * t
                        + (3 * b[j] - a[j] - 3 * c[j] + d[j]) * t**3
                    )
                    for j in (0, 1)
                )
            )
    return [*result, points[-1]]


def _slot(pen: Pen, slot: tuple[float, float], w: float) -> None:
    """The keyhole by which the blade slides on its handle."""
    reach, wide = slot
    y, half = w * 0.45, min(wide, w * 0.5) / 2
    pen.poly(
        [
            (reach * 0.28, y - half),
            (reach * 0.62, y - half),
            (reach * 0.66, y - half * 0.55),
            (reach * 1.05, y - half * 0.55),
            (reach * 1.05, y + half * 0.55),
            (reach * 0.66, y + half * 0.55),
            (reach * 0.62, y + half),
            (reach * 0.28, y + half),
        ]
    )


def _notch(pen: Pen, long: float, w: float) -> None:
    """A blunt end with a cutting crescent set back into it."""
    w = max(w, 5.0)
    pen.poly(
        [
            (0, 0),
            *_bend(
                [(long * 0.8, 0), (long * 0.96, w * 0.06), (long, w * 0.2), (long * 0.98, w * 0.3)]
            ),
            *_bend(
                [
                    (long * 0.97, w * 0.34),
                    (long * 0.9, w * 0.4),
                    (long * 0.88, w * 0.55),
                    (long * 0.92, w * 0.68),
                    (long * 0.96, w * 0.72),
                ]
            ),
            (long * 0.98, w * 0.86),
            (long * 0.94, w),
            (0, w),
        ]
    )
    pen.curve(
        [
            (long * 0.95, w * 0.3),
            (long * 0.86, w * 0.38),
            (long * 0.84, w * 0.55),
            (long * 0.9, w * 0.74),
        ],
        fine=True,
    )


def _toothed_blade(pen: Pen, long: float, w: float) -> None:
    teeth = [(long * i / 40, w + (1.2 if i % 2 else 0.0)) for i in range(40, 7, -1)]
    pen.poly(
        [
            (-long * 0.18, w * 0.25),
            (0, w * 0.1),
            (long, 0),
            *teeth,
            (0, w * 0.9),
            (-long * 0.18, w * 0.75),
        ]
    )
    pen.oval((-long * 0.09, w * 0.5), min(w * 0.14, 1.6))


def _handle(pen: Pen, look: Look, body: float) -> None:
    wide = look.mm("working_width_mm", 9.0) if look.has("part", "handle_only") else 10.0
    kind = look.word("handle", "handle")
    if kind in ("pen", "slender"):
        _pen_handle(pen, body, wide)
        return
    part = Pen(dashed=kind is None)
    h = wide
    part.ribbon(
        [(0, 0), (body * 0.05, 0), (body * 0.35, 0), (body * 0.62, 0), (body * 0.86, 0), (body, 0)],
        [h * 0.72, h * 0.95, h * 0.98, h * 0.82, h * 1.02, h * 0.6],
        start="round",
    )
    part.ticks(
        [
            ((body * u, -h * 0.36), (body * u, h * 0.36))
            for u in [0.68 + 0.2 * i / 9 for i in range(10)]
        ]
    )
    part.ribbon(
        [(body * 0.07, 0), (body * 0.55, 0)],
        [h * 0.36, h * 0.3],
        start="round",
        end="round",
        body=False,
        fine=True,
    )
    pen.place(part)


def _pen_handle(pen: Pen, body: float, wide: float) -> None:
    pen.ribbon(
        [(0, 0), (body * 0.3, 0), (body * 0.62, 0), (body * 0.76, 0), (body * 0.9, 0), (body, 0)],
        [wide * 0.5, wide * 0.42, wide * 0.42, wide * 0.95, wide, wide * 0.6],
        start="round",
    )
    pen.ticks(
        [
            ((body * u, -wide * 0.38), (body * u, wide * 0.38))
            for u in [0.75 + 0.18 * i / 9 for i in range(10)]
        ]
    )


def _handle_end(pen: Pen, look: Look, wide: float) -> None:
    h = look.mm("working_width_mm", 9.0)
    pen.ribbon([(-16, 0), (-6, 0), (0, 0)], [h, h, max(h * 0.6, wide + 1)], start="open")


def _fitting(pen: Pen, look: Look, reach: float, w: float) -> None:
    """The flat tongue with its ridge, or a chuck, or a dashed one where it is not recorded."""
    if look.has("fitting", "chuck"):
        pen.poly([(0, -2.6), (7, -2.6), (reach, -1.6), (reach, 1.6), (7, 2.6), (0, 2.6)])
        pen.ticks([((x, -2.5), (x, 2.5)) for x in (1.2, 2.4, 3.6, 4.8)])
        pen.poly([(7, 0), (reach, 0)], closed=False, fine=True)
        return
    part = Pen(dashed=not look.words("fitting"))
    part.poly([(0, -w / 2), (reach * 0.9, -w / 2), (reach, -w * 0.2), (reach, w * 0.5), (0, w / 2)])
    part.poly(
        [
            (reach * 0.2, -w * 0.2),
            (reach * 0.84, -w * 0.2),
            (reach * 0.84, w * 0.22),
            (reach * 0.2, w * 0.22),
        ],
        fine=True,
    )
    part.ticks([((reach * 0.12, -w / 2), (reach * 0.2, w / 2))])
    pen.place(part)


def _bar(pen: Pen, body: float, wide: float) -> None:
    pen.ribbon(
        [(0, 0), (body * 0.1, 0), (body * 0.5, 0), (body * 0.94, 0), (body, 0)],
        [wide * 0.8, wide, wide * 0.86, wide, wide * 0.9],
        start="round",
    )
    pen.ticks(
        [
            ((body * u, -wide * 0.4), (body * u, wide * 0.4))
            for u in [0.15 + 0.6 * i / 13 for i in range(14)]
        ]
    )
