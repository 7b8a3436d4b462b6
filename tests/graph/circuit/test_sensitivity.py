"""Derivatives of a branch's current against differences of whole solves; a network without some of its parts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from harnesses import small_network

from loadloom.graph.circuit.network import Network, without
from loadloom.graph.circuit.sensitivity import sensitivities
from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.elements import LoadKind

STEP = 1e-5

EDGES = [
    ("W1", "p", "a", 0.05),
    ("W2", "p", "b", 0.08),
    ("W3", "a", "b", 0.02),
    ("W4", "c", "a", 0.03),
    ("W5", "g", "m", 0.04),
    ("W6", "q", "c", 0.06),
]
OUTPUTS = [("PS1", "p", "m", 24.0, 0.01), ("PS2", "q", "m", 24.3, 0.02)]
LOADS = [
    ("L1", "a", "g", LoadKind.CURRENT, 3.0),
    ("L2", "b", "g", LoadKind.RESISTANCE, 8.0),
    ("L3", "c", "g", LoadKind.POWER, 60.0),
]


def of(network: Network) -> np.ndarray:
    """Currents of edges, outputs and loads in one row."""
    solved = solve(network)
    return np.concatenate([solved.edge_a, solved.source_a, solved.load_a])


def test_derivatives_are_those_of_the_whole_solve() -> None:
    """Central differences of a network with loads of all kinds and two outputs."""
    network = small_network(EDGES, OUTPUTS, LOADS)
    branches = np.arange(len(EDGES) + len(OUTPUTS) + len(LOADS))
    found = sensitivities(solve(network), branches)
    constant_current = len(EDGES) + len(OUTPUTS)
    for k, there in enumerate(found):
        if k == constant_current:
            assert there is None, "what draws a constant current has no resistance"
            continue
        assert there is not None
        for s in range(len(OUTPUTS)):
            volts = [network.source_voltage_v + sign * STEP * (np.arange(len(OUTPUTS)) == s) for sign in (1, -1)]
            up, down = (of(replace(network, source_voltage_v=v))[k] for v in volts)
            assert there.by_voltage[s] == pytest.approx((up - down) / (2 * STEP), rel=1e-4, abs=1e-6)
        for e in range(len(EDGES)):
            ohms = [network.edge_resistance_ohm + sign * STEP * (np.arange(len(EDGES)) == e) for sign in (1, -1)]
            up, down = (of(replace(network, edge_resistance_ohm=r))[k] for r in ohms)
            assert there.by_resistance[e] == pytest.approx((up - down) / (2 * STEP), rel=1e-4, abs=1e-6)


@pytest.mark.parametrize("names", [("W3",), ("PS2",), ("W2", "PS2"), ("W6", "PS2")])
def test_a_network_without_parts_is_one_that_was_never_drawn_with_them(names: tuple[str, ...]) -> None:
    less = without(small_network(EDGES, OUTPUTS, LOADS), names)
    drawn = small_network([e for e in EDGES if e[0] not in names], [o for o in OUTPUTS if o[0] not in names], LOADS)
    cut, never = solve(less), solve(drawn)
    for name in (e[0] for e in EDGES):
        expected = 0.0 if name in names else float(never.edge_a[drawn.edge_ids.index(name)])
        assert float(cut.edge_a[less.edge_ids.index(name)]) == pytest.approx(expected, abs=1e-9)
    assert less.source_ids == drawn.source_ids
    assert cut.source_a == pytest.approx(never.source_a)
    assert cut.load_a == pytest.approx(never.load_a)
    assert less.opened == names and less.drawn is not None and len(less.drawn.source_ids) == 2
