"""Resistance of conductors against published values; the source stands beside each check."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import pytest

from loadloom.graph.conductors import (
    COPPER_ALPHA20_PER_K,
    IEC_60228_ALPHA20_PER_K,
    RESISTANCE_TABLES,
    conductor_resistances,
    resistance_assumptions,
    resistance_ohm,
    temperature_factor,
)
from loadloom.graph.elements import Conductor, Gauge, GaugeSystem
from loadloom.graph.findings import Subject
from loadloom.graph.harness import Harness
from loadloom.graph.settings import Ambient, AnalysisSettings
from loadloom.graph.solving.network import GREATEST_FAULT, LEAST_FAULT, LOAD_STATE

FOOT_M = 0.3048
EXAMPLES = {
    row["id"]: row
    for row in csv.DictReader(
        line
        for line in (Path(__file__).parent / "data" / "worked_examples_ratings.csv")
        .read_text(encoding="utf-8")
        .splitlines()
        if not line.startswith("#")
    )
}


def awg(size: str) -> Gauge:
    """ASTM B258: d = 0.127 mm · 92^((36 − n)/39)."""
    n = 1 - int(size.split("/")[0]) if "/" in size else int(size)
    return Gauge(GaugeSystem.AWG, size, math.pi / 4 * (0.127 * 92 ** ((36 - n) / 39)) ** 2)


def mm2(size: str) -> Gauge:
    return Gauge(GaugeSystem.MM2, size, float(size))


def wire(gauge: Gauge | None, length_m: float | None = 1.0, **more: object) -> Conductor:
    plain = Conductor(id="W1", subject=Subject("W1"), node_a="a", node_b="b", gauge=gauge, length_m=length_m)
    return replace(plain, **more)  # type: ignore[arg-type]


SETTINGS = AnalysisSettings()
STRANDED = AnalysisSettings(resistance_table="ac43.13-stranded")


@pytest.mark.parametrize(
    ("size", "solid_ohm_per_km"), [("4/0", 0.1608), ("10", 3.277), ("18", 20.948), ("22", 52.962), ("30", 338.55)]
)
def test_solid_copper_by_area(size: str, solid_ohm_per_km: float) -> None:
    # ASTM B258 geometry with 100 % IACS copper (NBS Handbook 100).
    assert resistance_ohm(wire(awg(size), 1000.0), 20.0, SETTINGS) == pytest.approx(solid_ohm_per_km, rel=1e-3)


@pytest.mark.parametrize(
    ("example", "size", "length_ft", "current_a"),
    [
        # AC 43.13-1B CHG 1, tables 11-7 and 11-8, page 11-22: VD = R·L·I with the resistance of table 11-9.
        ("W01", "6", 107, 20),
        ("W04", "14", 100, 20),
        ("W05", "10", 39, 20),
        ("W06", "10", 19.5, 20),  # printed 0.366 V; the product is 0.491 V
        ("W08", "10", 273, 20),
    ],
)
def test_voltage_drop_as_printed(example: str, size: str, length_ft: float, current_a: float) -> None:
    drop_v = current_a * resistance_ohm(wire(awg(size), length_ft * FOOT_M), 20.0, STRANDED)
    assert drop_v == pytest.approx(float(EXAMPLES[example]["value"]), rel=5e-3)


def test_voltage_drop_of_4_awg_as_printed() -> None:
    # AC 43.13-1B CHG 1, table 11-7, page 11-22.
    drop_v = 20 * resistance_ohm(wire(awg("4"), 90 * FOOT_M), 20.0, STRANDED)
    assert drop_v == pytest.approx(float(EXAMPLES["W02"]["value"]), rel=1e-3)


def test_length_correction_of_a_hot_conductor() -> None:
    # AC 43.13-1B CHG 1, page 11-22: L2 = 254.5·L1/(234.5 + T2); printed answer 9.5 ft (from memory).
    hot = resistance_ohm(wire(awg("20"), 1.0), 182.0, STRANDED) / resistance_ohm(
        wire(awg("20"), 1.0), 20.0, STRANDED
    )
    assert 15.5 / hot == pytest.approx(float(EXAMPLES["W09"]["value"]), rel=5e-3)


@pytest.mark.parametrize(("example", "drop_v"), [("W10", 0.36), ("W11", 1.2)])
def test_marine_drop_limits(example: str, drop_v: float) -> None:
    # Marine charts, CM = 10.75·I·L/E for 10 A over 21 ft there and back; 10.75 Ω·cmil/ft is copper at about 30 °C.
    cmil = float(EXAMPLES[example]["value"])
    gauge = Gauge(GaugeSystem.MM2, "", cmil * math.pi / 4 * 0.0254**2)
    ours_v = 10 * resistance_ohm(wire(gauge, 21 * FOOT_M), 30.0, SETTINGS)
    assert ours_v == pytest.approx(drop_v, rel=5e-3)


def test_temperature_correction_of_iec_60228() -> None:
    # IEC 60228: Kt = 1/(1 + 0.004 (T − 20)) = 0.893 at 50 °C; 0.00393 gives 0.8945.
    settings = AnalysisSettings(resistance_table="iec-60228-class-5-6")
    cold, hot = (resistance_ohm(wire(mm2("1.5")), t, settings) for t in (20.0, 50.0))
    assert cold == pytest.approx(13.3e-3)  # IEC 60228, class 5, plain
    assert cold / hot == pytest.approx(float(EXAMPLES["W45"]["value"]), abs=5e-4)
    assert 1 / temperature_factor(50.0, IEC_60228_ALPHA20_PER_K) == pytest.approx(0.893, abs=5e-4)
    assert 1 / temperature_factor(50.0, COPPER_ALPHA20_PER_K) == pytest.approx(0.8945, abs=1e-4)


def test_table_8_is_taken_back_from_75_c() -> None:
    # NEC chapter 9 table 8: 12 AWG stranded uncoated 1.98 Ω per 1000 ft at 75 °C, 5.341 Ω/km at 20 °C.
    settings = AnalysisSettings(resistance_table="nec-table-8-stranded")
    conductor = wire(awg("12"), 1000 * FOOT_M)
    assert resistance_ohm(conductor, 75.0, settings) == pytest.approx(1.98, rel=1e-9)
    assert resistance_ohm(conductor, 20.0, settings) * 1000 / (1000 * FOOT_M) == pytest.approx(5.341, rel=1e-3)


@pytest.mark.parametrize("name", RESISTANCE_TABLES)
def test_no_size_is_swapped_for_one_of_the_other_system(name: str) -> None:
    settings = AnalysisSettings(resistance_table=name)
    other = mm2("1.5") if RESISTANCE_TABLES[name].system is GaugeSystem.AWG else awg("16")
    conductor = wire(other)
    assert resistance_ohm(conductor, 20.0, settings) == pytest.approx(0.017241 / other.area_mm2)
    assert any("not in" in text for text in resistance_assumptions(conductor, settings))


def test_an_unknown_resistance_table_is_said() -> None:
    settings = AnalysisSettings(resistance_table="nowhere")
    assert resistance_ohm(wire(awg("18")), 20.0, settings) == resistance_ohm(wire(awg("18")), 20.0, SETTINGS)
    assert any("nowhere" in text for text in resistance_assumptions(wire(awg("18")), settings))


def test_placeholders_are_said() -> None:
    conductor = wire(None, None)
    assert resistance_ohm(conductor, 20.0, SETTINGS) == pytest.approx(0.017241)
    assert len(resistance_assumptions(conductor, SETTINGS)) == 2
    assert resistance_assumptions(wire(awg("18")), SETTINGS) == ()


def test_corners() -> None:
    settings = AnalysisSettings(zones={"dome": Ambient(-20.0, 35.0)})
    conductor = wire(awg("18"), insulation="PVC 70 °C", zone="dome")
    harness = Harness(conductors=(conductor,))
    at = conductor_resistances(harness, settings)
    for corner, celsius in ((GREATEST_FAULT, -20.0), (LEAST_FAULT, 70.0), (LOAD_STATE, 35.0)):
        assert at(conductor, corner) == pytest.approx(resistance_ohm(conductor, celsius, settings))
    warm = conductor_resistances(harness, settings, {"W1": 52.0})
    assert warm(conductor, LOAD_STATE) == pytest.approx(resistance_ohm(conductor, 52.0, settings))
    held = conductor_resistances(harness, replace(settings, conductor_temperature_c=20.0), {"W1": 52.0})
    for corner in (GREATEST_FAULT, LEAST_FAULT, LOAD_STATE):
        assert held(conductor, corner) == pytest.approx(resistance_ohm(conductor, 20.0, settings))
