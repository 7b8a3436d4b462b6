"""What every part carries once one parallel path has opened, or one of several joined outputs is off."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.circuit.joint_current import through_joint
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.elements import Splice, TwoEnded
from loadloom.graph.model.results import Rating
from loadloom.graph.open_circuits.single_open_circuits import OpenCircuits

MORE = 1e-9
"""Share by which another open circuit must be worse to be named instead."""

MOST_SOLVES = 200
"""Open circuits around one splice that are solved one by one; of more, its current is bounded."""


@dataclass(frozen=True, slots=True)
class AfterOpening:
    """The greatest current of a part in A; ``why`` in words; ``exact`` false for a bound above it."""

    part: TwoEnded | Splice
    current_a: float
    why: str
    case: str
    exact: bool = True


Opened = Mapping[str, Sequence[OpenCircuits]]
"""Single open circuits of the continuous solutions, by case id."""

OutputsOff = Mapping[str, Sequence[tuple[str, Solution]]]
"""The steady states with one joined output off, each with that output's id, by case id."""


def worst_after_opening(
    parts: Iterable[TwoEnded | Splice], opened: Opened, off: OutputsOff, ratings: Mapping[str, Rating]
) -> dict[str, AfterOpening]:
    """The worst of every part over all cases, by id; left out where no open circuit moves current onto it.

    A splice's currents are solved one open circuit after the other, unless none can bring it over its rating.
    """
    found = {}
    for part in parts:
        here = _broken_splice(opened, part, ratings) if isinstance(part, Splice) else _broken(opened, part)
        worst: AfterOpening | None = None
        for candidate in (*here, *_with_output_off(off, part)):
            if worst is None or candidate.current_a > worst.current_a * (1.0 + MORE):
                worst = candidate
        if worst is not None:
            found[part.id] = worst
    return found


def _with_output_off(off: OutputsOff, part: TwoEnded | Splice) -> Iterator[AfterOpening]:
    for case_id, states in off.items():
        for name, after in states:
            here_a = through_joint(after, part.node) if isinstance(part, Splice) else abs(after.current_a(part.id))
            yield AfterOpening(part, here_a, f"if output {name} were off", case_id)


def _broken(opened: Opened, part: TwoEnded) -> Iterator[AfterOpening]:
    for case_id, each in opened.items():
        for open_circuits in each:
            network = open_circuits.solution.network
            k = network.edge_index[part.id]
            if open_circuits.open_circuit_by[k] >= 0:
                by = network.edge_ids[open_circuits.open_circuit_by[k]]
                yield AfterOpening(part, float(open_circuits.open_circuit_a[k]), f"if {by} opened", case_id)


def _broken_splice(opened: Opened, splice: Splice, ratings: Mapping[str, Rating]) -> Iterator[AfterOpening]:
    allowed_a = ratings[splice.id].allowed_a
    for case_id, each in opened.items():
        for open_circuits in each:
            node = open_circuits.solution.network.node_index[splice.node]
            edges, bound_a = open_circuits.around(node), _bound_a(open_circuits, node)
            if not edges or allowed_a is None or bound_a <= allowed_a:
                continue
            if len(edges) > MOST_SOLVES:
                yield AfterOpening(splice, bound_a, "with any one open circuit", case_id, exact=False)
                continue
            for e in edges:
                opened_a = through_joint(_without_edge(open_circuits.solution, e), splice.node)
                yield AfterOpening(
                    splice, opened_a, f"if {open_circuits.solution.network.edge_ids[e]} opened", case_id
                )


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
