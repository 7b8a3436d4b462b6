"""The limited power source against its published table, and at a place of a harness."""

from __future__ import annotations

import pytest
from wired import analysed, harness, limiter, load, output, wire

from loadloom.graph.faults.limited_power import NAME, Limit, is_within, limit_at
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import FaultPowerRow
from loadloom.graph.model.settings import AnalysisSettings


@pytest.mark.parametrize(
    ("volts", "expected"),
    [
        (12.0, Limit(8.0, 60.0)),  # IEC 60950-1 table 2B, first row: 8 A and 5 × Uoc
        (24.0, Limit(8.0, 100.0)),  # second row; the worked example for 24 V: 8.0 A, 100 VA
        (48.0, Limit(3.125, 100.0)),  # third row: 150 / Uoc
        (61.0, None),
    ],
)
def test_the_table(volts: float, expected: Limit | None) -> None:
    assert limit_at(volts) == expected


def test_both_current_and_power_count() -> None:
    assert is_within(24.0, 8.0, 100.0)
    assert not is_within(24.0, 8.1, 50.0)
    assert not is_within(24.0, 4.0, 101.0)


@pytest.mark.parametrize(("trip_a", "limited"), [(4.0, True), (9.0, False)])
def test_at_a_load(trip_a: float, limited: bool) -> None:
    """24 V behind 4 A can give 96 W at most; behind 9 A more than 8 A."""
    drawn = harness(
        output("PS1", "p", "n", 24.0, limit_a=30.0, trip_a=40.0),
        limiter("CH1", "p", "a", trip_a),
        wire("W1", "a", "b", ohm=0.05, rated=20.0),
        wire("W2", "c", "n", ohm=0.05, rated=20.0),
        load("L1", "b", "c", 1.0),
    )
    row = power_at_the_load(drawn)
    assert (NAME in row.within) is limited
    assert (NAME in row.exceeds) is not limited


@pytest.mark.parametrize(("trip_a", "limited"), [(4.0, True), (5.0, False), (9.0, False)])
def test_at_a_load_between_outputs_in_series(trip_a: float, limited: bool) -> None:
    """Two outputs of 12 V drive 24 V: behind 4 A at most 4 A · (24 V - 4 A · 0.1 Ω) = 94.4 W, within the second row
    of the table; behind 5 A 117.5 W, over 100 VA; behind 9 A more than 8 A as well. 12 V alone would give 57.5 W
    at 5 A.
    """
    drawn = harness(
        output("TOP", "p", "q", 12.0, limit_a=30.0, trip_a=40.0),
        output("LOW", "q", "n", 12.0, limit_a=30.0, trip_a=40.0),
        limiter("CH1", "p", "a", trip_a),
        wire("W1", "a", "b", ohm=0.05, rated=20.0),
        wire("W2", "c", "n", ohm=0.05, rated=20.0),
        load("L1", "b", "c", 1.0),
    )
    row = power_at_the_load(drawn)
    assert row.power_w == pytest.approx(trip_a * (24.0 - trip_a * 0.1))
    assert (NAME in row.within) is limited
    assert (NAME in row.exceeds) is not limited


def power_at_the_load(drawn: Harness) -> FaultPowerRow:
    settings = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")
    found = analysed(drawn, settings)
    (row,) = [row for row in found.fault_powers if row.at == "L1"]
    return row
