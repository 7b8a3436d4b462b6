"""What published rows of small cables allow at most, by the factors of IEC 60364-5-52 beside them."""

from __future__ import annotations

import math

import pytest

from loadloom.graph.model.elements import Gauge, GaugeSystem
from loadloom.graph.ratings.chain import Question
from loadloom.graph.ratings.flexible import small_cable_cap


def cap_a(area_mm2: float, loaded: int, ambient_c: float = 30.0, limit_c: float = 70.0) -> float | None:
    gauge = Gauge(GaugeSystem.MM2, f"{area_mm2:g}", area_mm2)
    cap = small_cable_cap(Question(gauge, limit_c, ambient_c, loaded, None, 0.0, in_cable=True))
    return None if cap is None else cap.limit_a


@pytest.mark.parametrize(
    ("loaded", "factor"),
    [(2, 1.0), (4, 0.8), (6, 0.7), (12, 0.57), (24, 0.45), (40, 0.38), (42, 0.38), (200, 0.38)],
)
def test_circuits_side_by_side(loaded: int, factor: float) -> None:
    """Table B.52.17, bunched: 2 circuits 0.80, 3 0.70, 6 0.57, 12 0.45, 20 0.38; beyond that a bound."""
    alone = cap_a(0.34, 2)
    assert alone is not None and cap_a(0.34, loaded) == pytest.approx(alone * factor)


@pytest.mark.parametrize(("ambient_c", "factor"), [(30.0, 1.0), (40.0, 0.87), (50.0, 0.71), (60.0, 0.50)])
def test_warm_air(ambient_c: float, factor: float) -> None:
    """Table B.52.14, PVC at 30 °C."""
    alone = cap_a(0.34, 2)
    assert alone is not None and cap_a(0.34, 2, ambient_c) == pytest.approx(alone * factor)


def test_insulation_that_stands_less_than_pvc() -> None:
    """√((60 - 45) / (70 - 30)) in air of 45 °C; hotter insulation is no credit below 60 °C."""
    alone = cap_a(0.34, 2)
    assert alone is not None
    assert cap_a(0.34, 2, 45.0, 60.0) == pytest.approx(alone * math.sqrt(15.0 / 40.0))
    assert cap_a(0.34, 2, 30.0, 105.0) == pytest.approx(alone)
    assert cap_a(0.34, 2, 80.0, 105.0) == pytest.approx(alone * 0.5 * math.sqrt(25.0 / 45.0))
    assert cap_a(0.34, 2, 60.0, 60.0) is None, "nothing is left"


def test_from_half_a_square_millimetre_up_there_is_no_such_bound() -> None:
    assert cap_a(0.5, 2) is None and cap_a(0.49, 2) is not None
    rising = [cap_a(area, 2) or 0.0 for area in (0.05, 0.08, 0.14, 0.2, 0.25, 0.34, 0.45)]
    assert rising == sorted(rising) and rising[0] > 0.0
