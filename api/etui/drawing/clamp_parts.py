"""The parts of a clamp-like instrument: its sizes, arms, joint and jaws in the ring plane."""

from __future__ import annotations

import math
from dataclasses import dataclass

from etui.drawing.jaws import Face, tooth_counts
from etui.drawing.look import Look
from etui.drawing.pen import Pen, Point

JAW_SHARE = {
    "needle_holder": 0.14,
    "vascular_clamp": 0.3,
    "grasper": 0.2,
    "towel_clip": 0.26,
    "haemostat": 0.25,
    "dilator": 0.3,
    "bone": 0.12,
}
"""Part of the overall length that lies beyond the joint where no jaw length is recorded."""


@dataclass(frozen=True, slots=True)
class Build:
    """Sizes of a ringed instrument in mm."""

    length: float
    jaw: float
    ring: float
    shank: float
    root: float
    tip: float
    opening: float
    crossing: bool = True
    bend: float = 0.0

    @property
    def joint(self) -> float:
        """Where the joint lies along the length."""
        return self.length - self.jaw


def build_of(look: Look) -> Build:
    length = look.length
    jaw = look.mm("working_length_mm", length * JAW_SHARE.get(look.family, 0.24))
    # The recorded jaw length spans all sizes of the pattern; in one piece it keeps its share.
    jaw = min(max(jaw + 4 * look.stout, length * 0.1), length * 0.5)
    wide = look.mm("working_width_mm", 6 * look.stout)
    tip = look.mm("tip_width_mm", wide * 0.45)
    ring = min(max(length * 0.2, 17), 27) if not look.has("handle", "plastic") else 40
    broad = tip >= wide * 0.7
    return Build(
        length=length,
        jaw=jaw,
        ring=ring,
        shank=3.4 * look.stout,
        root=min(wide, 4.6 * look.stout + 1.2) if broad else max(wide * 0.8, 2.4),
        tip=tip,
        opening=7.0,
        crossing=not look.has("jaw", "opens_on_squeeze"),
        bend=-26.0 if look.has("shape", "offset") else 0.0,
    )


def is_hooked(look: Look) -> bool:
    """Teeth that are hooks at the ends of thin jaws, not teeth on a face."""
    counts = tooth_counts(look.word("teeth"))
    return (
        look.has("teeth", "hooks", "_to_") and counts is not None and look.build("point") == "round"
    )


# -- arms
def half(pen: Pen, look: Look, build: Build, face: Face, *, first: bool) -> None:
    """The half whose jaw lies above the midline and whose ring lies below it."""
    side = 1.0 if build.crossing else -1.0
    if look.has("handle", "none"):
        pass
    elif look.has("handle", "palm_squeeze"):
        _palm_arm(pen, look, build, side)
    elif look.has("handle", "squeeze") and not look.has("handle", "ring"):
        if build.length < 70 or look.has("spring", "yes"):
            _spring_arm(pen, build, side)
        else:
            _tweezer_arm(pen, build, side)
    else:
        _ring_arm(pen, look, build, side, first=first)
    jaw = Pen()
    jaw_front(jaw, look, build, face, first=first)
    # An in-plane bend turns both jaws the same way; the mirrored half must turn back.
    pen.join(jaw, (build.joint, 0.0), build.bend if first else -build.bend)


def _ring_arm(pen: Pen, look: Look, build: Build, side: float, *, first: bool) -> None:
    rx = build.ring / 2
    ry = rx * 0.8
    band = 2.5 + 0.5 * look.stout
    unequal = look.has("handle", "unequal") and not first
    shift = build.length * 0.16 if unequal else 0.0
    # Halves that do not cross open by pressing the rings together, so they start further apart.
    centre = (rx + shift, side * (ry + (1.2 if build.crossing else build.length * 0.1)))
    pen.finger_ring(centre, rx, ry, band)
    start = (
        centre[0] + (rx - band / 2) * math.cos(math.radians(38)),
        centre[1] - side * (ry - band / 2) * math.sin(math.radians(38)),
    )
    joint, w = build.joint, build.shank
    gap = joint - start[0]
    spine: list[Point] = [
        start,
        (start[0] + gap * 0.16, side * (w * 0.85 + 1.4)),
        (start[0] + gap * 0.5, side * (w * 0.62 + 1.0)),
        (joint - 7, side * w * 0.42),
        (joint, 0.0),
        (joint + 4, -side * build.root * 0.2),
    ]
    pen.ribbon(spine, [w * 0.95, w, w, w * 1.12, w * 1.3, w * 1.1], start="open")
    lock = look.word("lock", "lock")
    if lock in ("none", None):
        if lock is None:
            with_dash = Pen(dashed=True)
            _ratchet(with_dash, build, side)
            pen.place(with_dash)
        return
    if look.words("lock")[1:]:
        look.note("comes with and without a lock; drawn with it")
    _ratchet(pen, build, side)


def _ratchet(pen: Pen, build: Build, side: float) -> None:
    """The toothed plate of one half, reaching across the midline."""
    x = build.ring + 2.0
    w = build.shank
    root = side * (w * 0.8 + 0.6)
    plate = [(x, root), (x, -side * 2.6), (x + 3.6, -side * 3.4), (x + 5.2, root)]
    pen.poly(plate)
    pen.ticks([((x + 0.3, -side * t), (x + 3.6, -side * (t + 0.6))) for t in (-0.6, 0.6, 1.8)])


def _palm_arm(pen: Pen, look: Look, build: Build, side: float) -> None:
    """A bowed handle without a ring, for the palm; the lock catches at its end."""
    joint, w = build.joint, build.shank * 1.15
    spine = [
        (2.0, side * 5.0),
        (joint * 0.16, side * 11.5),
        (joint * 0.42, side * 13.5),
        (joint * 0.72, side * 8.5),
        (joint - 6, side * 2.6),
        (joint + 3, -side * 0.8),
    ]
    pen.ribbon(spine, [w * 0.8, w, w, w, w * 1.1, w], start="round")
    pen.curve(
        [(joint * 0.2, side * 9.5), (joint * 0.5, side * 3.0), (joint * 0.82, side * 2.0)],
        fine=True,
    )
    if not look.has("lock", "none"):
        pen.poly([(0.0, side * 7.5), (0.0, -side * 2.0), (4.0, -side * 3.0), (4.5, side * 6.0)])
        pen.ticks([((0.6, -side * t), (3.6, -side * (t + 0.5))) for t in (-1.2, 0.0, 1.2)])


def _tweezer_arm(pen: Pen, build: Build, side: float) -> None:
    """A flat spring arm; both arms are joined at the held end."""
    joint, w = build.joint, 2.2
    spine = [
        (0.0, side * 1.1),
        (joint * 0.12, side * 3.4),
        (joint * 0.45, side * 8.0),
        (joint * 0.68, side * 7.2),
        (joint * 0.9, side * 2.2),
        (joint + 1.5, -side * 0.4),
    ]
    pen.ribbon(spine, [1.6, 1.8, w, w, w, 2.0], start="round")
    pen.ticks(
        [
            (
                (joint * u, side * (8.0 + 1.2 - abs(u - 0.5) * 6)),
                (joint * u + 0.01, side * (8.0 - 1.0 - abs(u - 0.5) * 6)),
            )
            for u in (0.4, 0.43, 0.46, 0.49, 0.52, 0.55)
        ]
    )


def _spring_arm(pen: Pen, build: Build, side: float) -> None:
    """A short crossing arm with a finger plate: closed at rest, opens when squeezed."""
    joint, w = build.joint, 1.6
    spine = [
        (0.0, side * joint * 0.26),
        (joint * 0.3, side * joint * 0.3),
        (joint * 0.72, side * joint * 0.1),
        (joint, 0.0),
        (joint + 1.5, -side * 0.4),
    ]
    pen.ribbon(spine, [w, w, w, w * 1.2, w], start="round")
    pen.curve(
        [
            (0.0, side * joint * 0.26),
            (joint * 0.16, side * joint * 0.34),
            (joint * 0.34, side * joint * 0.31),
        ]
    )


def jaw_front(pen: Pen, look: Look, build: Build, face: Face, *, first: bool) -> None:
    """The upper jaw in the plane of the rings; the inner edge runs along the midline."""
    x0, x1 = build.joint, build.length
    jaw = build.jaw
    thick = max(build.root * 0.52, 1.4)
    thin = max(min(build.tip * 0.5, thick * 0.62), 0.5)
    if look.has("tip", "sharp_points"):
        pen.ribbon(
            [
                (x0, -0.6),
                (x0 + jaw * 0.2, -jaw * 0.13),
                (x0 + jaw * 0.5, -jaw * 0.27),
                (x0 + jaw * 0.8, -jaw * 0.2),
                (x1, 0.0),
            ],
            [thick * 1.2, thick, thick * 0.85, thick * 0.6, 0.25],
            start="open",
            end="point",
        )
        return
    if look.has("teeth", "hooks") or is_hooked(look):
        reach = min(jaw * 0.16, 6.0)
        pen.ribbon(
            [
                (x0, -0.6),
                (x0 + jaw * 0.3, -reach * 0.9),
                (x0 + jaw * 0.75, -reach * 1.15),
                (x1 - reach * 0.35, -reach),
                (x1, -reach * 0.35),
                (x1 - reach * 0.25, reach * 0.28),
            ],
            [thick * 1.2, thick, thick * 0.8, thick * 0.7, thick * 0.5, 0.2],
            start="open",
            end="point",
        )
        return
    if look.has("tip", "flat_blunt"):
        pen.ribbon(
            [
                (x0, -0.6),
                (x0 + jaw * 0.25, -jaw * 0.14),
                (x0 + jaw * 0.62, -jaw * 0.2),
                (x0 + jaw * 0.9, -jaw * 0.06),
                (x1, -0.7),
            ],
            [thick * 1.2, thick, thick * 0.85, thick * 0.8, 1.3],
            start="open",
        )
        return
    bow = 0.0
    if look.has("jaw", "bowed", "meet_at_tip") or face.kind == "flared":
        bow = jaw * 0.085
    elif look.has("jaw", "fenestrated", "long_flexible", "loop") or look.has("lock", "rack"):
        bow = jaw * 0.035
    if bow:
        slim = max(thick * 0.62, 1.3)
        spine = [(x0, -slim * 0.5)]
        spine += [
            (x0 + jaw * u, -slim / 2 - bow * math.sin(math.pi * u**0.85) - 0.1)
            for u in (0.2, 0.4, 0.6, 0.8)
        ]
        spine.append((x1, -slim / 2))
        pen.ribbon(spine, [thick, slim * 1.05, slim, slim, slim, slim], start="open", end="round")
        return
    spine = [
        (x0, -thick / 2),
        (x0 + jaw * 0.3, -thick * 0.5),
        (x0 + jaw * 0.65, -(thick + thin) * 0.26),
        (x1 - thin * 0.4, -thin / 2),
    ]
    pen.ribbon(spine, [thick, thick, (thick + thin) * 0.52, thin], start="open", end="round")
    if look.has("jaw", "soft_insert"):
        pen.ribbon(
            [(x0 + jaw * 0.22, -0.2), (x1 - 1, -0.1)], [2.2, 1.8], start="round", end="round"
        )
        look.note("soft inserts on both jaws")
    if face.blades_behind:
        pen.poly(
            [(x0 + 1.0, -thick * 0.55), (x0 + jaw * 0.4, -thick * 0.7), (x0 + jaw * 0.4, 0.2)],
            fine=True,
        )
    counts = tooth_counts(face.teeth)
    if counts and not look.has("teeth", "rows"):
        size = max(thin * 0.9, 1.0)
        at = x1 - thin * 0.5
        if first:
            pen.poly([(at - size, -0.1), (at - size * 0.45, size), (at, -0.1)])
        else:
            pen.poly(
                [(at - size * 1.6, -0.1), (at - size * 1.15, size * 0.9), (at - size * 0.8, -0.1)]
            )


def joint_mark(pen: Pen, look: Look, build: Build) -> None:
    """A box lock, or a screw where the halves only cross."""
    x, w = build.joint, build.shank
    if look.has("handle", "none"):
        return
    if not look.has("handle", "ring") or build.length < 70:
        pen.oval((x, 0.0), max(w * 0.32, 0.9))
        return
    wide = max(w * 1.85, build.root * 1.15)
    pen.ribbon(
        [(x - w * 2.0, 0), (x - w * 0.9, 0), (x + w * 0.5, 0), (x + w * 1.4, 0)],
        [wide * 0.86, wide, wide, wide * 0.86],
        start="round",
        end="round",
    )
    pen.oval((x - w * 0.2, 0.0), 0.9, body=False, fine=True)
