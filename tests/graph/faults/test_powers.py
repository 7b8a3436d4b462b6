"""The power that a fault could draw: x (V - R x), by hand, and the classes of published standards."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from typing import Any

import networkx as nx
import pytest
from fault_bench import faults_of
from radial_harnesses import random_radial
from wired import harness, limiter, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.faults.power import power_row
from loadloom.graph.model.elements import Band, Device
from loadloom.graph.model.results import FaultPowerRow
from loadloom.graph.model.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0)


def powers(trip_a: float, pooled_a: float | None = None, ohm: float = 0.1) -> dict[str, FaultPowerRow]:
    """12 V, a limiter, a feed and a return of ``ohm`` each; ``pooled_a`` is the trip in another arrangement."""
    words = {} if pooled_a is None else {"pooled": {"trip_a": Band.exact(pooled_a)}}
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=300.0, trip_a=400.0),
        limiter("CH1", "p", "a", trip_a, by_word=words),
        wire("W1", "a", "b", ohm=ohm, rated=300.0),
        wire("W2", "r", "m", ohm=ohm, rated=300.0),
        load("L1", "b", "r", 1.0),
    )
    facts, _ = explore(drawn, AT_20_C, lambda _: None)
    return {row.at: row for row in facts.faults.powers}


@pytest.mark.parametrize("trip_a", [5.0, 15.0, 29.0])
def test_what_a_limiter_holds_sets_the_power(trip_a: float) -> None:
    """At the load the loop has 0.2 Ω: I (12 - 0.2 I) while I is below 12 / 0.4 = 30 A."""
    row = powers(trip_a)["L1"]
    assert (row.power_w, row.held_by) == (pytest.approx(trip_a * (12.0 - 0.2 * trip_a)), "CH1")


@pytest.mark.parametrize("trip_a", [31.0, 100.0])
def test_the_matched_load_takes_the_most(trip_a: float) -> None:
    """V² / 4R = 180 W, with nothing opening: half of the voltage stays in the copper."""
    row = powers(trip_a)["L1"]
    assert (row.power_w, row.held_by) == (pytest.approx(144.0 / 0.8), None)


@pytest.mark.parametrize(("drawn_a", "pooled_a"), [(5.0, 15.0), (15.0, 5.0)])
def test_the_worst_arrangement_counts(drawn_a: float, pooled_a: float) -> None:
    assert powers(drawn_a, pooled_a)["L1"].power_w == pytest.approx(15.0 * (12.0 - 0.2 * 15.0))


def test_before_the_limiter_the_output_alone_sets_the_power() -> None:
    """Nothing is between the output's terminals but its trip of 400 A."""
    most = max(powers(5.0).values(), key=lambda row: row.power_w)
    assert (most.power_w, most.held_by) == (pytest.approx(4800.0, rel=1e-6), "PS1")


@pytest.mark.parametrize(
    ("power_w", "within"),
    [
        (15.0, ("15 W", "100 W", "240 VA")),
        (15.1, ("100 W", "240 VA")),
        (100.0, ("100 W", "240 VA")),
        (239.9, ("240 VA",)),
        (240.0, ("240 VA",)),
        (240.1, ()),
    ],
)
def test_classes_of_available_power(power_w: float, within: tuple[str, ...]) -> None:
    """IEC 62368-1, 6.2.2 and annex Q; IEC 60950-1, 1.2.8.10 (values from memory)."""
    row = power_row("x", "nominal", power_w, None)
    assert row.within == within
    assert row.exceeds == tuple(name for name in ("15 W", "100 W", "240 VA") if name not in within)


@pytest.mark.parametrize("answered_by", ["programmes", "closed form"])
@pytest.mark.parametrize("kind", [{}, {"thin": 8.0}, {"chassis": True}])
def test_power_at_every_joint_of_a_tree(
    answered_by: str, kind: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One path leads to each joint: V, the sum of its resistances, and the least that a device on it holds."""
    monkeypatch.setattr("loadloom.graph.faults.search.RADIAL_FROM", 0 if answered_by == "closed form" else 10_000)
    looked_at = Counter[str]()
    for seed in range(1, 6):
        drawn = random_radial(seed, most_paths=1, bundles=False, **kind)
        (source,) = drawn.outputs
        graph: nx.Graph[str] = nx.Graph()
        for part in drawn.two_ended:
            held_a = part.trip_a.upper if isinstance(part, Device) and part.trip_a else math.inf
            ohm = part.resistance_ohm.nominal if part.resistance_ohm else 0.0
            graph.add_edge(part.node_a, part.node_b, ohm=ohm, held=(held_a, part.id))
        assert source.trip_a is not None and source.voltage_v is not None
        of_load = {each.id: (each.node_plus, each.node_minus) for each in drawn.loads}
        of_end = {f"{c.id}:{n}.00": node for c in drawn.conductors for n, node in ((0, c.node_a), (1, c.node_b))}
        for row in faults_of(drawn).powers:
            high, low = of_load.get(row.at) or (of_end.get(row.at, row.at), source.node_minus)
            if high not in nx.node_connected_component(graph, source.node_plus):
                continue  # a joint of the return, which touches the chassis: no voltage stands there
            ohm, held = source.resistance_ohm, (source.trip_a.upper, source.id)
            for start, end in ((source.node_plus, high), (source.node_minus, low)):
                for a, b in itertools.pairwise(nx.shortest_path(graph, start, end)):
                    ohm, held = ohm + graph[a][b]["ohm"], min(held, graph[a][b]["held"])
            matched_a = source.voltage_v / (2.0 * ohm) if ohm else math.inf
            current_a = min(held[0], matched_a)
            if math.isinf(current_a):
                continue
            assert row.power_w == pytest.approx(current_a * (source.voltage_v - ohm * current_a), rel=1e-6), row.at
            if abs(held[0] - matched_a) > 1e-6 * matched_a:
                assert row.held_by == (held[1] if held[0] < matched_a else None), row.at
            looked_at["held" if row.held_by else "matched"] += 1
    assert looked_at["held"] > 10 and looked_at["matched"] > 5
