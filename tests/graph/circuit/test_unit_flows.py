"""How an ampere spreads in copper, against nodal analysis with numpy: Kirchhoff's laws at every node."""

from __future__ import annotations

import random

import numpy as np
import pytest
from harnesses import network_of, random_harness

from loadloom.graph.circuit.unit_flows import EQUAL_SHARE_OHM, Branches, branches_of, unit_flows

SEEDS = range(20)


def drawn(seed: int, zero: float) -> tuple[int, Branches, np.ndarray]:
    """A random network in one or two pieces, some branches open or with both ends on one node; ``zero``: the share
    of branches without resistance.
    """
    rng = random.Random(seed)
    nodes, count = rng.randint(3, 8), rng.randint(3, 12)
    a = np.array([rng.randrange(nodes) for _ in range(count)])
    b = np.array([rng.randrange(nodes) for _ in range(count)])
    ohm = np.array([0.0 if rng.random() < zero else rng.uniform(0.1, 2.0) for _ in range(count)])
    emf = np.array([rng.choice((0.0, 0.0, rng.uniform(-5.0, 5.0))) for _ in range(count)])
    closed = np.array([rng.random() < 0.85 for _ in range(count)])
    names = tuple(f"B{k}" for k in range(count))
    return nodes, Branches(names, a, b, ohm, emf, np.zeros(count, dtype=bool), count - 1), closed


def solved(nodes: int, net: Branches, closed: np.ndarray, ohm: np.ndarray, drawn_a: np.ndarray, emf: np.ndarray):
    """Branch currents and potentials: ``v_a - v_b + emf = R i`` and what flows in at a node is drawn there."""
    incidence = np.zeros((len(ohm), nodes))
    for k in np.flatnonzero(closed):
        incidence[k, net.a[k]] += 1.0
        incidence[k, net.b[k]] -= 1.0
    g = np.where(closed, 1.0 / ohm, 0.0)
    potential = np.linalg.pinv(incidence.T @ (g[:, None] * incidence), rcond=1e-12) @ (
        -drawn_a - incidence.T @ (g * emf)
    )
    return g * (incidence @ potential + emf) * closed, potential


def pieces(nodes: int, net: Branches, closed: np.ndarray) -> list[int]:
    """The least node that every node hangs together with."""
    label = list(range(nodes))
    for _ in range(nodes):
        for k in np.flatnonzero(closed):
            label[net.a[k]] = label[net.b[k]] = min(label[net.a[k]], label[net.b[k]])
    return label


@pytest.mark.parametrize("seed", SEEDS)
def test_an_ampere_spreads_by_kirchhoffs_laws(seed: int) -> None:
    nodes, net, closed = drawn(seed, 0.0)
    found = unit_flows(nodes, net, closed)
    root = pieces(nodes, net, closed)
    assert found.piece.tolist() == root
    none = np.zeros(nodes)
    for node in range(nodes):
        asked = none.copy()
        asked[node] += 1.0
        asked[root[node]] -= 1.0
        flow, potential = solved(nodes, net, closed, net.resistance_ohm, asked, np.zeros(len(closed)))
        # A branch with both ends on one node carries nothing of it.
        assert found.flow[:, node] == pytest.approx(flow, abs=1e-9)
        for other in range(nodes):
            fall = potential[root[node]] - potential[other] if root[other] == root[node] else 0.0
            assert found.fall_ohm[other, node] == pytest.approx(fall, abs=1e-9)
    own, potential = solved(nodes, net, closed, net.resistance_ohm, none, net.emf_v)
    ends_apart = net.a != net.b
    assert found.own_a[ends_apart] == pytest.approx(own[ends_apart], abs=1e-9)
    above = np.array([potential[n] - potential[root[n]] for n in range(nodes)])
    assert found.own_v == pytest.approx(above, abs=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_parts_of_no_resistance_share_equally_where_nothing_else_tells(seed: int) -> None:
    """The limit of equal small resistances. No voltages: in such a loop one would drive any current."""
    nodes, net, closed = drawn(seed, 0.5)
    found = unit_flows(nodes, net, closed)
    root = pieces(nodes, net, closed)
    small = np.where(net.resistance_ohm == 0.0, 1e-6, net.resistance_ohm)
    for node in range(nodes):
        asked = np.zeros(nodes)
        asked[node] += 1.0
        asked[root[node]] -= 1.0
        flow, potential = solved(nodes, net, closed, small, asked, np.zeros(len(closed)))
        assert found.flow[:, node] == pytest.approx(flow, abs=1e-4)
        fall = [potential[root[node]] - potential[n] if root[n] == root[node] else 0.0 for n in range(nodes)]
        assert found.fall_ohm[:, node] == pytest.approx(np.array(fall), abs=1e-4)


def test_two_sources_of_no_resistance_that_do_not_agree() -> None:
    """12 V and 12.5 V on the same joints: 0.5 V over what stands for two branches of 0 Ω."""
    ends = np.zeros(2, dtype=np.int64)
    net = Branches(("A", "B"), ends, ends + 1, np.zeros(2), np.array([12.0, 12.5]), ends > 0, 0)
    found = unit_flows(2, net, np.ones(2, dtype=bool))
    assert found.own_a == pytest.approx([-0.25 / EQUAL_SHARE_OHM, 0.25 / EQUAL_SHARE_OHM])
    assert found.flow[:, 1] == pytest.approx([0.5, 0.5])


def test_branches_of_a_network_are_its_edges_and_then_its_outputs() -> None:
    network = network_of(random_harness(3))
    found = branches_of(network)
    edges = len(network.edge_ids)
    assert found.ids == (*network.edge_ids, *network.source_ids) and found.edge_count == edges
    assert found.a[edges:].tolist() == network.source_minus.tolist(), "a source drives from minus to plus"
    assert found.b[edges:].tolist() == network.source_plus.tolist()
    assert found.emf_v[edges:].tolist() == network.source_voltage_v.tolist() and not found.diode[edges:].any()
    chosen, place = np.array([0, edges - 1, edges]), np.arange(len(network.node_ids))[::-1]
    some = found.take(chosen, place)
    assert some.ids == tuple(found.ids[k] for k in chosen) and some.edge_count == 2
    assert some.a.tolist() == place[found.a[chosen]].tolist()
