"""What lands on a radial piece's return: its loads and places of fault, and what they together bring onto it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.faults.radial.limits import RadialLimits, short_circuit_a
from loadloom.graph.faults.radial.loads import fall_of_all_v
from loadloom.graph.faults.radial.radial_piece import CHASSIS, UNBOUNDED_A, RadialPiece
from loadloom.graph.faults.radial.returns import Classes, Landed, Returns, find_classes
from loadloom.graph.faults.radial.way_ties import ties_on_paths


@dataclass(frozen=True)
class Landing:
    """What lands on the return, and the passes over it.

    Draws are ties first, then loads. ``sure`` and ``most`` are the passes with loads at what they surely and at
    what they could ever draw; ``shorts`` every place at once (exposure), ``devices`` the same with copper of no
    resistance. ``drawing``: the loads that draw, by position. ``tie_fall_v`` (T,): by how much what they surely
    draw lowers the voltage at each tie, as an upper bound.
    """

    piece: RadialPiece
    classes: Classes
    returns: Returns
    sure: Landed
    most: Landed
    shorts: Landed
    devices: Landed
    drawing: IntArray
    tie_fall_v: FloatArray


def find_landing(piece: RadialPiece, limits: RadialLimits) -> Landing | None:
    """Everything that lands on the return; None where nothing does."""
    ties, forest = piece.ties, piece.forest
    loads = piece.piece.loads
    drawing = np.flatnonzero(piece.load_most_a > 0.0)
    high = np.concatenate([ties.high, loads.plus[drawing]])
    low = np.concatenate([ties.low, loads.minus[drawing]])
    if not len(high):
        return None
    region = piece.region[high]
    classes = find_classes(forest, low)
    asked = _asked_on_ways(piece, classes)
    returns = Returns(classes, region, classes.of[low], piece.above, asked)
    none = np.zeros(len(ties.high))
    no_place = np.full(len(drawing), -np.inf)
    most, sure = piece.load_most_a[drawing], piece.load_sure_a[drawing]
    # Beyond the loads in its own place, which it takes the place of, a fault adds at most its dead short.
    device = np.minimum(piece.held_a[ties.low], limits.tie_short_a)
    own = _in_its_place(piece, drawing, most)
    upper = returns.run(np.concatenate([none, most]), piece.own_a, np.concatenate([device - own, no_place]))
    fall_v = fall_of_all_v(piece, drawing, sure)
    with np.errstate(divide="ignore", invalid="ignore"):
        left = np.where(limits.tie_ohm > 0.0, (limits.tie_v - fall_v) / limits.tie_ohm, UNBOUNDED_A)
    beside = np.where(
        np.isfinite(piece.held_a[ties.low]), piece.held_a[ties.low] - _landing_with(piece, sure), np.inf
    )
    lower = returns.run(
        np.concatenate([none, sure]), piece.own_a, np.concatenate([np.minimum(beside, left), no_place])
    )
    idle = np.zeros(len(drawing))
    shorts, devices = (
        returns.run(np.concatenate([each, idle]), limits.passed_a)
        for each in (_tie_shorts_together_a(piece, limits), np.full(len(ties.high), UNBOUNDED_A))
    )
    return Landing(piece, classes, returns, lower, upper, shorts, devices, drawing, fall_v)


def _asked_on_ways(piece: RadialPiece, classes: Classes) -> Iterator[tuple[int, int]]:
    """Regions that can land on a way of several side by side, with the class of the joint where these meet."""
    tree, ties = piece.tree, ties_on_paths(piece)
    block = np.zeros(len(tree.rho), dtype=np.int64)
    block[tree.chain[tree.plain]] = tree.label[tree.plain]
    met = classes.of[tree.exit[block[ties.way]]]
    return zip(piece.region[piece.ties.high[ties.tie]].tolist(), met.tolist(), strict=True)


def _tie_shorts_together_a(piece: RadialPiece, limits: RadialLimits) -> FloatArray:
    """(T,) dead shorts; at the chassis, where one point of a region stands for all, of all of them together."""
    ties = piece.ties
    found = limits.tie_short_a.copy()
    chassis = np.flatnonzero(np.array([kind == CHASSIS for kind in ties.kind], dtype=np.bool_))
    if len(chassis):
        bond = int(ties.low[chassis[0]])
        nodes = np.flatnonzero(piece.is_feed)
        each = short_circuit_a(piece.volts[nodes] - piece.volts[bond], piece.ohm[nodes] + piece.ohm[bond])
        sums = np.bincount(piece.region[nodes], weights=np.minimum(each, UNBOUNDED_A), minlength=len(piece.top))
        found[chassis] = sums[piece.region[ties.high[chassis]]]
    return found


def _in_its_place(piece: RadialPiece, drawing: IntArray, loads_a: FloatArray) -> FloatArray:
    """(T,) the current of the loads between the same two nodes as each tie."""
    ties, loads = piece.ties, piece.piece.loads
    n = piece.tree.node_count
    key = ties.high * n + ties.low
    order = np.argsort(key)
    of = loads.plus[drawing] * n + loads.minus[drawing]
    at = np.minimum(np.searchsorted(key[order], of), max(len(key) - 1, 0))
    found = np.zeros(len(key))
    if len(key):
        same = key[order[at]] == of
        np.add.at(found, order[at[same]], loads_a[same])
    return found


def _landing_with(piece: RadialPiece, loads_a: FloatArray) -> FloatArray:
    """(T,) an upper bound of the load current through any device of the return on each tie's way."""
    ties = piece.ties
    if not np.isfinite(piece.held_a[ties.low]).any():
        return np.zeros(len(ties.low))
    return np.full(len(ties.low), float(loads_a.sum()))
