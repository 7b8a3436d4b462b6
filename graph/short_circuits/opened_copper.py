"""Copper with a short circuit in it, loads off, and any of its devices and outputs opened, from one factor.

Every branch that can open or block gets a voltage of its own that makes its current zero (compensation theorem).
A table of the currents per volt in these branches, with the currents of the whole copper as its last column, is
small; opening a branch is one exchange of its current and its voltage in it (principal pivot), and closing it the
same exchange again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.linear_circuit import Circuit
from loadloom.graph.circuit.network import BoolArray, FloatArray, IntArray, Network

RIGID_OHM = 1e-9
"""Below this two nodes count as joined without resistance."""

BESIDE_OHM = 0.01
"""In series with branches of hardly any resistance while the copper is factored, of the size of copper's own."""

HARDLY_OHM = 1e-5
SETTLED = 1e-7
"""Least reciprocal condition at which that resistance is taken out again."""

DEAD_S = 1e-9
"""A branch in which one volt drives less than this many amperes lies in no loop."""

NOTHING_V = 1e-9
NOTHING_A = 1e-9
LEFT = 1e-10
"""Share of the greatest current that may be left in an open branch."""

SEEKING = 6
"""Times that the states of diodes are corrected."""

MOST_BRANCHES = 80
"""Branches that can open or block, up to which a table of them is made."""


@dataclass(frozen=True)
class ShortedTable:
    """The copper with one short and all branches closed: a table (K, K + 1), and all currents (B + 1, K + 1), of
    edges, outputs and the short, first per volt in each of the K branches, then as they are.
    """

    table: FloatArray
    every: FloatArray
    diodes: BoolArray

    def currents_a(self, table: FloatArray, out: BoolArray) -> tuple[FloatArray, BoolArray]:
        """The currents (N, B + 1) with the branches ``out`` (N, K) open, which ``table`` (N, K, K + 1) has
        exchanged already; second, of which states (N,) the diodes are settled.
        """
        settled, blocked = np.ones(len(out), dtype=np.bool_), np.zeros(out.shape, dtype=np.bool_)
        if self.diodes.any():
            table, blocked, settled = self._with_diodes(table, out)
        shut = out | blocked
        volts = np.where(shut, table[:, :, -1], 0.0)
        # Once more with what is left in the branches that carry nothing, so that rounding of the exchanges is gone.
        left_a = np.where(shut, self.table[:, -1] + volts @ self.table[:, :-1].T, 0.0)
        volts -= np.where(shut, np.matmul(table[:, :, :-1], left_a[:, :, None])[:, :, 0], 0.0)
        left_a = np.where(shut, self.table[:, -1] + volts @ self.table[:, :-1].T, 0.0)
        current_a = self.every[:, -1] + volts @ self.every[:, :-1].T
        most_a = np.maximum(np.abs(current_a).max(axis=1), 1.0)
        return current_a, settled & (np.abs(left_a).max(axis=1, initial=0.0) <= LEFT * most_a)

    def _with_diodes(self, table: FloatArray, out: BoolArray) -> tuple[FloatArray, BoolArray, BoolArray]:
        """Diodes that would carry backwards are exchanged, and back where that was wrong."""
        table, blocked, able = table.copy(), np.zeros(out.shape, dtype=np.bool_), self.diodes & ~out
        for left in range(SEEKING, -1, -1):
            last = table[:, :, -1]
            # The voltage that stops a diode is what lies across it, less its drop, the other way round.
            wrong = able & np.where(blocked, last < -NOTHING_V, last < -NOTHING_A)
            if not left or not wrong.any():
                break
            for k in np.flatnonzero(wrong.any(axis=0)).tolist():
                rows = np.flatnonzero(wrong[:, k] & (blocked[:, k] | (table[:, k, k] > DEAD_S)))
                table[rows] = exchanged(table[rows], np.full(len(rows), k))
                blocked[rows, k] ^= True
        settled: BoolArray = np.array(~wrong.any(axis=1))
        return table, blocked, settled


def exchanged(table: FloatArray, at: IntArray) -> FloatArray:
    """Tables (N, K, K + 1) with current and voltage of one branch each exchanged."""
    each = np.arange(len(table))
    column = table[each, :, at]
    pivot = column[each, at]
    row = table[each, at] / pivot[:, None]
    found = table - column[:, :, None] * row[:, None, :]
    found[each, at] = -row
    found[each, :, at] = column / pivot[:, None]
    found[each, at, at] = 1.0 / pivot
    return found


class OpenedCopper:
    """A piece of copper, its loads off; B branches, edges before outputs, of which K can open or block.

    ``acting``: what can open, by id.
    """

    def __init__(self, network: Network, acting: Iterable[str]) -> None:
        n = network
        self.names = (*n.edge_ids, *n.source_ids)
        self.place = {name: k for k, name in enumerate(self.names)}
        diode = np.concatenate([n.edge_diode, np.zeros(len(n.source_ids), dtype=np.bool_)])
        can = diode.copy()
        can[[self.place[name] for name in acting]] = True
        ohm = np.concatenate([n.edge_resistance_ohm, n.source_resistance_ohm])
        self.at: IntArray = np.flatnonzero(can & np.isfinite(ohm))
        self.diodes: BoolArray = diode[self.at]
        self._hardly = np.flatnonzero(ohm[self.at] < HARDLY_OHM)
        ohm[self.at[self._hardly]] += BESIDE_OHM
        self._circuit = Circuit(
            len(n.node_ids),
            np.concatenate([n.edge_a, n.source_minus]),
            np.concatenate([n.edge_b, n.source_plus]),
            ohm,
            np.concatenate([np.where(n.edge_diode, -n.edge_drop_v, 0.0), n.source_voltage_v]),
            n.source_minus,
        )

    @cached_property
    def _response(self) -> FloatArray | None:
        """Voltages of the nodes, then currents of the branches (N + B, K + 1) for one volt in each of the K
        branches, and as they are.
        """
        circuit, count, each = self._circuit, len(self.at), np.arange(len(self.at))
        if count > MOST_BRANCHES or circuit.conflict.any() or len(circuit.reference) != 1:
            return None
        drive = 1.0 / circuit.resistance_ohm[self.at]
        into = np.zeros((circuit.nodes, count + 1))
        np.add.at(into, (circuit.end_b[self.at], each), drive)
        np.add.at(into, (circuit.end_a[self.at], each), -drive)
        volts, amps = circuit.solve(into)
        volts[:, :-1] -= volts[:, -1:]
        amps[:, :-1] -= amps[:, -1:]
        amps[self.at, each] += drive
        return np.concatenate([volts, amps])

    def shorted(self, a: int, b: int) -> ShortedTable | None:
        """With a short from node ``a`` to node ``b``; None where nothing is said, as of outputs without resistance
        side by side.
        """
        every = self._response
        if every is None:
            return None
        circuit, nodes = self._circuit, self._circuit.nodes
        unit = np.zeros((nodes, 2))
        unit[a, 1] -= 1.0
        unit[b, 1] += 1.0
        drawn = np.concatenate([np.diff(x)[:, 0] for x in circuit.solve(unit)])
        hardly = self._hardly
        if len(hardly):
            # A resistance that was put in is a voltage in proportion to the current.
            through = nodes + self.at[hardly]
            rows = np.eye(len(hardly)) - BESIDE_OHM * every[through][:, hardly]
            if np.linalg.cond(rows) > 1.0 / SETTLED:
                return None
            right = np.column_stack([every[through], drawn[through]])
            right = every[:, hardly] @ (BESIDE_OHM * np.linalg.solve(rows, right))
            every, drawn = every + right[:, :-1], drawn + right[:, -1]
        across, ohm = every[a] - every[b], float(drawn[b] - drawn[a])
        if ohm <= RIGID_OHM:
            return None
        every = np.concatenate([every[nodes:] + np.outer(drawn[nodes:], across / ohm), (across / ohm)[None]])
        return ShortedTable(every[self.at], every, self.diodes)
