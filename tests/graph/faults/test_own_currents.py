"""What flows between joined outputs without any fault, and the voltage of outputs in series.

Checked by superposition, written out beside each number.
"""

from __future__ import annotations

import pytest
from wired import analysed, harness, limiter, load, output, wire

from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings

SETTINGS = AnalysisSettings(conductor_temperature_c=20.0, load_voltage_tolerance=0.05)


def judged(drawn: Harness) -> Results:
    return analysed(drawn, SETTINGS)


@pytest.mark.parametrize("higher", [0, 1])
def test_a_combined_overload_adds_to_what_flows_between_outputs_anyway(higher: int) -> None:
    """12.6 and 12.0 V over 0.05 Ω each: 6 A flow from one to the other. Two limiters of 10 A take half from
    each."""
    volts = (12.6, 12.0) if higher == 0 else (12.0, 12.6)
    drawn = harness(
        *(output(f"U{n}", f"p{n}", "m", volts[n], never_trips=True, limit_a=99.0) for n in range(2)),
        *(wire(f"W{n}", f"p{n}", "bus", ohm=0.05, rated=99.0) for n in range(2)),
        *(limiter(f"Q{n}", "bus", f"a{n}", 10.0, delay_s=1e-3) for n in range(2)),
        *(wire(f"B{n}", f"a{n}", f"f{n}", ohm=0.01, rated=99.0) for n in range(2)),
        *(wire(f"R{n}", f"r{n}", "m", ohm=0.01, rated=99.0) for n in range(2)),
        *(load(f"L{n}", f"f{n}", f"r{n}", 1.0) for n in range(2)),
    )
    (row,) = (r for r in judged(drawn).conductors if r.id == f"W{higher}")
    assert row.combined_overload_a is not None
    assert row.combined_overload_a >= (6.0 + 0.5 * 20.0) * (1.0 - 1e-6)


@pytest.mark.parametrize(("lead_ohm", "low"), [(0.02, False), (0.2, True)])
def test_the_voltage_of_outputs_in_series_is_their_sum(lead_ohm: float, low: bool) -> None:
    """A load of 24 V within 5 % across two outputs of 12 V: 5 A over 2 × 0.2 Ω leave it 22 V of the 22.8 V."""
    drawn = harness(
        output("U1", "top", "mid", 12.0, limit_a=19.0, trip_a=20.0, delay_s=1e-3),
        output("U2", "mid", "m", 12.0, limit_a=19.0, trip_a=20.0, delay_s=1e-3),
        wire("W1", "top", "f", ohm=lead_ohm, rated=99.0),
        wire("W2", "r", "m", ohm=lead_ohm, rated=99.0),
        load("L1", "f", "r", 5.0),
    )
    found = [f for f in judged(drawn).findings if f.rule == "voltage-low"]
    assert bool(found) is low
    assert all(f.limit == pytest.approx(22.8) for f in found)
