"""What a joint passes: half the sum of the magnitudes of all currents at it."""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.solution import Solution


def through_joints(solution: Solution) -> FloatArray:
    """(N,) half the sum of the magnitudes of all currents at every node, in A."""
    network = solution.network
    total = np.zeros(len(network.node_ids))
    for end, current_a in _ends(solution):
        total += np.bincount(end, weights=np.abs(current_a), minlength=len(total))
    return 0.5 * total


def through_joint(solution: Solution, node: str) -> float:
    """Half the sum of the magnitudes of all currents at a joint, in A."""
    k = solution.network.node_index[node]
    return 0.5 * sum(float(np.sum(np.abs(current_a[end == k]))) for end, current_a in _ends(solution))


def _ends(solution: Solution) -> tuple[tuple[IntArray, FloatArray], ...]:
    """Nodes with the currents that leave or enter there."""
    network = solution.network
    return (
        (network.edge_a, solution.edge_a),
        (network.edge_b, solution.edge_a),
        (network.load_plus, solution.load_a),
        (network.load_minus, solution.load_a),
        (network.source_plus, solution.source_a),
        (network.source_minus, solution.source_a),
    )
