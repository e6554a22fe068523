"""Bone instruments: saws, drills, mallets, wires, chisels on a handle."""

from __future__ import annotations

from etui.drawing.knives import knife
from etui.drawing.look import Look, Panel
from etui.drawing.pen import Pen, arc
from etui.drawing.pliers import plier
from etui.drawing.rods import rod
from etui.drawing.soft import coil


def bone_tool(look: Look) -> tuple[list[Panel], list[Panel]]:
    """Pick the build of a bone instrument by its handle, edge and part."""
    if look.has("part", "wire_only") or look.has("edge", "braided_wire"):
        return _wire_saw(look)
    if look.has("part", "bit"):
        return _bit(look)
    if look.has("part", "blade_only"):
        return knife(look)
    if look.has("handle", "squeeze", "two_long", "lever"):
        return plier(look)
    if look.has("handle", "pistol"):
        return _pistol(look)
    if look.has("handle", "L_shaped"):
        return _l_shaped(look)
    if look.has("handle", "T"):
        return _t_handle(look)
    if look.has("handle", "crank") and not look.has("handle", "ratchet"):
        return _brace(look)
    if look.has("head", "steel", "soft") or (
        look.has("handle", "bar")
        and look.has("weight", "heavy")
        and not look.words("edge")
        and not look.words("blade")
    ):
        return _mallet(look)
    if look.has("edge", "saw") or look.has("blade", "rigid", "toothed"):
        return _hand_saw(look)
    if look.has("power", "electric", "battery", "mains", "pneumatic"):
        return _pistol(look)
    return rod(look)


def _pistol(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A body on a pistol grip: punch, saw, drill, stapler."""
    length = look.length
    pen = Pen()
    tips: list[Panel] = []
    if look.has("jaw", "foot_plate"):
        shaft = length * 0.68
        pen.ribbon([(length - shaft, 0), (length - 4, 0)], [5, 5])
        pen.poly([(length - shaft, -1), (length - 4, -1)], closed=False, fine=True)
        foot = Pen()
        foot.poly(
            [
                (-14, 2.5),
                (-14, -2.5),
                (-4, -2.5),
                (-3.2, -1),
                (-3.2, 0),
                (-1.6, 0),
                (-1.6, -4.5),
                (0, -4.5),
                (0, 2.5),
            ]
        )
        foot.poly([(-14, 0), (-3.2, 0)], closed=False, fine=True)
        pen.place(foot, (length, 0))
        tips.append(Panel(foot, "foot plate and punch", magnified=True))
        _grip(pen, length - shaft, 34, two=True)
        return [Panel(pen, "side")], tips
    body = length * 0.52
    pen.curve(
        [(0, -13), (body * 0.5, -15), (body, -10), (body, 8), (body * 0.5, 12), (0, 10)],
        closed=True,
    )
    _grip(pen, body * 0.42, 70)
    if look.has("part", "driver_only") or look.has("needs_partner", "bit", "burr"):
        pen.poly([(body, -8), (body + 14, -5), (body + 14, 4), (body, 7)])
        pen.ticks([((body + 3, -7), (body + 3, 6)), ((body + 6, -6.4), (body + 6, 5.4))])
        rest = Pen(dashed=True)
        rest.ribbon([(body + 14, -0.5), (length, -0.5)], [3, 2])
        pen.place(rest)
        look.note("the bit is another piece: dashed")
    elif look.has("blade", "oscillating", "sagittal"):
        pen.ribbon([(body, -1), (body + 14, -1)], [9, 8])
        pen.poly([(body + 14, -4), (length, -9), (length, 7), (body + 14, 2)])
        pen.ticks([((length, y), (length + 2, y + 0.8)) for y in range(-8, 7, 2)])
    else:
        known = look.words("blade") or look.words("edge")
        blade = Pen(dashed=not known)
        blade.poly([(body, -4), (length, -3), (length, 3), (body, 4)])
        blade.ticks(
            [
                ((x, 4), (x + 1.4, 5.6))
                for x in [body + 4 + i * 3 for i in range(int((length - body - 6) / 3))]
            ]
        )
        pen.place(blade)
        if look.has("blade", "guard"):
            pen.poly(
                [
                    (length - 3, -3),
                    (length + 4, -3),
                    (length + 4, 9),
                    (length - 6, 9),
                    (length - 6, 7),
                    (length, 7),
                    (length, 3),
                ]
            )
        if not known:
            look.note("blade not recorded: drawn dashed")
    return [Panel(pen, "side")], tips


def _grip(pen: Pen, x: float, reach: float, *, two: bool = False) -> None:
    if two:
        pen.ribbon(
            [(x, 0), (x - 14, reach * 0.5), (x - 20, reach * 1.6)],
            [7, 6, 6],
            start="round",
            end="round",
        )
        pen.ribbon(
            [(x + 8, 2), (x + 6, reach * 0.6), (x, reach * 1.5)],
            [6, 5, 5],
            start="round",
            end="round",
        )
        pen.curve([(x - 12, reach * 0.7), (x - 2, reach * 0.4), (x + 5, reach * 0.9)], fine=True)
        return
    pen.ribbon(
        [(x, 10), (x - 8, reach * 0.6), (x - 14, reach)], [26, 24, 26], start="open", end="round"
    )
    pen.curve([(x + 14, 12), (x + 20, 20), (x + 10, 26)])


def _l_shaped(look: Look) -> tuple[list[Panel], list[Panel]]:
    """A chisel on an L: struck on its face, led by a blunt foot under the bone."""
    length, t = look.length, 8.0 * look.stout
    pen = Pen()
    pen.ribbon([(0, 0), (length * 0.5, 0), (length - 16, 0)], [t, t * 0.9, t * 0.8], start="round")
    pen.poly(
        [
            (length * 0.2, -t / 2),
            (length * 0.2, -t * 1.9),
            (length * 0.2 - 14, -t * 1.9),
            (length * 0.2 - 14, -t / 2),
        ]
    )
    end = Pen()
    end.poly([(-16, -3), (0, -3), (2, 6), (0, 18), (-7, 18), (-9, 3), (-16, 3)])
    end.curve([(0, 18), (9, 20), (12, 22), (9, 25), (-7, 24), (-7, 18)], closed=False)
    end.poly([(0, -3), (3.6, 12), (0, 18)], closed=False)
    pen.place(end, (length - 12, 0))
    return [Panel(pen, "side")], [Panel(end, "cutting edge above the blunt foot", magnified=True)]


def _t_handle(look: Look) -> tuple[list[Panel], list[Panel]]:
    length = look.length
    pen = Pen()
    bar = min(length * 0.9, 90.0)
    pen.ribbon([(5, -bar / 2), (5, 0), (5, bar / 2)], [9, 10, 9], start="round", end="round")
    if look.has("edge", "crown"):
        pen.ribbon([(9, 0), (length - 16, 0)], [7, 7])
        wide = look.mm("working_width_mm", 18.0)
        pen.poly(
            [
                (length - 16, -wide / 2),
                (length, -wide / 2),
                *[(length + (1.6 if i % 2 else 0), -wide / 2 + wide * i / 12) for i in range(13)],
                (length - 16, wide / 2),
            ]
        )
    elif look.has("part", "handle_only"):
        pen.ribbon([(9, 0), (22, 0)], [5, 4])
        pen.ribbon(
            [(22, 0), (26, 0), *arc((30, -3), 5, 100, -120, 6)],
            [3, 2.6, 2.4, 2.2, 2, 2, 1.8, 1.6],
            end="round",
        )
        look.length_mm = bar
    else:
        pen.ribbon([(9, 0), (length, 0)], [6, 5], end="round")
    return [Panel(pen, "front")], []


def _brace(look: Look) -> tuple[list[Panel], list[Panel]]:
    length = look.length
    pen = Pen()
    t = 7.0
    throw = length * 0.22
    pen.ribbon([(0, 0), (8, 0)], [26, 24], start="round", end="flat")
    pen.ribbon(
        [
            (8, 0),
            (length * 0.22, 0),
            (length * 0.3, -throw * 0.4),
            (length * 0.36, -throw),
            (length * 0.6, -throw),
            (length * 0.66, -throw * 0.4),
            (length * 0.74, 0),
            (length * 0.92, 0),
        ],
        [t] * 8,
        end="flat",
    )
    pen.ribbon(
        [(length * 0.4, -throw), (length * 0.48, -throw), (length * 0.56, -throw)],
        [13, 16, 13],
        start="round",
        end="round",
    )
    if look.has("part", "whole") or look.words("stop"):
        pen.ribbon([(length * 0.92, 0), (length, 0)], [3, 1], end="point")
        if look.has("stop", "adjustable"):
            pen.poly(
                [(length * 0.94, -5), (length * 0.955, -5), (length * 0.955, 5), (length * 0.94, 5)]
            )
    else:
        pen.poly([(length * 0.9, -7), (length, -5), (length, 5), (length * 0.9, 7)])
        pen.ticks(
            [
                ((length * 0.92, -6.5), (length * 0.92, 6.5)),
                ((length * 0.94, -6.2), (length * 0.94, 6.2)),
            ]
        )
        look.note("the bit is another piece")
    return [Panel(pen, "side")], []


def _mallet(look: Look) -> tuple[list[Panel], list[Panel]]:
    length = look.length
    pen = Pen()
    pen.ribbon(
        [(0, 0), (length * 0.3, 0), (length * 0.6, 0), (length - 20, 0)],
        [15, 17, 12, 10],
        start="round",
    )
    pen.ticks(
        [((length * u, -7), (length * u, 7)) for u in [0.08 + 0.3 * i / 11 for i in range(12)]]
    )
    pen.poly([(length - 32, -30), (length, -30), (length, 30), (length - 32, 30)])
    for y in (-24, 24):
        pen.poly([(length - 32, y), (length, y)], closed=False, fine=True)
    if len(look.words("head")) > 1:
        look.note("head comes " + " or ".join(w.replace("_", "-") for w in look.words("head")))
    return [Panel(pen, "side")], []


def _hand_saw(look: Look) -> tuple[list[Panel], list[Panel]]:
    length = look.length
    pen = Pen()
    grip = min(length * 0.32, 110)
    pen.ribbon([(0, 6), (grip * 0.5, 2), (grip, 0)], [22, 20, 18], start="round")
    deep = min(max(look.mm("working_width_mm", length * 0.09), 12.0), 40.0)
    pen.poly(
        [
            (grip, -deep / 2),
            (length - 4, -deep * 0.4),
            (length, deep * 0.3),
            (length - 2, deep / 2),
            (grip, deep / 2),
        ]
    )
    pen.poly(
        [
            (grip + i * 2.5, deep / 2 + (1.6 if i % 2 else 0))
            for i in range(int((length - grip) / 2.5))
        ],
        closed=False,
    )
    return [Panel(pen, "side")], []


def _wire_saw(look: Look) -> tuple[list[Panel], list[Panel]]:
    pen = Pen()
    coil(pen, look.length, max(look.mm("working_width_mm", 1.4), 1.0), eyes=True)
    tip = Pen()
    for s in (-1, 1):
        tip.curve(
            [
                (x, s * (0.45 if i % 2 else -0.45))
                for i, x in enumerate([k * 0.9 for k in range(24)])
            ]
        )
    return [Panel(pen, "coiled, a loop at each end")], [
        Panel(tip, "the wire: twisted strands", magnified=True)
    ]


def _bit(look: Look) -> tuple[list[Panel], list[Panel]]:
    length = look.length
    wide = look.mm("working_width_mm", 10.0)
    pen = Pen()
    fit = look.word("fitting")
    shank = Pen(dashed=fit is None)
    shank.poly([(0, -3), (length * 0.18, -4), (length * 0.18, 4), (0, 3)])
    shank.ribbon([(length * 0.18, 0), (length * 0.66, 0)], [5, 5])
    pen.place(shank)
    head = Pen()
    half = wide / 2
    if look.has("tip", "round") or look.has("shape", "cylindrical"):
        if look.has("shape", "cylindrical"):
            head.poly([(0, -half), (wide * 1.1, -half), (wide * 1.1, half), (0, half)])
            head.ticks(
                [((wide * u, -half), (wide * (u + 0.25), half)) for u in (0.0, 0.2, 0.4, 0.6, 0.8)]
            )
        else:
            head.oval((half, 0), half)
            head.ticks(
                [
                    ((half + half * 0.9 * c, -half * 0.9 * s), (half + half * 0.4 * c, half * 0.3))
                    for c, s in ((-0.8, 0.6), (-0.3, 0.95), (0.3, 0.95), (0.8, 0.6))
                ]
            )
    else:
        head.poly([(0, -2.5), (wide * 0.3, -half), (wide * 0.9, 0), (wide * 0.3, half), (0, 2.5)])
        head.poly(
            [(wide * 0.3, -half), (wide * 0.4, 0), (wide * 0.3, half)], closed=False, fine=True
        )
    if look.has("clutch", "yes"):
        pen.poly(
            [
                (length * 0.4, -half),
                (length * 0.66, -half),
                (length * 0.66, half),
                (length * 0.4, half),
            ]
        )
        look.note("a clutch lets go when the skull is through")
    pen.place(head, (length * 0.66, 0))
    if fit is None:
        look.note("fitting of the shank not recorded: dashed")
    label = " or ".join(w.replace("_", " ") for w in look.words("tip")) or "point not recorded"
    return [Panel(pen, f"side: {fit.replace('_', ' ') if fit else 'fitting not recorded'}")], [
        Panel(head, f"cutting end: {label}", magnified=True)
    ]
