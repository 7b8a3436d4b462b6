"""Loads in series between two voltages once their common return has opened.

Source: Kirchhoff's laws by hand. 12 V over 2 Ω and 5 V over 5 Ω into a joint that nothing else holds: it comes to
(12/2 + 5/5) / (1/2 + 1/5) = 10 V, and the load of 5 V gets 5 V the wrong way round; with ever less than 2 Ω it
tends to 12 V and to 7 V the wrong way round. On ±12 V one of two unequal loads tends to 24 V.
"""

from __future__ import annotations

from wired import analysed, harness, load, output, wire

from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings


def told(drawn: Harness, **settings: bool) -> list[str]:
    found = analysed(drawn, AnalysisSettings(conductor_temperature_c=20.0, **settings)).findings
    return [each.message for each in found if each.rule == "loads-left-in-series"]


def two_voltages(second_v: float, returns: int = 1) -> Harness:
    return harness(
        output("P1", "p", "m", 12.0, limit_a=10.0, trip_a=12.0, delay_s=0.01),
        output("P2", "q", "m", second_v, limit_a=10.0, trip_a=12.0, delay_s=0.01),
        wire("W1", "p", "a", mm2=2.5, length_m=1.0, rated=20.0),
        wire("W2", "q", "b", mm2=2.5, length_m=1.0, rated=20.0),
        *(wire(f"WR{n}", "m", "r", mm2=4.0, length_m=1.0, rated=30.0) for n in range(returns)),
        load("L12", "a", "r", 6.0),
        load("L5", "b", "r", 1.0),
    )


def test_a_common_return_of_two_voltages_that_opens_is_told() -> None:
    (sentence,) = told(two_voltages(5.0))
    assert sentence.startswith("If WR0 opens, ") and "L5 up to 7 V the wrong way round" in sentence
    assert "L12 up to" not in sentence  # at most its own 12 V less 5 V


def test_no_more_is_told_of_one_voltage_of_two_returns_or_where_open_circuits_are_left_out() -> None:
    assert told(two_voltages(12.0)) == []
    assert told(two_voltages(5.0, returns=2)) == []
    assert told(two_voltages(5.0), single_open_circuit=False) == []


def test_loads_on_both_sides_of_a_middle_that_opens_share_all_of_both_voltages() -> None:
    drawn = harness(
        output("P1", "p", "m", 12.0, limit_a=10.0, trip_a=12.0, delay_s=0.01),
        output("P2", "m", "n", 12.0, limit_a=10.0, trip_a=12.0, delay_s=0.01),
        wire("WM", "m", "r", mm2=4.0, length_m=1.0, rated=30.0),
        load("L1", "p", "r", 6.0),
        load("L2", "r", "n", 1.0, maximum_v=30.0),
    )
    (sentence,) = told(drawn)
    assert "L1 up to 24 V" in sentence and "L2 up to" not in sentence  # L2 bears 30 V


def test_a_load_that_nothing_leads_to_is_left_out() -> None:
    drawn = two_voltages(5.0)
    astray = load("L9", "nowhere", "r", 1.0)
    assert told(harness(*drawn.outputs, *drawn.conductors, *drawn.loads, astray)) == told(drawn)
