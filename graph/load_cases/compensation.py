"""What an output with remote sense adds to its voltage for the drop on its leads.

It holds its voltage where its sense leads join the load's copper: its terminals are higher by the drop between, up
to
``Sense limit``. Nothing flows in the sense leads. An output that shares current with another one in a loop is left
out here: which of them makes up for what is not known, and its whole limit counts at the corner of high voltages.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace

import numpy as np

from loadloom.graph.circuit.network import Network
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.model.elements import Output
from loadloom.graph.model.harness import Harness

MOST_ROUNDS = 60
SETTLED_V = 1e-7


def sensed_drop_v(solution: Solution, output: Output) -> float | None:
    """The drop in V between an output's terminals and where it senses, both sides; None where it does not sense.

    A sense terminal that is not drawn is taken as joined to the output's own terminal.
    """
    if output.sense_plus is None and output.sense_minus is None:
        return None
    at, volts = solution.network.node_index, solution.node_v

    def volt(node: str) -> float:
        return float(volts[at[node]])

    drop = 0.0
    if output.sense_plus is not None and output.sense_plus in at:
        drop += volt(output.node_plus) - volt(output.sense_plus)
    if output.sense_minus is not None and output.sense_minus in at:
        drop += volt(output.sense_minus) - volt(output.node_minus)
    return drop


def compensating(harness: Harness, word: str | None) -> tuple[Output, ...]:
    """The outputs that sense at a distance and say how far they make up for it."""
    there = (output.under(word) for output in harness.outputs)
    return tuple(o for o in there if o.fitted and o.sense_added_v > 0.0)


def compensated(
    network: Network,
    harness: Harness,
    solved: Callable[[Network], Solution],
    apart: Collection[str] = (),
) -> Solution:
    """A network solved with every sensing output's voltage raised by the drop on its leads; ``apart``: not
    these."""
    sensing = [o for o in compensating(harness, network.case.arrangement) if o.id in network.source_ids]
    sensing = [output for output in sensing if output.id not in apart]
    solution = solved(network)
    if not sensing:
        return solution
    at = [network.source_ids.index(output.id) for output in sensing]
    most_v = np.array([output.sense_added_v for output in sensing])
    added_v = np.zeros(len(sensing))
    for _ in range(MOST_ROUNDS):
        drop_v = np.array([sensed_drop_v(solution, output) or 0.0 for output in sensing])
        wanted_v = np.clip(drop_v, 0.0, most_v)
        if np.abs(wanted_v - added_v).max() <= SETTLED_V:
            break
        added_v = wanted_v
        volts = network.source_voltage_v.copy()
        volts[at] += added_v
        solution = solved(replace(network, source_voltage_v=volts))
    return solution
