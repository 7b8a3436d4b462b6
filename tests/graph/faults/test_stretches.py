"""A fault between its ends: which conductor it is on, how its current divides, and what it is called."""

from __future__ import annotations

import numpy as np
import pytest
from fault_bench import AT_20_C, networks_of, thresholds_of
from wired import harness, load, output, wire

from loadloom.graph.faults.piece import piece_loads, pieces_of, variants
from loadloom.graph.faults.places import PieceGeometry, Places, find_places
from loadloom.graph.faults.stretches import Stretch, find_stretches
from loadloom.graph.model.elements import Chassis
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import Case

CASE = Case("nominal")


def of_ring(*, chassis: bool = False) -> tuple[PieceGeometry, Places, tuple[Stretch, ...]]:
    """A lead that forks into two ways to the load, and its return: W1 is the first of the branches, number 0."""
    drawn = harness(
        output("U1", "+", "-", trip_a=20.0),
        wire("W1", "+", "a", ohm=0.01, length_m=1.0, rated=10.0),
        wire("W2", "a", "b", ohm=0.02, length_m=1.0, rated=10.0),
        wire("W3", "a", "b", ohm=0.03, length_m=1.0, rated=10.0),
        wire("W4", "r", "-", ohm=0.01, length_m=1.0, rated=10.0),
        load("L1", "b", "r", 2.0),
        **({"chassis": (Chassis(id="G1", subject=Subject("G1"), node="r"),)} if chassis else {}),
    )
    network = networks_of(drawn, AT_20_C, CASE)[0]
    (piece,) = pieces_of(network, thresholds_of(drawn, AT_20_C, CASE), piece_loads(network, drawn))
    geometry = PieceGeometry(drawn, piece)
    variant = next(iter(variants(piece)))
    nodes = find_places(geometry, variant)
    return geometry, nodes, find_stretches(geometry, variant, nodes)


def test_every_conductor_of_the_feed_is_walked_to_the_return() -> None:
    """From each end of W1, W2 and W3 to the return's terminal a place stands, so that a fault can be between."""
    geometry, _, found = of_ring()
    ids = geometry.piece.branches.ids
    alone = [one for one in found if min(one.high, one.low) < 0]
    assert {ids[one.high] for one in alone if one.high >= 0} == {"W1", "W2", "W3"}
    assert all(one.low == -1 for one in alone)
    assert {ids[one.conductor]: one.looped for one in alone} == {"W1": False, "W2": True, "W3": True}
    for one in alone:
        nodes = [
            geometry.piece.node_ids[n]
            for n in (geometry.piece.branches.a[one.high], geometry.piece.branches.b[one.high])
        ]
        listed = of_ring()[1].listed
        assert [geometry.piece.node_ids[listed[c].high.a] for c in one.corners] == nodes
        assert one.at_end == ((False, False), (True, False))


@pytest.mark.parametrize("k", [0, 3])
def test_what_a_stretch_runs_along(k: int) -> None:
    """The first conductor of a piece counts as any other; on the low side the current goes the other way."""
    high = Stretch((0, 1), ((False, False), (True, False)), k, -1, False, False)
    low = Stretch((0, 1), ((False, False), (False, True)), -1, k, False, False)
    assert high.along == [(k, (True, False), 1.0)] and high.conductor == k
    assert low.along == [(k, (True, False), -1.0)] and low.conductor == k
    both = Stretch(
        (0, 1, 2, 3), ((False, False), (False, True), (True, False), (True, True)), k, k + 1, False, False
    )
    assert both.along == [(k, (True, True, False, False), 1.0), (k + 1, (True, False, True, False), -1.0)]
    assert both.conductor == k


@pytest.mark.parametrize(("share", "name"), [(0.25, "W2:0.25"), (1e-9, "W2:0.00"), (1.0 - 1e-9, "W2:1.00")])
def test_a_place_on_a_conductor_is_called_by_its_share(share: float, name: str) -> None:
    """Of the currents of the two corners 1 - s at the one end and s at the other put the fault at s."""
    geometry, nodes, found = of_ring()
    ids = geometry.piece.branches.ids
    (stretch,) = (one for one in found if one.high >= 0 and ids[one.high] == "W2" and one.low < 0)
    placed = Places([], [])
    stretch.add_drawn(np.array([1.0 - share, share]) * 7.0, geometry, nodes, placed)
    (place,) = placed.listed
    assert (place.kind, place.at) == ("pinch", name)
    assert geometry.piece.node_ids[place.low.a] == place.to
    assert [(ids[own.branch], own.at_high) for own in placed.own] == [("W2", True)]
    assert placed.own[0].share == pytest.approx(share)


def test_between_two_conductors_it_is_on_both() -> None:
    """W2 at 0.3 against W4 at 0.6: wires that touch, on each its own share."""
    geometry, nodes, _ = of_ring()
    at = {(p.high.a, p.low.a): n for n, p in enumerate(nodes.listed)}
    branches = geometry.piece.branches
    two, four = branches.ids.index("W2"), branches.ids.index("W4")
    corner = at.get((int(branches.a[two]), int(branches.b[four])), 0)
    placed = Places([], [])
    Stretch((corner,) * 4, (), two, four, True, True).add_place((0.3, 0.6), geometry, nodes, placed)
    (place,) = placed.listed
    assert (place.kind, place.at, place.to) == ("wires", "W2:0.30", "W4:0.60")
    assert [(branches.ids[own.branch], own.share, own.at_high) for own in placed.own] == [
        ("W2", 0.3, True),
        ("W4", 0.6, False),
    ]
