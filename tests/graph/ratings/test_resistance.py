"""Resistance of conductors against published values; the source stands beside each check."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import pytest

from loadloom.graph.heat.conductors import (
    resistance_assumptions,
    resistance_band_ohm,
)
from loadloom.graph.model.elements import Conductor, Gauge, GaugeSystem, Make
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.resistance import (
    COPPER_ALPHA20_PER_K,
    IEC_60228_ALPHA20_PER_K,
    NAMED_TABLES,
    temperature_factor,
    unit_band,
)

FOOT_M = 0.3048
EXAMPLES = {
    row["id"]: row
    for row in csv.DictReader(
        line
        for line in (Path(__file__).parents[1] / "data" / "worked_examples_ratings.csv")
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


SETTINGS = AnalysisSettings(resistance_table="copper")
DEFAULT = AnalysisSettings()
STRANDED = AnalysisSettings(resistance_table="ac43.13-stranded")


def greatest_ohm(conductor: Conductor, temperature_c: float, settings: AnalysisSettings) -> float:
    return resistance_band_ohm(conductor, temperature_c, settings).upper


def published() -> dict[Gauge, list[float]]:
    """Every published resistance in Ω/km at 20 °C by size; sources stand in the file."""
    found: dict[Gauge, list[float]] = {}
    text = (Path(__file__).parents[1] / "data" / "published_resistances.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(line for line in text.splitlines() if not line.startswith("#")):
        size = awg(row["size"]) if row["system"] == "AWG" else mm2(row["size"])
        found.setdefault(size, []).append(float(row["r20_ohm_per_km"]))
    return found


@pytest.mark.parametrize(
    ("size", "solid_ohm_per_km"), [("4/0", 0.1608), ("10", 3.277), ("18", 20.948), ("22", 52.962), ("30", 338.55)]
)
def test_solid_copper_by_area(size: str, solid_ohm_per_km: float) -> None:
    # ASTM B258 geometry with 100 % IACS copper (NBS Handbook 100); no band.
    band = resistance_band_ohm(wire(awg(size), 1000.0), 20.0, SETTINGS)
    assert band.upper == band.lower == pytest.approx(solid_ohm_per_km, rel=1e-3)
    assert resistance_assumptions(wire(awg(size)), SETTINGS) == ()


@pytest.mark.parametrize("size", published(), ids=str)
def test_the_band_of_every_published_size(size: Gauge) -> None:
    cells = published()[size]
    band = resistance_band_ohm(wire(size, 1000.0), 20.0, DEFAULT)
    assert max(cells) * (1 - 1e-5) <= band.upper <= 1.1 * max(cells)
    solid = 17.241 / size.area_mm2
    assert band.lower <= min(solid, *cells) * (1 + 1e-3)
    assert band.lower >= 0.8 * solid  # 19 strands of the next even size are at most 1.22 times the copper


@pytest.mark.parametrize("area", ["0.1", "0.35", "0.6", "1.25", "2", "3", "8", "12", "30", "60", "150", "300"])
def test_a_size_without_a_row_is_an_estimate_above_its_neighbours(area: str) -> None:
    band = resistance_band_ohm(wire(mm2(area), 1000.0), 20.0, DEFAULT)
    excess = band.upper * float(area) / 17.241
    neighbours = [
        max(cells) * g.area_mm2 / 17.241 for g, cells in published().items() if g.system == GaugeSystem.MM2
    ]
    assert min(neighbours) < excess <= 1.035 * max(neighbours) * (1 + 1e-9)
    assert band.lower == pytest.approx(17.241 / float(area))
    assert any("estimate" in text for text in resistance_assumptions(wire(mm2(area)), DEFAULT))


# ISO 6722, tinned, mΩ/m at 20 °C, values from memory: sizes that no shipped table has.
ISO_6722 = {
    "0.13": 140, "0.35": 55.5, "1.25": 15.9, "2": 9.69, "3": 6.36, "5": 4.02, "8": 2.52, "12": 1.6, "20": 0.999,
    "30": 0.684, "40": 0.5, "60": 0.333,
}  # fmt: skip


@pytest.mark.parametrize("area", ISO_6722)
def test_an_estimate_is_at_least_the_row_of_vehicle_cable_and_not_far_above(area: str) -> None:
    upper = resistance_band_ohm(wire(mm2(area), 1000.0), 20.0, DEFAULT).upper
    assert 1.0 <= upper / ISO_6722[area] <= 1.1


# AC 43.13-1B table 11-9: nominal areas in circular mils that are more copper than the solid wire of the number.
LARGE_NOMINAL_CMIL = {"20": 1216, "8": 16983, "6": 26818, "4": 42615, "2": 66500}


@pytest.mark.parametrize("size", LARGE_NOMINAL_CMIL)
@pytest.mark.parametrize("make", [Make(), Make(19, True), Make(133, None)])
def test_the_least_is_the_copper_of_the_largest_published_area(size: str, make: Make) -> None:
    lower = resistance_band_ohm(wire(awg(size), 1000.0, make=make), 20.0, DEFAULT).lower
    area_mm2 = LARGE_NOMINAL_CMIL[size] * math.pi / 4 * 0.0254**2
    assert lower == pytest.approx(17.241 / area_mm2, rel=1e-3)
    seven = resistance_band_ohm(wire(awg(size), 1000.0, make=Make(7, False)), 20.0, DEFAULT).lower
    assert seven > lower


@pytest.mark.parametrize(
    ("size", "make", "greatest_ohm_per_km"),
    [
        # NEC chapter 9 table 8, 75 °C taken to 20 °C by 0.00393/K: 16 AWG 7 strands 4.99 and 5.29, solid 4.89 Ω/kft
        (awg("16"), Make(7, False), 4.99 / 0.3048 / 1.21615),
        (awg("16"), Make(7, True), 5.29 / 0.3048 / 1.21615),
        (awg("16"), Make(1, False), 4.89 / 0.3048 / 1.21615),
        # AC 43.13-1B table 11-9: 12 AWG 2.02 Ω/kft, tinned
        (awg("12"), Make(19, True), 6.627),
        # IEC 60228, 1.5 mm²
        (mm2("1.5"), Make(None, False, 2), 12.1),
        (mm2("1.5"), Make(None, True, 2), 12.2),
        (mm2("1.5"), Make(None, False, 5), 13.3),
        (mm2("1.5"), Make(1, False), 12.1),
        (mm2("1.5"), Make(None, True, None), 13.7),
        (mm2("50"), Make(None, False, None), 0.387),  # class 2 is more than class 5 there
    ],
)
def test_what_is_stated_of_the_make_closes_the_band(size: Gauge, make: Make, greatest_ohm_per_km: float) -> None:
    stated = resistance_band_ohm(wire(size, 1000.0, make=make), 20.0, DEFAULT)
    open_band = resistance_band_ohm(wire(size, 1000.0), 20.0, DEFAULT)
    assert stated.upper == pytest.approx(greatest_ohm_per_km, rel=2e-3)
    assert open_band.lower <= stated.lower <= stated.upper <= open_band.upper
    by_settings = resistance_band_ohm(wire(size, 1000.0), 20.0, replace(DEFAULT, make=make))
    assert by_settings == stated


def test_what_is_assumed_of_the_make_is_named() -> None:
    (both,) = resistance_assumptions(wire(awg("18")), DEFAULT)
    assert both.startswith("Strands and Tinned of 18 AWG are not stated: 17.91 mΩ/m at 20 °C (AC 43")
    (open_one,) = resistance_assumptions(wire(mm2("1.5")), DEFAULT)
    # IEC 60228 table 3: at most 13.7 Ω/km, tinned; 17.241 / 1.5 = 11.49 Ω/km are solid copper of the nominal area.
    assert open_one == (
        "Class and Tinned of 1.5 mm² are not stated: 11.49 mΩ/m at 20 °C (solid annealed copper) counts for fault "
        "currents, 13.7 mΩ/m (IEC 60228 class 5 or 6, tinned, greatest) for voltage drop and clearing times"
    )
    (tin,) = resistance_assumptions(wire(mm2("1.5"), make=Make(None, None, 5)), DEFAULT)
    assert tin.startswith("Tinned of 1.5 mm² is not stated")
    assert resistance_assumptions(wire(mm2("1.5"), make=Make(None, False, 5)), DEFAULT) == ()
    # a solid wire of class 5 there is none: nothing is left out of the band for it
    (clash,) = resistance_assumptions(wire(mm2("1.5"), make=Make(1, False, 5)), DEFAULT)
    assert "no published resistance of 1.5 mm²" in clash
    clashing = resistance_band_ohm(wire(mm2("1.5"), make=Make(1, False, 5)), 20.0, DEFAULT)
    assert clashing == resistance_band_ohm(wire(mm2("1.5")), 20.0, DEFAULT)


@pytest.mark.parametrize("settings", [DEFAULT, STRANDED], ids=["band", "table"])
@pytest.mark.parametrize(
    ("example", "size", "length_ft", "current_a"),
    [
        # AC 43.13-1B CHG 1, tables 11-7 and 11-8, page 11-22: VD = R·L·I with the resistance of table 11-9.
        ("W01", "6", 107, 20),
        ("W02", "4", 90, 20),
        ("W04", "14", 100, 20),
        ("W05", "10", 39, 20),
        ("W06", "10", 19.5, 20),  # printed 0.366 V; the product is 0.491 V
        ("W08", "10", 273, 20),
    ],
)
def test_voltage_drop_as_printed(
    example: str, size: str, length_ft: float, current_a: float, settings: AnalysisSettings
) -> None:
    drop_v = current_a * greatest_ohm(wire(awg(size), length_ft * FOOT_M), 20.0, settings)
    assert drop_v == pytest.approx(float(EXAMPLES[example]["value"]), rel=5e-3)


def test_length_correction_of_a_hot_conductor() -> None:
    # AC 43.13-1B CHG 1, page 11-22: L2 = 254.5·L1/(234.5 + T2); printed answer 9.5 ft (from memory).
    hot = greatest_ohm(wire(awg("20"), 1.0), 182.0, STRANDED) / greatest_ohm(wire(awg("20"), 1.0), 20.0, STRANDED)
    assert 15.5 / hot == pytest.approx(float(EXAMPLES["W09"]["value"]), rel=5e-3)


@pytest.mark.parametrize(("example", "drop_v"), [("W10", 0.36), ("W11", 1.2)])
def test_marine_drop_limits(example: str, drop_v: float) -> None:
    # Marine charts, CM = 10.75·I·L/E for 10 A over 21 ft there and back; 10.75 Ω·cmil/ft is copper at about 30 °C.
    cmil = float(EXAMPLES[example]["value"])
    gauge = Gauge(GaugeSystem.MM2, "", cmil * math.pi / 4 * 0.0254**2)
    ours_v = 10 * greatest_ohm(wire(gauge, 21 * FOOT_M), 30.0, SETTINGS)
    assert ours_v == pytest.approx(drop_v, rel=5e-3)


def test_temperature_correction_of_iec_60228() -> None:
    # IEC 60228: Kt = 1/(1 + 0.004 (T − 20)) = 0.893 at 50 °C; 0.00393 gives 0.8945.
    settings = AnalysisSettings(resistance_table="iec-60228-class-5-6")
    cold, hot = (greatest_ohm(wire(mm2("1.5")), t, settings) for t in (20.0, 50.0))
    assert cold == pytest.approx(13.3e-3)  # IEC 60228, class 5, plain
    assert cold / hot == pytest.approx(float(EXAMPLES["W45"]["value"]), abs=5e-4)
    assert 1 / temperature_factor(50.0, IEC_60228_ALPHA20_PER_K) == pytest.approx(0.893, abs=5e-4)
    assert 1 / temperature_factor(50.0, COPPER_ALPHA20_PER_K) == pytest.approx(0.8945, abs=1e-4)


def test_table_8_is_taken_back_from_75_c() -> None:
    # NEC chapter 9 table 8: 12 AWG stranded uncoated 1.98 Ω per 1000 ft at 75 °C, 5.341 Ω/km at 20 °C.
    settings = AnalysisSettings(resistance_table="nec-table-8-stranded")
    conductor = wire(awg("12"), 1000 * FOOT_M)
    assert greatest_ohm(conductor, 75.0, settings) == pytest.approx(1.98, rel=1e-9)
    assert greatest_ohm(conductor, 20.0, settings) * 1000 / (1000 * FOOT_M) == pytest.approx(5.341, rel=1e-3)


@pytest.mark.parametrize("name", NAMED_TABLES)
def test_no_size_is_swapped_for_one_of_the_other_system(name: str) -> None:
    settings = AnalysisSettings(resistance_table=name)
    other = awg("16") if name.startswith("iec") else mm2("1.5")
    conductor = wire(other)
    assert resistance_band_ohm(conductor, 20.0, settings) == resistance_band_ohm(conductor, 20.0, DEFAULT)
    assert any("not in" in text for text in resistance_assumptions(conductor, settings))


@pytest.mark.parametrize("name", NAMED_TABLES)
def test_a_table_of_maxima_says_nothing_of_the_least(name: str) -> None:
    size = mm2("1.5") if name.startswith("iec") else awg("12")
    unit = unit_band(size, Make(), name)
    assert unit.least.r20_ohm_per_m <= 0.017241 / size.area_mm2 * (1 + 1e-9)
    assert unit.greatest.r20_ohm_per_m >= unit.least.r20_ohm_per_m
