"""Self-retaining retractors and spreaders: prongs on crossing arms, frames, racks, specula."""

from __future__ import annotations

import re

from etui.drawing.look import Look, Panel
from etui.drawing.pen import Pen, Point


def self_retaining(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A retractor that holds itself: by ratchet, frame, rack, screw or spring."""
    if look.family == "rib_spreader" or look.has("handle", "crank", "thumbscrew"):
        return _rack(look)
    if look.has("handle", "frame"):
        return _frame(look)
    if look.has("blades", "wire"):
        return _wire(look)
    if look.has("blades", "prong", "point"):
        return _pronged(look)
    if look.has("blades", "2") and look.has("handle", "lever", "squeeze"):
        return _speculum(look)
    if look.has("part", "accessory"):
        return _spare_blade(look)
    return _unknown(look)


def _unknown(look: Look) -> tuple[list[Panel], list[Panel]]:
    pen = Pen(dashed=True)
    pen.poly([(0, 0), (look.length, 0), (look.length, look.length * 0.4), (0, look.length * 0.4)])
    look.note("shape not recorded: only the overall size is shown")
    return [Panel(pen, "shape not recorded")], []


# -- crossing arms -----------------------------------------------------------------------------
def _pronged(look: Look) -> tuple[list[Panel], list[Panel]]:
    length, stout = look.length, look.stout
    joint = length * 0.62
    left, right = _prong_counts(look)
    wide = look.mm("working_width_mm", 16.0)
    deep = look.mm("blade_depth_mm", look.mm("working_length_mm", 14.0))
    sharp = look.has("tip", "sharp")
    if len(look.words("tip")) > 1:
        look.note("prongs come sharp or blunt; drawn sharp")
    front = Pen()
    for first in (False, True):
        half = Pen()
        _arm(half, look, length, joint, wide, right if first else left, sharp)
        front.join(half, (joint, 0.0), -9.0 if first else 9.0, flip=not first)
    front.oval((joint, 0), 3.0 * stout)
    front.oval((joint, 0), 1.0, body=False, fine=True)
    if not look.has("lock", "none"):
        # The catch lies between the handles, where the thumb releases it.
        bar = Pen(dashed=not look.words("lock"))
        bar.ribbon(
            [(joint * 0.56, -joint * 0.1), (joint * 0.5, joint * 0.1)],
            [3.0, 3.0],
            start="round",
            end="round",
        )
        front.place(bar)
        front.ticks(
            [
                (
                    (joint * 0.5 + 1.4 - i * 0.3, joint * 0.02 + i * 2.0),
                    (joint * 0.5 - 1.4 - i * 0.3, joint * 0.02 + i * 2.0),
                )
                for i in range(4)
            ]
        )
    panels = [Panel(front, "front, opened")]
    tip = Pen()
    for side, count in ((-1, left), (1, right)):
        for i in range(count):
            y = (i - (count - 1) / 2) * wide / max(count - 1, 1)
            x = side * wide * 0.3
            tip.ribbon(
                [(x, y), (x + side * deep * 0.5, y), (x + side * deep, y * 1.04)],
                [wide * 0.1, wide * 0.085, wide * (0.01 if sharp else 0.07)],
                start="open",
                end="point" if sharp else "round",
            )
        tip.poly(
            [
                (side * wide * 0.3, -wide * 0.62),
                (side * wide * 0.3, wide * 0.62),
                (side * wide * 0.14, wide * 0.5),
                (side * wide * 0.14, -wide * 0.5),
            ]
        )
    words = " or ".join(w.replace("_", " ") for w in look.words("tip")) or "points not recorded"
    return panels, [
        Panel(tip, f"prongs from above: {left} against {right}, {words}", magnified=True)
    ]


def _prong_counts(look: Look) -> tuple[int, int]:
    for word in look.words("blades"):
        found = re.match(r"(\d)x(\d)", word)
        if found:
            return int(found[1]), int(found[2])
    look.note("number of prongs not recorded; drawn with 4 on each side")
    return 4, 4


def _arm(
    pen: Pen, look: Look, length: float, joint: float, wide: float, prongs: int, sharp: bool
) -> None:
    """The half whose ring lies below and whose arm ends above the midline, prongs turned out."""
    w = 3.4 * look.stout
    ring = min(max(length * 0.17, 15), 26)
    if look.has("handle", "ring", "screw"):
        centre = (ring / 2, ring * 0.42 + 1.2)
        pen.finger_ring(centre, ring / 2, ring * 0.4, 2.8)
        start: Point = (ring * 0.88, ring * 0.2)
    else:
        look.note("handle not recorded: drawn dashed")
        start = (0, 5)
    pen.ribbon(
        [
            start,
            (joint * 0.5, w * 1.3 + 1),
            (joint - 6, w * 0.6),
            (joint, 0),
            (joint + (length - joint) * 0.5, -w * 1.7),
            (length - 5, -w * 1.4),
            (length - 2, -w * 1.4),
        ],
        [w, w, w * 1.1, w * 1.3, w, w * 0.9, w * 0.9],
        start="open",
        end="round",
    )
    if look.has("handle", "hinged_arms"):
        at = (joint + (length - joint) * 0.45, -w * 1.65)
        pen.oval(at, w * 0.75)
        pen.oval(at, 0.8, body=False, fine=True)
    for i in range(prongs):
        x = length - 3 - i * min(wide / max(prongs - 1, 1), (length - joint) * 0.2)
        pen.ribbon(
            [(x, -w * 1.6), (x + 0.8, -w * 2.4), (x + 1.6, -w * 3.1)],
            [1.6, 1.4, 0.3 if sharp else 1.2],
            start="open",
            end="point" if sharp else "round",
        )


# -- frames and racks --------------------------------------------------------------------------
def _frame(look: Look) -> tuple[list[Panel], list[Panel]]:
    length = look.length
    wide = look.mm("working_width_mm", 35.0)
    deep = look.mm("blade_depth_mm", 45.0)
    spread = length * 0.72
    pen = Pen()
    t = 5.0
    for y in (-spread / 2, spread / 2):
        pen.ribbon([(0, y), (length * 0.86, y)], [t, t], start="round", end="round")
        pen.ribbon(
            [(length * 0.86, y - wide / 2), (length * 0.86, y + wide / 2)],
            [4, 4],
            start="round",
            end="round",
        )
        _window_blade(pen, length * 0.86, y, wide, 13)
    pen.ribbon(
        [(length * 0.1, -spread / 2 - 12), (length * 0.1, spread / 2 + 12)],
        [t * 1.2, t * 1.2],
        start="round",
        end="round",
    )
    if look.has("lock", "rack"):
        pen.ticks(
            [
                ((length * 0.1 - 2.4, y), (length * 0.1 + 2.4, y))
                for u in range(24)
                if abs(y := -spread * 0.4 + spread * 0.8 * u / 23) < spread
            ]
        )
    else:
        pen.oval((length * 0.1, spread / 2), 5)
        pen.ticks([((length * 0.1 - 3.5, spread / 2), (length * 0.1 + 3.5, spread / 2))])
    if look.has("blades", "plus_centre"):
        pen.ribbon([(length * 0.1, 0), (length * 0.7, 0)], [t, t], end="round")
        pen.oval((length * 0.1, 0), 5.5)
        pen.poly(
            [
                (length * 0.7, -wide * 0.7),
                (length * 0.78, -wide * 0.8),
                (length * 0.8, 0),
                (length * 0.78, wide * 0.8),
                (length * 0.7, wide * 0.7),
            ]
        )
    blade = Pen()
    _blade_end_on(blade, wide, deep, window=True)
    return [Panel(pen, "from above, opened")], [Panel(blade, "side blade end-on", magnified=True)]


def _window_blade(pen: Pen, x: float, y: float, wide: float, reach: float) -> None:
    side = 1 if y > 0 else -1
    pen.curve(
        [
            (x + 2, y - wide * 0.42),
            (x + 2 + reach, y - wide * 0.3 + side * 3),
            (x + 2 + reach, y + wide * 0.3 + side * 3),
            (x + 2, y + wide * 0.42),
        ]
    )
    pen.curve(
        [
            (x + 2, y - wide * 0.26),
            (x + reach - 2, y - wide * 0.16 + side * 2),
            (x + reach - 2, y + wide * 0.16 + side * 2),
            (x + 2, y + wide * 0.26),
        ],
        fine=True,
    )


def _rack(look: Look) -> tuple[list[Panel], list[Panel]]:
    """Two arms on a toothed bar; a crank or a thumbscrew drives the one that moves."""
    if look.has("part", "accessory"):
        return _spare_part(look)
    length = look.length
    wide = look.mm("working_width_mm", 45.0)
    deep = look.mm("blade_depth_mm", 40.0)
    arm = length * 0.62
    spread = length * 0.44
    pen = Pen()
    rack = Pen(dashed=not look.words("lock"))
    rack.ribbon([(7, -length * 0.38), (7, length * 0.62)], [11, 11])
    pen.place(rack)
    if look.words("lock"):
        pen.ticks(
            [
                ((8.5, y), (12.4, y))
                for y in [-length * 0.36 + length * 0.96 * i / 54 for i in range(55)]
            ]
        )
    top, low = -spread / 2, spread / 2
    for y, moving in ((top, False), (low, True)):
        pen.ribbon(
            [(6, y), (arm * 0.3, y), (arm * 0.75, y * 1.0), (arm, y)],
            [13, 11, 9.5, 9],
            start="round",
            end="round",
        )
        if moving:
            pen.poly([(-3, y - 11), (17, y - 11), (17, y + 11), (-3, y + 11)])
        _spreader_blade(pen, look, arm, y, wide, -1 if not moving else 1)
    words = look.words("handle")
    if look.has("handle", "crank"):
        pen.oval((7, low), 5)
        pen.ribbon(
            [(7, low), (-24, low + 8), (-26, low + 8)], [4, 3.4, 3.4], start="round", end="round"
        )
        pen.oval((-26, low + 8), 5.5)
    elif look.has("handle", "thumbscrew"):
        pen.oval((-9, low), 6, 8)
        pen.ticks([((-13, low + d), (-5, low + d)) for d in (-4.0, 0.0, 4.0)])
        pen.oval((7, low), 3)
        if len(words) > 1:
            look.note("comes with and without a thumbscrew; drawn with it")
    else:
        look.note("drive not recorded")
    blade = Pen()
    _blade_end_on(blade, wide, deep, window=look.has("blades", "fenestrated"))
    label = " or ".join(w.replace("_", " ") for w in look.words("blades")) or "not recorded"
    if look.has("blades", "exchangeable"):
        look.note("blades come off and are changed")
    return [Panel(pen, "from above, opened")], [
        Panel(blade, f"blade end-on: blades {label}", magnified=True)
    ]


def _spreader_blade(pen: Pen, look: Look, arm: float, y: float, wide: float, side: int) -> None:
    """A blade on the end of an arm, seen from above: its plate and the lip that holds the rib."""
    known = bool(look.words("blades"))
    plate = Pen(dashed=not known)
    depth = 7.0 if look.has("blades", "shallow") else 10.0
    half = wide / 2
    x = arm - 6
    plate.poly(
        [
            (x - half, y),
            (x - half + 2, y + side * depth),
            (x + half - 2, y + side * depth),
            (x + half, y),
        ]
    )
    plate.curve(
        [
            (x - half + 3, y + side * (depth - 2.2)),
            (x, y + side * (depth - 3.4)),
            (x + half - 3, y + side * (depth - 2.2)),
        ],
        fine=True,
    )
    pen.place(plate)
    if look.has("blades", "exchangeable"):
        pen.oval((x, y), 3.2)
        pen.poly([(x - 1.8, y), (x + 1.8, y)], closed=False, fine=True)


def _blade_end_on(pen: Pen, wide: float, deep: float, *, window: bool) -> None:
    w, d = wide / 2, deep
    pen.curve(
        [
            (-w, d * 0.9),
            (-w * 0.7, d),
            (w * 0.7, d),
            (w, d * 0.9),
            (w * 0.94, d * 0.3),
            (w * 0.6, 0),
            (-w * 0.6, 0),
            (-w * 0.94, d * 0.3),
        ],
        closed=True,
    )
    if window:
        pen.curve(
            [
                (-w * 0.62, d * 0.74),
                (0, d * 0.84),
                (w * 0.62, d * 0.74),
                (w * 0.56, d * 0.3),
                (0, d * 0.2),
                (-w * 0.56, d * 0.3),
            ],
            closed=True,
        )


def _spare_part(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A loose part of a spreader."""
    pen = Pen()
    if look.has("lock", "rack"):
        pen.ribbon([(7, -70), (7, 70)], [11, 11])
        pen.ticks([((8.5, y), (12.4, y)) for y in range(-66, 67, 4)])
        for y in (-40, 40):
            pen.ribbon([(6, y), (110, y)], [13, 9], start="round", end="round")
        return [Panel(pen, "frame without blades and crank")], []
    if look.knows("blade_depth_mm"):
        return _spare_blade(look)
    return _unknown(look)


def _spare_blade(look: Look) -> tuple[list[Panel], list[Panel]]:
    pen = Pen()
    wide, deep = look.mm("working_width_mm", 50.0), look.mm("blade_depth_mm", 50.0)
    _blade_end_on(pen, wide, deep, window=False)
    pen.poly([(-4, 0), (4, 0), (4, -8), (-4, -8)])
    look.length_mm = max(wide, deep)
    return [Panel(pen, "loose blade end-on")], []


# -- specula -----------------------------------------------------------------------------------
def _wire(look: Look) -> tuple[list[Panel], list[Panel]]:
    length = look.length
    pen = Pen()
    for s in (-1, 1):
        pen.curve(
            [
                (0, 0),
                (length * 0.1, s * length * 0.13),
                (length * 0.5, s * length * 0.22),
                (length * 0.78, s * length * 0.24),
                (length, s * length * 0.3),
                (length * 0.98, s * length * 0.42),
                (length * 0.74, s * length * 0.4),
                (length * 0.7, s * length * 0.26),
            ]
        )
    return [Panel(pen, "front: one spring wire")], []


def _speculum(look: Look) -> tuple[list[Panel], list[Panel]]:
    length = look.length
    wide = look.mm("working_width_mm", 24.0)
    pen = Pen()
    joint = length * 0.34
    for s in (-1, 1):
        pen.ribbon(
            [
                (joint, s * 2),
                (joint + (length - joint) * 0.5, s * wide * 0.3),
                (length, s * wide * 0.3),
            ],
            [wide * 0.22, wide * 0.2, wide * 0.14],
            start="round",
            end="round",
        )
    if look.has("handle", "lever"):
        pen.ribbon(
            [(joint, 0), (joint - 5, wide * 1.0), (joint - 16, wide * 2.1)],
            [7, 6, 6],
            start="round",
            end="round",
        )
        pen.ribbon([(joint, -3), (joint - 14, -wide * 0.7)], [5, 5], start="round", end="round")
    else:
        for s in (-1, 1):
            pen.ribbon(
                [(joint, s * 1.5), (joint * 0.7, s * 8), (0, s * 13)],
                [3.4, 3, 3],
                start="round",
                end="round",
            )
    if look.has("lock", "screw"):
        pen.ribbon([(joint - 8, -wide * 0.34), (joint - 24, -wide * 0.34)], [3, 3], end="round")
        pen.oval((joint - 18, -wide * 0.34), 2.2, 5)
    pen.oval((joint, 0), 3)
    blade = Pen()
    blade.ribbon(
        [(0, 0), ((length - joint) * 0.4, 0), (length - joint - wide * 0.3, 0)],
        [wide * 0.7, wide, wide * 0.9],
        end="round",
    )
    return [Panel(pen, "side, opened")], [Panel(blade, "flat of one blade", magnified=True)]
