"""Places of fault on the ways of a return that lie side by side, not only where they meet."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.faults.radial.radial_piece import RadialPiece


class WayTies(NamedTuple):
    """Ties on ways of returns side by side: ``tie``, ``way``, ``t`` the distance in Ω from the terminal-side joint,
    ``t_most`` the same at the greatest resistances, and ``own``, the conductor on whose end they lie if it is asked
    for by itself (-1: any part of the way).
    """

    tie: IntArray
    way: IntArray
    t: FloatArray
    t_most: FloatArray
    own: IntArray

    @property
    def on_any_part(self) -> WayTies:
        """Those that every part of the way can carry."""
        some = self.own < 0
        return WayTies(self.tie[some], self.way[some], self.t[some], self.t_most[some], self.own[some])


def ties_on_paths(piece: RadialPiece) -> WayTies:
    """The places on ways of returns side by side of a piece, and those on the ends of their conductors."""
    tree, ties = piece.tree, piece.ties
    if not len(ties.low):
        none = np.zeros(0, dtype=np.int64)
        return WayTies(none, none, np.zeros(0), np.zeros(0), none)
    chain = tree.node_chain[ties.low]
    inside = np.flatnonzero(chain >= 0)
    inside = inside[tree.exit[tree.above[ties.low[inside]]] != ties.low[inside]]
    own = np.flatnonzero(piece.own_ties.branch < len(tree.chain))
    own = own[tree.chain[piece.own_ties.branch[own]] >= 0]
    k, tie = piece.own_ties.branch[own], piece.own_ties.tie[own]
    at_near = ties.low[tie] == tree.near[k]
    return WayTies(
        np.concatenate([inside, tie]),
        np.concatenate([chain[inside], tree.chain[k]]),
        np.concatenate([tree.node_t[ties.low[inside]], np.where(at_near, tree.t_near[k], tree.t_far[k])]),
        np.concatenate(
            [tree.node_t_most[ties.low[inside]], np.where(at_near, tree.t_near_most[k], tree.t_far_most[k])]
        ),
        np.concatenate([np.full(len(inside), -1, dtype=np.int64), k]),
    )
