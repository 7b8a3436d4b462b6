"""The heat balance against published free-air currents and correlations; the source stands beside each check."""

import csv
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from ht.conv_free_immersed import Nu_horizontal_cylinder_Churchill_Chu

from loadloom.graph.heat.temperatures import contact_rise_k, own_temperatures_c, wire_body
from loadloom.graph.model.elements import Conductor, Gauge, GaugeSystem
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Ambient, AnalysisSettings
from loadloom.graph.ratings import heat_balance, tables
from loadloom.graph.ratings.conductor_rating import rate_conductors
from loadloom.graph.ratings.heat_balance import (
    LAY,
    MELTING_POINT_OF_COPPER_C,
    WireBody,
    altitude_factor,
    conductor_temperature_c,
    copper_body,
    free_air_current_a,
    pressure_pa,
    still_air_share,
    surface_loss_w_per_m,
)

DATA = Path(__file__).parents[1] / "data"


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / f"worked_examples_{name}.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


EXAMPLES = {row["id"]: row for row in rows("ratings")}
FREE_AIR = rows("free_air")


def area_mm2(awg: str) -> float:
    """ASTM B258."""
    n = 1 - int(awg.split("/")[0]) if "/" in awg else int(awg)
    return math.pi / 4 * (0.127 * 92 ** ((36 - n) / 39)) ** 2


def gauge(awg: str) -> Gauge:
    return Gauge(GaugeSystem.AWG, awg, area_mm2(awg))


def body(row: dict[str, str]) -> WireBody:
    r20_ohm_per_m = 0.017241 / area_mm2(row["awg"]) * LAY
    return WireBody(r20_ohm_per_m, 0.00393, float(row["conductor_mm"]), float(row["outer_mm"]))


def error_of(row: dict[str, str]) -> float:
    computed_a = free_air_current_a(body(row), float(row["conductor_c"]), float(row["ambient_c"]))
    return float(computed_a) / float(row["table_a"]) - 1


def test_correlation_against_textbook_and_library() -> None:
    # Textbook hot pipe: Ra = 1.867e6, Pr = 0.7241, Nu = 17.40.
    assert Nu_horizontal_cylinder_Churchill_Chu(0.7241, 1.867e6 / 0.7241) == pytest.approx(
        float(EXAMPLES["W22"]["value"]), abs=0.02
    )
    # The library's own value after Bergman et al., Introduction to Heat Transfer, example 9.2.
    assert Nu_horizontal_cylinder_Churchill_Chu(0.69, 2.63e9) == pytest.approx(
        float(EXAMPLES["W23"]["value"]), rel=1e-7
    )


def test_free_air_tables_up_to_105_c() -> None:
    # NEC 310.17 and 33 CFR 183.425 table 5: 56 cells at or below 105 °C, −5 … +17 % with the wire that each is for.
    errors = [error_of(row) for row in FREE_AIR if float(row["conductor_c"]) <= 105.0]
    assert len(errors) == 56
    assert min(errors) >= -0.05
    assert max(errors) <= 0.17


def published_cells() -> Iterator[tuple[str, float, float, float]]:
    """Table, section in mm², conductor temperature in °C and current in A of every free-air row at 30 °C."""
    for row in FREE_AIR:
        yield row["table"], area_mm2(row["awg"]), float(row["conductor_c"]), float(row["table_a"])
    # VDE 0298-4 (2013-06, 2023-06) and, below 0.5 mm², VDE 0891-1: one flexible conductor, PVC 70 °C.
    for cell in tables.rows("vde0298_flexible"):
        table = "VDE 0298-4" if float(cell["size"]) >= 0.5 else "VDE 0891-1"
        yield table, float(cell["size"]), 70.0, float(cell["single_a"])


def test_estimates_lie_between_0_8_and_1_of_every_published_free_air_row() -> None:
    cells = list(published_cells())
    assert len(cells) == 86 + 20
    for table, area, conductor_c, published_a in cells:
        estimate_a = float(free_air_current_a(copper_body(area), conductor_c, 30.0)) * still_air_share(
            area, conductor_c
        )
        assert 0.8 <= estimate_a / published_a <= 1.0, (table, area, conductor_c)


def test_the_documented_comparison_is_what_is_computed() -> None:
    line = re.compile(
        r"^ {4}(\S.*?) +(\d+) °C +(\d+) +([−+]\d+) % +([−+]\d+) % +(\d\.\d\d) +(\d\.\d\d)$", re.MULTILINE
    )
    found: dict[tuple[str, float], list[tuple[float, float]]] = {}
    for table, area, conductor_c, published_a in published_cells():
        ratio = float(free_air_current_a(copper_body(area), conductor_c, 30.0)) / published_a
        found.setdefault((table, conductor_c), []).append((ratio, ratio * still_air_share(area, conductor_c)))
    expected = {}
    for key, pairs in found.items():
        ratios, shares = zip(*pairs, strict=True)
        percents = (round(100 * (min(ratios) - 1)), round(100 * (max(ratios) - 1)))
        expected[key] = (str(len(pairs)), *percents, f"{min(shares):.2f}", f"{max(shares):.2f}")
    documented = {
        (table, float(celsius)): (
            cells,
            int(least.replace("−", "-")),
            int(greatest.replace("−", "-")),
            low,
            high,
        )
        for table, celsius, cells, least, greatest, low, high in line.findall(heat_balance.__doc__ or "")
    }
    assert documented == expected


def test_what_the_heat_balance_cannot_do_is_known() -> None:
    # 33 CFR 183.425, 200 °C column: code values far below the physics, hence the margin of its own.
    errors = [error_of(row) for row in FREE_AIR if float(row["conductor_c"]) == 200.0]
    assert min(errors) > 0.15


def test_aircraft_table_is_free_air_times_about_0_43() -> None:
    # AC 43.13-1B table 11-9, with the resistances of the same table.
    stranded = {
        "24": 93.18,
        "22": 53.15,
        "20": 32.41,
        "18": 20.44,
        "16": 15.78,
        "14": 10.04,
        "12": 6.627,
        "10": 4.134,
    }
    for row in rows("table_11_9"):
        wire = WireBody(stranded[row["awg"]] * 1e-3, 0.00393, float(row["conductor_mm"]), float(row["outer_mm"]))
        free_a = float(free_air_current_a(wire, float(row["conductor_c"]), float(row["ambient_c"])))
        assert 0.37 <= float(row["table_a"]) / free_a <= 0.475


def test_aircraft_curve_point() -> None:
    # AC 43.13-1B, page 11-27: 14 AWG from 50 to 200 °C, the curve reads 47 A; computed 44.8 A.
    wire = WireBody(3.06 / 304.8, 0.00393, 1.70, 2.2, emissivity=0.9, insulation_w_per_mk=0.24)
    found_a = float(free_air_current_a(wire, 200.0, 50.0))
    assert found_a == pytest.approx(float(EXAMPLES["W24"]["value"]), rel=2e-3)
    assert found_a == pytest.approx(47.0, rel=0.05)


def test_temperature_between_ambient_and_limit() -> None:
    # AC 43.13-1B estimate, T1 + (TR − T1)·√(I2/Imax) = 181.6 °C for 20 A of 26 A between 50 and 200 °C (printed
    # 182, from memory), which it calls quite conservative; an I² law gives 138.8 °C. The balance is close to it.
    wire = WireBody(3.06 / 304.8, 0.00393, 1.70, 2.2)
    full_a = float(free_air_current_a(wire, 200.0, 50.0))
    found_c = float(conductor_temperature_c(wire, full_a * 20 / 26, 50.0))
    assert 50 + 150 * math.sqrt(20 / 26) == pytest.approx(float(EXAMPLES["W21"]["value"]), abs=0.1)
    assert found_c < float(EXAMPLES["W21"]["value"])
    assert found_c == pytest.approx(50 + 150 * (20 / 26) ** 2, abs=8.0)


def test_temperature_undoes_current() -> None:
    wire = copper_body(0.823)
    conductor_c = np.linspace(40.5, 250.0, 60)
    back_c = conductor_temperature_c(wire, free_air_current_a(wire, conductor_c, 40.0), 40.0)
    np.testing.assert_allclose(back_c - 40.0, conductor_c - 40.0, rtol=1e-3)
    assert float(conductor_temperature_c(wire, 0.0, 40.0)) == 40.0
    assert float(conductor_temperature_c(wire, 1e4, 40.0)) == MELTING_POINT_OF_COPPER_C
    assert float(free_air_current_a(wire, 40.0, 40.0)) == 0.0


def test_heat_in_is_heat_out() -> None:
    wire = WireBody(0.02, 0.00393, 1.2, 2.4)
    current_a = float(free_air_current_a(wire, 90.0, 30.0))
    made_w_per_m = current_a**2 * 0.02 * (1 + 0.00393 * 70)
    surface_c = 90.0 - made_w_per_m * math.log(2.4 / 1.2) / (2 * math.pi * wire.insulation_w_per_mk)
    assert float(surface_loss_w_per_m(wire, surface_c, 30.0)) == pytest.approx(made_w_per_m, rel=1e-9)


def test_loss_by_hand() -> None:
    # Churchill and Chu with air at the film temperature of 350 K: ν 20.92e-6 m²/s, k 0.030 W/(m·K), Pr 0.700
    # (Bergman et al., table A.4); radiation ε·σ·(T⁴ − Tₐ⁴).
    wire = WireBody(0.02, 0.00393, 2.0, 4.0)
    surface_k, ambient_k, diameter_m = 375.0, 325.0, 4e-3
    rayleigh = 9.80665 / 350 * 50 * diameter_m**3 / 20.92e-6**2 * 0.700
    nusselt = (0.60 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.559 / 0.700) ** (9 / 16)) ** (8 / 27)) ** 2
    by_hand = math.pi * nusselt * 0.030 * 50
    by_hand += math.pi * diameter_m * 0.9 * 5.670e-8 * (surface_k**4 - ambient_k**4)
    found = float(surface_loss_w_per_m(wire, surface_k - 273.15, ambient_k - 273.15))
    assert found == pytest.approx(by_hand, rel=0.01)


def test_altitude() -> None:
    # AC 43.13-1B, figure 11-6, example: 0.91 at 20 000 ft (read in a copy), 0.79 at 60 000 ft (from memory).
    wire = WireBody(9.88 / 304.8, 0.00393, 0.98, 1.47)
    assert altitude_factor(20_000 * 0.3048, wire, 200.0, 60.0) == pytest.approx(0.91, abs=0.01)
    assert 0.74 <= altitude_factor(60_000 * 0.3048, wire, 200.0, 60.0) <= 0.79
    assert altitude_factor(0.0, wire, 200.0, 60.0) == 1.0
    # ISO 2533.
    assert float(pressure_pa(3000.0)) == pytest.approx(70_109, rel=1e-3)
    assert float(pressure_pa(15_000.0)) == pytest.approx(12_045, rel=2e-3)


def test_contact_rise() -> None:
    # Rise ∝ I^1.8 … I^2, the greater: common practice, no published source. 30 K at the rated current.
    assert contact_rise_k(9.2, 9.2, 30.0) == pytest.approx(30.0)
    assert contact_rise_k(4.6, 9.2, 30.0) == pytest.approx(30.0 * 0.5**1.8)
    assert contact_rise_k(18.4, 9.2, 30.0) == pytest.approx(120.0)
    with pytest.raises(ValueError, match="positive"):
        contact_rise_k(1.0, 0.0, 30.0)


def wire(name: str, awg: str = "14", **more: object) -> Conductor:
    plain = Conductor(
        id=name, subject=Subject(name), node_a=name + "a", node_b=name + "b", gauge=gauge(awg), length_m=1.0
    )
    return replace(plain, **more)  # type: ignore[arg-type]


def test_a_bundled_conductor_reaches_its_limit_at_its_allowed_current() -> None:
    settings = AnalysisSettings(basis="building-nec", zones={"z": Ambient(10.0, 35.0)}, margin=0.2)
    cores = tuple(wire(f"C1.{k}", "6", cable="C1", insulation="75 °C", zone="z") for k in range(1, 7))
    harness = Harness(conductors=cores)
    ratings = rate_conductors(harness, settings, {"cable C1": 6})
    allowed_a = ratings["C1.1"].allowed_a
    assert allowed_a is not None
    full_a = allowed_a / 0.8  # the margin is policy, not physics
    found = own_temperatures_c(harness, {c.id: full_a for c in cores}, settings)
    assert found["C1.1"] == pytest.approx(75.0, abs=0.05)
    alone = own_temperatures_c(Harness(conductors=(wire("W1", "6", zone="z"),)), {"W1": full_a}, settings)
    assert alone["W1"] < 60.0


def test_own_temperatures_follow_current_and_leave_out_what_has_no_gauge() -> None:
    settings = AnalysisSettings(zones={"z": Ambient(0.0, 25.0)})
    harness = Harness(
        conductors=(wire("W1", zone="z"), wire("W2", zone="z"), wire("W3", gauge=None), wire("W4", zone="z"))
    )
    found = own_temperatures_c(harness, {"W1": 0.0, "W2": 20.0, "W3": 5.0, "W4": -20.0}, settings)
    assert found["W1"] == 25.0
    assert (
        found["W2"]
        == found["W4"]
        == pytest.approx(float(conductor_temperature_c(wire_body(wire("W2"), settings), 20.0, 25.0)))
    )
    assert "W3" not in found
