"""Choose the kind of drawing for a pattern and put its views on one sheet."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from etui.drawing import sheet as paper
from etui.drawing.bone import bone_tool
from etui.drawing.frames import self_retaining
from etui.drawing.knives import knife
from etui.drawing.look import Look, Panel
from etui.drawing.retractors import hand_retractor
from etui.drawing.ringed import ringed
from etui.drawing.rods import rod
from etui.drawing.scissors import scissors
from etui.drawing.soft import (
    cloth,
    needle,
    suction_tube,
    suture_needle,
    syringe,
    thread,
    tube,
    unknown,
)
from etui.drawing.thumb import thumb_forceps
from etui.knowledge.model import Pattern

Views = tuple[list[Panel], list[Panel]]
RINGED = ("haemostat", "vascular_clamp", "grasper", "needle_holder", "towel_clip", "dilator")


@dataclass(frozen=True, slots=True)
class Drawn:
    """The views of one pattern and everything that must be said with them."""

    whole: list[Panel]
    tips: list[Panel]
    notes: tuple[str, ...]
    to_scale: bool


def views(pattern: Pattern, length_mm: float | None = None) -> Drawn:
    """Draw a pattern: whole views, tip views, notes.

    Args:
        length_mm: overall length of the piece in hand (mm); the middle of the range if not given.
    """
    look = Look(pattern, length_mm)
    whole, tips = _kind(look)(look)
    if not look.to_scale and whole:
        look.note("overall length not recorded: drawn at a usual size, not to scale")
    return Drawn(whole, tips, tuple(look.notes), look.to_scale)


def _kind(look: Look) -> Callable[[Look], Views]:
    """The kind of drawing: by what the thing is made as, then by its family."""
    family = look.family
    if look.has("part", "manoeuvre"):
        return lambda _: ([], [])
    if look.has("jaw", "concave_pad"):
        return rod
    if family in RINGED and not look.has("part", "consumable", "pair") and look.words("handle"):
        return ringed
    if family == "scissors":
        return scissors
    if family == "thumb_forceps":
        return ringed if look.has("handle", "ring") else thumb_forceps
    if family in ("scalpel", "scalpel_blade"):
        return knife
    if family in ("retractor_self", "rib_spreader") or (
        look.has("handle", "crank")
        and not look.has("action", "drill")
        and family == "bone"
        and look.has("handle", "ratchet")
    ):
        return self_retaining
    if family in ("dissector", "probe"):
        return rod
    if family in ("bone", "cranial") and (
        look.words("handle") or look.words("part") or look.words("power")
    ):
        return bone_tool
    if family == "retractor_hand" and not look.has("part", "consumable"):
        return hand_retractor if look.words("blades") else rod
    return _soft_or_other(look)


def _soft_or_other(look: Look) -> Callable[[Look], Views]:
    """Kinds that are told by build words (limp, tube-like, hollow) more than by the family."""
    family = look.family
    limp = look.build("stiffness") in ("limp",)
    if family == "suture":
        if look.words("point"):
            return suture_needle
        if look.words("usp") or (limp and look.knows("working_width_mm")):
            return thread
        if look.has("handle", "ring"):
            return ringed
        return unknown
    if look.knows_any("volume_ml") and not look.knows_any("gauge"):
        return syringe
    if look.words("gauge") or (look.knows("gauge") and family in ("access", "other", "drain")):
        return needle
    if family == "suction" and look.has("handle", "shaft"):
        return suction_tube
    if look.mm("working_width_mm", 4.0) > max(20.0, look.length / 6) and family != "consumable":
        return unknown
    if look.knows_any("french", "fr", "diameter_fr", "id_mm", "cuff", "diameter_in") and (
        look.pattern.length_mm is not None
    ):
        return tube
    if look.has("xray_detectable", "yes", "no", "some") or (family == "consumable" and limp):
        return cloth
    if limp and look.pattern.length_mm is not None:
        return thread
    if (
        family in ("drain", "suction", "airway", "access")
        and look.pattern.length_mm is not None
        and (look.build("stiffness") in ("soft", "springy"))
    ):
        return tube
    if look.words("handle") and look.has("handle", "thumb"):
        return thumb_forceps
    if (
        look.has("handle", "ring")
        and look.has("tip", "sharp", "blunt")
        and look.has("trauma", "cutting")
    ):
        return scissors
    if (
        look.has("handle", "flat", "folding", "bar", "pen")
        and look.has("trauma", "cutting")
        and look.words("edge")
    ):
        return knife
    if look.has("handle", "squeeze", "pistol", "crank", "two_long") or look.has(
        "blade", "rigid", "toothed"
    ):
        return bone_tool
    if look.has("handle", "ring"):
        return ringed
    if look.has("handle", "bar", "pen", "flat") or look.has("tip", "hook"):
        return rod
    return unknown


def draw(pattern: Pattern, *, length_mm: float | None = None) -> str:
    """The whole drawing of a pattern as one stand-alone SVG: views, tip close-up, scale bar.

    Args:
        length_mm: overall length of the piece in hand (mm); the middle of the range if not given.

    Returns:
        SVG text; empty when the pattern is a hand manoeuvre, of which there is nothing to draw.
    """
    drawn = views(pattern, length_mm)
    if not drawn.whole:
        return ""
    sheet = paper.lay_out(drawn.whole, bar=drawn.to_scale)
    if drawn.tips:
        tips = paper.lay_out_tips(
            drawn.tips, main_scale=paper.scale_of(drawn.whole), top=sheet.height + 6
        )
        sheet = paper.Sheet(sheet.body + tips.body, tips.height)
    return paper.svg(
        sheet, title=pattern.name, text=_described(pattern, drawn), key=_key(pattern, "d")
    )


@dataclass(frozen=True, slots=True)
class Figures:
    """Drawings for a page: whole, tip close-up (or None), and what must be said under them."""

    whole: str
    tip: str | None
    notes: tuple[str, ...]
    text: str


def figures(
    pattern: Pattern,
    *,
    length_mm: float | None = None,
    beside: Pattern | None = None,
    key: str = "fig",
    nameless: str | None = None,
) -> Figures | None:
    """The whole view and the tip view as two SVGs for a page, which gives them their colours.

    Args:
        length_mm: overall length of the piece in hand (mm).
        beside: another pattern that is shown next to this one: both then have one scale.
        key: makes the ids of title and description unique on the page.
        nameless: title in place of the name, for practice; the text then says the views alone.

    Returns:
        None when there is nothing to draw (a hand manoeuvre).
    """
    drawn = views(pattern, length_mm)
    if not drawn.whole:
        return None
    span = tip_span = None
    if beside is not None:
        other = views(beside)
        if drawn.to_scale and other.to_scale and other.whole:
            span = max(_span(drawn.whole), _span(other.whole))
            if drawn.tips and other.tips:
                tip_span = max(_span(drawn.tips), _span(other.tips))
    text = _described(pattern, drawn) if nameless is None else _views_said(drawn)
    title = nameless or pattern.name
    whole = paper.svg(
        paper.lay_out(drawn.whole, bar=drawn.to_scale, span_mm=span),
        title=title,
        text=text,
        key=f"{key}-w",
        standalone=False,
    )
    tip = None
    if drawn.tips:
        tip = paper.svg(
            paper.lay_out_tips(
                drawn.tips, span_mm=tip_span, main_scale=paper.scale_of(drawn.whole, span)
            ),
            title=f"{title}: working end enlarged",
            text=text,
            key=f"{key}-t",
            standalone=False,
        )
    return Figures(whole, tip, drawn.notes, text)


def icon(pattern: Pattern, *, width_px: int = 180) -> str:
    """One view without labels as a stand-alone SVG, for lists; empty for a hand manoeuvre.

    Args:
        width_px: width at which it will be shown, so that its lines come out equally strong.
    """
    drawn = views(pattern)
    if not drawn.whole:
        return ""
    sheet = paper.lay_out(drawn.whole[:1], labels=False, bar=False)
    return paper.svg(
        sheet,
        title=pattern.name,
        text=pattern.definition,
        key=_key(pattern, "i"),
        ink=1.3 * paper.WIDTH / width_px,
    )


def width_mm(pattern: Pattern) -> float | None:
    """How wide the small drawing of a pattern is in mm; None where it is not to scale."""
    drawn = views(pattern)
    return _span(drawn.whole[:1]) if drawn.whole and drawn.to_scale else None


def is_recorded(pattern: Pattern) -> bool:
    """Whether the record holds a shape, so that there is more to draw than an outline."""
    drawn = views(pattern)
    return bool(drawn.whole) and all(p.label != "shape not recorded" for p in drawn.whole)


def notes(pattern: Pattern) -> tuple[str, ...]:
    """What must be said under the drawing: unknown features, forms, scale."""
    return views(pattern).notes


def describe(pattern: Pattern, length_mm: float | None = None) -> str:
    """What the drawing shows, in words, for those who cannot see it."""
    return _described(pattern, views(pattern, length_mm))


def _described(pattern: Pattern, drawn: Drawn) -> str:
    return f"{pattern.definition.rstrip('.')}. {_views_said(drawn)}".strip()


def _views_said(drawn: Drawn) -> str:
    shown = "; ".join(panel.label for panel in [*drawn.whole, *drawn.tips])
    said = "; ".join(drawn.notes)
    return " ".join(
        part
        for part in (f"Views: {shown}." if shown else "", f"Note: {said}." if said else "")
        if part
    )


def _span(panels: list[Panel]) -> float:
    return max((p.pen.box()[2] - p.pen.box()[0] for p in panels), default=0.0)


def _key(pattern: Pattern, view: str) -> str:
    return f"{view}-{re.sub(r'[^a-z0-9]+', '-', pattern.id)}"
