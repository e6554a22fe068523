"""How well a pattern agrees with what the line states of the piece."""

from __future__ import annotations

from dataclasses import dataclass

from etui.knowledge.model import Pattern

__all__ = ["Facts", "attribute_factor"]

OUT_OF_RANGE = 0.15
"""Share by which a stated length may miss the recalled range of a pattern."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What the line states about the piece, as far as it speaks for or against a pattern."""

    length_mm: float | None = None
    curve: str | None = None
    teeth: str | None = None
    forms: tuple[str, ...] = ()
    nouns: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Nouns of the heading above the line: (noun, families)."""


def attribute_factor(record: Pattern, facts: Facts) -> float:
    """How well a pattern agrees with stated length, curve, teeth, form; 1: nothing speaks."""
    factor = 1.0
    if facts.length_mm and record.length_mm:
        slack = OUT_OF_RANGE * facts.length_mm
        low, high = record.length_mm.low - slack, record.length_mm.high + slack
        if not low <= facts.length_mm <= high:
            factor *= 0.75
        elif not record.length_mm.low - 8 <= facts.length_mm <= record.length_mm.high + 8:
            factor *= 0.93
    if facts.curve:
        curves = record.features.get("curve", ())
        if curves and not _curve_agrees(facts.curve, curves):
            factor *= 0.68
        elif facts.curve == "angled" and ("angle" in record.features or "angled" in curves):
            factor *= 1.05
    if facts.teeth:
        factor *= _teeth_factor(facts.teeth, record)
    for form in facts.forms:
        factor *= _form_factor(form, record)
    return factor


def _curve_agrees(stated: str, curves: tuple[str, ...]) -> bool:
    if "either" in curves or stated in curves:
        return True
    if stated in ("curved", "angled"):
        return any(c not in ("straight", "none") for c in curves)
    return False


def _teeth_factor(stated: str, record: Pattern) -> float:
    teeth = record.features.get("teeth", ())
    if not teeth:
        blades = record.features.get("blades", ())
        return 1.0 if blades or stated in ("none", "prongs") else 0.97
    has = [t for t in teeth if t != "none"]
    if stated == "none":
        return 1.0 if "none" in teeth else 0.55
    if not has:
        return 0.55
    if stated in ("toothed", "prongs"):
        return 1.0
    exact = any(stated in t for t in has)
    vague = any(not any(c.isdigit() for c in t) for t in has)
    return 1.03 if exact else 0.97 if vague else 0.8


def _form_factor(form: str, record: Pattern) -> float:
    tip = record.features.get("tip", ())
    if form in ("sharp", "blunt") and tip:
        both = any("or" in t or form in t for t in tip)
        against = "blunt" if form == "sharp" else "sharp"
        if not both and any(against in t for t in tip) and len(tip) == 1:
            return 0.9
    if form in ("delicate", "heavy"):
        weight = record.features.get("weight", ())
        if weight:
            if form in weight:
                return 1.02
            if {"delicate": "heavy", "heavy": "delicate"}[form] in weight:
                return 0.85
    return 1.0
