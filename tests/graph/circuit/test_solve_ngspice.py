"""Random harnesses against ngspice, an independent circuit simulator.

Tolerance: 1e-6 of the greatest current of the harness, for every conductor, contact, output and load.
"""

import ngspice
import numpy as np
import pytest
from harnesses import ALL_KINDS, Network, network_of, random_harness

from loadloom.graph.circuit.solve import solve

HARNESSES = 60


@pytest.fixture(scope="module")
def pairs() -> list[tuple[Network, ngspice.Reference]]:
    networks = [network_of(random_harness(seed)) for seed in range(HARNESSES)]
    return list(zip(networks, ngspice.run(networks), strict=True))


def test_currents_agree(pairs: list[tuple[Network, ngspice.Reference]]):
    for seed, (network, reference) in enumerate(pairs):
        solution = solve(network)
        greatest = np.abs(reference.edge_a).max()
        assert greatest > 0.1
        for ours, theirs in (
            (solution.edge_a, reference.edge_a),
            (solution.source_a, reference.source_a),
            (solution.load_a, reference.load_a),
        ):
            assert np.abs(ours - theirs).max() <= 1e-6 * greatest, f"seed {seed}"
        assert np.abs(solution.load_v - reference.load_v).max() <= 1e-6 * network.source_voltage_v.max()


def test_residual_is_below_a_nanoampere(pairs: list[tuple[Network, ngspice.Reference]]):
    assert max(solve(network).residual_a for network, _ in pairs) < 1e-9


def test_the_sample_has_all_kinds(pairs: list[tuple[Network, ngspice.Reference]]):
    networks = [network for network, _ in pairs]
    kinds = np.concatenate([network.load_kind for network in networks])
    assert set(kinds.tolist()) == set(range(len(ALL_KINDS)))
    ideal = [network.source_resistance_ohm == 0 for network in networks]
    assert any(x.any() for x in ideal) and any((~x).any() for x in ideal)
    assert any(len(network.source_ids) > 1 for network in networks)
    assert any((solve(network).edge_a < 0).any() for network in networks)
