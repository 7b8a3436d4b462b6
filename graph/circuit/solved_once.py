"""Solving networks that are electrically the same once: cases often differ in trip settings only."""

from __future__ import annotations

from dataclasses import replace

from loadloom.graph.circuit.network import Network
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve


class SolvedOnce:
    """``solve`` with a memory, kept for one analysis."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], Solution] = {}

    def __call__(self, network: Network) -> Solution:
        """The solution of a network, under its own case and corner.

        What the solve settled in the network, such as the powers of converters, stays as it was found.
        """
        key = network.electrical_key
        if key not in self._known:
            self._known[key] = solve(network)
        known = self._known[key]
        return replace(known, network=replace(known.network, case=network.case, corner=network.corner))
