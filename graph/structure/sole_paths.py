"""Paths out whose current comes from one output alone, whatever fails on them."""

from __future__ import annotations

from loadloom.graph.elements import TwoEnded
from loadloom.graph.harness import Harness
from loadloom.graph.structure.topology import Topology


class SoleWays:
    """The feeds that one output alone feeds, no load draws from another onto, and that share no cable, bundle or
    connector with another feed, whose current a fault could bring.
    """

    def __init__(self, harness: Harness, topology: Topology) -> None:
        self._topology = topology
        self._drawn_onto = {topology.piece[load.node_minus] for load in harness.loads if load.fitted}
        bodies: dict[str, set[int]] = {}
        wires = [(each, (each.bundle, each.cable)) for each in harness.conductors]
        pins = [(each, (each.connector,)) for each in harness.contacts]
        for each, shared in (*wires, *pins):
            for node in (each.node_a, each.node_b):
                if topology.feeds(node):
                    for body in shared:
                        if body is not None:
                            bodies.setdefault(body, set()).add(topology.piece[node])
        self._mixed = {piece for pieces in bodies.values() if len(pieces) > 1 for piece in pieces}

    def hold(self, part: TwoEnded) -> bool:
        """Whether a part is on such a way."""
        where, own = self._topology, self._topology.piece[part.node_a]
        if len(where.feeds(part.node_a)) != 1 or where.returns(part.node_a):
            return False
        return own not in self._drawn_onto and own not in self._mixed
