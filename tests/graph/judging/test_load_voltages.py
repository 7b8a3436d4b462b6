"""The least and the greatest voltage at every load, added up by hand along the one path that leads to it.

Least: the lowest output voltage, less current times resistance (contacts aged) of all that is passed, out and back.
Greatest: the highest output voltage and no load at all, but for what another supply's current adds in a return.
"""

from __future__ import annotations

import itertools
import random
from typing import Any

import networkx as nx
import pytest
from wired import analysed, contact, harness, load, output, wire

from loadloom.graph.model.elements import Band, Contact, Tolerance
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import LoadRow

VOLTS, SHARE, INSIDE_OHM = 24.0, 0.04, 0.03


def rows(drawn: Harness) -> dict[str, LoadRow]:
    return {row.id: row for row in analysed(drawn).loads}


def tree(seed: int) -> Harness:
    """Feeds and returns of wire and contact, each from a joint that is there already; a load behind every pair."""
    rng = random.Random(seed)
    parts: list[Any] = []
    feeds, returns = ["p"], ["m"]
    for k in range(1, rng.randint(4, 8)):
        for side, joints in (("f", feeds), ("r", returns)):
            new = rng.uniform(1e-3, 4e-3)
            parts += [
                wire(f"W{side}{k}", rng.choice(joints), f"{side}{k}c", ohm=rng.uniform(5e-3, 6e-2), rated=50.0),
                contact(f"X{side}{k}.1", f"{side}{k}c", f"{side}{k}", resistance_ohm=Band(new, new, 3.0 * new)),
            ]
            joints.append(f"{side}{k}")
        parts.append(load(f"L{k}", f"f{k}", rng.choice(returns[1:]), rng.uniform(0.2, 2.0)))
    return harness(
        output("U1", "p", "m", VOLTS, tolerance=Tolerance.even(SHARE), trip_a=90.0, resistance_ohm=INSIDE_OHM),
        *parts,
    )


@pytest.mark.parametrize("seed", range(8))
def test_voltages_along_the_paths_of_a_tree(seed: int) -> None:
    drawn, found = tree(seed), rows(tree(seed))
    graph: nx.Graph[str] = nx.Graph()
    for part in (*drawn.conductors, *drawn.contacts):
        ohm = part.resistance_ohm.upper if isinstance(part, Contact) else part.resistance_ohm.nominal
        graph.add_edge(part.node_a, part.node_b, ohm=ohm, id=part.id)
    ways = {
        each.id: [
            graph[a][b]
            for start, end in (("p", each.node_plus), (each.node_minus, "m"))
            for a, b in itertools.pairwise(nx.shortest_path(graph, start, end))
        ]
        for each in drawn.loads
    }
    through = dict.fromkeys(drawn.by_id, 0.0)
    for each in drawn.loads:
        for edge in ways[each.id]:
            through[edge["id"]] += each.demand
    total_a = sum(each.demand for each in drawn.loads)
    for each in drawn.loads:
        volts = VOLTS * (1.0 - SHARE) - INSIDE_OHM * total_a
        falls = {edge["id"]: edge["ohm"] * through[edge["id"]] for edge in ways[each.id]}
        back = sum(falls[edge["id"]] for edge in ways[each.id] if edge["id"][1] == "r")
        expected = [("U1", volts)]
        for name, fall in falls.items():
            if name[1] == "r" and expected[-1][0][1] != "r":
                expected.append((each.id, back))
            expected.append((name, expected[-1][1] - fall))
        expected.append(("U1", 0.0))
        row = found[each.id]
        assert row.voltage_v == pytest.approx(volts - sum(falls.values()), rel=1e-9)
        assert row.voltage_high_v == pytest.approx(VOLTS * (1.0 + SHARE), rel=1e-9)
        assert row.current_a == pytest.approx(each.demand)
        assert [name for name, _ in row.profile] == [name for name, _ in expected]
        assert [v for _, v in row.profile] == pytest.approx([v for _, v in expected], rel=1e-9, abs=1e-9)
        assert row.drop_v is not None and row.power_w == pytest.approx(each.demand * (VOLTS - row.drop_v))
        assert row.fed_by == ("U1",)


def test_a_current_in_a_common_return_lifts_the_other_supply() -> None:
    """+12 V and -12 V on one return of 0.5 Ω: 6 A from the minus side lift it by 3 V for the load of the plus side,
    which then sees 15 V though no output gives that."""
    drawn = harness(
        output("U1", "p", "c", 12.0, trip_a=40.0),
        output("U2", "c", "n", 12.0, trip_a=40.0),
        wire("W1", "c", "d", ohm=0.5, rated=50.0),
        load("L1", "p", "d", 0.1),
        load("L2", "d", "n", 6.0),
    )
    found = rows(drawn)
    assert found["L1"].voltage_high_v == pytest.approx(12.0 + 0.5 * (6.0 - 0.1))
    assert found["L2"].voltage_v == pytest.approx(12.0 - 0.5 * (6.0 - 0.1))
    assert found["L1"].voltage_v is not None and found["L2"].voltage_high_v is not None
    assert found["L2"].voltage_high_v == pytest.approx(12.0)


def test_a_load_that_nothing_feeds_has_no_voltage() -> None:
    drawn = harness(
        output("U1", "p", "m", 12.0, trip_a=40.0),
        wire("W1", "p", "a", ohm=0.1, rated=50.0),
        load("L1", "a", "m", 1.0),
        load("L2", "x", "m", 1.0),
    )
    found = rows(drawn)
    assert (found["L2"].voltage_v, found["L2"].voltage_high_v, found["L2"].fed_by) == (None, None, ())
    assert found["L1"].voltage_v == pytest.approx(12.0 - 0.1)
