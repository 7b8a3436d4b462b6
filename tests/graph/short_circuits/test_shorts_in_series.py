"""Outputs in series: short circuits of each and of the whole stack, by Ohm's law, and by force against ngspice."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from joined_harnesses import random_outputs
from ngspice import run
from programs import need
from wired import AT_20_C, facts, found, fuse, harness, limiter, load, output, wire

from loadloom.graph.circuit.network import GREATEST_FAULT, Network, compile_network
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.model.elements import Diode
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case

SAME = 1e-6
NAMELESS = Case("", None, None)


def stack(breaking_a: float = 1000.0) -> Harness:
    """A weak 12 V output on top of a stiff 24 V one; 36 V between b and m."""
    return harness(
        output("TOP", "b", "a", 12.0, resistance_ohm=0.1, limit_a=10.0, trip_a=15.0),
        output("LOW", "a", "m", 24.0, resistance_ohm=5e-3, limit_a=10.0, trip_a=15.0),
        fuse("F1", "b", "f", 5.0, "UL 248-14", breaking_capacity_a=breaking_a),
        wire("W1", "f", "lp", ohm=0.02, rated=9.0),
        wire("W2", "lm", "m", ohm=0.03, rated=9.0),
        load("L1", "lp", "lm", 2.0),
    )


def test_the_whole_stack_drives_the_short_behind_a_device() -> None:
    """By hand (Ohm): 12 V / 0.1 Ω = 120 A through TOP alone, 36 V / 0.105 Ω = 342.9 A across both."""
    assert facts(stack()).protection.short_circuits.prospective["F1"].current_a == pytest.approx(36.0 / 0.105)
    assert found("breaking-capacity", stack(350.0)) == []
    (got,) = found("breaking-capacity", stack(200.0))
    assert got.subject.id == "F1" and got.value == pytest.approx(36.0 / 0.105)


def test_a_short_at_the_load_goes_back_through_both_outputs() -> None:
    """By hand: 36 V over 0.1 + 0.005 + 0.02 + 0.03 Ω, at the load as well as where its return begins."""
    rows = {s.part: s.row for s in facts(stack()).protection.short_circuits.conductors}
    assert (rows["W1"].at, rows["W1"].to) == ("lp", "lm")
    assert rows["W1"].greatest_a == pytest.approx(36.0 / (0.105 + 0.02 + 0.03))
    assert rows["W2"].greatest_a == pytest.approx(36.0 / (0.105 + 0.02 + 0.03))


def test_devices_of_the_upper_output_guard_the_return_to_the_lower_one() -> None:
    protection = facts(stack()).protection
    assert "F1" in protection.guards_of("W2")
    assert protection.setting_ranges["F1"].high is not None


def test_a_stack_that_holds_its_short_names_the_link_between_the_outputs() -> None:
    """24 V over 4 Ω of copper is 6 A, below the trips of 8 A; 12 V over 1 Ω to TOP's own minus is above them."""
    drawn = harness(
        output("TOP", "b", "a2", 12.0, limit_a=5.0, trip_a=8.0),
        output("LOW", "a1", "m", 12.0, limit_a=5.0, trip_a=8.0),
        wire("LINK", "a1", "a2", ohm=1.0, rated=3.0),
        wire("W1", "b", "lp", ohm=1.0, rated=3.0),
        wire("W2", "lm", "m", ohm=2.0, rated=3.0),
        load("L1", "lp", "lm", 1.0),
    )
    short = next(s for s in facts(drawn).protection.short_circuits.conductors if s.part == "W1")
    assert short.row.greatest_a == pytest.approx(24.0 / 4.0)
    assert short.row.cleared_by is None and set(short.loop) == {"W1", "W2", "LINK"}


def with_short(network: Network, a: int, b: int, on: tuple[int, ...]) -> Network:
    """Loads and some outputs off, and 1 nΩ between two nodes: written here, not with the tool's own functions."""
    outputs = np.array(on)
    return replace(
        network,
        source_ids=tuple(network.source_ids[k] for k in on),
        source_plus=network.source_plus[outputs],
        source_minus=network.source_minus[outputs],
        source_voltage_v=network.source_voltage_v[outputs],
        source_resistance_ohm=network.source_resistance_ohm[outputs],
        source_hold_a=network.source_hold_a[outputs],
        edge_ids=(*network.edge_ids, "short"),
        edge_a=np.append(network.edge_a, a),
        edge_b=np.append(network.edge_b, b),
        edge_resistance_ohm=np.append(network.edge_resistance_ohm, 1e-9),
        edge_drop_v=np.append(network.edge_drop_v, 0.0),
        edge_diode=np.append(network.edge_diode, False),
        load_demand=np.zeros(len(network.load_ids)),
    )


@pytest.mark.parametrize("seed", range(20))
def test_no_short_behind_a_device_is_greater_than_the_prospective_current(seed: int) -> None:
    """Every short from either side of each fuse to every other joint, with every set of outputs on, in ngspice, and
    the greatest current of them: seen from another output of the same copper, what lies behind the fuse is the
    lead of its own.
    """
    need("ngspice")
    drawn = random_outputs(seed)
    network = compile_network(
        drawn, NAMELESS, GREATEST_FAULT, AT_20_C, conductor_resistances(drawn, AT_20_C), with_chassis=False
    )
    index, edge = network.node_index, network.edge_index
    prospective = facts(drawn).protection.short_circuits.prospective
    fuses = [name for name in network.edge_ids if name.startswith("F")]
    tried = []
    for name in fuses:
        sides = (f"t{name[1:]}", f"f{name[1:]}")
        tried += [(name, side, other) for side in sides for other in index if other not in sides]
    places = range(len(network.source_ids))
    sets = [on for size in places for on in combinations(places, size + 1)]
    greatest = dict.fromkeys(fuses, 0.0)
    for on in sets:
        answers = run([with_short(network, index[at], index[to], on) for _, at, to in tried])
        for (name, _, _), answer in zip(tried, answers, strict=True):
            greatest[name] = max(greatest[name], abs(float(answer.edge_a[edge[name]])))
    for name, found_a in greatest.items():
        assert found_a <= prospective[name].current_a * (1.0 + SAME), name
        assert found_a == pytest.approx(prospective[name].current_a, rel=1e-4), name


def test_a_blocking_diode_ends_the_ways_of_the_other_output() -> None:
    """W2 lies in the lead of PS2 alone: CH1 can feed nothing into it, and its setting range does not hang on it."""

    def diode(name: str, a: str, k: str) -> Diode:
        return Diode(id=name, subject=Subject(name), node_a=a, node_b=k, forward_drop_v=0.4)

    drawn = harness(
        output("PS1", "p1", "m", 24.0, limit_a=30.0, trip_a=40.0, resistance_ohm=0.01),
        output("PS2", "p2", "m", 24.0, limit_a=30.0, trip_a=40.0, resistance_ohm=0.01),
        limiter("CH1", "p1", "c1", 20.0),
        limiter("CH2", "p2", "c2", 5.0),
        wire("W1", "c1", "a1", ohm=0.01, rated=25.0),
        wire("W2", "c2", "a2", ohm=0.01, rated=6.0),
        diode("D1", "a1", "bus"),
        diode("D2", "a2", "bus"),
        wire("W3", "bus", "lp", ohm=0.01, rated=26.0),
        wire("W4", "lm", "m", ohm=0.01, rated=26.0),
        load("L1", "lp", "lm", 4.0),
    )
    protection = facts(drawn).protection
    assert protection.guards_of("W2") == ("CH2",)
    assert set(protection.guards_of("W3")) == {"CH1", "CH2"}
    high = protection.setting_ranges["CH1"].high
    assert high is not None and high.by == "W1" and high.setting_a == pytest.approx(25.0)
