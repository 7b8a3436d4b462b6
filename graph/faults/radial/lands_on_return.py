"""What lands on a radial piece's return: its loads and places of fault, and what they together bring onto it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.faults.radial.limits import RadialLimits, short_circuit_a
from loadloom.graph.faults.radial.loads import fall_of_all_v
from loadloom.graph.faults.radial.radial_piece import CHASSIS, UNBOUNDED_A, RadialPiece
from loadloom.graph.faults.radial.returns import Classes, Forest, Landed, Returns, find_classes, greatest_in


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

    @cached_property
    def common_region(self) -> IntArray:
        """(classes,) the region that holds everything that lands in a class and below, -1: none does."""
        returns, classes, above = self.returns, self.classes, self.piece.above
        forest = Forest.of(np.where(above < 0, np.arange(len(above)), above))
        order = np.argsort(returns.cls, kind="stable")
        at = forest.entry[returns.region[order]].astype(np.float64)
        low = np.searchsorted(returns.cls[order], np.arange(len(classes.parent)))
        high = np.searchsorted(returns.cls[order], classes.leave)
        first, last = greatest_in(-at, low, high), greatest_in(at, low, high)
        one, two = forest.order[at[first].astype(np.int64)], forest.order[at[last].astype(np.int64)]
        while (
            apart := (one >= 0)
            & ~((forest.entry[one] <= forest.entry[two]) & (forest.entry[two] < forest.leave[one]))
        ).any():
            one = np.where(apart, above[one], one)
        found: IntArray = one
        return found


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
    returns = Returns(classes, region, classes.of[low], piece.above)
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
