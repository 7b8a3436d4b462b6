"""Combined overload current where one overload takes load off a device, so that another can draw more through it.

Source of the numbers: Kirchhoff's laws. The random circuits are solved here, node by node.
"""

from __future__ import annotations

import random

import numpy as np
import pytest
from fault_bench import faults_of
from wired import harness, limiter, load, output, wire

from loadloom.graph.model.harness import Harness


def test_a_failed_load_between_two_ways_out_feeds_the_other_side() -> None:
    """W9 carries what L1 returns: 10 A through CH1 and, through the failed L3 from y to x, the 8 A of CH4: 18 A.

    L3 adds nothing to W9 by itself: it takes 8 A from CH1, so that a fault at L1 can draw 18 A.
    """
    parts = faults_of(
        harness(
            output("PS0", "p", "n", 12.0, trip_a=40.0, resistance_ohm=0.05),
            output("PS1", "q", "n", 24.0, trip_a=60.0, resistance_ohm=0.05),
            limiter("CH1", "p", "a", 10.0),
            limiter("CH4", "q", "b", 8.0),
            wire("W1", "a", "x", ohm=0.05, rated=20.0),
            wire("W2", "b", "y", ohm=0.05, rated=20.0),
            wire("W8", "n", "r", ohm=0.02, rated=25.0),
            wire("W9", "r", "m", ohm=0.02, rated=12.0),
            wire("W10", "r", "k", ohm=0.02, rated=20.0),
            load("L1", "x", "m", 2.0),
            load("L2", "y", "k", 2.0),
            load("L3", "y", "x", 0.5),
        )
    ).parts
    assert parts["W9"].combined_overload_a == pytest.approx(18.0)
    assert parts["W8"].combined_overload_a == pytest.approx(18.0)


def test_an_overload_at_a_conductors_end_relieves_the_device_before_it() -> None:
    """W4 lies behind CH2's 4 A. W5, pinched onto its near end, adds PS0's 5 A, and L2 takes all of it: 9 A."""
    parts = faults_of(
        harness(
            output("PS0", "p", "n", 24.0, trip_a=5.0, resistance_ohm=0.2),
            output("PS1", "n", "m", 24.0, trip_a=40.0, resistance_ohm=0.05),
            wire("W5", "p", "a", ohm=0.05, rated=8.0, bundle="B"),
            limiter("CH2", "n", "x", 4.0),
            wire("W4", "x", "y", ohm=0.01, rated=8.0, bundle="B"),
            wire("W8", "z", "m", ohm=0.01, rated=50.0),
            load("L1", "a", "y", 1.0),
            load("L2", "y", "z", 3.0),
        )
    ).parts
    assert parts["W4"].combined_overload_a == pytest.approx(9.0)


def sagging() -> Harness:
    """Two outputs on one bus: 6 A and 20 A, equal leads, so that one fault at the load gets 2 × 6 A."""
    return harness(
        output("PS0", "p", "n", 24.0, trip_a=60.0, resistance_ohm=0.2),
        output("PS1", "q", "n", 24.0, trip_a=40.0, resistance_ohm=0.2),
        limiter("CH0", "p", "a", 6.0),
        limiter("CH1", "q", "b", 20.0),
        wire("W0", "a", "c", ohm=0.05, rated=25.0),
        wire("W1", "b", "c", ohm=0.05, rated=25.0),
        wire("W3", "c", "d", ohm=0.01, rated=22.0),
        wire("W4", "n", "e", ohm=0.01, rated=80.0),
        load("L1", "d", "e", 2.0),
    )


def test_an_overload_that_sags_one_output_makes_room_on_its_device() -> None:
    """A fault of x A at PS0's terminal moves x · 0.2 / (0.2 + 0.05 + 0.05 + 0.2) = 0.4 x from CH0 onto CH1.

    Of y A at the load each takes y / 2: CH0 0.5 y - 0.4 x = 6 A, CH1 0.5 y + 0.4 x = 20 A: y = 26 A, x = 17.5 A.
    """
    assert faults_of(sagging()).parts["W3"].combined_overload_a == pytest.approx(26.0)


def random_mesh(seed: int) -> Harness:
    """Two or three outputs of one return, limiters in their paths onto one bus or onto buses that loads join."""
    r = random.Random(seed)
    count = r.choice((2, 3))
    parts = []
    for k in range(count):
        trip = r.choice((15.0, 30.0, 60.0))
        on_bus = r.random() < 0.4
        volts = 12.0 if on_bus else r.choice((12.0, 12.5, 24.0))
        parts += [
            output(f"U{k}", f"p{k}", "n", volts, trip_a=trip, resistance_ohm=r.choice((0.05, 0.2))),
            limiter(f"Q{k}", f"p{k}", f"a{k}", r.choice((6.0, 10.0, 20.0))),
            wire(f"W{k}", f"a{k}", "bus" if on_bus else f"b{k}", ohm=r.uniform(0.02, 0.2)),
            wire(f"R{k}", "n", f"m{k}", ohm=r.uniform(0.02, 0.2)),
        ]
        end = parts[-2].node_b
        parts.append(load(f"L{k}", end, f"m{k}", 1.0))
        if k:
            parts.append(load(f"T{k}", end, parts[-6].node_plus, 0.5))
    return harness(*parts)


def held_states(drawn: Harness, seed: int, tries: int) -> dict[str, float]:
    """The greatest current by conductor over random states of several failed loads in which nothing opens."""
    r = random.Random(seed)
    nodes = sorted(
        {n for c in (*drawn.conductors, *drawn.devices) for n in (c.node_a, c.node_b)}
        | {n for e in (*drawn.outputs, *drawn.loads) for n in (e.node_plus, e.node_minus)}
    )
    at = {name: k for k, name in enumerate(nodes)}
    held = {d.id: d.trip_a.upper for d in drawn.devices}
    best = {c.id: 0.0 for c in drawn.conductors}
    for _ in range(tries):
        matrix, right = np.zeros((len(nodes), len(nodes))), np.zeros(len(nodes))

        def link(a: str, b: str, ohm: float, matrix: np.ndarray = matrix) -> None:
            for i, j in ((at[a], at[b]), (at[b], at[a])):
                matrix[i, i] += 1.0 / ohm
                matrix[i, j] -= 1.0 / ohm

        for c in drawn.conductors:
            link(c.node_a, c.node_b, c.resistance_ohm.nominal)
        for d in drawn.devices:
            link(d.node_a, d.node_b, 1e-6)
        for o in drawn.outputs:
            link(o.node_plus, o.node_minus, o.resistance_ohm)
            right[at[o.node_plus]] += o.voltage_v / o.resistance_ohm
            right[at[o.node_minus]] -= o.voltage_v / o.resistance_ohm
        pairs = [(e.node_plus, e.node_minus) for e in (*drawn.loads, *drawn.outputs)]
        for a, b in r.sample(pairs, r.randint(1, 4)):
            link(a, b, 10.0 ** r.uniform(-1.0, 1.5))
        ground = at["n"]
        matrix[ground, :], right[ground] = 0.0, 0.0
        matrix[ground, ground] = 1.0
        if np.linalg.matrix_rank(matrix) < len(nodes):
            continue
        volts = np.linalg.solve(matrix, right)
        through = {d.id: abs(volts[at[d.node_a]] - volts[at[d.node_b]]) / 1e-6 for d in drawn.devices}
        if any(through[name] > held[name] for name in held):
            continue
        outs = {
            o.id: (o.voltage_v - volts[at[o.node_plus]] + volts[at[o.node_minus]]) / o.resistance_ohm
            for o in drawn.outputs
        }
        if any(outs[o.id] > o.trip_a.upper for o in drawn.outputs):
            continue
        for c in drawn.conductors:
            amps = abs(volts[at[c.node_a]] - volts[at[c.node_b]]) / c.resistance_ohm.nominal
            best[c.id] = max(best[c.id], float(amps))
    return best


@pytest.mark.parametrize("seed", range(20))
def test_no_state_of_several_failed_loads_is_above_the_exposure(seed: int) -> None:
    drawn = random_mesh(seed)
    parts = faults_of(drawn).parts
    best = held_states(drawn, 100 + seed, 1500)
    assert max(best.values()) > 5.0
    for name, amps in best.items():
        assert amps <= parts[name].combined_overload_a * (1.0 + 1e-5) + 1e-6, name
