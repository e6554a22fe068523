"""Scissors: two blades on a screw, seen from the front, from the side, and at the tip."""

from __future__ import annotations

import math
from dataclasses import dataclass

from etui.drawing.jaws import Track
from etui.drawing.look import Look, Panel
from etui.drawing.pen import Pen, Point


@dataclass(frozen=True, slots=True)
class Blades:
    """Sizes of scissors in mm; ``ends``: form of the tip of the upper and of the lower blade."""

    length: float
    blade: float
    wide: float
    tip: float
    ring: float
    shank: float
    bend: float
    ends: tuple[str, str]

    @property
    def joint(self) -> float:
        return self.length - self.blade


def scissors(look: Look) -> tuple[list[Panel], list[Panel]]:
    """Whole views and tip views of scissors."""
    blades = _sizes(look)
    front = Pen()
    _front(front, look, blades, 9.0)
    curves = look.words("curve") or (None,)
    words = " or ".join(c for c in curves if c) or "curve not recorded"
    panels = [Panel(front, "front, a little open"), Panel(_side(look, blades), f"side: {words}")]
    tip = Pen()
    for first in (False, True):
        blade = Pen()
        _blade(blade, look, blades, first=first)
        angle = -9.0 if first else 9.0
        tip.join(blade, (blades.joint, 0.0), angle, flip=not first)
    upper, lower = blades.ends
    ends = f"{upper} and {lower}" if upper != lower else f"both {upper}"
    edge = look.word("edge")
    label = f"blades: tips {ends}" + (f"; edge {edge.replace('_', ' ')}" if edge else "")
    return panels, [Panel(tip, label, magnified=True)]


def _sizes(look: Look) -> Blades:
    length = look.length
    share = (
        0.36
        if not look.has("shank_to_blade", "long") and not look.has("edge", "short_blade")
        else 0.26
    )
    blade = min(max(look.mm("working_length_mm", length * share), length * 0.12), length * 0.48)
    wide = look.mm("working_width_mm", 8 * look.stout)
    tip = look.mm("tip_width_mm", wide * 0.35)
    bend = 0.0
    if look.has("edge", "angled") or look.has("angle", "deg"):
        bend = -38.0
    return Blades(
        length=length,
        blade=blade + wide * 0.5,
        wide=wide,
        tip=tip,
        ring=min(max(length * 0.2, 17), 27) if not look.has("handle", "plastic") else 44,
        shank=3.4 * look.stout,
        bend=bend,
        ends=_ends(look),
    )


def _ends(look: Look) -> tuple[str, str]:
    words = look.words("tip")
    if not words:
        look.note("tips not recorded: ends drawn dashed")
        return ("not recorded", "not recorded")
    word = words[0]
    if len(words) > 1:
        look.note(
            "comes with "
            + " or ".join(w.replace("_", " ") for w in words)
            + " tips; drawn "
            + word.replace("_", " ")
        )
    if word == "sharp_blunt":
        return ("sharp", "blunt")
    if "probe" in word or "inner_blade" in word:
        return ("blunt", "probe-ended")
    return (word.replace("_", " "), word.replace("_", " "))


def _front(pen: Pen, look: Look, blades: Blades, opening: float) -> None:
    joint = (blades.joint, 0.0)
    for first in (False, True):
        half = Pen()
        blade = Pen()
        _blade(blade, look, blades, first=first)
        half.join(blade, joint, blades.bend if first else -blades.bend)
        _handle(half, look, blades)
        pen.join(half, joint, -opening / 2 if first else opening / 2, flip=not first)
    if not look.has("handle", "squeeze"):
        r = min(blades.wide * 0.28, 2.6)
        pen.oval(joint, r)
        pen.poly(
            [(joint[0] - r * 0.6, r * 0.5), (joint[0] + r * 0.6, -r * 0.5)], closed=False, fine=True
        )
    else:
        pen.oval(joint, 0.8)


def _handle(pen: Pen, look: Look, blades: Blades) -> None:
    joint, w = blades.joint, blades.shank
    if look.has("handle", "squeeze") and not look.has("handle", "ring"):
        spine = [
            (0.0, 1.0),
            (joint * 0.12, 3.2),
            (joint * 0.45, 7.6),
            (joint * 0.7, 6.6),
            (joint * 0.92, 1.6),
            (joint + 1.5, -0.5),
        ]
        pen.ribbon(spine, [1.6, 1.8, 2.4, 2.2, 2.0, 1.6], start="round", end="open")
        pen.ticks(
            [
                ((joint * u, 8.4 - abs(u - 0.5) * 6), (joint * u, 6.4 - abs(u - 0.5) * 6))
                for u in (0.4, 0.43, 0.46, 0.49, 0.52, 0.55)
            ]
        )
        return
    if not look.words("handle"):
        look.note("handle not recorded: drawn dashed")
    holder = Pen(dashed=not look.words("handle"))
    rx = blades.ring / 2
    ry = rx * (0.8 if not look.has("handle", "plastic") else 0.62)
    band = 2.5 + 0.5 * look.stout if not look.has("handle", "plastic") else 5.0
    centre = (rx, ry + 0.9)
    holder.finger_ring(centre, rx, ry, band)
    start = (
        centre[0] + (rx - band / 2) * math.cos(math.radians(38)),
        centre[1] - (ry - band / 2) * math.sin(math.radians(38)),
    )
    gap = joint - start[0]
    spine = [
        start,
        (start[0] + gap * 0.2, w * 0.8 + 1.0),
        (start[0] + gap * 0.6, w * 0.7),
        (joint - blades.wide * 0.7, w * 0.35),
        (joint, -0.3),
    ]
    holder.ribbon(
        spine, [w, w, w * 1.1, blades.wide * 0.5, blades.wide * 0.56], start="open", end="open"
    )
    pen.place(holder)


def _blade(pen: Pen, look: Look, blades: Blades, *, first: bool) -> None:
    """The upper blade; its cutting edge runs along the midline, its back bulges upwards."""
    x0, x1 = blades.joint, blades.length
    long, half, tip = blades.blade, blades.wide * 0.56, blades.tip * 0.55
    end = blades.ends[0] if first else blades.ends[1]
    hooked = look.has("edge", "hooked", "crescent")
    sag = long * 0.1 if hooked else 0.0

    def edge(u: float) -> float:
        return 0.5 - sag * math.sin(math.pi * u) * 1.1

    def back(u: float) -> float:
        taper = 2.2 if look.has("edge", "bevelled", "robust") else 1.25
        thick = half + (tip - half) * math.pow(u, taper)
        return -thick - sag * math.sin(math.pi * u)

    us = [i / 10 for i in range(10)]
    upper = [(x0 + long * u, back(u)) for u in us]
    lower = [(x0 + long * u, edge(u)) for u in us]
    if end in ("sharp", "fine"):
        tips: list[Point] = [(x1, 0.3)]
    elif end == "probe-ended":
        r = max(tip * 1.1, 2.0)
        tips = [
            (x1 - r, -tip),
            (x1 + r * 0.4, -r),
            (x1 + r * 1.6, -r * 0.5),
            (x1 + r * 1.8, 0.2),
            (x1 + r * 1.4, r * 0.8),
            (x1, 0.8),
        ]
    elif "flat" in end:
        tips = [(x1 - 1, -tip * 1.1), (x1, -tip * 0.9), (x1, 0.3), (x1 - 0.6, 0.5)]
    else:
        tips = [(x1 - tip * 0.55, -tip * 0.95), (x1, -tip * 0.45), (x1 - tip * 0.15, 0.25)]
    root = [(x0 - half * 1.3, -half * 0.5), (x0 - half * 0.6, -half * 0.9)]
    foot = [(x0 - half * 0.2, half * 0.75), (x0 - half * 1.3, half * 0.5)]
    unknown = end == "not recorded"
    body = [*root, *upper, *tips, *lower[::-1], *foot]
    if unknown:
        pen.poly(body, dashed=True)
    else:
        pen.poly(body)
    if look.has("edge", "bevelled", "robust"):
        pen.curve([(x0 + long * u, back(u) * 0.5 + 0.1) for u in (0.12, 0.4, 0.7, 0.93)], fine=True)
    serrated = look.has("edge", "serrated")
    both = look.has("edge", "serrated_notched")
    if serrated and (both or not first):
        pen.ticks(
            [
                ((x0 + long * u, 0.5), (x0 + long * u, -half * 0.3))
                for u in [0.14 + 0.8 * i / 22 for i in range(23)]
            ]
        )
    if look.has("edge", "notched") and not first:
        at = x1 - long * 0.2 if not both else x0 + long * 0.14
        r = max(tip * 1.2, 1.4)
        pen.poly(
            [
                (at - r, 0.6),
                (at - r * 0.9, -r * 0.5),
                (at - r * 0.2, -r * 1.1),
                (at + r * 0.5, -r * 0.9),
                (at + r * 0.75, -r * 0.2),
                (at + r * 0.4, 0.6),
            ]
        )
    if look.has("edge", "anvil") and not first:
        pen.poly(
            [(x0 + long * 0.15, 0.4), (x1 - 1.5, 0.4), (x1 - 1.5, 1.4), (x0 + long * 0.15, 1.4)]
        )


def _side(look: Look, blades: Blades) -> Pen:
    """On edge: thin blades, with each curve in which the pattern comes."""
    pen = Pen()
    curves: tuple[str | None, ...] = look.words("curve")
    if not curves:
        look.note("curve not recorded: the blades are drawn straight and dashed")
        curves = (None,)
    thick = 1.8 * look.stout + 0.4
    for i, curve in enumerate(reversed(curves)):
        part = Pen(dashed=curve is None or i < len(curves) - 1)
        track = Track(blades.blade, curve, (blades.joint, 0.0))
        spine = [track.at(blades.blade * k / 8) for k in range(9)]
        end = "point" if "sharp" in blades.ends else "round"
        part.ribbon(spine, [thick * (1.3 - 0.75 * k / 8) for k in range(9)], end=end)
        pen.place(part)
    rings = blades.ring if look.has("handle", "ring") else blades.joint * 0.4
    pen.ribbon(
        [(0, 0), (rings * 0.6, 0), (rings, 0), (blades.joint - 8, 0), (blades.joint + 2, 0)],
        [thick * 1.5, thick * 1.6, thick * 1.2, thick * 1.3, thick * 1.5],
        start="round",
    )
    return pen
