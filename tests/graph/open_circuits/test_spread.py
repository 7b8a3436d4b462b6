"""Contact spread: by hand, against full solves, and as statistics."""

from dataclasses import replace

import numpy as np
import pytest
from harnesses import Network, network_of, random_harness, small_network

from loadloom.graph.circuit.network import Ageing, Corner, OutputVoltage, ResistanceEnd, Warmth
from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.elements import LoadKind
from loadloom.graph.open_circuits.contact_spread import Spread, contact_spread

A = LoadKind.CURRENT
WIRE_OHM, NEW_OHM, AGED_OHM = 7.9e-3, 1.5e-3, 10e-3


def six_paths() -> Network:
    mean = (NEW_OHM + AGED_OHM) / 2
    edges = []
    for k in range(6):
        edges += [
            (f"P{k}", "u+", f"a{k}", mean),
            (f"W{k}", f"a{k}", f"b{k}", WIRE_OHM),
            (f"J{k}", f"b{k}", "x", mean),
        ]
    return small_network(edges, [("U", "u+", "u-", 12.0, 0.0)], [("L", "x", "u-", A, 50.0)])


def spread_of(
    network: Network, *, draws: int = 10_000, seed: int = 1, allowed_a: float = 9.2, wires: float = 0.0
) -> Spread:
    """Contacts from new to aged, wires within a share of their resistance."""
    contact = np.array([name[0] in "PJ" for name in network.edge_ids])
    return contact_spread(
        solve(network),
        np.where(contact, NEW_OHM, network.edge_resistance_ohm * (1 - wires)),
        np.where(contact, AGED_OHM, network.edge_resistance_ohm * (1 + wires)),
        allowed_a=np.full(len(network.edge_ids), allowed_a),
        draws=draws,
        seed=seed,
    )


def test_one_new_way_among_five_aged():
    """7.9 + 2 · 1.5 = 10.9 mΩ beside five of 7.9 + 2 · 10 = 27.9 mΩ, 50 A: 16.9 A (and 6.6 A on the others)."""
    g_new, g_aged = 1 / 10.9, 1 / 27.9
    expected = 50 * g_new / (g_new + 5 * g_aged)
    assert expected == pytest.approx(16.9, abs=0.05)
    assert (50 - expected) / 5 == pytest.approx(6.6, abs=0.05)
    spread = spread_of(six_paths())
    assert spread.uneven_a == pytest.approx(np.full(18, expected), rel=1e-9)
    assert (spread.paths == 6).all()
    assert spread.equal_a(0) == pytest.approx(50 / 6)


def test_same_seed_same_numbers_other_seed_others():
    one, again, other = (spread_of(six_paths(), seed=seed) for seed in (1, 1, 2))
    assert (one.share_p95 == again.share_p95).all() and (one.mean_a == again.mean_a).all()
    assert (one.mean_a != other.mean_a).all()


def test_a_change_elsewhere_leaves_the_draws_alone():
    network = six_paths()
    longer = small_network(
        [
            *zip(network.edge_ids, *_ends(network), network.edge_resistance_ohm.tolist(), strict=True),
            ("P9", "x", "z", 5e-3),
            ("J9", "x", "z", 5e-3),
        ],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L", "x", "u-", A, 50.0)],
    )
    assert (spread_of(longer).mean_a[:18] == spread_of(network).mean_a).all()


def _ends(network: Network) -> tuple[list[str], list[str]]:
    names = network.node_ids
    return [names[k] for k in network.edge_a], [names[k] for k in network.edge_b]


def test_mean_of_like_ways_is_the_solve_at_mean_values():
    """All ways are alike, so that the mean is exactly an equal share; the sample's is within 4 of its errors."""
    draws = 10_000
    spread = spread_of(six_paths(), draws=draws)
    wires = np.array([name[0] == "W" for name in spread.solution.network.edge_ids])
    sigma = (spread.share_p95 - spread.share_p05)[wires] * 50 / 3.29  # of a normal distribution
    assert (np.abs(spread.mean_a[wires] - 50 / 6) < 4 * sigma / np.sqrt(draws)).all()
    assert spread.mean_a[wires].sum() == pytest.approx(50.0, rel=1e-12)
    assert ((spread.share_p05 < 1 / 6) & (spread.share_p95 > 1 / 6)).all()


def test_draws_agree_with_full_solves():
    """Probability and points against 1,000 harnesses solved in full, drawn here with another generator."""
    network = six_paths()
    rng = np.random.default_rng(99)
    contact = np.array([name[0] in "PJ" for name in network.edge_ids])
    first = []
    for _ in range(1000):
        resistance = np.where(contact, rng.uniform(NEW_OHM, AGED_OHM, 18), WIRE_OHM)
        first.append(solve(replace(network, edge_resistance_ohm=resistance)).edge_a[0])
    spread = spread_of(network)
    over = np.mean(np.array(first) > 9.2)
    assert spread.overload_probability[0] == pytest.approx(over, abs=4 * np.sqrt(over * (1 - over) / 1000))
    assert spread.share_p50[0] * 50 == pytest.approx(np.median(first), rel=0.03)
    assert spread.share_p95[0] * 50 == pytest.approx(np.percentile(first, 95), rel=0.03)


def test_worst_combination_against_every_corner():
    """Four ways with loads of constant current: no corner of the ranges is worse than the one taken."""
    mean = (NEW_OHM + AGED_OHM) / 2
    network = small_network(
        [(f"P{k}", "u+", "x", mean) for k in range(4)], [("U", "u+", "u-", 12.0, 0.0)], [("L", "x", "u-", A, 30.0)]
    )
    spread = spread_of(network)
    worst = np.zeros(4)
    for corner in range(16):
        resistance = np.array([AGED_OHM if corner >> k & 1 else NEW_OHM for k in range(4)])
        worst = np.maximum(worst, solve(replace(network, edge_resistance_ohm=resistance)).edge_a)
    assert spread.uneven_a == pytest.approx(worst, rel=1e-9)


def test_a_band_spreads_wires():
    network = small_network(
        [("W1", "u+", "x", 10e-3), ("W2", "u+", "x", 10e-3)],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L", "x", "u-", A, 20.0)],
    )
    spread = spread_of(network, wires=0.1)
    assert spread.uneven_a == pytest.approx([20 * 11 / 20, 20 * 11 / 20], rel=1e-9)  # 9 beside 11 mΩ
    none = spread_of(network)
    assert none.uneven_a == pytest.approx([10.0, 10.0])
    assert none.share_p05 == pytest.approx([0.5, 0.5])


def test_random_harnesses_at_one_corner_agree_with_the_full_solve():
    """Every range shrunk to a point away from the mean: the spread must give the full solve at that point."""
    for seed in range(15):
        harness = random_harness(seed, kinds=(A,), joints=4)
        network = network_of(harness)
        corner = Corner(Ageing.AGED, OutputVoltage.NOMINAL, Warmth.OWN, ResistanceEnd.GREATEST)
        aged = network_of(harness, corner).edge_resistance_ohm
        spread = contact_spread(solve(network), aged, aged, allowed_a=np.full(len(aged), np.inf), draws=10, seed=1)
        full = solve(replace(network, edge_resistance_ohm=aged))
        shares = np.isfinite(spread.uneven_a)
        assert shares.any() and np.isnan(spread.overload_probability).all()
        assert spread.uneven_a[shares] == pytest.approx(np.abs(full.edge_a[shares]), abs=1e-9)


def test_many_ways_from_sums_agree_with_each_combination_solved(monkeypatch: pytest.MonkeyPatch):
    network = six_paths()
    one_by_one = spread_of(network, wires=0.2)
    monkeypatch.setattr("loadloom.graph.open_circuits.contact_spread.ALL_CHOICES", 2)
    from_sums = spread_of(network, wires=0.2)
    assert from_sums.uneven_a == pytest.approx(one_by_one.uneven_a, rel=1e-12)
