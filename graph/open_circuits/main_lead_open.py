"""What flows in a sense lead when the main lead of its output opens: all that the main lead fed.

The sense terminal counts as joined to the output's own terminal then, without resistance: what lies between them
inside the unit is on no drawing. Of the parts that alone feed where it senses, the one nearest to the output puts
the most on the lead. Devices in the lead and the output itself hold it down to what they let through without
opening.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case
from loadloom.graph.structure.sense_leads import SenseLead, sense_leads


@dataclass(frozen=True, slots=True)
class MainOpen:
    """A sense lead in a case once ``lead.main`` has opened: the most in A that its parts carry continuously."""

    lead: SenseLead
    case: str
    current_a: float


def main_leads_open(
    harness: Harness,
    cases: Iterable[Case],
    states: Mapping[str, Iterable[Solution]],
    thresholds: Mapping[str, Mapping[str, Threshold]],
) -> tuple[MainOpen, ...]:
    """Every sense lead behind a main lead that can open, in the case that puts the most on it."""
    worst: dict[SenseLead, MainOpen] = {}
    for case in cases:
        for found in _in_case(harness, case, tuple(states[case.id]), thresholds[case.id]):
            known = worst.get(found.lead)
            if known is None or found.current_a > known.current_a:
                worst[found.lead] = found
    return tuple(worst.values())


def _in_case(
    harness: Harness, case: Case, states: tuple[Solution, ...], thresholds: Mapping[str, Threshold]
) -> Iterator[MainOpen]:
    for lead in sense_leads(harness, case.arrangement):
        if lead.main is None or not lead.parts:
            continue
        held_a = min(thresholds[name].held_a for name in (*lead.parts, lead.output) if name in thresholds)
        for solution in states:
            if lead.output in solution.network.source_ids:
                yield MainOpen(lead, case.id, min(_carried_a(solution, lead), held_a))


def _carried_a(solution: Solution, lead: SenseLead) -> float:
    """The current in A of a lead's parts with the main lead open and the sense terminal in its place."""
    assert lead.main is not None
    network = solution.network
    sense, terminal = network.node_index[lead.joint], network.node_index[lead.terminal]
    ohm = network.edge_resistance_ohm.copy()
    ohm[network.edge_index[lead.main]] = np.inf
    after = solve(
        replace(
            network,
            edge_resistance_ohm=ohm,
            edge_a=np.where(network.edge_a == sense, terminal, network.edge_a),
            edge_b=np.where(network.edge_b == sense, terminal, network.edge_b),
        )
    )
    return max(abs(after.current_a(name)) for name in lead.parts)
