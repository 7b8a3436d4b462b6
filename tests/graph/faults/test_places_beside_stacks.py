"""A stack of outputs beside a single one: places that the single one does not have are tried all the same."""

import pytest
from wired import AT_20_C, harness, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Diode
from loadloom.graph.model.findings import Subject


@pytest.mark.parametrize("beside", [False, True])
def test_the_upper_output_of_a_stack_may_be_shorted_by_itself(beside: bool) -> None:
    """12 V of 25 A over 12 V of 18 A on a diode, with or without 24 V on another: the upper gives 25 A."""

    def diode(name: str, a: str) -> Diode:
        return Diode(id=name, subject=Subject(name), node_a=a, node_b="bus", forward_drop_v=0.5)

    parts = [
        output("U1", "t", "x", 12.0, trip_a=25.0, limit_a=24.0, resistance_ohm=0.01),
        output("U2", "x", "m", 12.0, trip_a=18.0, limit_a=17.0, resistance_ohm=0.01),
        wire("WT", "t", "ta", ohm=0.007, rated=20.0),
        diode("D1", "ta"),
        load("L1", "bus", "r", 2.0),
        wire("WR", "r", "m", ohm=0.005, rated=40.0),
    ]
    if beside:
        parts += [output("U3", "q", "m", 24.0, trip_a=21.0, limit_a=20.0, resistance_ohm=0.01), diode("D2", "q")]
    facts, _ = explore(harness(*parts), AT_20_C, lambda _: None)
    assert facts.faults.parts["WT"].sustained_fault_a == pytest.approx(25.0, rel=2e-3)
