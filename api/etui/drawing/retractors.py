"""Hand-held retractors: a handle and one or two blades, seen from the side and end-on."""

from __future__ import annotations

import re

from etui.drawing.look import Look, Panel
from etui.drawing.pen import Pen, Point, arc


def hand_retractor(look: Look) -> tuple[list[Panel], list[Panel]]:
    """Side view with each blade, and every blade looked at end-on."""
    length = look.length
    blades = look.word("blades")
    if blades is None:
        look.note("form of the blade not recorded: drawn dashed")
    wide = look.mm("working_width_mm", 20.0)
    deep = look.mm("blade_depth_mm", look.mm("working_length_mm", 35.0))
    left, right = _kinds(blades)
    side = Pen()
    reach = {k: _blade_reach(k, deep) for k in (left, right)}
    x0 = reach[left] if left != "none" else 0.0
    x1 = length - reach[right]
    _handle(side, look, x0, x1, double=left != "none")
    for kind, at, mirrored in ((left, x0, True), (right, x1, False)):
        if kind == "none":
            continue
        blade = Pen(dashed=kind == "unknown")
        _blade_side(blade, look, kind, deep)
        # A blade on the left end is the right one turned back to front.
        if mirrored:
            side.place(blade, (at, 0.0), turn=180.0, flip=True)
        else:
            side.place(blade, (at, 0.0))
    tips: list[Panel] = []
    for kind, name in ((right, "blade"), (left, "other blade")):
        if kind == "none" or (name == "other blade" and left == right):
            continue
        pen = Pen(dashed=kind == "unknown")
        _blade_front(pen, look, kind, wide, deep)
        tips.append(Panel(pen, f"{name} end-on: {_said(look, kind)}", magnified=True))
    return [Panel(side, "side")], tips


def _kinds(blades: str | None) -> tuple[str, str]:
    table = {
        "2_double_ended": ("plate", "plate"),
        "2_double_ended_curved": ("scoop", "scoop"),
        "3_prong_rake_and_right_angle": ("plate", "rake"),
        "hooks_and_tongue": ("plate", "rake"),
        "flat_one_end_two_prong_other": ("plate", "rake"),
        "1_right_angle": ("none", "plate"),
        "1_right_angle_long": ("none", "plate"),
        "1_right_angle_curved": ("none", "scoop"),
        "rake_2_to_6_prong": ("none", "rake"),
        "rake_blunt_large": ("none", "rake"),
        "curved_question_mark": ("none", "question"),
        "flat_strip_bendable": ("none", "strip"),
        "1": ("none", "plate"),
        "2_wide_right_angle": ("none", "plate"),
        "1_broad_saddle": ("none", "scoop"),
        "1_broad_curved": ("none", "scoop"),
        "1_toothed": ("none", "toothed"),
        "wire_whisk": ("none", "whisk"),
        "saddle": ("none", "saddle"),
        "small_saddle": ("none", "saddle"),
    }
    if blades is None:
        return ("none", "unknown")
    return table.get(blades, ("none", "plate"))


def _prongs(look: Look) -> int:
    """Number of prongs of a rake as recorded; where it varies, a middle number, and it is said."""
    blades = look.word("blades") or ""
    numbers = [int(n) for n in re.findall(r"\d+", blades)]
    if "to" in blades and len(numbers) == 2:
        look.note(f"comes with {numbers[0]} to {numbers[1]} prongs; drawn with 4")
        return 4
    if "two_prong" in blades:
        return 2
    if "prong" in blades and numbers:
        return numbers[0]
    look.note("number of prongs not recorded; drawn with 2")
    return 2


def _said(look: Look, kind: str) -> str:
    tip = " or ".join(w.replace("_", " ") for w in look.words("tip"))
    words = {
        "plate": "flat",
        "scoop": "curved across",
        "question": "broad strip",
        "strip": "flat strip",
        "toothed": "toothed edge",
        "whisk": "wire loops",
        "saddle": "saddle",
        "unknown": "not recorded",
    }
    if kind == "rake":
        return f"prongs, {tip}" if tip else "prongs"
    return words.get(kind, kind)


def _blade_reach(kind: str, deep: float) -> float:
    return {"question": deep * 0.5, "strip": 0.0, "whisk": deep, "scoop": 7.0, "saddle": 7.0}.get(
        kind, 4.0
    )


def _handle(pen: Pen, look: Look, x0: float, x1: float, *, double: bool) -> None:
    kinds = look.words("handle")
    kind = kinds[0] if kinds else None
    if kind is None:
        look.note("handle not recorded: drawn dashed")
    if len(kinds) > 1:
        look.note(
            "handle comes as "
            + " or ".join(k.replace("_", " ") for k in kinds)
            + f"; drawn as {kind}".replace("_", " ")
        )
    long = x1 - x0
    part = Pen(dashed=kind is None)
    t = 2.2 * look.stout
    if kind in ("none", "flat_plate", "flat", None):
        part.ribbon(
            [(x0, 0), (x0 + long * 0.5, 0), (x1, 0)],
            [t, t, t],
            start="flat" if double else "round",
            end="open",
        )
        if not double and kind == "flat":
            part.ribbon(
                [(x0, 0), (x0 + long * 0.5, 0)], [t * 1.6, t * 1.5], start="round", end="round"
            )
    elif kind in ("loop", "hollow"):
        part.ribbon([(x0 + long * 0.42, 0), (x1, 0)], [t * 1.5, t], end="open")
        high = 9.0 * look.stout
        part.oval((x0 + long * 0.22, 0), long * 0.22, high)
        part.oval((x0 + long * 0.22, 0), long * 0.22 - 3.2, high - 3.2)
    elif kind == "pen":
        part.ribbon(
            [(x0, 0), (x0 + long * 0.2, 0), (x0 + long * 0.55, 0), (x0 + long * 0.66, 0), (x1, 0)],
            [t * 1.6, t * 2.3, t * 2.2, t, t * 0.8],
            start="round",
            end="open",
        )
        part.ticks(
            [
                ((x0 + long * u, -t), (x0 + long * u, t))
                for u in [0.24 + 0.28 * i / 9 for i in range(10)]
            ]
        )
    else:
        part.ribbon(
            [(x0, 0), (x0 + long * 0.08, 0), (x0 + long * 0.4, 0), (x0 + long * 0.46, 0), (x1, 0)],
            [t * 4, t * 4.6, t * 4.2, t * 1.6, t * 1.2],
            start="round",
            end="open",
        )
        part.ticks(
            [
                ((x0 + long * u, -t * 1.9), (x0 + long * u, t * 1.9))
                for u in [0.1 + 0.27 * i / 9 for i in range(10)]
            ]
        )
    pen.place(part)


def _blade_side(pen: Pen, look: Look, kind: str, deep: float) -> None:
    """A blade turned down from the end of the handle at x = 0."""
    t = 1.8 * look.stout
    if kind == "question":
        r = deep * 0.36
        pen.ribbon(
            [
                (-deep * 0.5, 0),
                (-r * 0.3, 0),
                *arc((deep * 0.12, r), r, -100, 70, 8),
                (deep * 0.1, deep * 0.86),
            ],
            [t] * 11,
            start="open",
            end="round",
        )
        return
    if kind == "strip":
        bend = Pen(dashed=True)
        bend.ribbon(
            [(-45, 0), (-20, 0), (-6, 5), (0, 20), (1, 42)], [t] * 5, start="open", end="round"
        )
        pen.place(bend)
        pen.ribbon([(-3, 0), (0, 0)], [t, t], start="open", end="round")
        look.note("bends by hand to any shape; one bend dashed")
        return
    if kind == "whisk":
        pen.ribbon(
            [(0, 0), (deep * 0.2, 0), (deep * 0.6, deep * 0.1), (deep, deep * 0.34)],
            [t, t, t * 0.8, t * 0.6],
            start="open",
            end="round",
        )
        return
    if kind == "saddle":
        pen.ribbon(
            [(0, 0), (4, 0), (7, 3), (6, deep * 0.6), (3.5, deep)],
            [t, t, t, t, t * 0.8],
            start="open",
            end="round",
        )
        return
    if kind == "scoop":
        pen.ribbon(
            [(0, 0), (4, 0.4), (7, 5), (7, deep * 0.55), (4, deep * 0.9), (6.5, deep)],
            [t, t, t, t, t, t * 0.9],
            start="open",
            end="round",
        )
        return
    if kind == "rake":
        sharp = look.has("tip", "sharp")
        pen.ribbon(
            [(0, 0), (2.5, 0.3), (4, 4), (3.2, deep * 0.6), (0.5, deep)],
            [t, t, t, t * 0.9, t * 0.4],
            start="open",
            end="point" if sharp else "round",
        )
        return
    pen.ribbon(
        [(0, 0), (2.2, 0.2), (3.6, 2.5), (3.6, deep * 0.7), (3.2, deep - 1), (1.6, deep)],
        [t, t, t, t, t, t * 0.9],
        start="open",
        end="round",
    )


def _blade_front(pen: Pen, look: Look, kind: str, wide: float, deep: float) -> None:
    """A blade looked at end-on: handle at the top, free end at the bottom."""
    w, d = wide, deep
    neck = min(w * 0.5, 8.0)
    if kind == "rake":
        count = _prongs(look)
        sharp = look.has("tip", "sharp")
        if len(look.words("tip")) > 1:
            look.note("prongs come sharp or blunt; drawn " + ("sharp" if sharp else "blunt"))
        bar = max(d * 0.24, 2.0)
        pen.poly(
            [
                (-neck / 2, -bar),
                (neck / 2, -bar),
                (w / 2, 0),
                (w / 2, bar * 0.8),
                (-w / 2, bar * 0.8),
                (-w / 2, 0),
            ]
        )
        prong = min(w / (count * 1.8), 3.2)
        for i in range(count):
            x = (i - (count - 1) / 2) * (w - prong) / max(count - 1, 1)
            pen.ribbon(
                [(x, bar * 0.6), (x, d * 0.7), (x, d)],
                [prong, prong * 0.85, prong * (0.1 if sharp else 0.8)],
                start="open",
                end="point" if sharp else "round",
            )
        return
    if kind == "whisk":
        pen.ribbon([(0, -d * 0.2), (0, 0)], [3, 3])
        for share in (1.0, 0.6, 0.24):
            pen.curve(
                [
                    (0, 0),
                    (-w / 2 * share, d * 0.4),
                    (-w / 2 * share * 0.9, d * 0.8),
                    (0, d),
                    (w / 2 * share * 0.9, d * 0.8),
                    (w / 2 * share, d * 0.4),
                    (0, 0),
                ]
            )
        return
    edge: list[Point] = [(-w / 2, d * 0.94), (-w * 0.42, d), (w * 0.42, d), (w / 2, d * 0.94)]
    if kind == "toothed":
        teeth = [(-w / 2 + w * i / 10, d if i % 2 else d * 0.93) for i in range(11)]
        edge = teeth
    shoulder = [(w / 2, d * 0.1), (neck / 2, -d * 0.06), (-neck / 2, -d * 0.06), (-w / 2, d * 0.1)]
    pen.poly([*edge, *shoulder])
    if kind in ("scoop", "saddle"):
        # A blade that is hollow across shows its rim as a second line.
        pen.curve([(-w * 0.42, d * 0.14), (-w * 0.36, d * 0.6), (-w * 0.34, d * 0.93)], fine=True)
        pen.curve([(w * 0.42, d * 0.14), (w * 0.36, d * 0.6), (w * 0.34, d * 0.93)], fine=True)
    else:
        pen.poly([(-w * 0.46, d * 0.93), (w * 0.46, d * 0.93)], closed=False, fine=True)
