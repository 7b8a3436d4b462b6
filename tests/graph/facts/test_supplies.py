"""Supplies: power share, derating, heat and fan; numbers that anybody can recompute."""

from dataclasses import replace

import pytest

from loadloom.graph.facts.supplies import efficiency_at, power_share, supply_row, supply_rows
from loadloom.graph.model.elements import Supply
from loadloom.graph.model.settings import Ambient, AnalysisSettings

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
