"""What a splice carries while the paths that meet at it share unevenly."""

from __future__ import annotations

from collections import Counter

import numpy as np

from loadloom.graph.open_circuits.contact_spread import Spread


def most_through_splice(spread: Spread, node: str) -> tuple[float, bool]:
    """The most in A that unlike contacts and wires put through the joint ``node``, and whether that is reached.

    Half the sum of the magnitudes of all currents at the joint. Where paths side by side begin or end, they carry
    the same in all, however they share it. A splice on the way of one of them carries what that path does. In a
    ring or mesh each branch counts with its own worst, which all need not have at once: a bound.
    """
    solution, network = spread.solution, spread.solution.network
    at = network.node_index.get(node)
    if at is None:
        return 0.0, True
    ends = [np.flatnonzero(network.edge_a == at), np.flatnonzero(network.edge_b == at)]
    edges = np.concatenate(ends).tolist()
    on_path = Counter((int(spread.set_number[k]), int(spread.path[k])) for k in edges if spread.paths[k])
    total_a, reached = 0.0, True
    for k in edges:
        solved_a, uneven_a = abs(float(solution.edge_a[k])), float(spread.uneven_a[k])
        key = int(spread.set_number[k]), int(spread.path[k])
        shares = spread.set_number[k] >= 0 and np.isfinite(uneven_a)
        if not shares or (spread.paths[k] and on_path[key] != 2):
            total_a += solved_a
            continue
        reached &= bool(spread.paths[k])
        total_a += max(solved_a, uneven_a)
    for terminals, amps in (
        (network.load_plus, solution.load_a),
        (network.load_minus, solution.load_a),
        (network.source_plus, solution.source_a),
        (network.source_minus, solution.source_a),
    ):
        total_a += float(np.abs(amps[terminals == at]).sum())
    return 0.5 * total_a, reached
