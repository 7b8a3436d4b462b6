"""What a splice carries once one branch has opened, against a whole solve without it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from harnesses import network_of
from wired import harness, load, output, splice, wire

from loadloom.graph.analysis import explore
from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.open_circuits import after_opening

SETTINGS = AnalysisSettings(conductor_temperature_c=20.0)


def ring(rating_a: float):
    """A ring of three joints fed at one of them: loads of 4 A, 3 A and 2 A, a splice at the second joint."""
    return harness(
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0),
        wire("W1", "p", "a", ohm=0.1, rated=30.0),
        wire("W2", "a", "b", ohm=0.1, rated=30.0),
        wire("W3", "b", "p", ohm=0.2, rated=30.0),
        wire("W9", "r", "m", ohm=0.1, rated=30.0),
        splice("S1", "a", rating_a),
        load("L1", "a", "r", 4.0),
        load("L2", "b", "r", 3.0),
        load("L3", "p", "r", 2.0),
    )


def through(without: str) -> float:
    """Half the sum of all currents at the splice's joint, with one wire open."""
    network = network_of(ring(1.0))
    open_one = np.where(np.array(network.edge_ids) == without, np.inf, network.edge_resistance_ohm)
    found = solve(replace(network, edge_resistance_ohm=open_one))
    node = network.node_index["a"]
    at = (network.edge_a == node) | (network.edge_b == node)
    return 0.5 * (float(np.abs(found.edge_a[at]).sum()) + 4.0)


@pytest.mark.parametrize("rating_a", [3.0, 6.9])
def test_the_worst_branch_to_open_is_named_with_what_it_brings(rating_a: float) -> None:
    """With W3 open all 7 A pass the splice: 4 A into its load and 3 A on."""
    facts, _ = explore(ring(rating_a), SETTINGS, lambda _: None)
    worst = facts.after_opening["S1"]
    each = {name: through(name) for name in ("W1", "W2", "W3")}
    assert each["W3"] == pytest.approx(7.0) == max(each.values())
    assert worst.current_a == pytest.approx(max(each.values()))
    assert worst.exact


def test_where_no_branch_can_bring_more_than_is_allowed_nothing_is_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    """At most 9 A + 7 A + 4 A at the joint, half of it through it: 10 A allow it without a look."""
    solved: list[int] = []
    monkeypatch.setattr(after_opening, "_without_edge", lambda solution, edge: solved.append(edge) or solution)
    facts, _ = explore(ring(12.0), SETTINGS, lambda _: None)
    assert solved == []
    assert "S1" not in facts.after_opening or facts.after_opening["S1"].current_a <= 12.0


def test_of_many_branches_the_bound_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(after_opening, "MOST_SOLVES", 1)
    facts, _ = explore(ring(3.0), SETTINGS, lambda _: None)
    worst = facts.after_opening["S1"]
    assert not worst.exact and 7.0 <= worst.current_a <= 9.0
