"""What solving one case gives: currents and voltages with an id index, and how good they are."""

from __future__ import annotations

from dataclasses import dataclass

from loadloom.graph.circuit.network import FloatArray, Network


@dataclass(frozen=True)
class Solution:
    """State of one network.

    Shapes follow ``network``: ``node_v`` (N,) relative to the reference node of each separate piece,
    ``edge_a`` (E,) positive from a to b, ``source_a`` (S,), ``load_v`` (L,) which is 0 for an unfed load,
    ``load_a`` (L,). ``residual_a`` is
    the greatest sum of currents at any node. ``unfed`` are loads with no way to or back from an output;
    ``collapsed`` are constant-power loads that the network can't feed at any voltage (solved at the best
    voltage found, their results marked). ``holding`` are outputs at their constant-current limit.
    ``equal_share`` are edges and outputs of 0 Ω whose share is by assumption equal. ``conflicts`` are outputs
    and diodes whose voltages disagree through 0 Ω: solved with a placeholder of 1 mΩ each, their results
    marked. ``blocking`` are diodes that block. ``off`` are outputs of converters that do not run, for want of
    voltage at their input.
    """

    network: Network
    node_v: FloatArray
    edge_a: FloatArray
    source_a: FloatArray
    load_v: FloatArray
    load_a: FloatArray
    residual_a: float
    unfed: tuple[str, ...] = ()
    collapsed: tuple[str, ...] = ()
    holding: tuple[str, ...] = ()
    equal_share: tuple[str, ...] = ()
    conflicts: tuple[str, ...] = ()
    blocking: tuple[str, ...] = ()
    off: tuple[str, ...] = ()
    iterations: int = 0

    def current_a(self, edge_id: str) -> float:
        """Signed current of an edge in A."""
        return float(self.edge_a[self.network.edge_index[edge_id]])

    def across_v(self, plus: str, minus: str) -> float:
        """Voltage between two nodes in V, at least 0; 0 where one is no part of the network: nothing feeds it."""
        index = self.network.node_index
        if plus not in index or minus not in index:
            return 0.0
        return abs(float(self.node_v[index[plus]] - self.node_v[index[minus]]))
