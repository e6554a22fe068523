"""Thumb forceps: two spring arms joined at the held end."""

from __future__ import annotations

from dataclasses import replace

from etui.drawing.jaws import Face, Track, draw_face, end_on, face_of, tooth_counts
from etui.drawing.look import Look, Panel
from etui.drawing.pen import Pen, Point
from etui.drawing.ringed import SURFACE_WORDS


def thumb_forceps(look: Look) -> tuple[list[Panel], list[Panel]]:
    """Front (flat side of an arm), side (both arms, open) and tip views of thumb forceps."""
    length = look.length
    tip = look.mm("tip_width_mm", 1.8)
    wide = look.mm("working_width_mm", 5)
    grip = max(wide * 2.0, 8.0) * (1.15 if look.has("grip", "broad") else 1.0)
    if look.has("weight", "heavy"):
        grip *= 1.1
    side = _side(look, length)
    front = _front(look, length, grip, wide, tip)
    faces = _faces(look, tip, wide)
    panels = [Panel(side, "side, open"), Panel(front, "flat of one arm")]
    tips: list[Panel] = []
    for face in faces:
        pen = Pen()
        draw_face(
            pen,
            Track(face.length, None),
            face,
            known=face.surface is not None
            or face.teeth not in (None, "none")
            or look.has("tip", "needle_fine", "sharp_point"),
        )
        surface = SURFACE_WORDS.get(face.surface or "", "surface not recorded")
        teeth = (
            ""
            if not face.teeth
            else (
                ", no teeth" if face.teeth == "none" else f", teeth {face.teeth.replace('_', ' ')}"
            )
        )
        tips.append(Panel(pen, f"inner face of the tip: {surface}{teeth}", magnified=True))
    for face in faces:
        counts = tooth_counts(face.teeth)
        if counts and "rows" not in (face.teeth or ""):
            tips.append(
                Panel(
                    end_on(counts, max(tip, 1.5)),
                    f"tips end-on: {min(counts)} against {max(counts)}",
                    magnified=True,
                )
            )
            break
    return panels, tips


def _faces(look: Look, tip: float, wide: float) -> list[Face]:
    surfaces: tuple[str | None, ...] = look.words("jaw_surface")
    teeth: tuple[str | None, ...] = look.words("teeth")
    if not surfaces and not any(t and t != "none" for t in teeth):
        look.note("surface of the tips not recorded: dashed")
    surfaces, teeth = surfaces or (None,), teeth or (None,)
    # The recorded working length is that of the whole slender part; the close-up shows its end.
    length = min(look.mm("working_length_mm", 25), 22.0)
    base = face_of(look, length, max(wide * 0.85, tip), tip, surface=surfaces[0], teeth=teeth[0])
    result: list[Face] = []
    for i in range(max(len(surfaces), len(teeth))):
        result.append(
            replace(
                base,
                surface=surfaces[min(i, len(surfaces) - 1)],
                teeth=teeth[min(i, len(teeth) - 1)],
            )
        )
    return result[:3]


def _offsets(look: Look, length: float) -> list[Point]:
    """The middle line: straight, or stepped aside where the pattern is offset (bayonet)."""
    if look.has("shape", "offset"):
        drop = length * 0.09
        return [
            (0, 0),
            (length * 0.3, 0),
            (length * 0.52, 0),
            (length * 0.6, drop),
            (length * 0.75, drop),
            (length, drop),
        ]
    return [
        (0, 0),
        (length * 0.3, 0),
        (length * 0.52, 0),
        (length * 0.62, 0),
        (length * 0.78, 0),
        (length, 0),
    ]


def _side(look: Look, length: float) -> Pen:
    """Both arms, sprung open."""
    pen = Pen()
    gap = min(length * 0.075, 11.0)
    thick = 1.5 * look.stout
    for sign in (1, -1):
        spine: list[Point] = [
            (0.0, sign * thick * 0.5),
            (length * 0.1, sign * (gap * 0.35 + 0.6)),
            (length * 0.35, sign * gap * 0.95),
            (length * 0.62, sign * gap * 0.95),
            (length * 0.86, sign * gap * 0.62),
            (length, sign * gap * 0.32),
        ]
        pen.ribbon(
            spine,
            [thick, thick, thick * 1.1, thick * 1.25, thick * 1.15, thick * 0.6],
            start="round",
            end="point" if look.has("tip", "sharp", "fine") else "round",
        )
    pen.ribbon(
        [(-0.8, 0), (length * 0.06, 0)], [thick * 2.1, thick * 2.6], start="round", end="round"
    )
    if not look.has("handle", "thumb"):
        look.note("handle not recorded")
    return pen


def _front(look: Look, length: float, grip: float, wide: float, tip: float) -> Pen:
    pen = Pen()
    spine = _offsets(look, length)
    narrow = max(min(wide, grip * 0.55), tip)
    widths = [grip * 0.62, grip, grip * 0.92, narrow * 1.25, narrow, tip]
    if look.has("grip", "broad"):
        # A broad thumb plate that ends abruptly where the slender tips begin.
        spine = [
            (0, 0),
            (length * 0.2, 0),
            (length * 0.45, 0),
            (length * 0.66, 0),
            (length * 0.76, 0),
            (length, 0),
        ]
        widths = [grip * 0.62, grip * 1.05, grip * 1.15, grip * 1.05, narrow * 0.9, tip]
    if look.has("tip", "round_cup"):
        widths = [grip * 0.62, grip, grip * 0.92, narrow * 0.8, narrow * 0.6, narrow * 0.6]
    end = "point" if look.has("tip", "sharp", "needle_fine") else "round"
    pen.ribbon(spine, widths, start="round", end=end)
    if look.has("tip", "round_cup"):
        pen.oval((length - tip * 0.5, 0), tip * 0.62, tip * 0.5)
    low, high = (0.24, 0.44) if not look.has("grip", "broad") else (0.3, 0.6)
    pen.ticks(
        [
            ((length * u, -grip * 0.32), (length * u, grip * 0.32))
            for u in [low + (high - low) * i / 11 for i in range(12)]
        ]
    )
    if look.has("handle", "pierced"):
        for u in (0.14, 0.19, 0.5, 0.55):
            pen.oval((length * u, 0), grip * 0.15)
    if look.has("handle", "fenestrated"):
        pen.oval((length * 0.52, 0), length * 0.06, grip * 0.2)
    if look.has("handle", "insulated"):
        pen.ribbon(
            [(length * 0.02, 0), (length * 0.86, 0)],
            [grip * 1.15, narrow * 1.5],
            fine=True,
            body=False,
            start="round",
            end="round",
        )
    if look.has("grip", "scraper"):
        pen.ribbon([(-7, 0), (-4, 0), (0, 0)], [grip * 0.8, grip * 0.7, grip * 0.5])
    return pen
