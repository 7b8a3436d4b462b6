"""The state that is left when one of several joined outputs is off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.network import Network, without
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.load_cases.case_loading import holds


def outputs_off(solution: Solution, thresholds: Mapping[str, Threshold]) -> Iterator[tuple[str, Solution]]:
    """What a state becomes with each output off that is joined to others, where what is left does not open then."""
    for name in _joined(solution.network):
        after = solve(without(solution.network, (name,)))
        if holds(after, thresholds):
            yield name, after


def _joined(network: Network) -> list[str]:
    edges = len(network.edge_ids)
    ends_a = np.concatenate([network.edge_a, network.source_plus])
    ends_b = np.concatenate([network.edge_b, network.source_minus])
    closed = np.concatenate(
        [np.isfinite(network.edge_resistance_ohm), np.ones(len(network.source_ids), dtype=bool)]
    )
    bridge = find_blocks(len(network.node_ids), ends_a, ends_b, closed).bridge
    return [name for k, name in enumerate(network.source_ids) if not bridge[edges + k]]
