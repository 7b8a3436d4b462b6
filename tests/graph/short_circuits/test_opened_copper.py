"""Short circuits in every state from one factor of the copper, against the full solve of each state, which
``tests/graph/solving`` holds against ngspice; and times of many currents at once against those of each.
"""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from wired import AT_20_C, breaker, contact, fuse, harness, limiter, output, wire

from loadloom.graph.circuit.network import LOAD_STATE, Network, compile_network, piece_of, without
from loadloom.graph.devices.device_bands import opening_time_s, threshold
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.model.elements import Band, Diode
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.short_circuits.opened_copper import DEAD_S, OpenedCopper, exchanged
from loadloom.graph.short_circuits.opening_times import OpeningTimes
from loadloom.graph.short_circuits.shorted_copper import solved_in_full


def copper_of(r: Random) -> tuple[Network, list[str], list[str]]:
    """Two to four batteries, some behind diodes, onto one bus with two ways to it: the copper, and the ids of its
    devices and of its outputs.
    """
    parts: list[object] = []
    for k in range(r.randint(2, 4)):
        ohm = r.choice((0.0, 1e-3, 5e-3, 2e-2))
        joint = "bus" if r.random() < 0.5 else f"d{k}"
        parts += [
            output(f"B{k}", f"p{k}", f"m{k}", r.uniform(11.5, 13.0), resistance_ohm=ohm),
            limiter(f"Q{k}", f"p{k}", f"q{k}", 50.0, resistance_ohm=Band.exact(r.choice((0.0, 2e-3)))),
            wire(f"W{k}", f"q{k}", joint, ohm=r.uniform(1e-3, 3e-2)),
            wire(f"R{k}", "neg", f"m{k}", ohm=r.uniform(1e-3, 3e-2)),
        ]
        if joint != "bus":
            diode = Diode(id=f"D{k}", subject=Subject(f"D{k}"), node_a=joint, node_b="bus", forward_drop_v=0.4)
            parts.append(diode)
    parts += [contact("P1.1", "bus", "x", r.uniform(1e-3, 5e-3)), limiter("QX", "x", "y", 20.0)]
    parts += [wire("WX", "y", "z", ohm=r.uniform(5e-3, 3e-2)), wire("WZ", "z", "bus", ohm=r.uniform(5e-3, 3e-2))]
    made, settings = harness(*parts), AnalysisSettings()
    network = compile_network(made, Case("nominal"), LOAD_STATE, settings, conductor_resistances(made, settings))
    piece, _ = piece_of(network, network.node_index["bus"])
    return piece, [d.id for d in made.devices], [o.id for o in made.outputs]


@pytest.mark.parametrize("holds", [False, True])
@pytest.mark.parametrize("seed", range(12))
def test_every_state_is_what_the_full_solve_says(seed: int, holds: bool) -> None:
    """With ``holds`` every other device and output holds 10 to 300 A, in series and side by side."""
    r = Random(seed)
    piece, devices, outputs = copper_of(r)
    acting = [*devices, *outputs]
    copper, edges, told, held = OpenedCopper(piece, acting), len(piece.edge_ids), 0, 0
    for _ in range(30):
        out = [name for name in acting if r.random() < 0.3]
        ends = piece.node_index[r.choice(("bus", "y", "z", "q0", "p0"))], piece.node_index[r.choice(("neg", "m0"))]
        hold_a = {name: r.uniform(10.0, 300.0) for name in acting if holds and r.random() < 0.5}
        shorted, short = copper.shorted([ends]), np.zeros(1, dtype=np.int64)
        if not shorted.known[0] or set(outputs) <= set(out):
            continue
        table, swapped = shorted.table.copy(), np.zeros((1, len(copper.at)), dtype=np.bool_)
        for name in out:
            k = copper.at.tolist().index(copper.place[name])
            if table[0, k, k] > DEAD_S:
                table, swapped[0, k] = exchanged(table, np.array([k])), True
        opened = shorted.currents_a(short, swapped, copper.limits(hold_a), table)
        if not opened.settled.all():
            continue
        told += 1
        full = solved_in_full(without(piece, out), hold_a, *ends)
        largest_a = max(1.0, float(np.abs(full.edge_a).max()), abs(full.short_a))
        assert opened.current_a[0, :edges] == pytest.approx(full.edge_a, abs=1e-7 * largest_a)
        assert opened.current_a[0, -1] == pytest.approx(full.short_a, abs=1e-7 * largest_a)
        assert set(copper.holding(opened.at_end[0])) == set(full.holding)
        held += bool(full.holding)
    assert told > 10 and (held > 10) == holds


def test_times_of_many_currents_are_those_of_each() -> None:
    """Close beside the corners as well, where a time leaps."""
    parts = [
        fuse("F1", "a", "b", 10.0, "UL 248-14"),
        fuse("F2", "a", "b", 10.0, "UL 248-14", melting_a2s=300.0),
        fuse("F3", "a", "b", 5.0, "IEC 60127-2 F"),
        breaker("Q1", "a", "b", 16.0, "IEC 60898-1 C"),
        limiter("Q2", "a", "b", 8.0, delay_s=0.1),
        limiter(
            "Q3", "a", "b", Band(9.0, 11.0, 10.0), fast_trip_a=Band.exact(30.0), fast_delay_s=1e-3, delay_s=2.0
        ),
        output("PS1", "a", "b", limit_a=10.0, trip_a=Band.exact(12.0)),
    ]
    thresholds = {part.id: threshold(part, AT_20_C, None) for part in parts}
    at = np.geomspace(0.5, 2e4, 400)
    at = np.sort(np.concatenate([at, *([h * 0.999999, h * 1.000001] for h in (8.0, 10.0, 12.0, 13.5, 30.0, 80.0))]))
    found = OpeningTimes(parts, thresholds, AT_20_C).at(np.repeat(at[:, None], len(parts), axis=1))
    for k, part in enumerate(parts):
        slow = [opening_time_s(part, a, AT_20_C)[1] for a in at.tolist()]
        assert found.slowest_s[:, k] == pytest.approx([np.inf if s is None else s for s in slow], rel=1e-9)
