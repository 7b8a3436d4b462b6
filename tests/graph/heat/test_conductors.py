"""Resistance of the conductors of a harness: what settings, stated values and corners make of it."""

import math
from dataclasses import replace

import pytest

from loadloom.graph.circuit.network import GREATEST_FAULT, LEAST_FAULT, LOAD_STATE
from loadloom.graph.heat.conductors import (
    conductor_resistances,
    resistance_assumptions,
    resistance_band_ohm,
)
from loadloom.graph.model.elements import Band, Conductor, Gauge, GaugeSystem, Make
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Ambient, AnalysisSettings


def awg(size: str) -> Gauge:
    """ASTM B258: d = 0.127 mm · 92^((36 − n)/39)."""
    n = 1 - int(size.split("/")[0]) if "/" in size else int(size)
    return Gauge(GaugeSystem.AWG, size, math.pi / 4 * (0.127 * 92 ** ((36 - n) / 39)) ** 2)


def mm2(size: str) -> Gauge:
    return Gauge(GaugeSystem.MM2, size, float(size))


def wire(gauge: Gauge | None, length_m: float | None = 1.0, **more: object) -> Conductor:
    plain = Conductor(id="W1", subject=Subject("W1"), node_a="a", node_b="b", gauge=gauge, length_m=length_m)
    return replace(plain, **more)  # type: ignore[arg-type]


DEFAULT = AnalysisSettings()


def greatest_ohm(conductor: Conductor, temperature_c: float, settings: AnalysisSettings) -> float:
    return resistance_band_ohm(conductor, temperature_c, settings).upper


# ISO 6722, tinned, mΩ/m at 20 °C, values from memory: sizes that no shipped table has.
ISO_6722 = {
    "0.13": 140, "0.35": 55.5, "1.25": 15.9, "2": 9.69, "3": 6.36, "5": 4.02, "8": 2.52, "12": 1.6, "20": 0.999,
    "30": 0.684, "40": 0.5, "60": 0.333,
}  # fmt: skip


# AC 43.13-1B table 11-9: nominal areas in circular mils that are more copper than the solid wire of the number.
LARGE_NOMINAL_CMIL = {"20": 1216, "8": 16983, "6": 26818, "4": 42615, "2": 66500}


def test_a_conductor_says_more_than_the_settings() -> None:
    settings = replace(DEFAULT, make=Make(7, True))
    assert resistance_band_ohm(wire(awg("16"), make=Make(None, False)), 20.0, settings) == resistance_band_ohm(
        wire(awg("16"), make=Make(7, False)), 20.0, DEFAULT
    )


def test_the_length_tolerance_widens_the_band() -> None:
    plain = resistance_band_ohm(wire(awg("16"), 10.0), 20.0, DEFAULT)
    wide = resistance_band_ohm(wire(awg("16"), 10.0), 20.0, replace(DEFAULT, length_tolerance=0.05))
    assert (wide.lower, wide.upper) == pytest.approx((plain.lower * 0.95, plain.upper * 1.05))


def test_placeholders_are_said() -> None:
    conductor = wire(None, None)
    assert greatest_ohm(conductor, 20.0, DEFAULT) == pytest.approx(0.017241)
    assert len(resistance_assumptions(conductor, DEFAULT)) == 2


def test_corners() -> None:
    settings = AnalysisSettings(zones={"dome": Ambient(-20.0, 35.0)})
    conductor = wire(awg("18"), insulation="PVC 70 °C", zone="dome")
    harness = Harness(conductors=(conductor,))

    def band(celsius: float) -> Band:
        return resistance_band_ohm(conductor, celsius, settings)

    at = conductor_resistances(harness, settings)
    assert at(conductor, GREATEST_FAULT) == pytest.approx(band(-20.0).lower)
    assert at(conductor, LEAST_FAULT) == pytest.approx(band(70.0).upper)
    assert at(conductor, LOAD_STATE) == pytest.approx(band(35.0).upper)
    warm = conductor_resistances(harness, settings, {"W1": 52.0})
    assert warm(conductor, LOAD_STATE) == pytest.approx(band(52.0).upper)
    held = conductor_resistances(harness, replace(settings, conductor_temperature_c=20.0), {"W1": 52.0})
    assert held(conductor, GREATEST_FAULT) == pytest.approx(band(20.0).lower)
    for corner in (LEAST_FAULT, LOAD_STATE):
        assert held(conductor, corner) == pytest.approx(band(20.0).upper)
