"""Two halves on a joint: clamps, graspers, needle holders, towel clips, dilators.

The front view shows the finger rings round and the jaws a little open; the side view shows what
the jaws do out of that plane (curve, window); the tip views show the inner face of a jaw.
"""

from __future__ import annotations

from etui.drawing.clamp_parts import Build, build_of, half, is_hooked, jaw_front, joint_mark
from etui.drawing.jaws import Face, Track, draw_face, end_on, face_of, tooth_counts
from etui.drawing.look import Look, Panel
from etui.drawing.pen import Pen

SURFACE_WORDS = {
    "transverse_full": "cross ridges, full length",
    "transverse_distal": "cross ridges, far half only",
    "transverse_fine": "fine cross ridges",
    "transverse": "cross ridges",
    "longitudinal": "ridges along the jaw",
    "atraumatic_rows": "fine rows that do not crush",
    "cross_hatched": "cross-hatched",
    "cross_hatch": "cross-hatched",
    "cross_hatch_fine": "finely cross-hatched",
    "cross_hatch_often_with_groove": "cross-hatched, often with a groove",
    "longitudinal_with_cross_hatch_tip": "ridges along the jaw, crossed at the tip",
    "smooth": "smooth",
    "fine": "fine ridges",
    "present": "ridges",
}
"""Jaw surfaces in plain words."""


def ringed(look: Look) -> tuple[list[Panel], list[Panel]]:
    """Whole views and tip views of a clamp-like instrument with finger rings or springs."""
    build = build_of(look)
    face = _faces(look, build)
    front = Pen()
    _front(front, look, build, face[0])
    panels = [Panel(front, "front, jaws a little open")]
    panels.append(Panel(_side(look, build, face[0]), _side_label(look)))
    return panels, _tips(look, build, face)


def _faces(look: Look, build: Build) -> list[Face]:
    """One face per form: jaw surface and teeth as recorded, unknown ones noted."""
    plain_jaw = look.has("jaw", "soft_insert", "grooved", "loop", "guarded", "toothed_plastic")
    pointed = look.has("tip", "sharp_points") or look.has("teeth", "hooks") or is_hooked(look)
    surfaces: tuple[str | None, ...] = look.words("jaw_surface")
    if not surfaces and look.has("jaw", "serrated", "ridged"):
        surfaces = ("transverse_full",)
    if not surfaces and not plain_jaw and not pointed:
        look.note("jaw surface not recorded: the face is left plain and dashed")
    teeth: tuple[str | None, ...] = look.words("teeth")
    if (
        not teeth
        and look.family in ("haemostat", "grasper", "vascular_clamp")
        and not plain_jaw
        and not pointed
        and not surfaces
    ):
        look.note("teeth not recorded")
    surfaces, teeth = surfaces or (None,), teeth or (None,)
    faces: list[Face] = []
    count = max(len(surfaces), len(teeth))
    for i in range(count):
        faces.append(
            face_of(
                look,
                build.jaw,
                build.root,
                build.tip,
                surface=surfaces[min(i, len(surfaces) - 1)],
                teeth=teeth[min(i, len(teeth) - 1)],
            )
        )
    return faces[:3]


def _front(pen: Pen, look: Look, build: Build, face: Face) -> None:
    turn = build.opening / 2
    lower, upper = Pen(), Pen()
    half(lower, look, build, face, first=False)
    half(upper, look, build, face, first=True)
    joint = (build.joint, 0.0)
    pen.join(lower, joint, turn, flip=True)
    pen.join(upper, joint, -turn)
    joint_mark(pen, look, build)


# -- side --------------------------------------------------------------------------------------
def _side_label(look: Look) -> str:
    words = look.words("curve")
    if not words:
        return "side, curve not recorded"
    if len(words) > 1:
        return "side: " + " or ".join(w.replace("_", " ") for w in words)
    return f"side: {words[0].replace('_', ' ')}"


def _side(look: Look, build: Build, face: Face) -> Pen:
    """The instrument on edge, with each curve in which the pattern comes."""
    pen = Pen()
    curves = look.words("curve") or (None,)
    if curves == (None,):
        look.note("curve not recorded: the jaw is drawn straight and dashed")
    for i, curve in enumerate(reversed(curves)):
        jaw = Pen(dashed=curve is None or i < len(curves) - 1)
        track = Track(build.jaw, curve, (build.joint, 0.0))
        draw_face(jaw, track, face, detail=False)
        pen.place(jaw)
    joint, thin = build.joint, 2.6 * look.stout
    if look.has("handle", "none"):
        return pen
    rings = build.ring if look.has("handle", "ring") else joint * 0.35
    pen.ribbon(
        [
            (0, 0),
            (rings * 0.6, 0),
            (rings, 0),
            (joint * 0.6, 0),
            (joint - 9, 0),
            (joint - 5, 0),
            (joint + 3, 0),
        ],
        [thin * 1.15, thin * 1.2, thin, thin, thin * 1.1, build.root * 1.15, build.root * 1.15],
        start="round",
        end="flat",
    )
    return pen


# -- tips --------------------------------------------------------------------------------------
def _tips(look: Look, build: Build, faces: list[Face]) -> list[Panel]:
    panels: list[Panel] = []
    curve = look.word("curve")
    shown = (
        curve if curve in ("right_angle", "double_angled", "angled", "quarter_to_full") else None
    )
    pointed = look.has("tip", "sharp_points") or look.has("teeth", "hooks") or is_hooked(look)
    for face in faces:
        if pointed:
            break
        pen = Pen()
        known = face.surface is not None or look.has(
            "jaw", "soft_insert", "grooved", "loop", "guarded", "toothed_plastic"
        )
        draw_face(pen, Track(build.jaw, shown), face, known=known)
        if look.has("jaw", "soft_insert"):
            pen.ribbon(
                [(build.jaw * 0.15, 0), (build.jaw * 0.93, 0)],
                [face.root * 0.55, face.tip * 0.6],
                start="round",
                end="round",
                fine=True,
            )
        if look.has("jaw", "grooved"):
            pen.poly(
                [(build.jaw * 0.6, -face.tip * 0.16), (build.jaw * 0.98, -face.tip * 0.16)],
                closed=False,
                fine=True,
            )
            pen.poly(
                [(build.jaw * 0.6, face.tip * 0.16), (build.jaw * 0.98, face.tip * 0.16)],
                closed=False,
                fine=True,
            )
        panels.append(Panel(pen, _face_label(look, face, len(faces) > 1), magnified=True))
    opened = Pen()
    for first in (False, True):
        one, moved = Pen(), Pen()
        jaw_front(one, look, build, faces[-1], first=first)
        moved.place(one, (-build.joint, 0.0))
        opened.join(moved, (0.0, 0.0), -6.0 if first else 6.0, flip=not first)
    panels.append(Panel(opened, "both jaws from the front, open", magnified=True))
    for face in faces:
        counts = tooth_counts(face.teeth)
        if counts and "rows" not in (face.teeth or "") and not pointed:
            panels.append(
                Panel(
                    end_on(counts, max(build.tip, 2.0)),
                    f"tips end-on: {min(counts)} against {max(counts)}",
                    magnified=True,
                )
            )
            break
    return panels


def _face_label(look: Look, face: Face, several: bool) -> str:
    surface = SURFACE_WORDS.get(face.surface or "", (face.surface or "").replace("_", " "))
    if not surface:
        surface = "surface not recorded" if not look.words("jaw") else look.word("jaw") or ""
        surface = surface.replace("_", " ")
    parts = [surface]
    if face.teeth and face.teeth != "none":
        parts.append(f"teeth {face.teeth.replace('_', ' ').replace('x', ' × ')}")
    elif face.teeth == "none" and several:
        parts.append("no teeth")
    return "inner face: " + ", ".join(parts)
