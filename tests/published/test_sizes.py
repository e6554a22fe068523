"""Needle gauge, French size, thread size and inch lengths against published tables."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from ucumvert import PintUcumRegistry

from etui.knowledge import load_reference
from tests.published.tables import expect, rows

REFERENCE = load_reference()


@pytest.fixture(scope="module")
def units() -> PintUcumRegistry:
    """An independent unit library: the Unified Code for Units of Measure on top of pint."""
    return PintUcumRegistry()


@pytest.mark.parametrize("row", rows("needle-gauge.csv"), ids=lambda r: r["id"])
def test_needle_gauge_is_as_published(row: dict[str, str]) -> None:
    """Outer and inner width of each gauge; inches agree with millimetres."""
    size = REFERENCE.sizes.get(f"gauge-{row['gauge']}")
    if not row["od_mm"]:
        assert size is None, "a gauge without a published width must not be given one"
        return
    assert size is not None
    assert size.outer_mm.low == pytest.approx(float(row["od_mm"]))
    # half a unit of the last printed place of the inch column, in millimetres
    slack = 25.4 * 0.5 * 10 ** -len(row["od_inch"].split(".")[1]) + 0.0005
    assert float(row["od_inch"]) * 25.4 == pytest.approx(size.outer_mm.low, abs=slack)
    if row["regular_wall_id_mm"]:
        assert size.inner_mm == pytest.approx(float(row["regular_wall_id_mm"]))
        assert size.inner_mm < size.outer_mm.low


def test_a_larger_gauge_is_a_thinner_needle() -> None:
    gauges = sorted((float(s.word), s.outer_mm.low) for s in REFERENCE.sizes.values()
                    if s.kind == "gauge")
    assert len(gauges) > 20
    assert all(a[1] > b[1] for a, b in pairwise(gauges))


@pytest.mark.parametrize("row", rows("suture-size.csv"), ids=lambda r: r["id"])
def test_thread_size_is_as_published(row: dict[str, str]) -> None:
    size = REFERENCE.sizes[f"thread-{row['usp_size_synthetic_or_nonabsorbable']}"]
    assert size.metric == float(row["metric_size_tenths_mm"])
    if row["usp_diameter_min_mm"]:
        expect(
            (size.outer_mm.low, size.outer_mm.high)
            == (float(row["usp_diameter_min_mm"]), float(row["usp_diameter_max_mm"])),
            f"{size.word}: {size.outer_mm}", "memory",
        )


def test_each_zero_makes_a_thread_thinner_and_one_is_not_zero() -> None:
    """USP <861>: 1 is thicker than 0, 0 than 2-0, 2-0 than 3-0 and so on."""
    by = {s.word: s for s in REFERENCE.sizes.values() if s.kind == "thread"}
    order = ["1", "0", "2-0", "3-0", "4-0", "5-0", "6-0", "7-0"]
    metric = [by[word].metric or 0 for word in order]
    assert metric == sorted(metric, reverse=True)
    assert len(set(metric)) == len(metric)


@pytest.mark.parametrize(
    "row", [r for r in rows("tube-french-inch.csv") if r["kind"] == "french_to_mm"],
    ids=lambda r: r["id"],
)
def test_french_agrees_with_an_independent_unit_library(
    row: dict[str, str], units: PintUcumRegistry
) -> None:
    """[Ch] of the Unified Code for Units of Measure is a third of a millimetre."""
    french = float(row["input"].split()[0])
    ours = french / 3
    assert ours == pytest.approx((french * units.from_ucum("[Ch]")).to("mm").magnitude, abs=1e-6)
    assert ours == pytest.approx(float(row["value_mm"]), abs=0.006)


@pytest.mark.parametrize("name", sorted(
    p.id for p in REFERENCE.patterns.values()
    if any("french" in f.measures and "working_width_mm" in f.measures for f in p.forms)
))
def test_outer_width_of_a_tube_follows_from_its_french_size(name: str) -> None:
    """F / 3; a sheath's or trocar's figure is what passes through, so wider is allowed."""
    for form in REFERENCE.patterns[name].forms:
        if "french" in form.measures and "working_width_mm" in form.measures:
            assert form.measures["working_width_mm"].high >= form.measures["french"].high / 3 - 0.4


def test_the_airway_bougie_passes_the_airway_tube_with_the_published_clearance() -> None:
    """A 15 F bougie leaves 1.0 mm in a 6.0 tube, a 14 F one 1.33 (arithmetic on F / 3)."""
    bougie = REFERENCE.patterns["bougie-tracheal"].forms[0].measures["french"]
    tube = REFERENCE.patterns["tube-tracheal-60"].forms[0].measures["id_mm"]
    published = {
        r["input"]: float(r["value_mm"]) for r in rows("tube-french-inch.csv")
        if r["kind"] == "bougie_in_tube" and "ID 6.0" in r["input"]
    }
    tight = tube.low - bougie.high / 3
    loose = tube.low - bougie.low / 3
    assert tight == pytest.approx(min(published.values()), abs=0.02)
    assert loose == pytest.approx(max(published.values()), abs=0.02)


@pytest.mark.parametrize(
    "row", [r for r in rows("tube-french-inch.csv") if r["kind"] == "inch_to_mm"],
    ids=lambda r: r["id"],
)
def test_the_reader_turns_inches_into_published_millimetres(row: dict[str, str]) -> None:
    """1 in = 25.4 mm; the reader rounds to a millimetre."""
    from etui.reading import Reader

    words = row["input"].replace("in", "").strip()
    inches = float(sum((Fraction(w) for w in words.replace("-", " ").split()), Fraction(0)))
    assert inches * 25.4 == pytest.approx(float(row["value_mm"]), abs=0.06)
    item = Reader(REFERENCE).read(f'Mayo scissors curved {words}"').first
    assert item.attributes.length_mm == pytest.approx(inches * 25.4, abs=0.51)
