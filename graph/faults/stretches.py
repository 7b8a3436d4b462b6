"""Stretches: faults anywhere between the ends of conductors, where that can be worse than at the ends.

In a loop it can, above all where what holds a fault down changes along the conductor: a lead of one of several
joined outputs, a section between two fused feeds. Along a bridge the ends say all of how much flows (see
``sustained_fault``); how far the part carries it is seen between them.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.network import CHASSIS_NODE, FloatArray
from loadloom.graph.faults.piece import Variant
from loadloom.graph.faults.places import OwnEnd, PieceGeometry, Place, Places, Point
from loadloom.graph.faults.tolerances import AT_AN_END, VARIES


@dataclass(frozen=True)
class Stretch:
    """A fault between a point of conductor ``high`` (or a terminal, -1) and one of ``low`` (or a terminal, -1).

    ``corners`` are places at the ends, positions in the node places, ordered (high a, low a), (high a, low b),
    (high b, low a), (high b, low b) with those left out that do not exist. ``at_end``: for every corner, whether
    it is at the b end of the high and of the low conductor. ``looped``: current has a path around the conductor;
    ``varies``: what holds a fault down changes along it.
    """

    corners: tuple[int, ...]
    at_end: tuple[tuple[bool, bool], ...]
    high: int
    low: int
    looped: bool
    varies: bool

    @property
    def along(self) -> list[tuple[int, tuple[bool, ...], float]]:
        """(conductor, whether each corner is at its a end, sign of the fault current out of it)."""
        found = []
        if self.high >= 0:
            found.append((self.high, tuple(not end[0] for end in self.at_end), 1.0))
        if self.low >= 0:
            found.append((self.low, tuple(not end[1] for end in self.at_end), -1.0))
        return found

    @property
    def conductor(self) -> int:
        """The one conductor of a stretch that ends at a terminal; of two the high one."""
        return self.high if self.high >= 0 else self.low

    def add_drawn(self, drawn: FloatArray, geometry: PieceGeometry, nodes: Places, found: Places) -> None:
        """Add the place at which the corner currents ``drawn`` (corners,) put the fault."""
        weight = drawn / drawn.sum()
        shares = [float(sum(w for w, end in zip(weight, self.at_end, strict=True) if end[side])) for side in (0, 1)]
        self.add_place(shares, geometry, nodes, found)

    def add_place(self, shares: Sequence[float], geometry: PieceGeometry, nodes: Places, found: Places) -> None:
        """Add the place at ``shares`` of the way along the high and the low conductor."""
        corner = nodes.listed[self.corners[0]]
        branches, node_ids = geometry.piece.branches, geometry.piece.node_ids
        points, names = [], []
        for k, share, point in zip((self.high, self.low), shares, (corner.high, corner.low), strict=True):
            if k < 0:
                points.append(Point.at_node(point.a))
                names.append(node_ids[point.a])
            elif not AT_AN_END < share < 1.0 - AT_AN_END:
                points.append(Point.at_node(int((branches.b if share >= 0.5 else branches.a)[k])))
                names.append(f"{branches.ids[k]}:{float(share >= 0.5):.2f}")
            else:
                points.append(Point(int(branches.a[k]), int(branches.b[k]), share, k))
                names.append(f"{branches.ids[k]}:{share:.2f}")
        kind = "wires"
        if self.high < 0 or self.low < 0:
            kind = "chassis" if CHASSIS_NODE in names else "pinch"
        where = found.add(Place(points[0], points[1], kind, names[0], names[1]))
        for k, share, at_high in ((self.high, shares[0], True), (self.low, shares[1], False)):
            if k >= 0:
                found.own.append(OwnEnd(where, k, share, at_high))


def find_stretches(geometry: PieceGeometry, variant: Variant, nodes: Places) -> tuple[Stretch, ...]:
    """The stretches of a variant whose ends are among the node places: of every conductor against the terminals
    that it can touch, and of those whose rows change against every other one in the same cable or bundle.
    """
    if variant.dead >= 0:
        return ()
    return variant.keep(f"stretches of {nodes.name}", lambda: _find_stretches(geometry, variant, nodes))


def _find_stretches(geometry: PieceGeometry, variant: Variant, nodes: Places) -> tuple[Stretch, ...]:
    branches, in_loop = geometry.piece.branches, geometry.piece.in_loop
    per_node = variant.rows.per_node
    varies: set[int] = set()
    if len(per_node):
        looped = np.array([k for k in geometry.conductors if in_loop[k]], dtype=np.int64)
        change = np.abs(per_node[:, branches.a[looped]] - per_node[:, branches.b[looped]]).max(axis=0, initial=0.0)
        varies = set(looped[change > VARIES].tolist())
    at = {(p.high.a, p.low.a): n for n, p in enumerate(nodes.listed)}
    found: dict[Stretch, None] = {}

    def add(high: int, low: int, terminal: int = -1) -> None:
        highs, lows = ((int(branches.a[k]), int(branches.b[k])) if k >= 0 else (terminal,) for k in (high, low))
        corners = [at.get((x, y), -1) for x in highs for y in lows]
        if min(corners) >= 0:
            ends = tuple((x == highs[-1] and high >= 0, y == lows[-1] and low >= 0) for x in highs for y in lows)
            some = [k for k in (high, low) if k >= 0]
            looped, changes = any(in_loop[k] for k in some), any(k in varies for k in some)
            found[Stretch(tuple(corners), ends, high, low, looped, changes)] = None

    for k in geometry.conductors:
        for terminal in geometry.terminals.get(int(geometry.island[branches.a[k]]), ()):
            add(k, -1, terminal)
            add(-1, k, terminal)
    for body in geometry.bodies:
        for k, r in itertools.permutations(body, 2):
            if k in varies or r in varies:
                add(k, r)
    return tuple(found)
