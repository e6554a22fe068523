"""Cutters, nibblers and pliers: squeezed handles on one or two joints."""

from __future__ import annotations

from etui.drawing.look import Look, Panel
from etui.drawing.pen import Pen


def plier(look: Look) -> tuple[list[Panel], list[Panel]]:
    """Two squeezed handles on one or two joints, with the jaws that the record names."""
    length, stout = look.length, look.stout
    jaw = min(look.mm("working_length_mm", length * 0.16), length * 0.35)
    joint = length - jaw - 8
    w = 6.0 * stout
    double = look.has("handle", "double") or look.has("action_type", "double")
    if len(look.words("action_type")) > 1 or (double and look.has("handle", "single")):
        look.note("comes with one or two joints; drawn with two")
    pen, tip = Pen(), Pen()
    pivot = joint - (16 if double else 0)
    for first in (False, True):
        half = Pen()
        straight = look.has("handle", "two_long")
        bow = 4 if straight else 15
        half.ribbon(
            [
                (0, bow + 5),
                (pivot * 0.2, bow + 3),
                (pivot * 0.6, bow * 0.8),
                (pivot - 10, 4.5),
                (pivot, 0),
                (pivot + 8, -3),
            ],
            [w, w * 1.1, w * 1.1, w * 1.15, w * 1.3, w],
            start="round",
            end="round",
        )
        pen.join(half, (pivot, 0.0), -2.0 if first else 2.0, flip=not first)
    if look.has("spring", "yes"):
        pen.curve([(pivot * 0.25, 15), (pivot * 0.6, 2), (pivot * 0.86, 0)], fine=True)
        pen.curve([(pivot * 0.25, -15), (pivot * 0.6, -2), (pivot * 0.86, 0)], fine=True)
    jaws = Pen()
    for first in (False, True):
        half = Pen()
        _plier_jaw(half, look, jaw + 8, first=first)
        jaws.join(half, (0.0, 0.0), -7.0 if first else 7.0, flip=not first)
    bend = -24 if look.has("curve", "angled") else 0
    pen.place(jaws, (joint, 0), turn=bend)
    tip.place(jaws)
    pen.oval((pivot, 0), 3.4 * stout)
    if double:
        for y in (-5.5, 5.5):
            pen.oval((joint - 2, y), 2.4)
    words = look.words("edge") or look.words("jaw")
    label = " or ".join(x.replace("_", " ") for x in words) or "jaws not recorded"
    return [Panel(pen, "front, a little open")], [Panel(tip, f"jaws: {label}", magnified=True)]


def _plier_jaw(pen: Pen, look: Look, long: float, *, first: bool) -> None:
    """The upper jaw from the joint at 0, inner edge on the midline."""
    wide = min(look.mm("working_width_mm", 9.0), 20.0)
    half = max(wide * 0.55, 3.0)
    if look.has("edge", "hooked"):
        if first:
            pen.curve(
                [
                    (0, -half),
                    (long * 0.5, -half * 1.5),
                    (long * 0.95, -half * 1.2),
                    (long, half * 0.4),
                    (long * 0.86, half * 0.3),
                    (long * 0.7, -half * 0.3),
                    (long * 0.3, -half * 0.2),
                    (0, half * 0.4),
                ],
                closed=True,
            )
        else:
            pen.poly(
                [
                    (0, -half),
                    (long * 0.75, -half),
                    (long * 0.86, -half * 0.4),
                    (long * 0.7, 0),
                    (0, half * 0.4),
                ]
            )
    elif look.has("jaw", "cupped") or look.has("edge", "concave"):
        narrow = 0.7 if look.has("jaw", "narrow") else 1.0
        pen.curve(
            [
                (0, -half * 0.8),
                (long * 0.4, -half * 0.8),
                (long * 0.8, -half * 1.05 * narrow),
                (long, -half * 0.2),
                (long * 0.97, 0.2),
                (long * 0.8, -half * 0.5 * narrow),
                (long * 0.5, -half * 0.1),
                (0, half * 0.3),
            ],
            closed=True,
        )
        pen.curve(
            [
                (long * 0.58, -half * 0.34),
                (long * 0.8, -half * 0.7 * narrow),
                (long * 0.95, -half * 0.16),
            ],
            fine=True,
        )
    elif look.has("edge", "end"):
        pen.poly(
            [(0, -half), (long * 0.8, -half * 0.9), (long, -half * 0.3), (long, 0), (0, half * 0.4)]
        )
        pen.poly([(long * 0.9, -half * 0.62), (long * 0.88, 0)], closed=False, fine=True)
    elif look.has("jaw", "shear") or look.has("edge", "anvil"):
        pen.curve(
            [
                (0, -half),
                (long * 0.4, -half * 1.2),
                (long * 0.9, -half * 0.7),
                (long, -half * 0.1),
                (long * 0.6, half * 0.1),
                (0, half * 0.4),
            ],
            closed=True,
        )
        pen.curve(
            [(long * 0.2, -half * 0.2), (long * 0.6, -half * 0.3), (long * 0.94, -half * 0.14)],
            fine=True,
        )
    elif look.has("edge", "blades"):
        pen.poly(
            [
                (0, -half),
                (long * 0.3, -half * 0.95),
                (long * 0.9, -half * 0.5),
                (long, -0.3),
                (long, 0.1),
                (0, half * 0.4),
            ]
        )
        pen.poly([(long * 0.22, -half * 0.3), (long * 0.98, -half * 0.16)], closed=False, fine=True)
    elif look.has("jaw", "narrow", "flat"):
        slim = 0.5 if look.has("jaw", "narrow") else 1.0
        pen.poly(
            [
                (0, -half),
                (long * 0.3, -half * 0.8),
                (long, -half * 0.5 * slim),
                (long, 0),
                (0, half * 0.4),
            ]
        )
        pen.ticks(
            [
                ((long * u, 0), (long * u, -half * 0.3 * slim))
                for u in [0.36 + 0.6 * i / 12 for i in range(13)]
            ]
        )
    else:
        unknown = Pen(dashed=True)
        unknown.poly(
            [(0, -half), (long * 0.4, -half * 0.9), (long, -half * 0.4), (long, 0), (0, half * 0.4)]
        )
        pen.place(unknown)
