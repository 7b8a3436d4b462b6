"""What other sources drive backwards through an output that has failed short inside."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import networkx as nx

from loadloom.graph.devices.device_bands import threshold
from loadloom.graph.facts.facts import Facts
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.model.elements import Output, TwoEnded
from loadloom.graph.model.harness import Harness

FAR = 1_000_000_000
"""Steps to a part that copper does not join."""


@dataclass(frozen=True, slots=True)
class DrivenBack:
    """The greatest current in A backwards through one string of an output, its case, and what stays just below
    tripping."""

    current_a: float
    case: str | None = None
    held_by: str | None = None


def driven_back(facts: Facts, output: Output) -> DrivenBack:
    """What flows backwards through one string of a solar output that has failed short.

    Three shares: through the copper of its lead, from the fault search; from outputs on the very same two joints,
    all that they hold; and from the other strings of the same symbol.
    """
    beside_a = output.solar.from_beside_a if output.solar is not None else 0.0
    for other in facts.harness.outputs:
        if other.id != output.id and other.fitted and _same_joints(output, other):
            beside_a += threshold(other, facts.settings, None).held_a
    parts = [a for a in facts.faults.back_feeds if a.back_fed_by == output.id and a.sustained_fault_a]
    if not parts:
        return DrivenBack(beside_a)
    lead = nearest(facts.harness, output, parts)
    worst = max(lead, key=lambda part: part.sustained_fault_a or 0.0)
    return DrivenBack(beside_a + (worst.sustained_fault_a or 0.0), worst.case, worst.held_by)


def _same_joints(one: Output, other: Output) -> bool:
    return (one.node_plus, one.node_minus) == (other.node_plus, other.node_minus)


def nearest(harness: Harness, output: Output, parts: list[PartFault]) -> list[PartFault]:
    """Those of the parts that are nearest to the output's plus terminal, its lead; else nearest to its minus."""
    joined: nx.Graph = nx.Graph()
    joined.add_nodes_from((output.node_plus, output.node_minus))
    joined.add_edges_from((e.node_a, e.node_b) for e in harness.two_ended if e.fitted)
    for terminal in (output.node_plus, output.node_minus):
        steps = nx.single_source_shortest_path_length(joined, terminal)
        far = {p.id: min(steps.get(e.node_a, FAR), steps.get(e.node_b, FAR)) for p, e in _ends(harness, parts)}
        least = min(far.values())
        if least < FAR:
            return [part for part in parts if far[part.id] == least]
    return parts


def _ends(harness: Harness, parts: list[PartFault]) -> Iterator[tuple[PartFault, TwoEnded]]:
    for part in parts:
        element = harness.by_id[part.id]
        assert isinstance(element, TwoEnded)
        yield part, element
