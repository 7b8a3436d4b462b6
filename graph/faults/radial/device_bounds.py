"""Bounds where devices sit in loops or in returns of a radial piece."""

from __future__ import annotations

import numpy as np

from loadloom.graph.faults.radial.part_answers import PartAnswers
from loadloom.graph.faults.radial.return_parts import acting_behind
from loadloom.graph.faults.tolerances import MET


def bound_around_devices(answer: PartAnswers) -> None:
    """Mark as bounds what devices in loops and in returns leave open."""
    piece, tree = answer.piece, answer.piece.tree
    if piece.coarse:
        answer.exact[:] = False
    acting = piece.in_loop_acting
    if len(acting):
        way = np.maximum(piece.held_towards, piece.held_away)[np.minimum(answer.parts, len(piece.held_away) - 1)]
        answer.let_a = np.minimum(answer.let_a, way)
        answer.combined_overload_a = np.minimum(answer.combined_overload_a, way)
        answer.exact &= ~np.isin(tree.label[answer.parts], acting)
        high = piece.ties.high
        inside = np.isin(tree.above[high], acting) & (tree.exit[tree.above[high]] != high) & (tree.above[high] >= 0)
        if inside.any():
            answer.exact &= answer.feed
    if len(piece.in_return):
        at = np.where(tree.bridge[answer.parts], answer.far, tree.node_count + tree.label[answer.parts])
        behind = ~answer.feed
        behind[behind] = acting_behind(piece, at[behind])
        held = piece.held_a[np.where(tree.bridge[answer.parts], answer.far, tree.entry[tree.label[answer.parts]])]
        answer.exact &= ~behind | (tree.bridge[answer.parts] & (answer.let_a >= held * (1.0 - MET)) & answer.exact)
