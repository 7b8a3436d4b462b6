"""Enclosures: how warm it gets inside, by heat balances that anybody can recompute."""

import pytest

from loadloom.graph.heat.enclosure import by_air_w_per_k, inside_temperature_c, settle_zones
from loadloom.graph.heat.zone_heat import ZoneHeat
from loadloom.graph.model.settings import Ambient, AnalysisSettings, Enclosure


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
