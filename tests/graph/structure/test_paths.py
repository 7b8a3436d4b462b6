"""Paths and guards against the full solve of the same network."""

import numpy as np
import pytest
from harnesses import network_of, random_harness
from wired import facts, fuse, harness, load, output, wire

from loadloom.graph.circuit.network import GREATEST_FAULT
from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.elements import Band
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.short_circuits.shorted_copper import SHORT, shorted
from loadloom.graph.structure.guards import arrange


@pytest.mark.parametrize("seed", range(12))
def test_resistance_and_shares_agree_with_the_solve(seed: int) -> None:
    """A short circuit at each of many far ends, solved as a whole network, against the sum along the paths."""
    drawn = random_harness(seed, outputs=1, zero_contacts=0.0)
    network = network_of(drawn, GREATEST_FAULT)
    there = arrange(drawn, None, network, AnalysisSettings())
    view = there.outputs[0]
    rng = np.random.default_rng(seed)
    reached = np.flatnonzero(view.feed.far_node >= 0)
    assert len(reached) > 10
    for k in rng.choice(reached, size=min(15, len(reached)), replace=False).tolist():
        far = int(view.feed.far_node[k])
        solution = solve(shorted(network, far, view.back.root))
        short_a = abs(solution.current_a(SHORT))
        ohm = float(view.feed.ohm[far]) + view.output.resistance_ohm
        assert view.voltage_v / ohm == pytest.approx(short_a, rel=1e-6)
        own_a = abs(solution.current_a(there.branches.ids[k]))
        assert short_a * float(view.feed.far_share[k]) == pytest.approx(own_a, rel=1e-5, abs=1e-6 * short_a)


@pytest.mark.parametrize("seed", range(6))
def test_shares_at_the_exits_agree_with_the_solve(seed: int) -> None:
    drawn = random_harness(seed, outputs=1)
    network = network_of(drawn, GREATEST_FAULT)
    view = arrange(drawn, None, network, AnalysisSettings()).outputs[0]
    checked = 0
    for block in view.feed.blocks:
        for j, node in enumerate(block.exits):
            solution = solve(shorted(network, node, view.back.root))
            short_a = abs(solution.current_a(SHORT))
            for i, k in enumerate(block.branches):
                got = float(block.shares[i, j]) * short_a
                assert got == pytest.approx(abs(float(solution.edge_a[k])), rel=1e-5, abs=1e-6 * short_a)
                checked += 1
    assert checked > 20


def test_guards_follow_the_devices() -> None:
    drawn = harness(
        output("PS1", "p", "m", trip_a=50.0),
        wire("W1", "p", "a", ohm=1e-2),
        fuse("F1", "a", "b", 10.0),
        wire("W2", "b", "c", ohm=1e-2),
        wire("W3", "c", "d", ohm=1e-2),
        wire("W4", "c", "d", ohm=3e-2),
        wire("W5", "n", "m", ohm=1e-2),
        wire("W6", "a", "e", ohm=1e-2),
        load("L1", "d", "n", 1.0),
        load("L2", "e", "n", 1.0),
    )
    got = facts(drawn).protection
    assert got.guards_of("W1") == ("PS1",)
    assert got.guards_of("W2") == ("F1",)
    assert got.guards_of("W6") == ("PS1",)
    assert set(got.guards_of("W5")) == {"F1", "PS1"}
    factors = {g.device: g.factor for g in got.arrangements[0].guards["W3"]}
    assert factors == {"F1": pytest.approx(0.75)}
    assert got.upstream("F1") == ("PS1",)


def test_two_fuses_in_parallel_share_and_guard_what_follows() -> None:
    """Two fused paths of equal resistance: 2 A behind them for 1 A through either."""
    drawn = harness(
        output("PS1", "p", "m", trip_a=50.0),
        fuse("F1", "p", "a", 5.0, resistance_ohm=Band.exact(1e-2)),
        fuse("F2", "p", "a", 5.0, resistance_ohm=Band.exact(1e-2)),
        wire("W1", "a", "b", ohm=1e-2),
        wire("W2", "n", "m", ohm=1e-2),
        load("L1", "b", "n", 1.0),
    )
    guards = facts(drawn).protection.arrangements[0].guards["W1"]
    assert {g.device: pytest.approx(g.factor) for g in guards} == {"F1": 2.0, "F2": 2.0}
