"""The state with one given fault, named by its places, for whoever sets a found fault up again."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from loadloom.graph.devices import Threshold
from loadloom.graph.faults.piece import Piece, piece_loads, pieces_of
from loadloom.graph.faults.places import Place, Point
from loadloom.graph.faults.state import FaultState, solve_fault
from loadloom.graph.harness import Harness
from loadloom.graph.solving.network import CHASSIS_NODE, Network


def fault_at(
    harness: Harness,
    network: Network,
    thresholds: Mapping[str, Threshold],
    at: str,
    to: str,
    resistance_ohm: float,
    loads_a: Mapping[str, float] | None = None,
) -> FaultState:
    """The state with one fault of a given resistance, solved as a circuit; loads draw ``loads_a`` (default 0).

    ``at`` and ``to`` are places as in ``FaultRow``: ``W7:0.25``, a load, ``X1.3|X1.4``, a joint, ``chassis``.
    Raises KeyError for a place that is not there, ValueError where no output reaches both.
    """
    loads = piece_loads(network, harness)
    for piece in pieces_of(network, thresholds, loads):
        try:
            high, low = _points(harness, piece, at, to)
        except KeyError:
            continue
        drawn = np.array([(loads_a or {}).get(name, 0.0) for name in piece.loads.ids])
        return solve_fault(piece, Place(high, low, "pinch", at, to), resistance_ohm, drawn)
    raise ValueError(f"no output reaches both {at} and {to}")


def _points(harness: Harness, piece: Piece, at: str, to: str) -> tuple[Point, Point]:
    nodes = piece.node_index
    for load in harness.loads:
        if load.id == at:
            return Point.at_node(nodes[load.node_plus]), Point.at_node(nodes[load.node_minus])
    for output in harness.outputs:
        if output.id == at:
            return Point.at_node(nodes[output.node_plus]), Point.at_node(nodes[output.node_minus])
    if "|" in at:
        first, second = at.split("|")
        contacts = {c.id: c for c in harness.contacts}
        return Point.at_node(nodes[contacts[first].node_b]), Point.at_node(nodes[contacts[second].node_b])
    return _point(piece, at), _point(piece, to)


def _point(piece: Piece, name: str) -> Point:
    if name in piece.node_index:
        return Point.at_node(piece.node_index[name])
    if name == CHASSIS_NODE:
        raise KeyError(name)
    branch, _, share = name.rpartition(":")
    k = piece.branch_index[branch]
    return Point(int(piece.branches.a[k]), int(piece.branches.b[k]), float(share), k)
