"""Converters in load state: the input draws what the output gives over the efficiency, checked with ngspice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from converter_harnesses import converter_tree
from harnesses import network_of
from ngspice import run

from loadloom.graph.circuit.network import LEAST_FAULT, LOAD_STATE, Network
from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.efficiency import input_power_w

SEEDS = range(50)
"""Trees that are compared; ngspice takes about 30 ms each."""

WITHIN = 1e-4


def networks() -> list[Network]:
    made = []
    for seed in SEEDS:
        corner = LOAD_STATE if seed % 2 else LEAST_FAULT
        made.append(network_of(converter_tree(seed, width=1 + seed % 3, inverting=seed % 3 == 0), corner))
    return made


def test_chains_of_three_converters_agree_with_ngspice() -> None:
    """Behavioural sources in ngspice draw the power of each stage; every current and voltage within 1e-4."""
    made = networks()
    stages = [len(network.couplings) for network in made]
    assert min(stages) >= 3
    for network, reference in zip(made, run(made), strict=True):
        found = solve(network)
        assert found.collapsed == () and found.unfed == () and found.off == ()
        scale = np.abs(reference.edge_a).max()
        assert found.edge_a == pytest.approx(reference.edge_a, rel=WITHIN, abs=WITHIN * scale * 1e-2)
        assert found.source_a == pytest.approx(reference.source_a, rel=WITHIN, abs=WITHIN * scale * 1e-2)
        assert found.load_v == pytest.approx(reference.load_v, rel=WITHIN)
        assert found.load_a == pytest.approx(reference.load_a, rel=WITHIN, abs=WITHIN * scale * 1e-2)


@pytest.mark.parametrize("seed", SEEDS)
def test_power_in_is_power_out_over_efficiency_and_the_no_load_power(seed: int) -> None:
    """Power balance of every converter to 1e-6, and of the whole tree."""
    network = network_of(converter_tree(seed, width=1 + seed % 3, inverting=seed % 3 == 0), LOAD_STATE)
    found = solve(network)
    lost_w = 0.0
    for coupling in network.couplings:
        k, n = network.source_ids.index(coupling.output), network.load_ids.index(coupling.load)
        volts = found.node_v[network.source_plus[k]] - found.node_v[network.source_minus[k]]
        given_w = float(volts * found.source_a[k])
        drawn_w = float(found.load_v[n] * found.load_a[n])
        wanted_w = input_power_w(given_w, coupling.efficiency, coupling.rated_w, coupling.no_load_w)
        assert drawn_w == pytest.approx(wanted_w, rel=1e-6)
        lost_w += drawn_w - given_w
    inputs = {coupling.load for coupling in network.couplings}
    primary = [k for k, name in enumerate(network.source_ids) if name == "PS1"]
    given_w = sum(float(network.source_voltage_v[k] * found.source_a[k]) for k in primary)
    own = [n for n, name in enumerate(network.load_ids) if name not in inputs]
    taken_w = sum(float(found.load_v[n] * found.load_a[n]) for n in own)
    copper_w = float((found.edge_a**2 * network.edge_resistance_ohm).sum())
    # A converter's own resistance lies before its terminals, so that its efficiency holds that loss already.
    inner_w = sum(float(found.source_a[k] ** 2 * network.source_resistance_ohm[k]) for k in primary)
    assert given_w == pytest.approx(taken_w + copper_w + inner_w + lost_w, rel=1e-6)


def test_a_ring_of_converters_never_starts() -> None:
    """Each of two converters is fed by the other alone: nothing feeds them, whatever an ideal source would give."""
    drawn = converter_tree(1, stages=2, width=1, fuses=False)
    first, second = (c.output_id for c in drawn.converters)
    end = next(o for o in drawn.outputs if o.id == second)
    source = next(o for o in drawn.outputs if o.id == "PS1")
    # The supply is taken out, and the last output stands in its place.
    outputs = tuple(
        replace(o, node_plus=source.node_plus, node_minus=source.node_minus) if o.id == end.id else o
        for o in drawn.outputs
        if o.id != "PS1"
    )
    found = solve(network_of(replace(drawn, outputs=outputs), LOAD_STATE))
    assert set(found.off) == {first, second}
    assert np.abs(found.edge_a).max() < 1e-9
