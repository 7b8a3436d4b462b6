"""Combined overload current where constant-current outputs are joined: never below any state, never above
Kirchhoff's current law.

Below: circuits with several faults at once, solved here by trying every combination of outputs that hold their
voltage or their current, and keeping the one that agrees with itself. Above: a linear programme of Kirchhoff's
current law alone, written here over node balances.
"""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from fault_bench import faults_of
from scipy.optimize import linprog
from wired import AT_20_C, harness, limiter, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, Behaviour
from loadloom.graph.model.harness import Harness

LIMIT_A = 8.0


def joined(seed: int) -> Harness:
    """Three outputs of 8 A and unequal voltages onto one bus through leads of unequal resistance."""
    r = random.Random(seed)
    parts = []
    for k in range(3):
        volts = 12.0 + r.choice([0.0, 0.3, 1.0, 3.0]) * r.random()
        parts.append(
            output(
                f"U{k}",
                f"p{k}",
                f"n{k}",
                volts,
                limit_a=LIMIT_A,
                behaviour=Behaviour.CONSTANT_CURRENT,
                resistance_ohm=r.choice([0.01, 0.02, 0.3]),
            )
        )
        parts.append(wire(f"W{k}", f"p{k}", "bus", ohm=r.uniform(0.005, 0.3), length_m=1.0))
        parts.append(wire(f"R{k}", f"n{k}", "gnd", ohm=r.uniform(0.005, 0.3), length_m=1.0))
    parts.append(wire("WF", "bus", "x", ohm=0.1, length_m=1.0))
    parts.append(wire("WR", "y", "gnd", ohm=0.1, length_m=1.0))
    parts.append(load("L", "x", "y", 2.0))
    return harness(*parts)


def by_force(drawn: Harness, faults: list[tuple[str, str, float]]) -> dict[str, float] | None:
    """Currents of all conductors with faults (from, to, Ω); None where no combination agrees with itself."""
    nodes = sorted({n for c in drawn.conductors for n in (c.node_a, c.node_b)})
    at = {name: k for k, name in enumerate(nodes)}
    for holding in itertools.product((False, True), repeat=3):
        matrix, right = np.zeros((len(nodes), len(nodes))), np.zeros(len(nodes))
        links = [(c.node_a, c.node_b, c.resistance_ohm.nominal) for c in drawn.conductors]
        for a, b, ohm in links + faults:
            for n, m in ((at[a], at[b]), (at[b], at[a])):
                matrix[n, n] += 1.0 / ohm
                matrix[n, m] -= 1.0 / ohm
        for unit, holds in zip(drawn.outputs, holding, strict=True):
            p, n = at[unit.node_plus], at[unit.node_minus]
            if holds:
                right[p] += LIMIT_A
                right[n] -= LIMIT_A
                continue
            g = 1.0 / unit.resistance_ohm
            matrix[p, p] += g
            matrix[n, n] += g
            matrix[p, n] -= g
            matrix[n, p] -= g
            right[p] += g * unit.voltage_v
            right[n] -= g * unit.voltage_v
        ground = at["gnd"]
        matrix[ground, :], right[ground] = 0.0, 0.0
        matrix[ground, ground] = 1.0
        volts = np.linalg.solve(matrix, right)
        agrees = True
        for unit, holds in zip(drawn.outputs, holding, strict=True):
            across = volts[at[unit.node_plus]] - volts[at[unit.node_minus]]
            free_a = (unit.voltage_v - across) / unit.resistance_ohm
            agrees &= free_a >= LIMIT_A - 1e-9 if holds else free_a <= LIMIT_A + 1e-9
        if agrees:
            return {
                c.id: abs(float(volts[at[c.node_a]] - volts[at[c.node_b]])) / c.resistance_ohm.nominal
                for c in drawn.conductors
            }
    return None


def by_current_law(drawn: Harness, name: str) -> float:
    """The most that balances at the nodes allow: draws from the feed to the return, 0 to 8 A of every output."""
    path_out = {"bus", "x", "p0", "p1", "p2"}
    nodes = sorted({n for c in drawn.conductors for n in (c.node_a, c.node_b)})
    wires, units = len(drawn.conductors), len(drawn.outputs)
    balance = np.zeros((len(nodes), wires + units + len(nodes)))
    for k, c in enumerate(drawn.conductors):
        balance[nodes.index(c.node_a), k] -= 1.0
        balance[nodes.index(c.node_b), k] += 1.0
    for k, u in enumerate(drawn.outputs):
        balance[nodes.index(u.node_plus), wires + k] += 1.0
        balance[nodes.index(u.node_minus), wires + k] -= 1.0
    for n, node in enumerate(nodes):
        balance[n, wires + units + n] = -1.0 if node in path_out else 1.0
    bounds = [(None, None)] * wires + [(None, LIMIT_A)] * units + [(0.0, None)] * len(nodes)
    best = 0.0
    for sign in (1.0, -1.0):
        gain = np.zeros(balance.shape[1])
        gain[[c.id for c in drawn.conductors].index(name)] = -sign
        answer = linprog(gain, A_eq=balance, b_eq=np.zeros(len(nodes)), bounds=bounds, method="highs")
        assert answer.status == 0
        best = max(best, -float(answer.fun))
    return best


@pytest.mark.parametrize("seed", range(12))
def test_between_every_state_and_the_current_law(seed: int) -> None:
    drawn = joined(seed)
    parts = faults_of(drawn).parts
    for c in drawn.conductors:
        assert parts[c.id].combined_overload_a <= by_current_law(drawn, c.id) * (1.0 + 1e-9), c.id
    r = random.Random(1000 + seed)
    reached = dict.fromkeys(parts, 0.0)
    for _ in range(150):
        places = [(r.choice(("bus", "x", "p0", "p1", "p2")), r.choice(("gnd", "y", "n0", "n1", "n2")))]
        places += [(f"p{r.randrange(3)}", f"n{r.randrange(3)}") for _ in range(r.randrange(3))]
        found = by_force(drawn, [(a, b, 10.0 ** r.uniform(-3.0, 1.5)) for a, b in places])
        assert found is not None
        for name, amps in found.items():
            reached[name] = max(reached[name], amps)
            assert amps <= parts[name].combined_overload_a * (1.0 + 1e-6), name
    assert max(reached.values()) > 1.5 * LIMIT_A


def test_three_outputs_of_8_a_put_at_most_16_a_on_a_lead() -> None:
    parts = faults_of(joined(0)).parts
    assert parts["W0"].combined_overload_a == pytest.approx(16.0)
    assert parts["W1"].combined_overload_a == pytest.approx(16.0)
    assert parts["WF"].combined_overload_a == pytest.approx(24.0)


def test_an_output_that_charges_another_one_does_not_add_to_what_that_gives() -> None:
    """A battery behind a limiter of 40 A, and a charger that holds 10 A, feed one joint. Whatever draws there and
    along the leads, W1 carries what the battery gives, at most 40 A by its limiter, or what the charger gives it.
    """
    drawn = harness(
        output("BT", "b", "m", 28.0, trip_a=None, resistance_ohm=6e-3),
        limiter("F1", "b", "f", 40.0, resistance_ohm=Band.exact(2e-3)),
        wire("W1", "f", "j", ohm=1e-3, rated=60.0),
        output("PS", "c", "m", 28.8, limit_a=10.0, trip_a=None, behaviour=Behaviour.CONSTANT_CURRENT),
        wire("W2", "c", "j", ohm=10e-3, rated=60.0),
        wire("W3", "j", "l", ohm=5e-3, rated=60.0),
        wire("W4", "k", "m", ohm=5e-3, rated=60.0),
        load("L1", "l", "k", 1.0),
    )
    found = explore(drawn, AT_20_C, lambda _: None)[0].faults.parts
    assert found["W1"].combined_overload_a == pytest.approx(40.0)
    assert found["W3"].combined_overload_a == pytest.approx(50.0)
