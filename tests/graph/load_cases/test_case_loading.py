"""What a case says of its loads and parts: lowest voltages of all its states, currents only of those that last."""

from __future__ import annotations

from dataclasses import replace

import pytest
from fault_bench import AT_20_C, thresholds_of
from wired import harness, limiter, load, output, wire

from loadloom.graph.circuit.network import LOAD_STATE, compile_network
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.load_cases.case_loading import case_loading
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case

CASE = Case("nominal")


def drawing(amperes: float) -> Harness:
    """12 V behind a limiter of 5 A and twice 0.1 Ω."""
    return harness(
        output("PS1", "p", "m", 12.0, limit_a=50.0, trip_a=50.0),
        limiter("CH1", "p", "a", 5.0),
        wire("W1", "a", "b", ohm=0.1),
        wire("W2", "r", "m", ohm=0.1),
        load("L1", "b", "r", amperes),
    )


def solved(amperes: float) -> Solution:
    drawn = drawing(amperes)
    return solve(compile_network(drawn, CASE, LOAD_STATE, AT_20_C, conductor_resistances(drawn, AT_20_C)))


@pytest.mark.parametrize(
    ("lasting", "carried"), [((3.0,), 3.0), ((3.0, 4.0), 4.0), ((3.0, 8.0), 3.0), ((8.0,), None)]
)
def test_a_state_in_which_a_device_opens_carries_nothing_that_lasts(
    lasting: tuple[float, ...], carried: float | None
) -> None:
    """8 A opens the limiter of 5 A; its load's voltage counts all the same: 12 V less 0.2 Ω times the current."""
    thresholds = thresholds_of(drawing(1.0), AT_20_C, CASE)
    found = case_loading([solved(a) for a in lasting], [solved(2.0)], thresholds)
    assert found.continuous_a.get("W1") == (None if carried is None else pytest.approx(carried))
    assert found.continuous_a.keys() <= {"W1", "W2", "CH1"}
    assert found.least_v == {"L1": pytest.approx(12.0 - 0.2 * max(lasting))}
    lower = case_loading([solved(1.0)], [solved(a) for a in lasting], thresholds)
    assert lower.least_v == {"L1": pytest.approx(12.0 - 0.2 * max(lasting))}


def test_a_load_that_is_fed_the_wrong_way_round_has_no_lowest_voltage() -> None:
    drawn = drawing(1.0)
    turned = replace(drawn, loads=tuple(replace(one, node_plus="r", node_minus="b") for one in drawn.loads))
    network = compile_network(turned, CASE, LOAD_STATE, AT_20_C, conductor_resistances(turned, AT_20_C))
    assert case_loading([solve(network)], (), thresholds_of(turned, AT_20_C, CASE)).least_v == {}
