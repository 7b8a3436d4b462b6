"""What every part carries once one parallel way has opened, or one of several joined outputs is off."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.breaks.single_breaks import Breaks
from loadloom.graph.elements import Splice, TwoEnded
from loadloom.graph.facts import Facts
from loadloom.graph.solving.joint_current import through_joint
from loadloom.graph.solving.solution import Solution
from loadloom.graph.solving.solve import solve

MORE = 1e-9
"""Share by which another break must be worse to be named instead."""

MOST_SOLVES = 200
"""Breaks around one splice that are solved one by one; of more, its current is bounded."""


@dataclass(frozen=True, slots=True)
class AfterBreak:
    """The greatest current of a part in A; ``why`` in words; ``exact`` false for a bound above it."""

    current_a: float
    why: str
    case: str
    exact: bool = True


def worst_after_break(facts: Facts, part: TwoEnded | Splice) -> AfterBreak | None:
    """The worst of a part over all cases; None where no break moves current onto it."""
    found = list(_broken(facts, part) if isinstance(part, TwoEnded) else _broken_splice(facts, part))
    for case_id, off in facts.outputs_off.items():
        for name, after in off:
            here = through_joint(after, part.node) if isinstance(part, Splice) else abs(after.current_a(part.id))
            found.append(AfterBreak(here, f"if output {name} were off", case_id))
    worst: AfterBreak | None = None
    for candidate in found:
        if worst is None or candidate.current_a > worst.current_a * (1.0 + MORE):
            worst = candidate
    return worst


def _broken(facts: Facts, part: TwoEnded) -> Iterator[AfterBreak]:
    for case_id, each in facts.breaks.items():
        for breaks in each:
            network = breaks.solution.network
            k = network.edge_index[part.id]
            if breaks.broken_by[k] >= 0:
                by = network.edge_ids[breaks.broken_by[k]]
                yield AfterBreak(float(breaks.broken_a[k]), f"if {by} opened", case_id)


def _broken_splice(facts: Facts, splice: Splice) -> Iterator[AfterBreak]:
    allowed_a = facts.ratings[splice.id].allowed_a
    for case_id, each in facts.breaks.items():
        for breaks in each:
            node = breaks.solution.network.node_index[splice.node]
            edges, bound_a = breaks.around(node), _bound_a(breaks, node)
            if not edges or allowed_a is None or bound_a <= allowed_a:
                continue
            if len(edges) > MOST_SOLVES:
                yield AfterBreak(bound_a, "with any one way open", case_id, exact=False)
                continue
            for e in edges:
                opened_a = through_joint(_without_edge(breaks.solution, e), splice.node)
                yield AfterBreak(opened_a, f"if {breaks.solution.network.edge_ids[e]} opened", case_id)


def _bound_a(breaks: Breaks, node: int) -> float:
    """What no break makes a joint pass more than, in A."""
    solution, network = breaks.solution, breaks.solution.network
    if (network.source_plus == node).any() or (network.source_minus == node).any():
        return math.inf  # what an output takes over is not among the currents of the edges
    at = (network.edge_a == node) | (network.edge_b == node)
    total = float(breaks.broken_a[at].sum())
    for ends in (network.load_plus, network.load_minus):
        total += float(np.abs(solution.load_a[ends == node]).sum())
    return 0.5 * total


def _without_edge(solution: Solution, edge: int) -> Solution:
    resistance = solution.network.edge_resistance_ohm.copy()
    resistance[edge] = np.inf
    return solve(replace(solution.network, edge_resistance_ohm=resistance))
