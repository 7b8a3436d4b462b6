"""Stretches: faults anywhere between the ends of conductors, where that can be worse than at the ends.

It can where what holds a fault down changes along the conductor: a lead of one of several joined outputs, a
section between two fused feeds. Elsewhere the ends say all (see ``sustained_fault``).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from loadloom.graph.faults.piece import Variant
from loadloom.graph.faults.places import OwnEnd, PieceGeometry, Place, Places, Point
from loadloom.graph.solving.network import CHASSIS_NODE, FloatArray

VARIES = 1e-7


@dataclass(frozen=True)
class Stretch:
    """A fault between a point of conductor ``high`` (or a node, -1) and one of ``low`` (or a node, -1).

    ``corners`` are places at the ends, positions in the node places, ordered (high a, low a), (high a, low b),
    (high b, low a), (high b, low b) with those left out that do not exist. ``at_end``: for every corner, whether
    it is at the b end of the high and of the low conductor.
    """

    corners: tuple[int, ...]
    at_end: tuple[tuple[bool, bool], ...]
    high: int
    low: int

    @property
    def along(self) -> list[tuple[int, tuple[bool, ...], float]]:
        """(conductor, whether each corner is at its a end, sign of the fault current out of it)."""
        found = []
        if self.high >= 0:
            found.append((self.high, tuple(not end[0] for end in self.at_end), 1.0))
        if self.low >= 0:
            found.append((self.low, tuple(not end[1] for end in self.at_end), -1.0))
        return found

    def place_of(self, drawn: FloatArray, geometry: PieceGeometry, nodes: Places, found: Places) -> None:
        """Add the place at which the corner currents ``drawn`` (corners,) put the fault."""
        weight = drawn / drawn.sum()
        shares = [float(sum(w for w, end in zip(weight, self.at_end, strict=True) if end[side])) for side in (0, 1)]
        corner = nodes.listed[self.corners[0]]
        branches = geometry.piece.branches
        points, names = [], []
        for conductor, share, point, name in (
            (self.high, shares[0], corner.high, corner.at),
            (self.low, shares[1], corner.low, corner.to),
        ):
            if conductor < 0 or not 1e-9 < share < 1.0 - 1e-9:
                at_b = conductor >= 0 and share >= 0.5
                node = point.a if conductor < 0 else int((branches.b if at_b else branches.a)[conductor])
                points.append(Point.at_node(node))
                names.append(name if conductor < 0 else f"{branches.ids[conductor]}:{float(at_b):.2f}")
            else:
                points.append(Point(int(branches.a[conductor]), int(branches.b[conductor]), share, conductor))
                names.append(f"{branches.ids[conductor]}:{share:.2f}")
        fixed = [name for name, conductor in zip(names, (self.high, self.low), strict=True) if conductor < 0]
        terminal = any(name in geometry.piece.node_index for name in fixed)
        kind = ("chassis" if CHASSIS_NODE in fixed else "pinch") if terminal else "wires"
        where = found.add(Place(points[0], points[1], kind, names[0], names[1]))
        for conductor, share, at_high in ((self.high, shares[0], True), (self.low, shares[1], False)):
            if conductor >= 0:
                found.own.append(OwnEnd(where, conductor, share, at_high))


def find_stretches(geometry: PieceGeometry, variant: Variant, nodes: Places) -> list[Stretch]:
    """The stretches of a variant whose ends are among the node places."""
    if variant.dead >= 0:
        return []
    branches = geometry.piece.branches
    per_node = variant.rows.per_node
    varying = [
        k
        for k in geometry.conductors
        if geometry.piece.in_loop[k]
        and len(per_node)
        and np.ptp(per_node[:, [branches.a[k], branches.b[k]]], axis=1).max() > VARIES
    ]
    at = {(p.high.a, p.low.a): n for n, p in enumerate(nodes.listed)}
    found: dict[Stretch, None] = {}

    def add(highs: tuple[int, ...], lows: tuple[int, ...], high: int, low: int) -> None:
        pairs = [(x, y) for x in highs for y in lows]
        if all(pair in at for pair in pairs):
            ends = tuple((x == highs[-1] and high >= 0, y == lows[-1] and low >= 0) for x, y in pairs)
            found[Stretch(tuple(at[pair] for pair in pairs), ends, high, low)] = None

    def ends_of(k: int) -> tuple[int, int]:
        return int(branches.a[k]), int(branches.b[k])

    for k in varying:
        for terminal in geometry.terminals.get(int(geometry.island[branches.a[k]]), ()):
            add(ends_of(k), (terminal,), k, -1)
            add((terminal,), ends_of(k), -1, k)
    varies = set(varying)
    for body in geometry.bodies:
        for k, r in itertools.permutations(body, 2):
            if k in varies or r in varies:
                add(ends_of(k), ends_of(r), k, r)
    return list(found)
