"""What a joint passes: half the sum of the magnitudes of all currents at it."""

from __future__ import annotations

import numpy as np

from loadloom.graph.solving.solution import Solution


def through_joint(solution: Solution, node: str) -> float:
    """Half the sum of the magnitudes of all currents at a joint, in A."""
    network = solution.network
    k = network.node_index[node]
    ends = (
        (network.edge_a, solution.edge_a),
        (network.edge_b, solution.edge_a),
        (network.load_plus, solution.load_a),
        (network.load_minus, solution.load_a),
        (network.source_plus, solution.source_a),
        (network.source_minus, solution.source_a),
    )
    return 0.5 * sum(float(np.sum(np.abs(current_a[end == k]))) for end, current_a in ends)
