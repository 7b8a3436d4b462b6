"""A solved network as one list of branches, edges then outputs: what breaks and spread start from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from loadloom.graph.circuit.chains import Chains
from loadloom.graph.circuit.linear_circuit import Circuit
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import CONFLICT_OHM

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Copper:
    """Branches (B,) of a solution; a current is positive from a to b, an output's from minus to plus.

    With ``conducting`` blocking diodes and outputs that hold their current are open; otherwise they count as
    closed, since an open circuit can make them conduct.
    """

    solution: Solution
    conducting: bool = False

    @property
    def edges(self) -> int:
        """Branches below this number are edges of the network."""
        return len(self.solution.network.edge_ids)

    @cached_property
    def end_a(self) -> IntArray:
        """(B,) node that a positive current leaves."""
        net = self.solution.network
        return np.concatenate([net.edge_a, net.source_minus])

    @cached_property
    def end_b(self) -> IntArray:
        """(B,) node that a positive current enters."""
        net = self.solution.network
        return np.concatenate([net.edge_b, net.source_plus])

    @cached_property
    def resistance_ohm(self) -> FloatArray:
        """(B,) resistances, with the placeholder where outputs conflict."""
        net = self.solution.network
        resistance = np.concatenate([net.edge_resistance_ohm, net.source_resistance_ohm])
        resistance[self._marked(self.solution.conflicts)] = CONFLICT_OHM
        if self.conducting:
            resistance[self._marked((*self.solution.blocking, *self.solution.holding))] = np.inf
        return resistance

    @cached_property
    def current_a(self) -> FloatArray:
        """(B,) currents."""
        return np.concatenate([self.solution.edge_a, self.solution.source_a])

    @cached_property
    def closed(self) -> BoolArray:
        """(B,) branches that can conduct."""
        return np.isfinite(self.resistance_ohm)

    @cached_property
    def chains(self) -> Chains:
        """Blocks, chains and segments of the closed branches; nodes of loads and outputs end a segment."""
        net = self.solution.network
        busy = np.zeros(len(net.node_ids), dtype=np.bool_)
        for attached in (net.load_plus, net.load_minus, net.source_plus, net.source_minus):
            busy[attached] = True
        return Chains(len(net.node_ids), self.end_a, self.end_b, self.resistance_ohm, self.closed, busy)

    @cached_property
    def segment_a(self) -> FloatArray:
        """(segments,) currents along their chains."""
        chains = self.chains
        current = np.zeros(chains.segments)
        current[chains.segment] = chains.sign * self.current_a[chains.member]
        return current

    def circuit(self) -> Circuit:
        """The conducting branches without voltages: how load currents spread."""
        net = self.solution.network
        resistance = Copper(self.solution, conducting=True).resistance_ohm
        return Circuit(
            len(net.node_ids), self.end_a, self.end_b, resistance, np.zeros(len(resistance)), net.source_minus
        )

    def _marked(self, ids: tuple[str, ...]) -> IntArray:
        net = self.solution.network
        wanted = set(ids)
        if not wanted:
            return np.zeros(0, dtype=np.int64)
        names = (*net.edge_ids, *net.source_ids)
        return np.array([k for k, name in enumerate(names) if name in wanted], dtype=np.int64)
