"""Batteries: state of charge, resistance, banks, charging by a second source, run time; each by hand."""

from __future__ import annotations

import pytest
from test_variants import AT_20_C, Sketch, found, rows

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import Results

BATTERY = {
    **{"Voltage": "21…29 V", "Resistance": "8…20 mΩ", "Limit": "60 A", "Capacity": "40 Ah", "Usable": "80 %"},
    **{"Charge limit": "10 A"},
}
CHARGER = {
    **{"Voltage": "28.8 V", "Tolerance": "0.5 %", "Resistance": "10 mΩ", "Limit": "8 A", "Trip": "8 A ±5 %"},
    **{"Behaviour": "constant-current", "Delay": "1 ms"},
}


def cart(charger: dict[str, str] | None = None, load: str = "120 W", **battery: str) -> Results:
    """A battery behind a fuse with a load, and a charger beside it; 1 m of 10 mm² each way."""
    draw = Sketch()
    draw("BT1", "battery", "p m", pins="1:+ 2:-", fields={k: v for k, v in {**BATTERY, **battery}.items() if v})
    fuse = {"Rating": "30 A", "Curve": "UL248-14", "Voltage rating": "60 V", "Breaking capacity": "10 kA"}
    draw("F1", "fuse", "p q", fields={**fuse, "Resistance": "1 mΩ"})
    draw("W1", "wire", "q a", "10 mm²", Length="1 m", Rating="70 A")
    draw("W2", "wire", "b m", "10 mm²", Length="1 m", Rating="70 A")
    draw("L1", "load", "a b", fields={"Load": load, "Minimum voltage": "18 V", "Maximum voltage": "32 V"})
    if charger is not None:
        draw("G1", "output", "g h", pins="1:+ 2:-", fields=charger)
        draw("F2", "fuse", "a c", fields={**fuse, "Rating": "15 A", "Resistance": "1 mΩ"})
        draw("W3", "wire", "c g", "4 mm²", Length="1 m", Rating="40 A")
        draw("W4", "wire", "h b", "4 mm²", Length="1 m", Rating="40 A")
    return draw.results(AT_20_C)


def test_the_ends_of_the_state_of_charge_count_where_they_are_worst() -> None:
    """Empty: 21 V behind 20 mΩ for the load's greatest current; full: 29 V behind 8 mΩ for the short circuit."""
    results = cart()
    copper_ohm = 0.017241 / 10.0
    ohm = 0.020 + 0.001 + 2.0 * copper_ohm
    current_a = (21.0 - (21.0**2 - 4.0 * ohm * 120.0) ** 0.5) / (2.0 * ohm)
    assert rows(results)["W1"].current_a == pytest.approx(current_a, rel=1e-3)
    short = next(row for row in results.short_circuits if row.conductor == "W1")
    greatest_a = 29.0 / (0.008 + 0.001 + 2.0 * copper_ohm)
    assert short.greatest_a == pytest.approx(greatest_a, rel=0.02)  # the least cross-section within its tolerance
    (battery,) = results.outputs
    # 80 % of 40 Ah at the greatest continuous current.
    assert battery.run_time_s == pytest.approx(3600.0 * 32.0 / current_a, rel=1e-3)


def test_the_prospective_current_of_a_full_battery_is_a_least_resistance() -> None:
    """29 V / 5 kA = 5.8 mΩ, less than the stated 8 mΩ."""
    results = cart(**{"Prospective current": "5 kA"})
    short = next(row for row in results.short_circuits if row.conductor == "W1")
    assert short.greatest_a == pytest.approx(29.0 / (29.0 / 5000.0 + 0.001 + 2.0 * 0.0017241), rel=0.02)


def test_a_bank_of_two_in_series_and_three_beside_each_other() -> None:
    """Of units of 12 V, 6 mΩ and 20 Ah: 24 V behind 4 mΩ with 60 Ah."""
    unit = {"Voltage": "10.5…14.5 V", "Resistance": "6…6 mΩ", "Limit": "20 A", "Capacity": "20 Ah", "Usable": ""}
    results = cart(**unit, Series="2", Parallel="3")
    (battery,) = results.outputs
    assert battery.voltage_v == pytest.approx(25.0) and battery.limit_a == pytest.approx(60.0)
    ohm = 0.006 * 2 / 3 + 0.001 + 2.0 * 0.0017241
    current_a = (21.0 - (21.0**2 - 4.0 * ohm * 120.0) ** 0.5) / (2.0 * ohm)
    assert rows(results)["W1"].current_a == pytest.approx(current_a, rel=1e-3)
    assert battery.run_time_s == pytest.approx(3600.0 * 60.0 / current_a, rel=1e-3)


def test_a_charger_is_a_second_source() -> None:
    """Its 8 A + 5 % flow into an empty battery while the load is off: within 10 A, over 5 A."""
    assert found(cart(CHARGER), "battery-charge-overload") == {}
    over = found(cart(CHARGER, **{"Charge limit": "5 A"}), "battery-charge-overload")["BT1"]
    assert over.value == pytest.approx(8.4)
    unknown = cart(CHARGER, **{"Charge limit": ""})
    assert "BT1" in found(unknown, "battery-charge-unknown") and unknown.verdict is not Verdict.PASS


def test_a_charger_that_does_not_limit_its_current_floods_an_empty_battery() -> None:
    firm = {**CHARGER, "Behaviour": "latch-off", "Trip": "100 A ±5 %", "Limit": "90 A"}
    over = found(cart(firm), "battery-charge-overload")["BT1"]
    copper_ohm = 2 * 0.017241 / 10 + 2 * 0.017241 / 4
    # 28.8 V + 0.5 % against 21 V, over both least resistances, both fuses and the copper, the load off.
    assert over.value == pytest.approx((28.944 - 21.0) / (0.010 + 0.008 + 0.002 + copper_ohm), rel=0.02)


def test_what_a_battery_leaves_open_never_passes() -> None:
    assert cart().verdict is Verdict.PASS, [f.message for f in cart().findings]
    for left_out in ({"Voltage": "24 V"}, {"Resistance": ""}, {"Limit": ""}, {"Voltage": "", "Limit": "9 A"}):
        assert cart(**left_out).verdict is not Verdict.PASS, left_out


def test_figures_of_a_battery_that_can_not_be() -> None:
    """29 V through at most 20 mΩ are at least 1450 A; no battery has 0 Ω."""
    assert "BT1" in found(cart(**{"Prospective current": "900 A"}), "fields-contradict")
    assert found(cart(**{"Prospective current": "1.4 kA"}), "fields-contradict") == {}
    assert "BT1" in found(cart(Resistance="0 Ω"), "resistance-missing")
    beside = cart(Parallel="2")
    assert any("its 2 batteries side by side share evenly" in sentence for sentence in beside.assumptions)
