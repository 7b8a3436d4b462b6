"""What flows in copper with a short circuit, against nodal analysis with numpy: every edge and every output.

With limits that hold and diodes the state is checked instead: Kirchhoff's law at every joint, no output over its
limit, no current backwards through a diode, and no voltage forwards over one that blocks.
"""

from __future__ import annotations

import random

import numpy as np
import pytest
from harnesses import small_network

from loadloom.graph.circuit.network import Network
from loadloom.graph.model.elements import LoadKind
from loadloom.graph.short_circuits.shorted_copper import ShortedCopper

SEEDS = range(15)
JOINTS = "abcdef"


def drawn(seed: int, *, diodes: bool = False, holds: bool = False) -> Network:
    """Two or three outputs of unequal voltage on one return, joined by wires; currents flow without any short."""
    rng = random.Random(seed)
    edges = [(f"W{k}", JOINTS[k], JOINTS[k + 1], rng.uniform(0.02, 0.2)) for k in range(5)]
    edges += [(f"V{k}", *rng.sample(JOINTS, 2), rng.uniform(0.02, 0.2)) for k in range(3)]
    edges.append(("R", "r", "m", 0.05))
    edges.append(("T", "f", "r", 5.0))
    outputs = [
        (f"PS{k}", JOINTS[2 * k], "m", 24.0 - 0.7 * k, rng.uniform(0.01, 0.05)) for k in range(rng.randint(2, 3))
    ]
    return small_network(
        edges,
        outputs,
        [("L1", "f", "r", LoadKind.CURRENT, 2.0)],  # loads are off while a short is looked at
        diodes={"W1": 0.5, "W3": 0.6} if diodes else None,
        holds={name: 40.0 for name, *_ in outputs[:1]} if holds else None,
    )


def nodal(network: Network, a: int, b: int) -> tuple[float, np.ndarray, np.ndarray]:
    """A branch of 0 Ω between two nodes, by modified nodal analysis."""
    ends = [
        (network.edge_a[k], network.edge_b[k], network.edge_resistance_ohm[k], 0.0)
        for k in range(len(network.edge_ids))
    ]
    ends += [
        (
            network.source_minus[k],
            network.source_plus[k],
            network.source_resistance_ohm[k],
            network.source_voltage_v[k],
        )
        for k in range(len(network.source_ids))
    ]
    ends.append((a, b, 0.0, 0.0))
    nodes, count = len(network.node_ids), len(ends)
    matrix, right = np.zeros((nodes + count, nodes + count)), np.zeros(nodes + count)
    for k, (one, other, ohm, emf) in enumerate(ends):
        matrix[one, nodes + k] += 1.0
        matrix[other, nodes + k] -= 1.0
        matrix[nodes + k, one], matrix[nodes + k, other] = 1.0, -1.0
        matrix[nodes + k, nodes + k] = -ohm
        right[nodes + k] = -emf
    matrix[0, :], right[0] = 0.0, 0.0
    matrix[0, 0] = 1.0
    found = np.linalg.solve(matrix, right)[nodes:]
    edges = len(network.edge_ids)
    return float(found[-1]), found[:edges], found[edges:-1]


@pytest.mark.parametrize("seed", SEEDS)
def test_every_edge_and_output_carries_what_nodal_analysis_finds(seed: int) -> None:
    network = drawn(seed)
    copper = ShortedCopper(network, {})
    for at in ("a", "c", "f"):
        a, b = network.node_index[at], network.node_index["r"]
        found = copper.drawn(a, b)
        short_a, edge_a, source_a = nodal(network, a, b)
        assert found.short_a == pytest.approx(short_a) and found.holding == ()
        assert found.edge_a == pytest.approx(edge_a, abs=1e-7)
        assert found.source_a == pytest.approx(source_a, abs=1e-7)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("holds", [False, True])
def test_with_diodes_and_limits_the_state_is_one_that_can_be(seed: int, holds: bool) -> None:
    network = drawn(seed, diodes=True, holds=holds)
    a, b = network.node_index["f"], network.node_index["r"]
    found = ShortedCopper(network, {}).drawn(a, b)
    into = np.zeros(len(network.node_ids))
    np.add.at(into, network.edge_b, found.edge_a)
    np.add.at(into, network.edge_a, -found.edge_a)
    np.add.at(into, network.source_plus, found.source_a)
    np.add.at(into, network.source_minus, -found.source_a)
    into[a] -= found.short_a
    into[b] += found.short_a
    assert into == pytest.approx(np.zeros(len(into)), abs=1e-6)
    assert (found.edge_a[network.edge_diode] >= -1e-9).all()
    assert (found.source_a <= network.source_hold_a * (1 + 1e-9)).all()
    assert (found.holding == ("PS0",)) == bool(np.isclose(found.source_a[0], 40.0) and holds)
    # The short joins its ends: around it the voltages of wires that conduct add up.
    drop_v = network.edge_resistance_ohm * found.edge_a + network.edge_drop_v
    volts = {network.node_ids[b]: 0.0, network.node_ids[a]: 0.0}
    for _ in network.edge_ids:
        for k, name in enumerate(network.edge_ids):
            one, other = network.node_ids[network.edge_a[k]], network.node_ids[network.edge_b[k]]
            if network.edge_diode[k] and found.edge_a[k] < 1e-9:
                continue
            for known, new, sign in ((one, other, -1.0), (other, one, 1.0)):
                if known in volts:
                    assert volts.setdefault(new, volts[known] + sign * drop_v[k]) == pytest.approx(
                        volts[known] + sign * drop_v[k], abs=1e-6
                    ), name
    for k in np.flatnonzero(network.edge_diode):
        one, other = network.node_ids[network.edge_a[k]], network.node_ids[network.edge_b[k]]
        if found.edge_a[k] < 1e-9 and one in volts and other in volts:
            assert volts[one] - volts[other] <= network.edge_drop_v[k] + 1e-6
    for k, name in enumerate(network.source_ids):
        plus, minus = (network.node_ids[ends[k]] for ends in (network.source_plus, network.source_minus))
        if name not in found.holding and plus in volts and minus in volts:
            inner_v = network.source_voltage_v[k] - network.source_resistance_ohm[k] * found.source_a[k]
            assert volts[plus] - volts[minus] == pytest.approx(inner_v, abs=1e-6)


def test_a_limiter_that_holds_lets_no_more_through() -> None:
    """24 V over 0.1 Ω would be 240 A; the limiter in one of two alike ways holds 20, and the other takes the rest:
    24 V over 10 mΩ + 0.1 Ω, less what both drop in the output: (24 - 0.2) / 0.11.
    """
    network = small_network(
        [("CH1", "p", "a", 0.0), ("W1", "a", "b", 0.1), ("W2", "p", "b", 0.1), ("W9", "r", "m", 0.0)],
        [("PS1", "p", "m", 24.0, 0.01)],
        [],
    )
    found = ShortedCopper(network, {"CH1": 20.0}).drawn(network.node_index["b"], network.node_index["r"])
    other = (24.0 - 0.01 * 20.0) / 0.11
    assert found.edge_a[:3] == pytest.approx([20.0, 20.0, other]) and found.short_a == pytest.approx(20.0 + other)
