"""Supplies and enclosures: power share, derating, heat and fan; numbers that anybody can recompute."""

from dataclasses import replace

import pytest

from loadloom.graph.facts.supplies import efficiency_at, power_share, supply_row, supply_rows
from loadloom.graph.heat.enclosure import by_air_w_per_k, inside_temperature_c, settle_zones
from loadloom.graph.heat.zone_heat import ZoneHeat
from loadloom.graph.model.elements import Supply
from loadloom.graph.model.settings import Ambient, AnalysisSettings, Enclosure

UNIT = Supply("PSU1", ("PSU1A",), power_w=1000.0, efficiency=((1.0, 0.92),), fanless_below=0.45)
DERATED = Supply("PSU2", ("A", "B"), power_w=500.0, power_derating=((40.0, 1.0), (50.0, 0.7)))


def test_waste_heat_and_fanless_threshold() -> None:
    # Common practice, no published source: 400 W of 1 kW at 92 % is 434.8 W in and 34.8 W of heat.
    row = supply_row(UNIT, {"PSU1A": 400.0}, "nominal", 25.0)
    assert row.load_share == pytest.approx(0.40)
    assert row.input_w == pytest.approx(434.78, abs=0.01)
    assert row.heat_w == pytest.approx(34.78, abs=0.01)
    assert row.fan_off is True
    assert supply_row(UNIT, {"PSU1A": 460.0}, None, 25.0).fan_off is False


def test_derated_unit_is_overloaded_below_its_nameplate() -> None:
    # Common practice, no published source: 400 W of 500 W is 80 %, and 114 % of the 350 W left at 50 °C.
    row = supply_row(DERATED, {"A": 300.0, "B": 100.0}, "nominal", 50.0)
    assert row.load_share == pytest.approx(0.80)
    assert row.allowed_w == pytest.approx(350.0)
    assert row.utilisation == pytest.approx(1.143, abs=5e-4)


def test_derating_is_linear_between_its_points_and_says_nothing_beyond() -> None:
    assert power_share(DERATED, 20.0).share == 1.0
    assert power_share(DERATED, 45.0).share == pytest.approx(0.85)
    beyond = power_share(DERATED, 51.0)
    assert beyond.share is None
    assert beyond.missing is not None
    row = supply_row(DERATED, {"A": 10.0, "B": 10.0}, None, 51.0)
    assert (row.allowed_w, row.utilisation, row.missing) == (None, None, beyond.missing)


def test_several_deratings_multiply() -> None:
    # By hand: 500 W × 85 % at 45 °C × 80 % × 90 % = 306 W; the chain says what took how much.
    mounted = replace(DERATED, mounting=(("upside down", 0.8), ("dust filter", 0.9)))
    found = power_share(mounted, 45.0)
    assert found.share == pytest.approx(0.85 * 0.8 * 0.9)
    assert [(f.kind, f.reason, f.factor) for f in found.factors] == [
        ("inside", "45 °C inside", pytest.approx(0.85)),
        ("mounting", "upside down", 0.8),
        ("mounting", "dust filter", 0.9),
    ]
    assert supply_row(mounted, {"A": 306.0, "B": 0.0}, None, 45.0).utilisation == pytest.approx(1.0)
    assert power_share(replace(UNIT, mounting=(("on its side", 0.7),)), 25.0).share == pytest.approx(0.7)
    unreadable = power_share(replace(mounted, placeholders=frozenset({"mounting"})), 45.0)
    assert (unreadable.share, unreadable.missing) == (None, "its mounting derating can't be read")


def test_the_formula_of_a_derating_recomputes_it() -> None:
    for celsius in (20.0, 40.0, 43.0, 50.0):
        (factor,) = power_share(DERATED, celsius).factors
        assert factor.formula is not None
        assert factor.formula.at(celsius) == pytest.approx(factor.factor)


def test_a_single_point_holds_up_to_its_temperature() -> None:
    single = replace(DERATED, power_derating=((50.0, 0.7),))
    assert power_share(single, 25.0).share == 0.7
    assert power_share(single, 50.5).share is None


def test_efficiency_curve() -> None:
    curve = replace(UNIT, efficiency=((0.2, 0.90), (0.5, 0.92), (1.0, 0.89)))
    assert efficiency_at(curve, 0.35) == pytest.approx(0.91)
    assert efficiency_at(curve, 0.75) == pytest.approx(0.905)
    assert (efficiency_at(curve, 0.05), efficiency_at(curve, 1.2)) == (0.90, 0.89)


def test_unknown_is_not_zero() -> None:
    row = supply_row(DERATED, {"A": 300.0, "B": None}, None, 40.0)
    assert (row.power_w, row.utilisation, row.input_w, row.heat_w, row.fan_off) == (None,) * 5
    unreadable = replace(DERATED, placeholders=frozenset({"power_derating"}))
    row = supply_row(unreadable, {"A": 300.0, "B": 0.0}, None, 40.0)
    assert row.utilisation is None
    assert row.missing is not None


def test_power_flowing_backwards_relieves_no_other_output() -> None:
    assert supply_row(DERATED, {"A": 300.0, "B": -50.0}, None, 40.0).power_w == 300.0


def test_worst_case_and_zone() -> None:
    settings = AnalysisSettings(zones={"box": Ambient(0.0, 50.0)})
    supply = replace(DERATED, zone="box")
    powers = {"idle": {"A": 20.0, "B": 0.0}, "full": {"A": 300.0, "B": 100.0}}
    (row,) = supply_rows([supply], powers, settings)
    assert (row.case, row.inside_c, row.allowed_w) == ("full", 50.0, pytest.approx(350.0))
    (row,) = supply_rows([supply], powers, settings, {"PSU2": 45.0})
    assert row.allowed_w == pytest.approx(425.0)
    (row,) = supply_rows([UNIT], {"idle": {"PSU1A": 100.0}, "full": {"PSU1A": 500.0}}, settings)
    assert row.fan_off is False  # some case turns it on


def test_enclosure_by_surface_and_by_air() -> None:
    # Energy balance: 55 W over 1 m² × 5.5 W/(m²·K) is 10 K (coefficient: common practice, no published source).
    assert inside_temperature_c(
        Enclosure(surface_m2=1.0, surface_coefficient_w_per_m2k=5.5), 55.0, 20.0
    ) == pytest.approx(30.0)
    # Dry air of 1.204 kg/m³ at 20 °C and 101 325 Pa (ISO 2533 gas constant), 1006 J/(kg·K): 10 l/s carry 12.1 W/K.
    assert by_air_w_per_k(Enclosure(air_flow_m3_per_s=0.01), 20.0) == pytest.approx(12.11, abs=0.01)
    # ISO 2533: 70.11 kPa at 3000 m, 0.6919 of the sea-level pressure, and as much less heat carried off.
    thin = by_air_w_per_k(Enclosure(air_flow_m3_per_s=0.01), 20.0, 3000.0)
    assert thin / by_air_w_per_k(Enclosure(air_flow_m3_per_s=0.01), 20.0) == pytest.approx(0.6919, abs=1e-3)


def test_zones_warm_up_together() -> None:
    # Heat balance by hand: rises of 55/(5.5 − 1) and 11/(2.2) K over the air outside.
    settings = AnalysisSettings(
        zones={"box": Ambient(-10.0, 25.0), "rack": Ambient(5.0, 30.0), "free": Ambient(0.0, 20.0)},
        enclosures={
            "box": Enclosure(surface_m2=1.0, surface_coefficient_w_per_m2k=5.5),
            "rack": Enclosure(surface_m2=0.4, surface_coefficient_w_per_m2k=5.5),
        },
    )

    def heat_by_zone_w(warm: AnalysisSettings) -> dict[str, ZoneHeat]:
        grown_k = warm.ambient("box").max_c - 25.0
        return {
            "box": ZoneHeat(supplies_w=50.0, loads_w=5.0, conductors_w=grown_k),
            "rack": ZoneHeat(loads_w=11.0),
            "free": ZoneHeat(devices_w=500.0),
        }

    warm, inside = settle_zones(settings, heat_by_zone_w)
    assert warm.ambient("box").max_c == pytest.approx(25.0 + 55 / 4.5, abs=0.01)
    assert warm.ambient("rack").max_c == pytest.approx(35.0, abs=0.01)
    assert (warm.ambient("box").min_c, warm.ambient("free").max_c) == (-10.0, 20.0)
    assert all(each.settled for each in inside.values())
    assert inside["box"].heat.total_w == pytest.approx(55.0 + 55 / 4.5, abs=0.05)
    assert (inside["box"].outside_c, inside["box"].conductance_w_per_k) == (25.0, pytest.approx(5.5))
    assert settle_zones(AnalysisSettings(), lambda w: {}) == (AnalysisSettings(), {})


@pytest.mark.parametrize("gain", [0.5, 0.9, 0.97])
def test_heat_that_nearly_runs_away_is_still_found(gain: float) -> None:
    # rise = P / (G − gain·G): a plain iteration would take hundreds of rounds at 0.97.
    settings = AnalysisSettings(
        zones={"box": Ambient(0.0, 20.0)},
        enclosures={"box": Enclosure(surface_m2=1.0, surface_coefficient_w_per_m2k=5.5)},
        altitude_m=0.0,
    )
    rounds = 0

    def heat_by_zone_w(warm: AnalysisSettings) -> dict[str, ZoneHeat]:
        nonlocal rounds
        rounds += 1
        return {"box": ZoneHeat(loads_w=11.0 + gain * 5.5 * (warm.ambient("box").max_c - 20.0))}

    warm, inside = settle_zones(settings, heat_by_zone_w)
    assert inside["box"].settled
    assert warm.ambient("box").max_c == pytest.approx(20.0 + 2.0 / (1.0 - gain), abs=0.02)
    assert rounds <= 5


@pytest.mark.parametrize("gain", [1.0, 1.5, 4.0])
def test_heat_that_runs_away_is_not_settled(gain: float) -> None:
    settings = AnalysisSettings(
        zones={"box": Ambient(0.0, 25.0)},
        enclosures={"box": Enclosure(surface_m2=1.0, surface_coefficient_w_per_m2k=5.5)},
        altitude_m=0.0,
    )
    away, inside = settle_zones(
        settings, lambda w: {"box": ZoneHeat(loads_w=55.0 + gain * 5.5 * (w.ambient("box").max_c - 25.0))}
    )
    assert not inside["box"].settled
    assert away.ambient("box").max_c > 100.0


def test_an_enclosure_that_gives_off_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="neither"):
        inside_temperature_c(Enclosure(), 1.0, 20.0)
    with pytest.raises(ValueError, match="below zero"):
        inside_temperature_c(Enclosure(surface_m2=-1.0), 1.0, 20.0)
