"""What every part carries once one parallel path has opened, or one of several joined outputs is off."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.elements import Splice, TwoEnded
from loadloom.graph.facts import Facts
from loadloom.graph.open_circuits.single_open_circuits import OpenCircuits
from loadloom.graph.solving.joint_current import through_joint
from loadloom.graph.solving.solution import Solution
from loadloom.graph.solving.solve import solve

MORE = 1e-9
"""Share by which another open circuit must be worse to be named instead."""

MOST_SOLVES = 200
"""OpenCircuits around one splice that are solved one by one; of more, its current is bounded."""


@dataclass(frozen=True, slots=True)
class AfterOpening:
    """The greatest current of a part in A; ``why`` in words; ``exact`` false for a bound above it."""

    current_a: float
    why: str
    case: str
    exact: bool = True


def worst_after_opening(facts: Facts, part: TwoEnded | Splice) -> AfterOpening | None:
    """The worst of a part over all cases; None where no open circuit moves current onto it."""
    found = list(_broken(facts, part) if isinstance(part, TwoEnded) else _broken_splice(facts, part))
    for case_id, off in facts.outputs_off.items():
        for name, after in off:
            here = through_joint(after, part.node) if isinstance(part, Splice) else abs(after.current_a(part.id))
            found.append(AfterOpening(here, f"if output {name} were off", case_id))
    worst: AfterOpening | None = None
    for candidate in found:
        if worst is None or candidate.current_a > worst.current_a * (1.0 + MORE):
            worst = candidate
    return worst


def _broken(facts: Facts, part: TwoEnded) -> Iterator[AfterOpening]:
    for case_id, each in facts.open_circuits.items():
        for open_circuits in each:
            network = open_circuits.solution.network
            k = network.edge_index[part.id]
            if open_circuits.open_circuit_by[k] >= 0:
                by = network.edge_ids[open_circuits.open_circuit_by[k]]
                yield AfterOpening(float(open_circuits.open_circuit_a[k]), f"if {by} opened", case_id)


def _broken_splice(facts: Facts, splice: Splice) -> Iterator[AfterOpening]:
    allowed_a = facts.ratings[splice.id].allowed_a
    for case_id, each in facts.open_circuits.items():
        for open_circuits in each:
            node = open_circuits.solution.network.node_index[splice.node]
            edges, bound_a = open_circuits.around(node), _bound_a(open_circuits, node)
            if not edges or allowed_a is None or bound_a <= allowed_a:
                continue
            if len(edges) > MOST_SOLVES:
                yield AfterOpening(bound_a, "with any one open circuit", case_id, exact=False)
                continue
            for e in edges:
                opened_a = through_joint(_without_edge(open_circuits.solution, e), splice.node)
                yield AfterOpening(opened_a, f"if {open_circuits.solution.network.edge_ids[e]} opened", case_id)


def _bound_a(open_circuits: OpenCircuits, node: int) -> float:
    """What no open circuit makes a joint pass more than, in A."""
    solution, network = open_circuits.solution, open_circuits.solution.network
    if (network.source_plus == node).any() or (network.source_minus == node).any():
        return math.inf  # what an output takes over is not among the currents of the edges
    at = (network.edge_a == node) | (network.edge_b == node)
    total = float(open_circuits.open_circuit_a[at].sum())
    for ends in (network.load_plus, network.load_minus):
        total += float(np.abs(solution.load_a[ends == node]).sum())
    return 0.5 * total


def _without_edge(solution: Solution, edge: int) -> Solution:
    resistance = solution.network.edge_resistance_ohm.copy()
    resistance[edge] = np.inf
    return solve(replace(solution.network, edge_resistance_ohm=resistance))
