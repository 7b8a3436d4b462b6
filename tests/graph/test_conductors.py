"""Resistance and insulation of conductors against published values; the source stands beside each check."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loadloom.graph.conductors import (
    COPPER_ALPHA20_PER_K,
    IEC_60228_ALPHA20_PER_K,
    RESISTANCE_TABLES,
    adiabatic_k_as05_per_mm2,
    conductor_resistances,
    insulation_named,
    insulation_of,
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


@pytest.mark.parametrize(
    ("text", "limit_c", "assumed"),
    [
        ("PVC 70 °C", 70, False),
        ("PVC 90°C", 90, False),
        ("105 °C", 105, False),
        ("200C", 200, False),
        ("XLPE 90", 90, False),
        ("PVC", 70, True),
        ("rubber", 60, True),
        ("class A", 85, False),  # ISO 6722 / ISO 19642
        ("class B", 100, False),
        ("Class H", 250, False),
        ("style 1007", 80, False),  # UL style 1007
        ("FEP", 200, False),  # AC 21-99 (Australia)
        ("ETFE", 150, True),  # tin-plated; AC 21-99 (Australia)
        ("cross-linked ETFE silver-plated", 200, False),
        ("105", 70, True),  # no unit and no material: not readable, the coolest class of the basis
        ("221 F", 70, True),
        ("something", 70, True),
        ("", 70, True),
        (None, 70, True),
    ],
)
def test_limits_by_name(text: str | None, limit_c: float, assumed: bool) -> None:
    found = insulation_named(text, SETTINGS)
    assert (found.limit_c, found.assumed) == (limit_c, assumed)
    if assumed:
        assert found.note


def test_the_coolest_class_follows_the_basis() -> None:
    assert insulation_named(None, AnalysisSettings(basis="building-nec")).limit_c == 60.0
    assert insulation_named(None, AnalysisSettings(basis="vehicle")).limit_c == 105.0
    assert insulation_named(None, AnalysisSettings(basis="vehicle", insulation_default_c=85.0)).limit_c == 85.0


@pytest.mark.parametrize(
    ("example", "initial_c", "final_c"),
    [("W25", 70.0, 160.0), ("W26", 90.0, 250.0)],  # IEC 60949 constants 226 and 234.5
)
def test_adiabatic_k(example: str, initial_c: float, final_c: float) -> None:
    k = adiabatic_k_as05_per_mm2(initial_c, final_c)
    assert k == pytest.approx(float(EXAMPLES[example]["value"]), abs=0.1)


def test_adiabatic_time_limit() -> None:
    # IEC 60949: t = (k·S/I)², 1.5 mm² in PVC at 300 A.
    k = insulation_named("PVC 70 °C", SETTINGS).k_as05_per_mm2
    assert k is not None
    assert (k * 1.5 / 300) ** 2 == pytest.approx(float(EXAMPLES["W28"]["value"]), rel=1e-3)


def test_k_of_materials_and_of_what_is_not_known() -> None:
    def k(text: str, gauge: Gauge) -> float | None:
        return insulation_of(wire(gauge, insulation=text), SETTINGS).k_as05_per_mm2

    assert k("PVC 70 °C", mm2("400")) == pytest.approx(102.8, abs=0.1)  # 70 → 140 °C above 300 mm²
    assert k("rubber 85", mm2("4")) == 134
    assert k("PVC 105 °C", mm2("4")) == pytest.approx(226 * math.sqrt(math.log(394.5 / 339.5)))
    assert k("105 °C", mm2("4")) == k("PVC 105 °C", mm2("4"))
    assert k("260 °C", mm2("4")) is None


@given(
    st.text(max_size=60)
    | st.from_regex(r"(PVC|class|style)? ?[0-9]{1,4}([.,][0-9]+)? ?(°C|C|K|F)?", fullmatch=True)
)
def test_any_text_is_either_understood_or_said_to_be_assumed(text: str) -> None:
    found = insulation_named(text, SETTINGS)
    assert 40.0 <= found.limit_c <= 400.0
    assert found.source
    assert not found.assumed or found.note
    assert found.k_as05_per_mm2 is None or 0 < found.k_as05_per_mm2 < 226
