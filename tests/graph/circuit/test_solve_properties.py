"""Laws that hold for every harness: Kirchhoff's current and voltage law, superposition, the relations of
diodes and outputs."""

from dataclasses import replace

import numpy as np
from harnesses import Network, network_of, random_harness, small_network
from hypothesis import given, settings
from hypothesis import strategies as st

from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.elements import LoadKind

seeds = st.integers(1000, 10**6)
shares = st.sampled_from([0.0, 0.3, 1.0])


def outflow_a(network: Network, solution: Solution) -> np.ndarray:
    """Sum of currents leaving each node, added up here on its own."""
    total = np.zeros(len(network.node_ids))
    np.add.at(total, network.edge_a, solution.edge_a)
    np.add.at(total, network.edge_b, -solution.edge_a)
    np.add.at(total, network.source_plus, -solution.source_a)
    np.add.at(total, network.source_minus, solution.source_a)
    np.add.at(total, network.load_plus, solution.load_a)
    np.add.at(total, network.load_minus, -solution.load_a)
    return total


@settings(max_examples=40, deadline=None)
@given(seeds, shares)
def test_kirchhoff(seed: int, zero_contacts: float):
    network = network_of(random_harness(seed, zero_contacts=zero_contacts))
    solution = solve(network)
    assert np.abs(outflow_a(network, solution)).max() < 1e-9
    volts = solution.node_v[network.edge_a] - solution.node_v[network.edge_b]
    drop = network.edge_resistance_ohm * solution.edge_a
    assert np.abs(volts - drop).max() < 1e-9
    terminal = solution.node_v[network.source_plus] - solution.node_v[network.source_minus]
    inner = network.source_voltage_v - network.source_resistance_ohm * solution.source_a
    assert np.abs(terminal - inner).max() < 1e-9


@settings(max_examples=25, deadline=None)
@given(seeds, shares, st.floats(0.05, 0.95))
def test_superposition_of_constant_currents(seed: int, zero_contacts: float, part: float):
    """The currents of two sets of loads add up, those without any load (circulating ones) counted once."""
    network = network_of(random_harness(seed, kinds=(LoadKind.CURRENT,), zero_contacts=zero_contacts))
    split = np.random.default_rng(seed).random(len(network.load_demand)) < part
    one = solve(replace(network, load_demand=np.where(split, network.load_demand, 0.0)))
    other = solve(replace(network, load_demand=np.where(split, 0.0, network.load_demand)))
    idle = solve(replace(network, load_demand=np.zeros(len(split))))
    both = solve(network)
    assert np.abs(one.edge_a + other.edge_a - idle.edge_a - both.edge_a).max() < 1e-9


@settings(max_examples=25, deadline=None)
@given(seeds, st.integers(2, 6), st.floats(0.2, 3.0))
def test_joined_outputs_and_diodes_obey_their_relation(seed: int, count: int, demand: float):
    """Each diode conducts forwards or blocks; each output is at its voltage or at its current, never beyond."""
    rng = np.random.default_rng(seed)
    edges = [(f"D{k}", f"u{k}", "x", rng.choice([0.0, rng.uniform(1e-3, 0.1)])) for k in range(count)]
    network = small_network(
        [*edges, ("w", "x", "z", 0.02)],
        [(f"U{k}", f"u{k}", "m", 12.0 + rng.uniform(-0.3, 0.3), rng.choice([0.0, 0.01])) for k in range(count)],
        [("L", "z", "m", LoadKind.CURRENT, demand * count)],
        diodes={f"D{k}": float(rng.choice([0.3, 0.4])) for k in range(count)},
        holds={f"U{k}": float(rng.choice([2.0, 4.0])) for k in range(count)},
    )
    solution = solve(network)
    assert np.abs(outflow_a(network, solution)).max() < 1e-9
    diode = network.edge_diode
    assert (solution.edge_a[diode] >= -1e-9).all()
    assert (solution.source_a <= network.source_hold_a + 1e-9).all()
    terminal = solution.node_v[network.source_plus] - solution.node_v[network.source_minus]
    slack = network.source_voltage_v - network.source_resistance_ohm * solution.source_a - terminal
    held = np.isin(network.source_ids, solution.holding)
    assert (slack > -1e-8).all() and np.abs(slack[~held]).max(initial=0.0) < 1e-8
    assert np.abs(solution.source_a[held] - network.source_hold_a[held]).max(initial=0.0) < 1e-9
    enough = network.source_hold_a.sum() >= demand * count
    assert (solution.collapsed == ()) == enough
