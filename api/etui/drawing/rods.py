"""Instruments that are one bar: dissectors, probes, hooks, elevators, chisels, curettes."""

from __future__ import annotations

from etui.drawing.look import Look, Panel
from etui.drawing.pen import Pen, Point, arc


def rod(look: Look) -> tuple[list[Panel], list[Panel]]:
    """Front and side of a bar with a working end, and both working ends close up."""
    length = look.length
    wide = look.mm("working_width_mm", 5.0)
    ends = _ends(look)
    reach = min(max(look.mm("working_length_mm", 20.0), 8.0), length * 0.3)
    front, side = Pen(), Pen()
    for pen, is_side in ((front, False), (side, True)):
        double = ends[0] != "none"
        start = reach if double else 0.0
        _shaft(pen, look, start, length - reach)
        if double:
            left = Pen()
            _end(left, ends[0], reach, wide, look, side=is_side)
            pen.place(left, (reach, 0.0), turn=180)
        right = Pen(dashed=ends[1] == "unknown")
        _end(right, ends[1], reach, wide, look, side=is_side)
        pen.place(right, (length - reach, 0.0))
    tips: list[Panel] = []
    for word, which in (
        (ends[1], "working end" if ends[0] == "none" else "one end"),
        (ends[0], "other end"),
    ):
        if word == "none":
            continue
        for is_side in (False, True):
            pen = Pen(dashed=word == "unknown")
            _end(pen, word, reach, wide, look, side=is_side)
            view = "from the side" if is_side else "from the front"
            tips.append(
                Panel(
                    pen,
                    f"{which}, {view}: {SAID.get(word, word.replace('_', ' '))}",
                    magnified=True,
                )
            )
    return [Panel(front, "front"), Panel(side, "side")], tips


SAID = {
    "unknown": "shape not recorded",
    "spade": "flat and round",
    "wedge": "bevelled on both sides",
    "wedge_one": "bevelled on one side",
    "ball": "round knob",
    "pad": "concave pad",
}


def _ends(look: Look) -> tuple[str, str]:
    """Left and right working end; "none" where there is only one."""
    edge, tip = look.word("edge") or "", look.word("tip") or ""
    table = {
        "bevel_both_sides": ("none", "wedge"),
        "bevel_one_side": ("none", "wedge_one"),
        "curved_channel": ("none", "channel"),
        "cup": ("none", "cup"),
        "curved_hook": ("none", "rib_hook"),
        "blunt": ("none", "spade"),
        "semi_sharp": ("none", "spade"),
        "file": ("none", "file"),
        "blunt_both_ends": ("spade", "curved_spade"),
        "sharp_one_end_blunt_other": ("sharp_spade", "spade"),
        "blunt_curved": ("none", "curved_spade"),
        "hook_guarded": ("none", "guarded_hook"),
        "chisel_with_blunt_foot": ("none", "wedge"),
        "probe_and_blade": ("ball", "spade"),
        "sharp_hook": ("none", "sharp_hook"),
        "blunt_hook": ("none", "blunt_hook"),
        "small_blunt_hook": ("none", "blunt_hook"),
        "blunt_eyed_hook": ("none", "eyed_hook"),
        "blunt_hook_groove": ("none", "blunt_hook"),
        "hook": ("none", "sharp_hook"),
    }
    if look.has("jaw", "concave_pad"):
        return ("none", "pad")
    if tip == "blunt_both_ends":
        return ("ball", "ball")
    if look.has("channel", "yes"):
        return ("none", "groove")
    tip = next((word for word in look.words("tip") if "hook" in word), tip)
    if edge in table:
        return table[edge]
    if tip in table:
        if len(look.words("tip")) > 1:
            look.note(
                "point comes sharp or blunt; drawn "
                + SAID.get(table[tip][1], table[tip][1]).replace("_", " ")
            )
        return table[tip]
    if look.has("tip", "sharp"):
        return ("none", "point")
    if look.has("tip", "blunt", "round"):
        return ("none", "ball")
    look.note("working end not recorded: drawn dashed")
    return ("none", "unknown")


def _shaft(pen: Pen, look: Look, x0: float, x1: float) -> None:
    stout = look.stout
    kind = look.word("handle", "handle")
    long = x1 - x0
    thin = 2.2 * stout
    if kind == "butterfly":
        pen.oval((x0 + 8, -5.5), 8, 5, turn=14)
        pen.oval((x0 + 8, 5.5), 8, 5, turn=-14)
        pen.ribbon([(x0 + 10, 0), (x1, 0)], [2.6, 2.2])
        if look.has("channel", "yes"):
            pen.poly([(x0 + 18, 0), (x1, 0)], closed=False, fine=True)
        return
    if kind == "none":
        pen.ribbon(
            [(x0, 0), (x1, 0)], [1.6 * stout, 1.6 * stout], start="round" if x0 == 0 else "flat"
        )
        return
    if look.family in ("bone", "cranial") and kind == "bar":
        grip = 10.0 * stout
        pen.ribbon(
            [
                (x0, 0),
                (x0 + long * 0.03, 0),
                (x0 + long * 0.3, 0),
                (x0 + long * 0.55, 0),
                (x0 + long * 0.62, 0),
                (x1, 0),
            ],
            [grip * 0.9, grip * 1.05, grip * 0.92, grip, grip * 0.6, grip * 0.5],
        )
        pen.ticks(
            [
                ((x0 + long * u, -grip * 0.42), (x0 + long * u, grip * 0.42))
                for u in [0.1 + 0.4 * i / 11 for i in range(12)]
            ]
        )
        return
    part = Pen(dashed=kind is None)
    if x0 == 0:
        part.ribbon(
            [(0, 0), (long * 0.1, 0), (long * 0.5, 0), (long * 0.62, 0), (x1, 0)],
            [thin * 2.0, thin * 2.6, thin * 2.3, thin * 1.2, thin * 0.9],
            start="round",
        )
        held = (0.12, 0.46)
    else:
        part.ribbon(
            [
                (x0, 0),
                (x0 + long * 0.2, 0),
                (x0 + long * 0.32, 0),
                (x0 + long * 0.68, 0),
                (x0 + long * 0.8, 0),
                (x1, 0),
            ],
            [thin * 0.9, thin * 1.2, thin * 2.4, thin * 2.4, thin * 1.2, thin * 0.9],
        )
        held = (0.36, 0.64)
    low, high = held
    part.ticks(
        [
            ((x0 + long * u, -thin * 0.9), (x0 + long * u, thin * 0.9))
            for u in [low + (high - low) * i / 11 for i in range(12)]
        ]
    )
    pen.place(part)


def _end(pen: Pen, kind: str, reach: float, wide: float, look: Look, *, side: bool) -> None:
    """A working end from x = 0 (shaft) to x = reach."""
    stem = 2.0 * look.stout
    if look.family in ("bone", "cranial") and look.has("handle", "bar"):
        stem = 5.0 * look.stout
    half = wide / 2
    prongs = 2 if "2" in look.words("prongs")[:1] else 1
    if kind in ("wedge", "wedge_one"):
        if not side:
            pen.poly(
                [
                    (0, -stem / 2),
                    (reach * 0.2, -half),
                    (reach, -half),
                    (reach, half),
                    (reach * 0.2, half),
                    (0, stem / 2),
                ]
            )
            pen.poly([(reach * 0.86, -half), (reach * 0.86, half)], closed=False, fine=True)
        elif kind == "wedge":
            pen.poly(
                [(0, -stem / 2), (reach * 0.8, -1.6), (reach, 0), (reach * 0.8, 1.6), (0, stem / 2)]
            )
        else:
            pen.poly([(0, -stem / 2), (reach * 0.78, -1.9), (reach, 1.6), (0, stem / 2)])
    elif kind == "channel":
        if not side:
            pen.curve(
                [
                    (0, -stem / 2),
                    (reach * 0.2, -half),
                    (reach * 0.9, -half),
                    (reach, 0),
                    (reach * 0.9, half),
                    (reach * 0.2, half),
                    (0, stem / 2),
                ],
                closed=True,
            )
            pen.curve(
                [
                    (reach * 0.25, -half * 0.55),
                    (reach * 0.9, -half * 0.6),
                    (reach * 0.95, 0),
                    (reach * 0.9, half * 0.6),
                    (reach * 0.25, half * 0.55),
                ],
                fine=True,
            )
        else:
            pen.curve(
                [
                    (0, -stem / 2),
                    (reach * 0.5, -2.6),
                    (reach, -2.2),
                    (reach * 0.9, 1.0),
                    (0, stem / 2),
                ],
                closed=True,
            )
    elif kind == "cup":
        pen.ribbon([(0, 0), (reach * 0.5, 0)], [stem, min(stem, 2.6)], end="open")
        if not side:
            pen.oval((reach * 0.74, 0), reach * 0.26, half)
            pen.oval((reach * 0.75, 0), reach * 0.18, half * 0.66, fine=True)
        else:
            pen.curve(
                [
                    (reach * 0.48, -1.2),
                    (reach * 0.52, half),
                    (reach * 0.76, half * 1.15),
                    (reach, -0.8),
                    (reach * 0.74, -0.4),
                ],
                closed=True,
            )
    elif kind == "rib_hook":
        if not side:
            pen.ribbon(
                [(0, 0), (reach * 0.6, 0), (reach, 0)], [stem, half * 1.4, half * 2], end="round"
            )
        else:
            pen.ribbon(
                [(0, 0), (reach * 0.4, 0), *arc((reach * 0.55, 8), 9, -80, 100, 7)],
                [stem, 4, *[3.4, 3.2, 3.0, 2.8, 2.4, 2.0, 1.0]],
                end="point",
            )
    elif kind == "file":
        pen.ribbon(
            [(0, 0), (reach * 0.2, 0), (reach, 0)],
            [stem, wide if not side else 3, wide if not side else 2],
            end="round",
        )
        if not side:
            pen.ticks(
                [
                    ((reach * u, -half * 0.9), (reach * (u + 0.08), half * 0.9))
                    for u in [0.22 + 0.64 * i / 12 for i in range(13)]
                ]
            )
    elif kind in ("spade", "sharp_spade", "curved_spade"):
        if not side:
            pen.ribbon(
                [(0, 0), (reach * 0.35, 0), (reach * 0.7, 0), (reach - half * 0.9, 0)],
                [stem, max(stem * 0.8, wide * 0.7), wide, wide * 0.92],
                end="round",
            )
            if kind == "sharp_spade":
                pen.curve(
                    [(reach * 0.8, -half * 0.7), (reach * 0.96, 0), (reach * 0.8, half * 0.7)],
                    fine=True,
                )
        else:
            lift = -reach * 0.28 if kind == "curved_spade" else -reach * 0.06
            pen.ribbon(
                [(0, 0), (reach * 0.4, 0), (reach * 0.75, lift * 0.4), (reach, lift)],
                [stem, 1.6, 1.2, 0.7 if kind == "sharp_spade" else 1.0],
                end="point" if kind == "sharp_spade" else "round",
            )
    elif kind in ("sharp_hook", "blunt_hook", "eyed_hook", "guarded_hook"):
        r = max(min(reach * 0.3, 6.0), 2.0)
        thick = [
            stem * 0.8,
            stem * 0.7,
            *[stem * 0.6] * 5,
            stem * 0.55,
            stem * (0.2 if kind == "sharp_hook" else 0.5),
        ]
        if side:
            pen.ribbon(
                [(0, 0), (reach * 0.5, 0), *arc((reach - r, r), r, -90, 90, 7)],
                thick,
                end="point" if kind == "sharp_hook" else "round",
            )
            if kind == "eyed_hook":
                pen.oval((reach - r * 0.8, 2 * r - 0.1), 0.5)
            if kind == "guarded_hook":
                pen.curve(
                    [(reach - r * 1.7, 0.6), (reach - r * 0.5, r), (reach - r * 1.4, r * 1.7)],
                    fine=True,
                )
        else:
            offsets = (0.0,) if prongs == 1 else (-wide * 0.35, wide * 0.35)
            for off in offsets:
                spine: list[Point] = [(0, 0), (reach * 0.55, off * 0.7), (reach, off)]
                pen.ribbon(spine, [stem * 0.8, stem * 0.7, stem * 0.5], end="round")
    elif kind == "groove":
        pen.ribbon([(0, 0), (reach, 0)], [2.2, 1.6], end="round")
        if not side:
            pen.poly([(0, 0), (reach * 0.95, 0)], closed=False, fine=True)
    elif kind == "point":
        pen.ribbon([(0, 0), (reach * 0.8, 0), (reach, 0)], [stem, stem * 0.8, 0.2], end="point")
    elif kind == "pad":
        if side:
            rim = [(reach, -half), (reach * 0.82, -half * 0.5), (reach * 0.76, 0.0)]
            rim += [(reach * 0.82, half * 0.5), (reach, half)]
            back = [(reach * 0.9, half), (reach * 0.7, half * 0.5), (reach * 0.62, 0.0)]
            back += [(reach * 0.7, -half * 0.5), (reach * 0.9, -half)]
            pen.curve([*rim, *back], closed=True)
            pen.ribbon([(0, 0), (reach * 0.63, 0)], [stem, stem * 1.4], end="open")
        else:
            pen.oval((reach - half, 0), half)
            pen.oval((reach - half, 0), half * 0.8, fine=True)
            if reach > wide:
                pen.ribbon([(0, 0), (reach - wide, 0)], [stem, stem * 1.4])
    elif kind == "ball":
        pen.ribbon([(0, 0), (reach - 1.4, 0)], [min(stem, 1.6), 1.2])
        pen.oval((reach - 1.2, 0), 1.3)
    else:
        pen.ribbon(
            [(0, 0), (reach * 0.6, 0), (reach, 0)], [stem, wide * 0.8, wide * 0.8], end="round"
        )
