"""What an open part has cut off, fed through a fault by the loads on either side: recomputed by hand.

Source of the numbers: Kirchhoff's laws on the circuit that is left. That an
output that is pulled above its own voltage passes nothing more is common practice, no published source.
"""

from __future__ import annotations

import pytest
from fault_bench import faults_of
from wired import harness, limiter, load, output, wire

from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.model.elements import Diode, Element, Load, LoadKind
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness


def sustained_fault_a(found: FaultAnswer, name: str) -> float:
    amperes = found.parts[name].sustained_fault_a
    assert amperes is not None
    return amperes


def common_return(volts: float) -> Harness:
    """A small output of 12 V that shuts down at 2 A, a large one, and a device of 12.5 A in their common return."""
    return harness(
        output("PS0", "p0", "n", 12.0, trip_a=2.0, resistance_ohm=0.01),
        output("PS1", "p1", "n", volts, trip_a=20.0, resistance_ohm=0.01),
        wire("W0", "p0", "a", ohm=0.05, rated=3.0),
        wire("W1", "p1", "b", ohm=0.02, rated=30.0),
        wire("R0", "ra", "r", ohm=0.05, rated=3.0),
        wire("R1", "rb", "r", ohm=0.02, rated=30.0),
        limiter("CH", "r", "q", 12.5),
        wire("RN", "q", "n", ohm=0.01, rated=30.0),
        load("L0", "a", "ra", 0.4),
        load("L1", "b", "rb", 12.0),
    )


def test_loads_of_the_higher_output_feed_back_through_a_fault_of_the_lower_one() -> None:
    found = faults_of(common_return(24.0))
    # L0 shorted draws PS0's 2 A on top of L1's 12 A: 14 A, CH opens. L1 then still has 24 V - 12 V, and its 12 A go
    # back by R0, the fault and W0 into PS0, which does not open on that.
    for name in ("W0", "R0"):
        assert sustained_fault_a(found, name) == pytest.approx(12.0)
        assert found.parts[name].protected is False
    fault = found.parts["W0"].fault
    assert fault is not None
    assert (fault.at, fault.opened, fault.fault_current_a) == ("L0", ("CH",), pytest.approx(12.0))
    assert fault.resistance_band_ohm is None
    # What CH holds is more than that.
    assert sustained_fault_a(found, "RN") == pytest.approx(12.5)
    assert sustained_fault_a(found, "R1") == pytest.approx(12.5)


def test_nothing_feeds_back_into_an_output_of_the_same_voltage() -> None:
    found = faults_of(common_return(12.0))
    assert sustained_fault_a(found, "W0") == pytest.approx(2.0)
    assert sustained_fault_a(found, "R0") == pytest.approx(2.0)


def test_what_feeds_back_is_held_by_the_devices_on_the_way() -> None:
    drawn = common_return(24.0)
    held = harness(
        *(part for part in (*drawn.outputs, *drawn.devices, *drawn.conductors, *drawn.loads) if part.id != "W0"),
        limiter("CH0", "p0", "c", 5.0),
        wire("W0", "c", "a", ohm=0.05, rated=3.0),
    )
    # A device opens on current either way: at most 5 A of L1's 12 A.
    assert sustained_fault_a(faults_of(held), "W0") == pytest.approx(5.0)


def ohms(name: str) -> Load:
    """4 Ω at the end of W1."""
    kind = LoadKind.RESISTANCE
    return Load(id=name, subject=Subject(name), node_plus="b", node_minus="rb", demand_kind=kind, demand=4.0)


def two_voltages(*before_w1: Element, trip_a: float = 20.0, volts: float = 24.0) -> Harness:
    """24 V, or ``volts``, and 12 V in one bundle; 4 Ω at the 12 V, its wire behind what stands ``before_w1``."""
    return harness(
        output("PS0", "p0", "n", volts, trip_a=25.0, resistance_ohm=0.01),
        output("PS1", "p1", "n", 12.0, trip_a=trip_a, resistance_ohm=0.01),
        wire("W0", "p0", "a", ohm=0.02, rated=22.0, bundle="B"),
        wire("W1", "c" if before_w1 else "p1", "b", ohm=0.02, rated=4.0, bundle="B"),
        wire("R0", "ra", "n", ohm=0.02, rated=22.0),
        wire("R1", "rb", "n", ohm=0.02, rated=4.0),
        load("L0", "a", "ra", 2.0),
        ohms("L1"),
        *before_w1,
    )


@pytest.mark.parametrize(
    "drawn",
    [
        pytest.param(two_voltages(limiter("CH", "p1", "c", 3.5)), id="limiter"),
        pytest.param(
            two_voltages(Diode(id="D1", subject=Subject("D1"), node_a="p1", node_b="c"), trip_a=3.5), id="diode"
        ),
        pytest.param(two_voltages(trip_a=3.5), id="output"),
    ],
)
def test_a_resistance_draws_more_at_the_voltage_of_another_output(drawn: Harness) -> None:
    found = faults_of(drawn)
    # W0's source end touches W1's far end, and nothing comes from PS1: 24 V across PS0's 0.01 Ω, the 4 Ω and R1.
    # PS1 alone gives 12 / (0.01 + 0.02 + 4 + 0.02) = 2.96 A, and a fault of its own 3.5 A.
    assert sustained_fault_a(found, "R1") == pytest.approx(24.0 / 4.03)
    assert found.parts["R1"].protected is False


def test_parallel_wires_behind_the_cut_are_pinched_at_their_ends() -> None:
    one = two_voltages(limiter("CH", "p1", "c", 3.5), volts=48.0)
    pair = harness(
        *(*one.outputs, *one.devices, *one.conductors, *one.loads),
        wire("W2", "c", "b", ohm=0.02, rated=9.0),
        ohms("L2"),
    )
    found = faults_of(pair)
    # Two loads make 2 Ω. W1 touched just before b: its last bit carries all of 48 V / (0.01 + 2 + 0.02) Ω.
    assert sustained_fault_a(found, "W1") == pytest.approx(48.0 / 2.03)
    # W2 carries half where c is touched: 0.01 Ω more in the way.
    assert sustained_fault_a(found, "W2") == pytest.approx(48.0 / 2.04 / 2.0)
