"""The most that copper and devices of a radial piece let through: dead shorts, and what each device passes."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.faults.radial.radial_piece import UNBOUNDED_A, RadialPiece
from loadloom.graph.faults.radial.tree import along_path


class RadialLimits:
    """Limits of the places of fault and of the regions of a radial piece.

    For every tie ``tie_ohm`` loop resistance, ``tie_v`` voltage, ``tie_short_a`` its dead short and ``tie_a`` the
    most that a fault there can take with no load on, (T,) each.
    """

    def __init__(self, piece: RadialPiece) -> None:
        self.piece = piece
        ties = piece.ties
        self.tie_ohm = piece.ohm[ties.high] + piece.ohm[ties.low]
        self.tie_v = piece.volts[ties.high] - piece.volts[ties.low]
        with np.errstate(divide="ignore"):
            short = np.where(self.tie_ohm > 0.0, self.tie_v / self.tie_ohm, UNBOUNDED_A)
        self.tie_short_a = np.minimum(short, UNBOUNDED_A)
        device = np.minimum(piece.held_a[ties.high], piece.held_a[ties.low])
        self.tie_a = np.minimum(device, self.tie_short_a)

    @cached_property
    def passed_a(self) -> FloatArray:
        """(regions,) what each region's device passes at most: its T, or the greatest dead short behind it."""
        piece = self.piece
        short = short_circuit_a(piece.volts[piece.top], piece.ohm[piece.top])
        limit: FloatArray = np.minimum(piece.own_a, short) + self.brought_in_a
        return limit

    @cached_property
    def brought_in_a(self) -> FloatArray:
        """(regions,) what other outputs can bring onto what hangs behind a region's device, which relieves it."""
        piece, cross = self.piece, self.piece.cross_ties
        from_region, at = piece.region[cross.high], piece.region[cross.low]
        pairs = []
        while (at >= 0).any():
            pairs.append(np.stack([from_region[at >= 0], at[at >= 0]], axis=1))
            at = np.where(at >= 0, piece.above[np.maximum(at, 0)], -1)
        if not pairs:
            return np.zeros(len(piece.top))
        single = np.unique(np.concatenate(pairs), axis=0)
        most = np.minimum(piece.held_a[piece.top], UNBOUNDED_A)
        return np.bincount(single[:, 1], weights=most[single[:, 0]], minlength=len(piece.top)).astype(np.float64)

    @cached_property
    def limit_on_path_a(self) -> FloatArray:
        """(regions,) the least of these limits from the output on."""
        above = self.piece.above
        parent = np.where(above < 0, np.arange(len(above)), above)
        return along_path(parent, self.passed_a, lesser=True)

    @cached_property
    def shorts_behind_a(self) -> FloatArray:
        """(N,) sum of the dead shorts of all places behind each node of the ways out."""
        piece, ties = self.piece, self.piece.ties
        short = np.zeros(len(piece.forest.parent))
        n = piece.tree.node_count
        own = np.minimum(short_circuit_a(piece.volts, piece.ohm), UNBOUNDED_A)
        short[:n] = np.where(piece.is_feed, own, 0.0)
        short += np.bincount(ties.high, weights=self.tie_short_a, minlength=len(short))
        return piece.forest.below(short)[:n]


def short_circuit_a(volts: FloatArray, ohm: FloatArray) -> FloatArray:
    """The currents in A of dead shorts at voltages and loop resistances; infinite with no resistance."""
    with np.errstate(divide="ignore", invalid="ignore"):
        found: FloatArray = np.where(ohm > 0.0, volts / ohm, np.inf)
    return found
