"""What parts carry where loads pulse against what else flows there, as the root mean square.

Each load that pulses counts in the load states with its own root mean square, and where all currents of a part go
one way the sum of these is no less than that of what flows together. Where they go against each other, as in the
common return of plus and minus rails or in the middle of a ring, what one takes off the other is there for a part
of the time only. Nobody says how the pulses of two loads lie to each other, so any way counts.

With a continuous current C, pulses A in the same direction and pulses B against it, all of them magnitudes, what
flows is C + A - B, and as A and B are never negative its mean square is at most (C + A)² + B² - 2·C·mean(B): the
mean of A·B is not below 0. For one load that pulses this is what it is; for several it is a bound.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from loadloom.graph.circuit.loading import mean_over_rms, pulse_of
from loadloom.graph.circuit.network import FloatArray, Network
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solved_once import SolvedOnce
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case

LEAST_A = 1e-6
"""Currents below are none."""


def pulses_apart(
    harness: Harness, case: Case, states: Sequence[Solution], solved: SolvedOnce
) -> Iterator[Solution]:
    """For every continuous state of a case in which pulses go against something: the same with root mean squares.

    ``harness`` and ``case`` are as drawn, the states those of the continuous equivalents. Of the currents of parts
    and outputs only; voltages stay.
    """
    mean: dict[str, float] = {}
    for load in harness.loads:
        pulse = pulse_of(load, case.state)
        if load.fitted and pulse is not None and pulse.share < 1.0:
            mean[load.id] = mean_over_rms(load, case.state)
    for solution in states if mean else ():
        names = [name for name in solution.network.load_ids if name in mean]
        own = np.concatenate([solution.edge_a, solution.source_a])
        of_load = [own - _without(solution.network, name, solved) for name in names]
        square = _mean_square(own, of_load, [mean[name] for name in names])
        if (square > own**2 * (1.0 + LEAST_A) + LEAST_A**2).any():
            through = np.sqrt(np.maximum(square, own**2))
            edges = len(solution.edge_a)
            yield replace(solution, edge_a=through[:edges], source_a=through[edges:])


def _mean_square(own: FloatArray, of_load: Sequence[FloatArray], mean: Sequence[float]) -> FloatArray:
    """The most that the mean square of every branch can be; ``of_load``: what each load that pulses adds to it."""
    if not of_load:
        return np.zeros(len(own))
    pulses = np.array(of_load)
    calm = own - pulses.sum(axis=0)
    sign = np.where(np.where(np.abs(calm) > LEAST_A, calm, own) < 0.0, -1.0, 1.0)
    along = np.maximum(pulses * sign, 0.0).sum(axis=0)
    against = np.maximum(-pulses * sign, 0.0)
    means = (against * np.array(mean)[:, None]).sum(axis=0)
    against = against.sum(axis=0)
    found: FloatArray = (np.abs(calm) + along) ** 2 + against**2 - 2.0 * np.abs(calm) * means
    return np.where(against > LEAST_A, found, 0.0)


def _without(network: Network, name: str, solved: SolvedOnce) -> FloatArray:
    """Currents of every edge and output with a load off."""
    keep = np.array([each != name for each in network.load_ids], dtype=np.bool_)
    after = solved(
        replace(
            network,
            load_ids=tuple(each for each in network.load_ids if each != name),
            load_plus=network.load_plus[keep],
            load_minus=network.load_minus[keep],
            load_kind=network.load_kind[keep],
            load_demand=network.load_demand[keep],
        )
    )
    return np.concatenate([after.edge_a, after.source_a])
