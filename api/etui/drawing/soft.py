"""Tubes, wires, needles, syringes, threads, cloths and vessels: things without jaws."""

from __future__ import annotations

import math

from etui.drawing.look import Look, Panel, middle
from etui.drawing.pen import Pen, Point, arc


def tube(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A tube or catheter: laid out in a curve to its length, with its ends and openings."""
    length = look.length
    wide = diameter(look)
    pen = Pen()
    bulge = look.has("cuff", "yes") or look.knows_any("balloon_ml") or look.has("balloon", "1", "2")
    if length > 190:
        spine = _meander(length)
    else:
        spine = [(length * i / 12, -length * 0.16 * math.sin(math.pi * i / 12)) for i in range(13)]
    if look.has("tip", "coude", "J_soft"):
        spine = _hooked(spine, soft=look.has("tip", "J_soft"))
    count = len(spine)
    pen.ribbon(
        spine, [wide] * count, start="flat", end="point" if look.has("tip", "sharp") else "round"
    )
    if look.has("cuff", "yes"):
        _balloon(pen, spine[-5:-2], wide * 2.1)
    elif bulge:
        _balloon(pen, spine[-4:-2], wide * 2.6)
    if look.has("eyelets", "yes") or (look.family in ("drain", "suction") and wide > 2.5):
        for p in spine[-4:-1]:
            pen.oval(p, min(wide * 0.24, 1.6), min(wide * 0.18, 1.2))
    hub = spine[0]
    if look.family in ("access", "airway") or look.has("connector", "luer"):
        half = max(wide * 0.9, 4.0)
        pen.poly(
            [
                (hub[0] - 11, hub[1] - half),
                (hub[0], hub[1] - half * 0.7),
                (hub[0], hub[1] + half * 0.7),
                (hub[0] - 11, hub[1] + half),
            ]
        )
    tips: list[Panel] = []
    end = Pen()
    _tube_end(end, look, wide)
    tips.append(Panel(end, "end: " + (_tube_words(look)), magnified=True))
    return [
        Panel(
            pen, "laid out, to its full length" if length <= 190 else "folded, to its full length"
        )
    ], tips


def _tube_words(look: Look) -> str:
    words = [w.replace("_", " ") for w in look.words("tip")]
    if look.has("cuff", "yes"):
        words.append("with cuff")
    elif look.has("cuff", "no"):
        words.append("no cuff")
    return ", ".join(words) or "form of the tip not recorded"


def _tube_end(pen: Pen, look: Look, wide: float) -> None:
    long = wide * 5
    part = Pen(
        dashed=not look.words("tip") and not look.words("cuff") and not look.words("eyelets")
    )
    if look.has("tip", "coude"):
        part.ribbon(
            [(0, 0), (long * 0.6, 0), (long * 0.78, -wide * 0.2), (long, -wide * 1.6)],
            [wide] * 4,
            end="round",
        )
    elif look.has("tip", "J_soft"):
        part.ribbon(
            [(0, 0), (long * 0.4, 0), *arc((long * 0.6, -wide * 2), wide * 2, 90, -80, 7)],
            [wide] * 9,
            end="round",
        )
    elif look.has("tip", "sharp", "bevel"):
        part.poly([(0, -wide / 2), (long * 0.8, -wide / 2), (long, wide / 2), (0, wide / 2)])
        part.oval((long * 0.87, 0.04), wide * 0.32, wide * 0.12, turn=38, fine=True)
    else:
        part.ribbon([(0, 0), (long * 0.9, 0)], [wide, wide], end="round")
    pen.place(part)
    if look.has("eyelets", "yes") or look.has("tip", "hole"):
        for u in (0.35, 0.6, 0.8):
            pen.oval((long * u, 0), wide * 0.24, wide * 0.16)
    if look.has("cuff", "yes"):
        pen.curve(
            [
                (long * 0.3, -wide / 2),
                (long * 0.38, -wide),
                (long * 0.62, -wide),
                (long * 0.7, -wide / 2),
            ]
        )
        pen.curve(
            [
                (long * 0.3, wide / 2),
                (long * 0.38, wide),
                (long * 0.62, wide),
                (long * 0.7, wide / 2),
            ]
        )


def diameter(look: Look) -> float:
    """Outer diameter in mm: recorded, else from French gauge (a third of it)."""
    if look.knows("working_width_mm"):
        return look.mm("working_width_mm", 4.0)
    for key in ("french", "fr", "diameter_fr"):
        if look.knows(key):
            return look.mm(key, 12.0) / 3
    look.note("thickness not recorded: drawn at a usual one")
    return 4.0


def _meander(length: float) -> list[Point]:
    """A long thing folded into level runs of 150 mm joined by half circles."""
    run, radius = 140.0, 14.0
    points: list[Point] = []
    left, x, y, direction = length, 0.0, 0.0, 1
    while left > 0:
        step = min(run, left)
        n = max(int(step / 14), 2)
        points += [(x + direction * step * i / n, y) for i in range(n + 1)]
        left -= step
        x += direction * step
        if left <= math.pi * radius:
            break
        turn = arc((x, y + radius), radius, -90, 90, 6)
        points += [(x + direction * (p[0] - x), p[1]) for p in turn[1:-1]]
        y += 2 * radius
        direction = -direction
        left -= math.pi * radius
    return points


def _hooked(spine: list[Point], *, soft: bool) -> list[Point]:
    """Bend the last stretch upwards, as an angled tip."""
    (ax, _), (bx, by) = spine[-2], spine[-1]
    sign = 1 if bx >= ax else -1
    reach = 9.0 if soft else 24.0
    rise = (
        [(0.55, 0.02), (0.9, 0.3), (1.1, 0.62)]
        if not soft
        else [(0.6, 0.1), (1.0, 0.6), (0.7, 1.1), (0.2, 1.0)]
    )
    return [*spine[:-1], *[(bx - sign * reach + sign * reach * u, by - reach * v) for u, v in rise]]


def _balloon(pen: Pen, spine: list[Point], wide: float) -> None:
    a, b = spine[0], spine[-1]
    centre = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    turn = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
    pen.oval(centre, max(math.dist(a, b) * 0.6, wide * 0.6), wide / 2, turn=turn, body=False)


def coil(pen: Pen, length: float, wide: float, *, eyes: bool = False) -> None:
    """A wire, thread or band wound into a coil of its true length."""
    radius = 34.0
    turns = max(length / (2 * math.pi * radius), 0.6)
    count = int(turns * 14) + 4
    points: list[Point] = []
    for i in range(count):
        angle = math.tau * turns * i / (count - 1)
        r = radius - 2.2 * turns * i / (count - 1) * 1.4
        points.append((r * math.cos(angle) * 1.15, r * math.sin(angle) * 0.78))
    if wide > 1.2:
        pen.ribbon(points, [wide] * count, start="round", end="round")
    else:
        pen.curve(points)
    if eyes:
        for p in (points[0], points[-1]):
            pen.oval((p[0], p[1] + 2.4), 2.4, 2.4)


def thread(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A thread, tape or wire in a coil; with a needle where the record names a point."""
    pen = Pen()
    length = look.length if look.pattern.length_mm else 450.0
    coil(pen, length, min(look.mm("working_width_mm", 0.6), 12.0))
    return [Panel(pen, "coiled")], []


def suture_needle(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A needle by its point: curved unless the record says straight; section drawn beside it."""
    pen = Pen()
    chord = look.mm("working_length_mm", 30.0)
    wide = max(look.mm("working_width_mm", 0.8), 0.7)
    if look.has("shape", "straight"):
        spine: list[Point] = [(0, 0), (chord * 0.5, 0), (chord, 0)]
    else:
        spine = arc((0, 0), chord / math.pi, 180, 0, 13)
    pen.ribbon(spine, [wide] * (len(spine) - 2) + [wide * 0.8, 0.1], start="round", end="point")
    look.length_mm = chord
    section = Pen()
    point = look.word("point", "point")
    if point and "cutting" in point:
        section.poly([(0, -1), (0.95, 0.7), (-0.95, 0.7)])
    elif point and "trocar" in point:
        section.poly([(0, -1), (1, 0), (0, 1), (-1, 0)])
    elif point and ("round" in point or "taper" in point):
        section.oval((0, 0), 1.0)
    else:
        unknown = Pen(dashed=True)
        unknown.oval((0, 0), 1.0)
        section.place(unknown)
    return [Panel(pen, "side")], [
        Panel(
            section,
            f"cut across the point: {(point or 'not recorded').replace('_', ' ')}",
            magnified=True,
        )
    ]


def needle(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A hollow needle or cannula on its hub."""
    length = look.length
    wide = max(look.mm("working_width_mm", 1.0), 0.5)
    pen = Pen()
    hub = 13.0
    pen.poly(
        [
            (-hub, -4.2),
            (-hub + 2.5, -4.2),
            (-hub + 3, -3.2),
            (-2, -2.4),
            (0, -1.2),
            (0, 1.2),
            (-2, 2.4),
            (-hub + 3, 3.2),
            (-hub + 2.5, 4.2),
            (-hub, 4.2),
        ]
    )
    pen.poly([(0, -wide / 2), (length - wide * 2, -wide / 2), (length, wide / 2), (0, wide / 2)])
    if look.has("sheath", "plastic"):
        pen.poly(
            [
                (0, -wide * 0.85),
                (length * 0.9, -wide * 0.7),
                (length * 0.9, wide * 0.7),
                (0, wide * 0.85),
            ]
        )
    end = Pen()
    blunt = look.has("tip", "blunt")
    if blunt:
        end.poly([(0, -wide / 2), (wide * 6, -wide / 2), (wide * 6, wide / 2), (0, wide / 2)])
    else:
        end.poly([(0, -wide / 2), (wide * 4.4, -wide / 2), (wide * 6.6, wide / 2), (0, wide / 2)])
        end.oval((wide * 5.2, 0), wide * 0.7, wide * 0.16, turn=24, fine=True)
    return [Panel(pen, "side")], [
        Panel(end, "tip: " + ("blunt" if blunt else "bevelled"), magnified=True)
    ]


def syringe(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A syringe; the barrel follows from the recorded volume or width."""
    volume = look.volume()
    wide = look.mm("working_width_mm", 9.0 if volume is None else 6.0 * max(volume, 0.5) ** 0.36)
    barrel = (
        62.0
        if volume is None
        else min(max(volume * 1000 / (math.pi * (wide / 2) ** 2) * 1.25, 50), 130)
    )
    pen = Pen()
    h = wide / 2
    pen.poly(
        [
            (-barrel * 0.35, -h * 0.7),
            (-barrel * 0.32, -h * 0.7),
            (-barrel * 0.32, h * 0.7),
            (-barrel * 0.35, h * 0.7),
        ]
    )
    pen.poly([(-barrel * 0.32, -h * 0.3), (0, -h * 0.3), (0, h * 0.3), (-barrel * 0.32, h * 0.3)])
    pen.poly([(0, -h - 4), (2.2, -h - 4), (2.2, h + 4), (0, h + 4)])
    pen.poly(
        [
            (2.2, -h),
            (barrel, -h),
            (barrel + 2, -h * 0.5),
            (barrel + 2, h * 0.5),
            (barrel, h),
            (2.2, h),
        ]
    )
    nozzle = 3.4 if look.has("connector", "catheter") else 2.0
    pen.poly(
        [
            (barrel + 2, -nozzle),
            (barrel + 11, -nozzle * 0.7),
            (barrel + 11, nozzle * 0.7),
            (barrel + 2, nozzle),
        ]
    )
    pen.poly(
        [(barrel * 0.34, -h), (barrel * 0.34, h), (barrel * 0.4, h), (barrel * 0.4, -h)], fine=True
    )
    pen.ticks(
        [
            ((barrel * u, -h), (barrel * u, -h * 0.45))
            for u in [0.45 + 0.5 * i / 9 for i in range(10)]
        ]
    )
    if volume is not None:
        look.note(f"volume {volume:g} mL" if volume else "volume not recorded")
    return [Panel(pen, "side")], []


def cloth(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A swab, pack or towel: folded square, loop or thread if it has one, marker if it has one."""
    pen = Pen()
    side = min(look.mm("working_width_mm", 100.0), 260.0)
    known = look.knows("working_width_mm")
    part = Pen(dashed=not known)
    if look.pattern.length_mm and middle(look.pattern.length_mm) > side * 3:
        coil(pen, middle(look.pattern.length_mm), min(side, 20))
        return [Panel(pen, "coiled")], []
    part.poly([(0, 0), (side, side * 0.02), (side * 0.99, side * 0.72), (side * 0.01, side * 0.7)])
    pen.place(part)
    for u in (0.06, 0.12):
        pen.curve(
            [
                (side * 0.01, side * (0.7 - u)),
                (side * 0.5, side * (0.72 - u)),
                (side * 0.99, side * (0.72 - u)),
            ],
            fine=True,
        )
    if look.has("xray_detectable", "yes"):
        pen.curve(
            [
                (side * 0.2, side * 0.1),
                (side * 0.4, side * 0.3),
                (side * 0.3, side * 0.46),
                (side * 0.62, side * 0.5),
                (side * 0.8, side * 0.22),
            ]
        )
        look.note("the line across it is the X-ray marker")
    if look.has("tail", "loop"):
        pen.curve(
            [
                (side, side * 0.06),
                (side * 1.2, -side * 0.06),
                (side * 1.32, side * 0.1),
                (side * 1.15, side * 0.16),
                (side, side * 0.1),
            ]
        )
    elif look.has("tail", "thread"):
        pen.curve([(side, side * 0.36), (side * 1.2, side * 0.4), (side * 1.4, side * 0.3)])
    if not known:
        look.note("size not recorded: outline dashed")
    return [Panel(pen, "flat")], []


def suction_tube(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A rigid suction tube on its handle."""
    length = look.length
    wide = diameter(look)
    pen = Pen()
    grip = length * 0.3
    bend = 34.0 if look.has("tip", "angled") else 18.0
    drop = length * 0.1 * bend / 20
    pen.ribbon(
        [(grip, 0), (length * 0.55, 0), (length * 0.78, drop * 0.35), (length, drop)],
        [wide] * 4,
        end="round",
    )
    pen.ribbon(
        [(0, 0), (grip * 0.1, 0), (grip * 0.5, 0), (grip, 0)],
        [7, 9, 13, 10],
        start="flat",
        end="flat",
    )
    pen.ticks([((grip * u, -5.5), (grip * u, 5.5)) for u in (0.3, 0.4, 0.5, 0.6, 0.7)])
    if look.has("vent", "thumb_hole", "optional"):
        pen.oval((grip * 0.84, -0.6), 2.4, 1.8)
        if look.has("vent", "optional"):
            look.note("comes with and without a thumb hole; drawn with it")
    end = Pen()
    if look.has("tip", "bulbous"):
        pen.oval((length, drop), wide * 0.72, wide * 0.62, turn=20)
        end.ribbon([(0, 0), (wide * 3, 0)], [wide, wide])
        end.oval((wide * 3.4, 0), wide * 0.75, wide * 0.65)
        if look.has("tip", "side_holes"):
            for dx in (-0.2, 0.25):
                end.oval((wide * (3.4 + dx), wide * 0.16), wide * 0.12, wide * 0.1)
    elif look.has("tip", "multi_hole"):
        end.ribbon([(0, 0), (wide * 8, 0)], [wide * 1.2, wide * 1.2], end="round")
        for i in range(10):
            for dy in (-0.3, 0.05, 0.4):
                end.oval((wide * (0.8 + i * 0.7), wide * dy), wide * 0.1, wide * 0.08)
    else:
        end.ribbon([(0, 0), (wide * 6, 0)], [wide, wide], end="flat")
        end.oval((wide * 6, 0), wide * 0.2, wide * 0.5)
    words = " or ".join(w.replace("_", " ") for w in look.words("tip")) or "not recorded"
    return [Panel(pen, "side")], [Panel(end, f"tip: {words}", magnified=True)]


def unknown(look: Look) -> tuple[list[Panel], list[Panel]]:
    """Nothing recorded that could be drawn: a dashed outline of the size, if there is one."""
    wide = look.mm("working_width_mm", 40.0)
    length = look.length if look.pattern.length_mm or look.length_mm else max(wide * 1.5, 60.0)
    high = min(wide, length * 0.7) if look.knows("working_width_mm") else length * 0.4
    pen = Pen(dashed=True)
    r = min(high, length) * 0.12
    pen.curve(
        [
            (r, 0),
            (length - r, 0),
            (length, r),
            (length, high - r),
            (length - r, high),
            (r, high),
            (0, high - r),
            (0, r),
        ],
        closed=True,
    )
    look.note("shape not recorded: only an outline of the size is shown")
    return [Panel(pen, "shape not recorded")], []
