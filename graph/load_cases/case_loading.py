"""What a load case itself does, which the fault search must never fall below.

The fault search looks at the corner of the greatest fault current; a load of constant power draws more at the
corner of the lowest voltage. So the search is told the voltages and currents of the solved case.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from loadloom.graph.circuit.solution import Solution
from loadloom.graph.devices.device_bands import Threshold


@dataclass(frozen=True)
class CaseLoading:
    """``least_v``: the lowest voltage in V at each load, by id; ``continuous_a``: what every edge carries
    continuously in A, by id, only from states in which nothing opens.
    """

    least_v: Mapping[str, float] = field(default_factory=dict)
    continuous_a: Mapping[str, float] = field(default_factory=dict)


def case_loading(
    continuous: Iterable[Solution], lowest: Iterable[Solution], thresholds: Mapping[str, Threshold]
) -> CaseLoading:
    """Of the solutions of one case: at lasting currents, and with the lowest voltage. An unfed load has none."""
    least_v: dict[str, float] = {}
    continuous_a: dict[str, float] = {}
    lasting = tuple(continuous)
    for solution in (*lasting, *lowest):
        for name, volts in zip(solution.network.load_ids, solution.load_v.tolist(), strict=True):
            if volts > 0.0 and name not in solution.unfed:
                least_v[name] = min(volts, least_v.get(name, volts))
    for solution in lasting:
        if not holds(solution, thresholds):
            continue
        for name, amps in zip(solution.network.edge_ids, np.abs(solution.edge_a).tolist(), strict=True):
            continuous_a[name] = max(amps, continuous_a.get(name, 0.0))
    return CaseLoading(least_v, continuous_a)


def holds(solution: Solution, thresholds: Mapping[str, Threshold]) -> bool:
    """Whether no device and no output opens in a state that lasts."""
    network = solution.network
    carried = zip(
        (*network.edge_ids, *network.source_ids),
        np.abs(np.concatenate([solution.edge_a, solution.source_a])).tolist(),
        strict=True,
    )
    return all(name not in thresholds or amps <= thresholds[name].held_a for name, amps in carried)
