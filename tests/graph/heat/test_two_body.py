"""Two bodies, copper and insulation: adiabatic limit as the short end, the table's current as the long end.

Published in between: the non-adiabatic factor of IEC 60949, ε = √(1 + X·√(t/S) + Y·t/S), for copper in PVC up to 3
kV X = 0.29, Y = 0.06 (values from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from loadloom.graph.heat.two_body import TwoBodies, two_bodies
from loadloom.graph.model.elements import Conductor, Gauge, GaugeSystem
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import Ambient, AnalysisSettings

SETTINGS = AnalysisSettings(basis_stated=True, default_ambient=Ambient(20.0, 30.0))
PVC_A = {1.5: 17.5, 2.5: 24.0, 4.0: 32.0, 10.0: 57.0, 25.0: 101.0, 95.0: 232.0}
"""IEC 60364-5-52 B1, two loaded, PVC, 30 °C (from memory); only the order of size matters here."""


def bodies(area_mm2: float, allowed_a: float | None = None) -> TwoBodies:
    wire = Conductor(
        id="W1", subject=Subject("W1"), node_a="a", node_b="b", length_m=1.0, insulation="PVC 70 °C",
        gauge=Gauge(GaugeSystem.MM2, f"{area_mm2:g}", area_mm2),
    )  # fmt: skip
    found = two_bodies(wire, SETTINGS, allowed_a or PVC_A[area_mm2])
    assert found is not None
    return found


@pytest.mark.parametrize("area_mm2", PVC_A)
def test_the_short_end_is_the_adiabatic_limit(area_mm2: float) -> None:
    """k = 115 of copper in PVC from 70 to 160 °C (IEC 60364-4-43 table 43A): I = k·S/√t."""
    for time_s in (0.01, 0.5, 1.0, 5.0):
        assert bodies(area_mm2).withstand_a(time_s) == pytest.approx(
            115.0 * area_mm2 / math.sqrt(time_s), rel=0.005
        )


@pytest.mark.parametrize("area_mm2", PVC_A)
def test_the_copper_alone_follows_the_published_formula(area_mm2: float) -> None:
    """In 10 ms nothing is passed on: 226·S·√(ln((234.5 + T) / (234.5 + 30)) / t), within what the model rounds."""
    found = bodies(area_mm2)
    current_a = 226.0 * area_mm2 * math.sqrt(math.log((234.5 + 160.0) / (234.5 + 30.0)) / 0.01)
    assert found.temperature_c(current_a, 0.01) == pytest.approx(160.0, abs=1.5)


@pytest.mark.parametrize("area_mm2", PVC_A)
def test_the_long_end_is_the_allowed_current(area_mm2: float) -> None:
    found = bodies(area_mm2)
    assert found.temperature_c(PVC_A[area_mm2], 1e6) == pytest.approx(70.0, abs=0.01)
    assert found.temperature_c(PVC_A[area_mm2], 3600.0, before_a=PVC_A[area_mm2]) == pytest.approx(70.0, abs=0.01)
    assert found.withstand_a(3600.0) == pytest.approx(PVC_A[area_mm2], rel=1e-3)
    assert found.withstand_a(1e5) == pytest.approx(PVC_A[area_mm2], rel=1e-3)


@pytest.mark.parametrize("area_mm2", PVC_A)
def test_between_them_no_more_than_the_published_factor_gives(area_mm2: float) -> None:
    """Up to 60 s at most ε times the adiabatic current; and what it stands never grows with the time."""
    found = bodies(area_mm2)
    before = math.inf
    for time_s in (5.0, 7.0, 10.0, 20.0, 30.0, 60.0, 120.0, 600.0, 1800.0, 3600.0):
        stands_a = found.withstand_a(time_s)
        ratio = time_s / area_mm2
        factor = math.sqrt(1.0 + 0.29 * math.sqrt(ratio) + 0.06 * ratio)
        if time_s <= 60.0:
            assert stands_a <= 1.01 * factor * 115.0 * area_mm2 / math.sqrt(time_s)
        assert PVC_A[area_mm2] * (1.0 - 1e-9) <= stands_a <= before * (1.0 + 1e-9)
        before = stands_a


@pytest.mark.parametrize(("area_mm2", "times", "time_s"), [(1.5, 5.0, 8.0), (4.0, 3.0, 60.0), (95.0, 8.0, 30.0)])
def test_the_closed_form_is_the_integral(area_mm2: float, times: float, time_s: float) -> None:
    """The same two equations stepped through by scipy, copper's resistance by (234.5 + T) / 254.5."""
    found = bodies(area_mm2)
    current_a = times * PVC_A[area_mm2]

    def slope(_: float, at: np.ndarray) -> list[float]:
        made = current_a**2 * found.r20_ohm_per_m * (234.5 + 30.0 + at[0]) / 254.5
        passed = (at[0] - at[1]) / found.inner_km_per_w
        return [
            (made - passed) / found.copper_j_per_km,
            (passed - at[1] / found.outer_km_per_w) / found.insulation_j_per_km,
        ]

    stepped = solve_ivp(slope, (0.0, time_s), [0.0, 0.0], rtol=1e-9, atol=1e-9, method="Radau")
    assert found.temperature_c(current_a, time_s) == pytest.approx(30.0 + stepped.y[0, -1], rel=1e-5)


def test_the_damage_temperature_falls_from_five_seconds_to_an_hour() -> None:
    found = bodies(2.5)
    assert found.damage_c(0.1) == found.damage_c(5.0) == pytest.approx(160.0, abs=1.0)
    assert found.damage_c(math.sqrt(5.0 * 3600.0)) == pytest.approx((found.final_c + 70.0) / 2.0)
    assert found.damage_c(3600.0) == found.damage_c(1e6) == pytest.approx(70.0)


def test_a_bundled_conductor_stands_less_for_long_and_as_much_for_short() -> None:
    alone, bundled = bodies(2.5), bodies(2.5, 12.0)
    assert bundled.withstand_a(1.0) == alone.withstand_a(1.0)
    assert bundled.withstand_a(600.0) < alone.withstand_a(600.0)


def test_the_bodies_are_those_of_a_round_wire_in_a_thin_wall() -> None:
    """1.5 mm² is 1.382 mm across and in 0.25 mm of wall 1.882 mm: a ring of 1.2818 mm²,
    2.179 J/(K·m) at 1.7 MJ/(K·m³).

    To the middle of the wall it is half of 6 K·m/W · ln(1.882 / 1.382) / 2π. Copper: 3.45 MJ/(K·m³), 11.494 mΩ/m.
    """
    found = bodies(1.5)
    assert found.insulation_j_per_km == pytest.approx(1.7 * 1.2818, rel=1e-3)
    assert found.copper_j_per_km == pytest.approx(3.45 * 1.5)
    assert found.inner_km_per_w == pytest.approx(3.0 * math.log(1.8820 / 1.3820) / (2.0 * math.pi), rel=1e-3)
    warm_ohm = 0.011494 * (234.5 + 70.0) / (234.5 + 20.0)
    whole = 40.0 / (17.5**2 * warm_ohm)
    assert found.inner_km_per_w + found.outer_km_per_w == pytest.approx(whole, rel=1e-4)
