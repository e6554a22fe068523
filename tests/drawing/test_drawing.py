"""Drawings are made from features: they differ where records differ and say what is unknown."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from etui.drawing import draw, figures, icon, is_recorded, notes
from etui.drawing.jaws import end_on, tooth_counts
from etui.drawing.pen import Pen
from etui.knowledge import load_reference
from etui.knowledge.model import Pattern, Range

SVG = "{http://www.w3.org/2000/svg}"
reference = load_reference()
PATTERNS = sorted(reference.patterns.values(), key=lambda p: p.id)


def clamp(**changes: object) -> Pattern:
    """A made-up clamp, so that one feature can be turned at a time."""
    features: dict[str, tuple[str, ...]] = {
        "handle": ("ring",), "lock": ("ratchet",), "curve": ("straight",), "weight": ("medium",),
        "jaw_surface": ("transverse_full",), "teeth": ("none",),
    }  # fmt: skip
    for key, value in changes.items():
        if value is None:
            features.pop(key)
        else:
            features[key] = value if isinstance(value, tuple) else (str(value),)
    return Pattern(
        id="made-up",
        name="Made-up clamp",
        family="haemostat",
        definition="A clamp.",
        features=features,
        length_mm=Range(low=140, high=160),
    )


def strokes(svg: str) -> list[str]:
    if not svg:
        return []
    return [p.get("d") or "" for p in ET.fromstring(svg).iter(f"{SVG}path")]


def test_every_pattern_draws_as_sound_svg_with_title_and_description() -> None:
    drawn = 0
    for pattern in PATTERNS:
        svg = draw(pattern)
        if not svg:
            assert "manoeuvre" in pattern.features.get("part", ()) or pattern.family == "manoeuvre"
            continue
        root = ET.fromstring(svg)
        ids = {e.get("id") for e in root.iter() if e.get("id")}
        assert set((root.get("aria-labelledby") or "").split()) <= ids
        assert root.find(f"{SVG}title").text == pattern.name  # type: ignore[union-attr]
        assert not re.search(r"\bnan\b|\binf\b", svg)
        assert "style=" not in svg and "<script" not in svg
        assert strokes(icon(pattern))
        drawn += 1
    assert drawn > 400


def test_nothing_leaves_the_sheet() -> None:
    for pattern in PATTERNS:
        svg = draw(pattern)
        if not svg:
            continue
        root = ET.fromstring(svg)
        _, _, width, height = map(float, (root.get("viewBox") or "").split())
        for path in strokes(svg):
            numbers = [
                float(n) for n in re.findall(r"-?\d+\.?\d*", re.sub(r"[vH][^A-Z]*", "", path))
            ]
            for x, y in zip(numbers[::2], numbers[1::2], strict=False):
                assert -3 <= x <= width + 3 and -3 <= y <= height + 3, pattern.id


def test_same_record_same_drawing() -> None:
    assert draw(clamp()) == draw(clamp())


@pytest.mark.parametrize("change", [
    {"jaw_surface": "transverse_distal"}, {"jaw_surface": "longitudinal"},
    {"jaw_surface": "atraumatic_rows"}, {"jaw_surface": "cross_hatched"}, {"jaw_surface": "smooth"},
    {"teeth": "1x2"}, {"curve": "curved"}, {"curve": "right_angle"}, {"lock": "none"},
    {"weight": "heavy"}, {"jaw": "oval_fenestrated"}, {"handle": "squeeze"},
])  # fmt: skip
def test_turning_one_feature_changes_the_drawing(change: dict[str, str]) -> None:
    assert strokes(draw(clamp(**change))) != strokes(draw(clamp()))


def test_ridges_of_the_far_half_are_about_half_of_those_of_the_whole() -> None:
    def ridges(surface: str) -> int:
        tip = figures(clamp(jaw_surface=surface)).tip or ""  # type: ignore[union-attr]
        return max(d.count("M") for d in strokes(tip))

    assert 0.4 < ridges("transverse_distal") / ridges("transverse_full") < 0.65
    # All that is left on a smooth jaw is the scale bar with its three strokes.
    assert ridges("smooth") == 3


@pytest.mark.parametrize(("word", "counts"), [
    ("1x2", (1, 2)), ("1x2_at_tip", (1, 2)), ("4x5", (4, 5)), ("none", None), (None, None),
    ("rows", None),
])  # fmt: skip
def test_teeth_are_counted_from_the_word(word: str | None, counts: tuple[int, int] | None) -> None:
    assert tooth_counts(word) == counts


def test_teeth_end_on_are_as_many_as_recorded() -> None:
    few, many = end_on((2, 3), 4.0).strokes
    gaps = [
        max(abs(p[1]) for p in s.points()) - min(abs(p[1]) for p in s.points()) for s in (few, many)
    ]
    assert gaps[0] == pytest.approx(gaps[1])
    inner = [sum(1 for p in s.points() if abs(p[1]) < 0.2) for s in (few, many)]
    assert inner == [2, 3]


@pytest.mark.parametrize("feature", ["curve", "jaw_surface", "lock"])
def test_what_is_not_recorded_is_dashed_and_said(feature: str) -> None:
    known, unknown = draw(clamp()), draw(clamp(**{feature: None}))
    assert unknown.count("stroke-dasharray") > known.count("stroke-dasharray")
    said = " ".join(notes(clamp(**{feature: None})))
    assert "not recorded" in said
    assert (
        said in (ET.fromstring(unknown).findtext(f"{SVG}desc") or "") or "not recorded" in unknown
    )


def test_each_form_is_shown_when_a_pattern_comes_in_several() -> None:
    one = figures(clamp())
    both = figures(clamp(teeth=("none", "1x2")))
    assert one is not None and both is not None
    assert (both.tip or "").count("inner face") == 2 * (one.tip or "").count("inner face")
    curves = draw(clamp(curve="either"))
    assert "straight or curved" in curves and "stroke-dasharray" in curves


def test_drawing_is_to_scale() -> None:
    def width(svg: str) -> float:
        pen = [float(n) for n in re.findall(r"-?\d+\.?\d*", strokes(svg)[0])]
        return max(pen[::2]) - min(pen[::2])

    def bar(svg: str) -> tuple[float, float]:
        path = next(
            d for d in strokes(svg) if re.fullmatch(r"M[\d. ]+v6M[\d. ]+v6M[\d. ]+H[\d.]+", d)
        )
        ends = [float(n) for n in re.findall(r"M([\d.]+) ", path)]
        label = re.search(r">(\d+) mm", svg)
        assert label
        return ends[1] - ends[0], float(label[1])

    for length in (100.0, 150.0, 240.0):
        svg = draw(clamp(), length_mm=length)
        units, mm = bar(svg)
        # The whole drawing spans the sheet; the bar must stand for the same millimetres.
        assert units / mm == pytest.approx(344 / length, rel=0.08)


def test_no_scale_bar_where_the_length_is_not_recorded() -> None:
    unknown = Pattern(
        id="x", name="X", family="haemostat", definition="X.", features=clamp().features
    )
    figure = figures(unknown)
    assert figure is not None
    assert " mm" not in figure.whole
    assert any("not to scale" in n for n in figure.notes)


def test_two_patterns_side_by_side_have_one_scale() -> None:
    short, long = clamp(), clamp(weight="heavy")
    long = Pattern(
        id="long",
        name="Long",
        family="haemostat",
        definition="Long.",
        features=long.features,
        length_mm=Range(low=280, high=300),
    )
    left, right = figures(short, beside=long), figures(long, beside=short)
    assert left is not None and right is not None

    def bar(svg: str) -> str:
        return next(d for d in strokes(svg) if "v6M" in d).split("H")[1]

    assert bar(left.whole) == bar(right.whole)


VISIBLE = (
    "handle",
    "lock",
    "curve",
    "jaw",
    "jaw_surface",
    "teeth",
    "tip",
    "edge",
    "blades",
    "shape",
)


def test_look_alikes_whose_shapes_are_recorded_differently_are_drawn_differently() -> None:
    checked = 0
    for pattern in PATTERNS:
        for other_id in pattern.confused_with:
            other = reference.patterns.get(other_id)
            if other is None or not (is_recorded(pattern) and is_recorded(other)):
                continue
            seen = [[p.features.get(k) for k in VISIBLE] for p in (pattern, other)]
            if seen[0] != seen[1] or (pattern.length_mm and pattern.length_mm != other.length_mm):
                assert strokes(draw(pattern)) != strokes(draw(other)), (pattern.id, other_id)
                checked += 1
    assert checked > 300


def test_no_pattern_is_known_by_its_id() -> None:
    """Renaming a pattern changes nothing in its drawing."""
    from msgspec import structs

    for pattern in PATTERNS[::5]:
        assert strokes(draw(structs.replace(pattern, id="zz"))) == strokes(draw(pattern))


def test_pen_mirrors_before_it_turns() -> None:
    part, whole = Pen(), Pen()
    part.poly([(0, 0), (1, 1)], closed=False)
    whole.place(part, (10, 0), turn=90, flip=True)
    (start, end) = list(whole.strokes[0].points())
    assert start == pytest.approx((10, 0)) and end == pytest.approx((11, 1))
