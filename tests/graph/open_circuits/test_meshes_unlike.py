"""Unlike contacts in rings and meshes: what they put of the loads' current on one part, by hand and by an own
dense nodal solve at every corner of the bands.
"""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import numpy as np
import pytest
from harnesses import Network, small_network
from wired import AT_20_C, analysed, contact, harness, load, output

from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.elements import Band, LoadKind
from loadloom.graph.open_circuits.contact_spread import MOST_CORNERS, Spread, contact_spread, said_of

LEAST_OHM, MOST_OHM = 1e-3, 3e-3


def spread_of(network: Network, least: np.ndarray | None = None, most: np.ndarray | None = None) -> Spread:
    count = len(network.edge_ids)
    least = np.full(count, LEAST_OHM) if least is None else least
    most = np.full(count, MOST_OHM) if most is None else most
    return contact_spread(solve(network), least, most, allowed_a=np.full(count, np.inf), draws=0, seed=1)


def drawn_currents(ends: list[tuple[int, int]], ohm: np.ndarray, drawn_a: np.ndarray) -> np.ndarray:
    """Currents of branches by nodal analysis, node 0 feeding what the others draw."""
    incidence = np.zeros((len(drawn_a), len(ends)))
    for k, (a, b) in enumerate(ends):
        incidence[a, k] += 1.0
        incidence[b, k] -= 1.0
    matrix = (incidence / ohm) @ incidence.T
    volts = np.zeros(len(drawn_a))
    volts[1:] = np.linalg.solve(matrix[1:, 1:], -drawn_a[1:])
    return incidence.T @ volts / ohm


def random_mesh(
    seed: int, nodes: int, more: int
) -> tuple[list[tuple[int, int]], np.ndarray, np.ndarray, np.ndarray]:
    """Branches with their least and greatest resistance, and what is drawn at each node but node 0."""
    rng = random.Random(seed)
    ends = [(rng.randrange(n), n) for n in range(1, nodes)]
    while len(ends) < nodes - 1 + more:
        a, b = rng.sample(range(nodes), 2)
        ends.append((a, b))
    least = np.array([rng.uniform(0.5e-3, 4e-3) for _ in ends])
    most = least * np.array([rng.choice((1.0, rng.uniform(1.0, 5.0))) for _ in ends])
    drawn = np.array([0.0, *(rng.choice((0.0, rng.uniform(1.0, 10.0))) for _ in range(nodes - 1))])
    return ends, least, most, drawn


def network_of(ends: list[tuple[int, int]], ohm: np.ndarray, drawn_a: np.ndarray) -> Network:
    return small_network(
        [(f"W{k}", f"n{a}", f"n{b}", float(ohm[k])) for k, (a, b) in enumerate(ends)],
        [("U", "n0", "m", 24.0, 0.0)],
        [(f"L{n}", f"n{n}", "m", LoadKind.CURRENT, float(a)) for n, a in enumerate(drawn_a.tolist()) if a],
    )


def test_a_ring_of_three_contacts_with_two_loads():
    """1 to 3 mΩ each, 10 A at two of its corners: with the near one and the one between at 1 mΩ, and the far one at
    3 mΩ, (10 · (1 + 3) + 10 · 3) / 5 = 14 A, though all alike carry 10 A. Between the loads (30 - 10) / 5 = 4 A.
    """
    network = network_of([(0, 1), (1, 2), (2, 0)], np.full(3, 3e-3), np.array([0.0, 10.0, 10.0]))
    assert spread_of(network).uneven_a == pytest.approx([14.0, 4.0, 14.0], rel=1e-9)
    alike = spread_of(network, np.full(3, MOST_OHM))
    assert alike.uneven_a == pytest.approx([10.0, 0.0, 10.0], abs=1e-9)


def test_the_whole_report_fails_a_ring_whose_contacts_age_unlike():
    """The same ring with contacts that are allowed 12 A."""
    band = Band(2e-3, LEAST_OHM, MOST_OHM)

    def of(rated_a: float) -> set[str]:
        ends = (("X1.1", "p", "b"), ("X2.1", "b", "c"), ("X3.1", "c", "p"))
        drawn = harness(
            output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=30.0),
            *(contact(name, a, b, rated=rated_a, resistance_ohm=band) for name, a, b in ends),
            load("L1", "b", "m", 10.0),
            load("L2", "c", "m", 10.0),
        )
        return {f.rule for f in analysed(drawn, AT_20_C).findings if f.subject.id.startswith("X")}

    assert "uneven-sharing" in of(12.0)
    assert "uneven-sharing" not in of(14.1)


@pytest.mark.parametrize("seed", range(30))
def test_small_meshes_against_every_corner(seed: int):
    ends, least, most, drawn = random_mesh(seed, nodes=5, more=3)
    network = network_of(ends, most, drawn)
    spread = spread_of(network, least, most)
    worst = np.zeros(len(ends))
    for corner in itertools.product((False, True), repeat=len(ends)):
        worst = np.maximum(worst, np.abs(drawn_currents(ends, np.where(corner, least, most), drawn)))
    shared = np.isfinite(spread.uneven_a)
    assert shared.any() and not spread.unsure[shared].any()
    assert spread.uneven_a[shared] == pytest.approx(worst[shared], rel=1e-8, abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_larger_meshes_say_that_they_are_sought_step_by_step(seed: int):
    """12 branches or more: every corner by the own solve here, a fiftieth at most above what was found."""
    ends, least, most, drawn = random_mesh(100 + seed, nodes=7, more=6)
    most = np.maximum(most, 1.3 * least)
    spread = spread_of(network_of(ends, most, drawn), least, most)
    worst = np.zeros(len(ends))
    for corner in itertools.product((False, True), repeat=len(ends)):
        worst = np.maximum(worst, np.abs(drawn_currents(ends, np.where(corner, least, most), drawn)))
    shared = np.isfinite(spread.uneven_a)
    assert spread.uneven_a[shared] == pytest.approx(worst[shared], rel=0.02, abs=1e-6)
    assert (spread.uneven_a[shared] <= worst[shared] * (1 + 1e-9) + 1e-9).all()
    assert spread.unsure[shared].any() or shared.sum() <= MOST_CORNERS + 3


def test_two_outputs_drive_a_current_round_and_both_leads_are_at_their_least():
    """30.2 and 30.0 V, leads of 10 to 30 mΩ: without load (0.2 V) / 20 mΩ = 10 A goes round, not 5 A."""
    network = small_network(
        [("W1", "u1", "x", 20e-3), ("W2", "u2", "x", 20e-3)],
        [("U1", "u1", "m", 30.2, 0.0), ("U2", "u2", "m", 30.0, 0.0)],
        [],
    )
    spread = spread_of(network, np.full(2, 10e-3), np.full(2, 30e-3))
    assert spread.uneven_a == pytest.approx([10.0, 10.0], rel=1e-9)


def test_many_outputs_on_one_bus_move_to_the_worst():
    """Twelve leads on one bus, two outputs above the others: against 4,096 corners by Millman's theorem."""
    volts = np.array([12.3, 12.2, *[12.0] * 10])
    network = small_network(
        [(f"W{k}", f"u{k}", "x", 20e-3) for k in range(12)],
        [(f"U{k}", f"u{k}", "m", float(v), 0.0) for k, v in enumerate(volts)],
        [("L", "x", "m", LoadKind.CURRENT, 8.0)],
    )
    spread = spread_of(network, np.full(12, 10e-3), np.full(12, 30e-3))
    worst = np.zeros(12)
    for corner in itertools.product((10e-3, 30e-3), repeat=12):
        g = 1.0 / np.array(corner)
        bus_v = ((g * volts).sum() - 8.0) / g.sum()
        worst = np.maximum(worst, np.abs(g * (volts - bus_v)))
    assert spread.uneven_a == pytest.approx(worst, rel=1e-9)
    assert spread.unsure.all()


def test_a_ring_says_that_voltages_are_those_of_two_mixtures():
    """100 A at one corner of a ring of 1 to 3 mΩ and 1 A at the next. With all at 3 mΩ the second has a drop of
    100 · 3 · 3 / 9 + 1 · 3 · 6 / 9 = 102 mV; with the part between them at 1 mΩ 100 · 9 / 7 + 1 · 3 · 4 / 7 = 130.
    """
    drop_v = {
        between: float(drawn_currents([(0, 1), (1, 2), (2, 0)], ohm, np.array([0.0, 100.0, 1.0]))[2] * -ohm[2])
        for between in (1e-3, 3e-3)
        for ohm in [np.array([3e-3, between, 3e-3])]
    }
    assert drop_v == {1e-3: pytest.approx(0.1303, abs=1e-4), 3e-3: pytest.approx(0.102)}
    ring = network_of([(0, 1), (1, 2), (2, 0)], np.full(3, 3e-3), np.array([0.0, 100.0, 1.0]))
    (said,) = said_of([spread_of(ring)])
    assert said.startswith("3 parts lie in rings and meshes")
    assert said_of([spread_of(ring, np.full(3, MOST_OHM))]) == ()  # no bands: nothing to mix


def test_a_mesh_at_one_corner_is_the_full_solve():
    ends, least, _, drawn = random_mesh(3, nodes=6, more=4)
    network = network_of(ends, least * 2.0, drawn)
    spread = spread_of(network, least, least)
    full = solve(replace(network, edge_resistance_ohm=least))
    shared = np.isfinite(spread.uneven_a)
    assert spread.uneven_a[shared] == pytest.approx(np.abs(full.edge_a[shared]), abs=1e-9)
