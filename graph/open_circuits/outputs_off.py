"""The state that is left when one of several joined outputs is off, and what may open in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.network import Network, without
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.model.figures import NOISE


@dataclass(frozen=True, slots=True)
class MayOpen:
    """A device or output ``part`` that may open once the joined output ``off`` is off: its current then and what it
    is certain to carry, in A, and the case.
    """

    off: str
    part: str
    current_a: float
    carries_a: float
    case: str

    @property
    def by(self) -> float:
        """Its current as a multiple of what it is certain to carry."""
        return self.current_a / self.carries_a


def outputs_off(solution: Solution) -> Iterator[tuple[str, Solution]]:
    """What a state becomes with each output off that is joined to others, by that output's id."""
    for name in _joined(solution.network):
        yield name, solve(without(solution.network, (name,)))


def may_open(
    case: str, before: Solution, after: Iterable[tuple[str, Solution]], thresholds: Mapping[str, Threshold]
) -> Iterator[MayOpen]:
    """What may open with a joined output off, and not with all of them on."""
    usual = _carried_a(before)
    for off, solution in after:
        for name, amps in _carried_a(solution).items():
            limit = thresholds.get(name)
            carries_a = limit.non_tripping_a if limit is not None else None
            if carries_a and usual.get(name, 0.0) <= carries_a * (1.0 + NOISE) < amps:
                yield MayOpen(off, name, amps, carries_a, case)


def _carried_a(solution: Solution) -> dict[str, float]:
    network = solution.network
    amps = np.concatenate([np.abs(solution.edge_a), np.maximum(solution.source_a, 0.0)]).tolist()
    return dict(zip((*network.edge_ids, *network.source_ids), amps, strict=True))


def _joined(network: Network) -> list[str]:
    edges = len(network.edge_ids)
    ends_a = np.concatenate([network.edge_a, network.source_plus])
    ends_b = np.concatenate([network.edge_b, network.source_minus])
    closed = np.concatenate(
        [np.isfinite(network.edge_resistance_ohm), np.ones(len(network.source_ids), dtype=bool)]
    )
    bridge = find_blocks(len(network.node_ids), ends_a, ends_b, closed).bridge
    return [name for k, name in enumerate(network.source_ids) if not bridge[edges + k]]
