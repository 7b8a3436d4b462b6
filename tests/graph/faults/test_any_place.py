"""What can stand between any two points of a piece, and what the tighter of nested limits is: both by hand."""

from __future__ import annotations

import pytest
from fault_bench import AT_20_C, networks_of, thresholds_of
from wired import harness, limiter, load, output, wire

from loadloom.graph.facts.protection import find_protection
from loadloom.graph.faults.any_place import highest_voltage_v
from loadloom.graph.faults.piece import piece_loads, pieces_of
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case


def highest_v(drawn: Harness) -> float:
    case = Case("nominal")
    network = networks_of(drawn, AT_20_C, case)[0]
    (piece,) = pieces_of(network, thresholds_of(drawn, AT_20_C, case), piece_loads(network, drawn))
    return highest_voltage_v(piece)


def test_outputs_in_series_add_their_voltages_and_those_with_one_return_do_not() -> None:
    """12 V on top of 5 V are 17 V from end to end; 12 V beside 5 V are 12 V at most."""
    series = harness(
        output("U1", "a", "middle", 12.0, trip_a=5.0),
        output("U2", "middle", "m", 5.0, trip_a=5.0),
        wire("W1", "a", "b", ohm=0.1, length_m=1.0),
        wire("R1", "m", "n", ohm=0.1, length_m=1.0),
        load("L1", "b", "n", 1.0),
    )
    beside = harness(
        output("U1", "a", "m", 12.0, trip_a=5.0),
        output("U2", "c", "m", 5.0, trip_a=5.0),
        wire("W1", "a", "b", ohm=0.1, length_m=1.0),
        wire("W2", "c", "d", ohm=0.1, length_m=1.0),
        load("L1", "b", "m", 1.0),
        load("L2", "d", "m", 1.0),
        load("L3", "b", "d", 0.1),
    )
    assert highest_v(series) == pytest.approx(17.0)
    assert highest_v(beside) == pytest.approx(12.0)


@pytest.mark.parametrize(("outer_a", "inner_a"), [(30.0, 10.0), (10.0, 30.0), (10.0, 10.0)])
def test_of_nested_limits_the_tighter_counts(outer_a: float, inner_a: float) -> None:
    """What reaches the innermost device is held by the output or by the device before it, whichever is less."""
    drawn = harness(
        output("U1", "a", "m", 12.0, trip_a=outer_a),
        limiter("Q1", "a", "b", inner_a),
        wire("W1", "b", "c", ohm=0.01, length_m=1.0, rated=50.0),
        limiter("Q2", "c", "d", 5.0),
        wire("W2", "d", "e", ohm=0.01, length_m=1.0, rated=50.0),
        load("L1", "e", "m", 1.0),
    )
    (case,) = drawn.cases(AT_20_C)
    (protected,) = find_protection(drawn, AT_20_C, (case,), {}).arrangements
    assert protected.limits_a["Q2"] == pytest.approx(min(outer_a, inner_a))
    assert protected.limits_a["Q1"] == pytest.approx(outer_a)
