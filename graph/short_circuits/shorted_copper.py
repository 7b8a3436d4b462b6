"""Copper with a short circuit in it and its loads off: what flows in the short, in every branch and output.

Where the copper is linear a short draws its no-load voltage over the resistance between its ends (Thévenin's
theorem), so that one factor serves all shorts of a state. Where a limit that holds its current is reached, it is
solved in full; a limiter that holds is then a source of no voltage that gives no more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from loadloom.graph.circuit.linear_circuit import Circuit
from loadloom.graph.circuit.network import FloatArray, Network, without_loads
from loadloom.graph.circuit.solve import solve

SHORT = "short circuit"

RIGID_OHM = 1e-9
"""Below this two nodes count as joined without resistance."""

NOTHING_V = 1e-9
NOTHING_A = 1e-9
SEEKING = 6
"""Times that the states of diodes are corrected."""
ROUNDING = 1e-9


@dataclass(frozen=True)
class Drawn:
    """What flows in a short, in A: of its own, of the edges (E,) and outputs (S,); which of these hold theirs."""

    short_a: float
    edge_a: FloatArray
    source_a: FloatArray
    holding: tuple[str, ...]


def shorted(network: Network, a: int, b: int) -> Network:
    """A network with its loads taken off and a 0 Ω branch ``SHORT`` between two nodes."""
    return replace(
        without_loads(network),
        edge_ids=(*network.edge_ids, SHORT),
        edge_a=np.append(network.edge_a, a),
        edge_b=np.append(network.edge_b, b),
        edge_resistance_ohm=np.append(network.edge_resistance_ohm, 0.0),
        edge_drop_v=np.append(network.edge_drop_v, 0.0),
        edge_diode=np.append(network.edge_diode, False),
    )


class ShortedCopper:
    """One state of the copper. ``held_a``: outputs and limiters by id that hold their current at this without
    opening.
    """

    def __init__(self, network: Network, held_a: Mapping[str, float]) -> None:
        hold = [
            min(a, held_a.get(x, np.inf)) for x, a in zip(network.source_ids, network.source_hold_a, strict=True)
        ]
        self.network = n = replace(network, source_hold_a=np.array(hold, dtype=np.float64))
        self.limiters = {name: held_a[name] for name in n.edge_ids if name in held_a}
        self._limit_at = np.array([n.edge_index[name] for name in self.limiters], dtype=np.int64)
        self._limit_a = np.array(list(self.limiters.values()), dtype=np.float64)
        self._diodes = np.flatnonzero(n.edge_diode)
        self._known: dict[tuple[int, int], Drawn] = {}
        self._blocked = np.zeros(len(n.edge_ids), dtype=np.bool_)
        self._circuits: dict[bytes, _Linear] = {}

    def drawn(self, a: int, b: int) -> Drawn:
        """What flows in a short circuit from node ``a`` to node ``b``."""
        if (a, b) not in self._known:
            found = self._linear(a, b)
            if found is None or self._over(found):
                found = self._in_full(a, b)
            self._known[a, b] = found
        return self._known[a, b]

    def _linear(self, a: int, b: int) -> Drawn | None:
        """By Thévenin's theorem, with the diodes that block found by correcting the wrong ones; None where that
        does not settle, or where outputs without resistance are in the way.
        """
        n, at = self.network, self._diodes
        for _ in range(SEEKING):
            blocked = self._blocked
            known = blocked.tobytes()
            if known not in self._circuits:
                self._circuits[known] = _Linear(n, blocked)
            found = self._circuits[known].drawn(a, b)
            if found is None:
                return None
            short_a, branch_a, node_v = found
            across_v = node_v[n.edge_a[at]] - node_v[n.edge_b[at]] - n.edge_drop_v[at]
            wrong = np.where(blocked[at], across_v > NOTHING_V, branch_a[at] < -NOTHING_A)
            if not wrong.any():
                edges = len(n.edge_ids)
                return Drawn(short_a, branch_a[:edges], branch_a[edges:], ())
            self._blocked = blocked.copy()
            self._blocked[at[wrong]] ^= True
        return None

    def _over(self, drawn: Drawn) -> bool:
        """Whether some output or limiter would hold less than this."""
        sources = drawn.source_a > self.network.source_hold_a * (1.0 + ROUNDING)
        limiters = np.abs(drawn.edge_a[self._limit_at]) > self._limit_a * (1.0 + ROUNDING)
        return bool(sources.any() or limiters.any())

    def _in_full(self, a: int, b: int) -> Drawn:
        network = shorted(self.network, a, b)
        signs: dict[str, int] = {}
        while True:
            solution = solve(_with_limits(network, signs, self.limiters))
            edge_a = solution.edge_a[: len(self.network.edge_ids)].copy()
            own = len(self.network.source_ids)
            for name, amperes in zip(signs, solution.source_a[own:].tolist(), strict=True):
                edge_a[self.network.edge_index[name]] = signs[name] * amperes
            over = np.abs(edge_a[self._limit_at]) > self._limit_a * (1.0 + ROUNDING)
            fresh = {
                name: 1 if edge_a[at] > 0.0 else -1
                for name, at, above in zip(self.limiters, self._limit_at.tolist(), over.tolist(), strict=True)
                if above and name not in signs
            }
            if not fresh:
                return Drawn(solution.current_a(SHORT), edge_a, solution.source_a[:own], solution.holding)
            signs |= fresh


class _Linear:
    """The copper with some of its diodes blocking and all others conducting."""

    def __init__(self, network: Network, blocked: npt.NDArray[np.bool_]) -> None:
        n = network
        self.circuit = Circuit(
            len(n.node_ids),
            np.concatenate([n.edge_a, n.source_minus]),
            np.concatenate([n.edge_b, n.source_plus]),
            np.concatenate([np.where(blocked, np.inf, n.edge_resistance_ohm), n.source_resistance_ohm]),
            np.concatenate([np.where(n.edge_diode, -n.edge_drop_v, 0.0), n.source_voltage_v]),
            n.source_minus,
        )

    @cached_property
    def _idle(self) -> tuple[FloatArray, FloatArray]:
        return self.circuit.solve(np.zeros(self.circuit.nodes))

    def drawn(self, a: int, b: int) -> tuple[float, FloatArray, FloatArray] | None:
        """Currents of the short and of the branches (E + S,) in A, and node voltages (N,) in V."""
        if self.circuit.conflict.any():
            return None
        idle_v, idle_a = self._idle
        if self.circuit.piece[a] != self.circuit.piece[b]:
            return 0.0, idle_a, idle_v
        unit = np.zeros(self.circuit.nodes)
        unit[a] -= 1.0
        unit[b] += 1.0
        unit_v, unit_a = self.circuit.solve(unit)
        volts = float(idle_v[a] - idle_v[b])
        ohm = volts + float(unit_v[b] - unit_v[a])
        if ohm > RIGID_OHM:
            short_a = volts / ohm
            return short_a, idle_a + short_a * (unit_a - idle_a), idle_v + short_a * (unit_v - idle_v)
        # Joined without resistance already: the short makes no way that is new.
        return (0.0, idle_a, idle_v) if abs(volts) <= NOTHING_V else None


def _with_limits(network: Network, signs: Mapping[str, int], held_a: Mapping[str, float]) -> Network:
    """Limiters that are reached as sources of 0 V, in the direction in which they are reached (1: from a to b)."""
    if not signs:
        return network
    at = np.array([network.edge_index[name] for name in signs], dtype=np.int64)
    forward = np.array(list(signs.values())) > 0
    ohm = network.edge_resistance_ohm.copy()
    ohm[at] = np.inf
    none = np.zeros(len(at))
    return replace(
        network,
        edge_resistance_ohm=ohm,
        source_ids=(*network.source_ids, *signs),
        source_plus=np.append(network.source_plus, np.where(forward, network.edge_b[at], network.edge_a[at])),
        source_minus=np.append(network.source_minus, np.where(forward, network.edge_a[at], network.edge_b[at])),
        source_voltage_v=np.append(network.source_voltage_v, none),
        source_resistance_ohm=np.append(network.source_resistance_ohm, network.edge_resistance_ohm[at]),
        source_hold_a=np.append(network.source_hold_a, [held_a[name] for name in signs]),
    )
