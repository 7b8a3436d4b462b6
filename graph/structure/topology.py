"""What hangs together with what: feed and return, and which outputs feed a joint."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import networkx as nx

from loadloom.graph.model.elements import Conductor, Contact, Switch, TwoEnded
from loadloom.graph.model.harness import Harness
from loadloom.graph.structure.sense_leads import sense_leads

MOST_SERIES = 1000
"""Paths through outputs in series that are followed from one load."""


@dataclass(frozen=True)
class Topology:
    """The pieces of copper of a harness, outputs and loads taken out.

    ``piece`` maps a joint to the number of the piece of copper that it is part of; ``plus`` and ``minus`` give,
    for a piece, the outputs whose plus or minus terminal it holds; ``lower`` the outputs with their plus terminal
    on it and the pieces of their minus terminals. ``sensing``: parts that lead to a remote-sense terminal only.
    """

    piece: Mapping[str, int]
    plus: Mapping[int, tuple[str, ...]]
    minus: Mapping[int, tuple[str, ...]]
    lower: Mapping[int, tuple[tuple[str, int], ...]]
    sensing: frozenset[str] = frozenset()

    def feeds(self, node: str) -> tuple[str, ...]:
        """Outputs whose plus terminal is joined to a node."""
        return self.plus.get(self.piece[node], ())

    def returns(self, node: str) -> tuple[str, ...]:
        """Outputs whose minus terminal is joined to a node."""
        return self.minus.get(self.piece[node], ())

    def role(self, node: str) -> str:
        """``feed``, ``return`` or ``""`` for the copper at a node.

        A piece with a plus terminal counts as feed even where it is another output's return (outputs in series).
        """
        if self.feeds(node):
            return "feed"
        return "return" if self.returns(node) else ""

    def fed_by(self, plus: str, minus: str) -> tuple[str, ...]:
        """Outputs with a feed to ``plus`` and a return from ``minus``, also through others in series."""
        return tuple(dict.fromkeys(output for series in self.series(plus, minus) for output in series))

    def series(self, plus: str, minus: str) -> tuple[tuple[str, ...], ...]:
        """The ways from ``plus`` through outputs to ``minus``, each the outputs in series on it; most have one.

        Of ways through several pieces of copper those through the fewest; at most ``MOST_SERIES`` of them.
        """
        goal = self.piece[minus]
        paths: list[tuple[int, tuple[str, ...]]] = [(self.piece[plus], ())]
        for _ in self.lower:
            paths = [
                (below, (*outputs, output))
                for at, outputs in paths
                for output, below in self.lower.get(at, ())
                if output not in outputs
            ][:MOST_SERIES]
            if found := tuple(outputs for at, outputs in paths if at == goal):
                return found
        return ()


def may_join(part: TwoEnded) -> bool:
    """Whether a part joins its ends as drawn; a switch that is open as drawn closes in some arrangement, or by
    welding.
    """
    return part.fitted or (isinstance(part, Switch) and part.welds)


def topology(harness: Harness) -> Topology:
    """Find the pieces of copper. Parts that can't join their ends are left out; so are chassis bonds."""
    copper: nx.Graph = nx.Graph()
    copper.add_nodes_from(harness.graph)
    copper.add_edges_from((e.node_a, e.node_b) for e in harness.two_ended if may_join(e))
    piece: dict[str, int] = {}
    for number, nodes in enumerate(nx.connected_components(copper)):
        piece.update(dict.fromkeys(nodes, number))
    plus: dict[int, list[str]] = {}
    minus: dict[int, list[str]] = {}
    lower: dict[int, list[tuple[str, int]]] = {}
    for output in harness.outputs:
        if output.fitted:
            plus.setdefault(piece[output.node_plus], []).append(output.id)
            minus.setdefault(piece[output.node_minus], []).append(output.id)
            lower.setdefault(piece[output.node_plus], []).append((output.id, piece[output.node_minus]))
    return Topology(
        piece,
        {number: tuple(ids) for number, ids in plus.items()},
        {number: tuple(ids) for number, ids in minus.items()},
        {number: tuple(steps) for number, steps in lower.items()},
        frozenset(name for lead in sense_leads(harness, None) for name in lead.parts),
    )


def part_role(harness: Harness, where: Topology, part: Conductor | Contact) -> str:
    """Role of a conductor or contact: ``sense`` where it leads to a remote-sense terminal only, else as its
    copper."""
    if part.id in where.sensing:
        return "sense"
    return where.role(part.node_a)
