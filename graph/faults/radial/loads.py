"""The loads of a radial piece at the nodes where they draw, and by how much that lowers the voltage."""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import BoolArray
from loadloom.graph.faults.radial.radial_piece import RadialPiece
from loadloom.graph.faults.radial.tree import RadialTree, along_path


def drawn_at_nodes(piece: RadialPiece, loads_a: FloatArray, *, low: bool = False) -> FloatArray:
    """Load currents (L,) at the nodes of the forest."""
    loads = piece.piece.loads
    return np.bincount(
        loads.minus if low else loads.plus, weights=loads_a, minlength=len(piece.forest.parent)
    ).astype(np.float64)


def fall_of_all_v(piece: RadialPiece, drawing: IntArray, loads_a: FloatArray) -> FloatArray:
    """(T,) by how much all loads together lower the voltage at each tie, as an upper bound; ``loads_a`` of those
    ``drawing``, in A.
    """
    tree, ties = piece.tree, piece.ties
    every = np.zeros(len(piece.load_most_a))
    every[drawing] = loads_a
    n = tree.node_count
    through = (
        piece.forest.below(drawn_at_nodes(piece, every))
        + piece.forest.below(drawn_at_nodes(piece, every, low=True))
    )[:n]
    # Within a block nothing lowers a node more than a current drawn there would.
    inside = np.flatnonzero(tree.above >= 0)
    inside = inside[~_bridged(tree)[inside]]
    in_block = np.bincount(tree.above[inside], weights=through[inside], minlength=len(tree.entry))
    through[inside] = in_block[tree.above[inside]]
    fall = along_path(tree.parent, piece.ohm_in * through)
    found: FloatArray = fall[ties.high] + fall[ties.low]
    return found


def _bridged(tree: RadialTree) -> BoolArray:
    """(N,) nodes that hang on a bridge."""
    found = np.zeros(tree.node_count, dtype=np.bool_)
    found[tree.far[tree.bridge]] = True
    return found
