"""Sizes and ratings that can be bought, against the lists of the standards."""

from __future__ import annotations

import itertools
import math

import pytest
from wired import wire

from loadloom.graph.model.elements import DeviceKind, Gauge, GaugeSystem
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.sizing.shelf import (
    DEFAULT_AWG,
    DEFAULT_MM2,
    STANDARD_RATINGS_A,
    awg_area_mm2,
    copper_g,
    gauge_of,
    shelf,
    standard_between,
)

IEC_60228_MM2 = (0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120)
ISO_8820_3_A = (1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40)
IEC_60898_1_A = (6, 8, 10, 13, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125)
"""Nominal sections of IEC 60228 (table 1); blade fuses of ISO 8820-3; preferred ratings of IEC 60898-1, 5.3.2 (both
from memory).
"""


def test_what_is_sold_is_what_the_standards_list() -> None:
    assert tuple(float(size) for size in DEFAULT_MM2 if float(size) >= 0.5) == IEC_60228_MM2
    fuses, breakers = STANDARD_RATINGS_A[DeviceKind.FUSE], STANDARD_RATINGS_A[DeviceKind.BREAKER]
    assert tuple(a for a in fuses if 1 <= a <= 40) == ISO_8820_3_A
    assert set(IEC_60898_1_A) <= set(breakers)
    for ratings in (fuses, breakers):
        assert list(ratings) == sorted(set(ratings))
        # No step but the least ones is wider than in the series R5 of ISO 3.
        assert all(b <= 1.67 * a for a, b in itertools.pairwise(ratings[3:]))


@pytest.mark.parametrize(
    ("size", "area_mm2"), [("4/0", 107.2), ("2/0", 67.4), ("10", 5.261), ("18", 0.8230), ("26", 0.1288)]
)
def test_areas_of_awg_sizes(size: str, area_mm2: float) -> None:
    """ASTM B258, table 1."""
    assert awg_area_mm2(size) == pytest.approx(area_mm2, rel=1e-3)
    assert gauge_of(f"{size} AWG") == Gauge(GaugeSystem.AWG, size, awg_area_mm2(size))


def test_sizes_as_they_are_written() -> None:
    assert gauge_of("0.75 mm²") == Gauge(GaugeSystem.MM2, "0.75", 0.75)
    for text in ("0.75", "0.75 mm", "AWG 18", ""):
        with pytest.raises(ValueError, match="is no size"):
            gauge_of(text)


@pytest.mark.parametrize(
    ("kind", "low", "high", "rating"),
    [
        (DeviceKind.FUSE, 5.0, 9.0, 5.0),
        (DeviceKind.FUSE, 5.01, 9.0, 7.5),
        (DeviceKind.FUSE, 5.01, 7.5, 7.5),
        (DeviceKind.FUSE, 5.01, 7.49, None),
        (DeviceKind.FUSE, 5.0 * (1 + 1e-10), 7.4, 5.0),
        (DeviceKind.BREAKER, 11.0, 20.0, 13.0),
        (DeviceKind.LIMITER, 1.0, 20.0, None),
    ],
)
def test_the_least_rating_that_is_sold(kind: DeviceKind, low: float, high: float, rating: float | None) -> None:
    assert standard_between(kind, low, high) == rating


def test_the_sizes_at_hand() -> None:
    awg, metric = wire("W1", "a", "b", awg=18), wire("W2", "a", "b", mm2=1.5)
    plain = AnalysisSettings()
    assert [size.size for size in shelf([awg], plain).sizes] == list(DEFAULT_AWG)
    assert [size.size for size in shelf([], plain).sizes] == list(DEFAULT_MM2)
    both = shelf([awg, metric, metric], plain)
    assert [s.area_mm2 for s in both.sizes] == sorted(s.area_mm2 for s in both.sizes)
    assert len(both.sizes) == len(DEFAULT_AWG) + len(DEFAULT_MM2) and both.is_default
    assert {s.system for s in both.of(awg)} == {GaugeSystem.AWG} != {s.system for s in both.of(metric)}
    assert {s.system for s in both.of(wire("W3", "a", "b"))} == {GaugeSystem.MM2}, "as most are drawn"
    stocked = shelf([awg, metric], AnalysisSettings(stocked_sizes=("2.5 mm²", "1 mm²")))
    assert [s.size for s in stocked.sizes] == ["1", "2.5"] and not stocked.is_default
    assert stocked.of(awg) == stocked.sizes, "nothing of its own system is at hand"
    assert stocked.note == "Sizes are those of stocked_sizes in the settings: 1, 2.5 mm²."
    assert "no stocked_sizes" in both.note and " AWG and " in both.note


def test_mass_of_copper() -> None:
    """IEC 60028: 8.89 g/cm³; 1 m of 1 mm² is 1 cm³."""
    assert copper_g(1.5, 2.0) == pytest.approx(3.0 * 8.89)
    assert math.isclose(copper_g(0.0, 2.0), 0.0)
