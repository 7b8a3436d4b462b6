"""Copper with a short circuit in it, loads off, and any of its devices and outputs opened, from one factor.

Every branch that can open or block gets a voltage of its own that makes its current zero (compensation theorem).
A table of the currents per volt in these branches, with the currents of the whole copper as its last column, is
small; opening a branch is one exchange of its current and its voltage in it (principal pivot), and closing it the
same exchange again. A diode that blocks and a limit that holds its current are such branches as well: at the end of
what they can carry they take whatever voltage there is (a linear complementarity problem with one answer: more
voltage in a branch drives more through it).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.linear_circuit import Circuit
from loadloom.graph.circuit.network import BoolArray, FloatArray, IntArray, Network
from loadloom.graph.circuit.solve import CONFLICT_OHM

RIGID_OHM = 1e-9
"""Below this two nodes count as joined without resistance."""

BESIDE_OHM = 0.01
"""In series with branches of hardly any resistance while the copper is factored, of the size of copper's own."""

HARDLY_OHM = 1e-5
LOOP_OHM = 1e-9
"""Left in what has no resistance where it forms loops, so that equal shares flow in these."""

SETTLED = 1e-9
"""Least reciprocal condition at which that resistance is taken out again."""

DEAD_S = 1e-9
"""A branch in which one volt drives less than this many amperes lies in no loop."""

NOTHING_V = 1e-9
NOTHING_A = 1e-9
LEFT = 1e-10
"""Share of the greatest current that may be left in an open branch."""

ROUNDING = 1e-9
"""Share of a limit by which rounding may exceed it."""

LEAK_S = 1e-6
"""Conductance beside a branch while it is sought what diodes block and what holds its current."""

SEEKING = 6
"""Times that all that is wrong with them is corrected at once."""

MOST_TURNS = 60
"""Times that the first wrong one alone is corrected after that."""

REFINEMENTS = 3

MOST_BRANCHES = 80
"""Branches that can open or block, up to which a table of them is made."""


@dataclass(frozen=True)
class Limits:
    """Between which currents (K,) in A each branch can carry any; at either end it takes whatever voltage there is:
    a diode at 0, what holds its current without opening at that current.
    """

    least_a: FloatArray
    most_a: FloatArray

    def beyond(self, amps: FloatArray) -> IntArray:
        """1 for currents (N, K) above their most, -1 for those below their least, 0 else."""
        above = amps > self.most_a + ROUNDING * np.abs(self.most_a) + NOTHING_A
        below = amps < self.least_a - ROUNDING * np.abs(self.least_a) - NOTHING_A
        return above.astype(np.int64) - below


@dataclass(frozen=True)
class Opened:
    """Currents (N, B + 1) of the branches and the short in N states; which states (N,) are settled; and which
    branches (N, K) are at the end of what they can carry.
    """

    current_a: FloatArray
    settled: BoolArray
    at_end: BoolArray


@dataclass(frozen=True)
class ShortedTables:
    """The copper with each of S shorts and all branches closed: a table (S, K, K + 1) each, and all currents
    (S, B + 1, K + 1), of edges, outputs and the short, first per volt in each of the K branches, then as they are.
    ``known`` (S,): of which anything is said, as not of outputs without resistance side by side.
    """

    table: FloatArray
    every: FloatArray
    known: BoolArray

    def currents_a(
        self, short: IntArray, out: BoolArray, limits: Limits, table: FloatArray | None = None
    ) -> Opened:
        """With the branches ``out`` (N, K) open in the shorts ``short`` (N,). ``table`` (N, K, K + 1) has exchanged
        them already, where it is given.
        """
        closed = self.table[short]
        volts, end = np.zeros(out.shape), np.zeros(out.shape, dtype=np.int64)
        beyond = np.ones(len(out), dtype=np.bool_)
        if table is not None:
            volts = np.where(out, table[:, :, -1], 0.0)
            # Once more with what is left in open branches, so that rounding of the exchanges is gone.
            left_a = np.where(out, _amps(closed, volts), 0.0)
            volts -= np.where(out, _times(table[:, :, :-1], left_a), 0.0)
            beyond = np.asarray((~out & (limits.beyond(_amps(closed, volts)) != 0)).any(axis=1))
        settled = self.known[short]
        beyond &= settled
        if beyond.any():
            volts[beyond], end[beyond], settled[beyond] = _within(closed[beyond], out[beyond], limits)
        amps = _amps(closed, volts)
        left_a = np.where(out | (end != 0), amps - _ends_a(end, limits), 0.0)
        current_a = _amps(self.every[short], volts)
        most_a = np.maximum(np.abs(current_a).max(axis=1), 1.0)
        settled &= np.abs(left_a).max(axis=1, initial=0.0) <= LEFT * most_a
        settled &= ~(~out & (end == 0) & (limits.beyond(amps) != 0)).any(axis=1)
        # What a short beside a path of no resistance takes is a share, which is not told where something holds.
        shared = ~np.asarray(self.every[:, -1].any(axis=1))[short]
        settled &= ~(shared & ((end > 0) | ((end < 0) & (limits.least_a < 0.0))).any(axis=1))
        return Opened(current_a, settled, end != 0)


def _times(matrices: FloatArray, values: FloatArray) -> FloatArray:
    """Matrices (N, M, K) times values (N, K): (N, M)."""
    found: FloatArray = np.matmul(matrices, values[:, :, None])[:, :, 0]
    return found


def _amps(tables: FloatArray, volts: FloatArray) -> FloatArray:
    """Currents (N, M) of branches with these voltages (N, K) in those that can open, by tables (N, M, K + 1)."""
    found: FloatArray = tables[:, :, -1] + _times(tables[:, :, :-1], volts)
    return found


def _within(table: FloatArray, out: BoolArray, limits: Limits) -> tuple[FloatArray, IntArray, BoolArray]:
    """Voltages (N, K) that keep open branches at no current and all others within their limits, the end at which
    each is held (1 most, -1 least, 0 neither), and which states (N,) are settled. ``table`` (N, K, K + 1).

    While ends are sought, a branch leaks in proportion to its voltage, so that of several in series that would
    hold one does.
    """
    count = out.shape[1]
    volts, end = np.zeros(out.shape), np.zeros(out.shape, dtype=np.int64)
    rows = np.arange(len(out))
    leaky = table[:, :, :-1] + LEAK_S * np.eye(count)
    for turn in range(SEEKING + MOST_TURNS):
        shut = out[rows] | (end[rows] != 0)
        missing_a = np.where(shut, _ends_a(end[rows], limits) - table[rows, :, -1], 0.0)
        volts[rows] = np.linalg.solve(_of_those(shut, leaky[rows]), missing_a[:, :, None])[:, :, 0]
        beyond = np.where(shut, 0, limits.beyond(table[rows, :, -1] + _times(leaky[rows], volts[rows])))
        wrong = (beyond != 0) | (end[rows] * volts[rows] > NOTHING_V)
        if turn >= SEEKING:
            # One at a time, always the first: this ends for sure (Murty, 1974), if slowly.
            wrong &= np.cumsum(wrong, axis=1) == 1
        end[rows] = np.where(wrong, beyond, end[rows])
        rows = rows[wrong.any(axis=1)]
        if not len(rows):
            break
    settled = np.ones(len(out), dtype=np.bool_)
    settled[rows] = False
    shut = out | (end != 0)
    inverse = np.asarray(np.linalg.inv(_of_those(shut, leaky)), dtype=np.float64)
    volts = _times(inverse, np.where(shut, _ends_a(end, limits) - table[:, :, -1], 0.0))
    for _ in range(REFINEMENTS):  # without the leak
        volts += _times(inverse, np.where(shut, _ends_a(end, limits) - _amps(table, volts), 0.0))
    return volts, end, settled


def _of_those(shut: BoolArray, table: FloatArray) -> FloatArray:
    """Tables (N, K, K) with what these branches (N, K) do to each other; for all others the identity stands."""
    return np.where(shut[:, :, None] & shut[:, None, :], table, np.eye(shut.shape[1]))


def _ends_a(end: IntArray, limits: Limits) -> FloatArray:
    """Currents (N, K) at the ends of the limits, 0 elsewhere."""
    most_a, least_a = (np.where(np.isfinite(x), x, 0.0) for x in (limits.most_a, limits.least_a))
    return np.where(end > 0, most_a, np.where(end < 0, least_a, 0.0))


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
    """A piece of copper, its loads off; B branches, edges before outputs, of which K can open, block or hold.

    ``acting``: what can open or hold its current, by id. ``as_it_is``: nothing will open, so that it is known which
    outputs disagree through 0 Ω; they get a placeholder as in ``solve``.
    """

    def __init__(self, network: Network, acting: Iterable[str], *, as_it_is: bool = False) -> None:
        self._network = n = network
        self.names = (*n.edge_ids, *n.source_ids)
        self.place = {name: k for k, name in enumerate(self.names)}
        diode = np.concatenate([n.edge_diode, np.zeros(len(n.source_ids), dtype=np.bool_)])
        can = diode.copy()
        can[[self.place[name] for name in acting]] = True
        ohm = np.concatenate([n.edge_resistance_ohm, n.source_resistance_ohm])
        circuit = Circuit(
            len(n.node_ids),
            np.concatenate([n.edge_a, n.source_minus]),
            np.concatenate([n.edge_b, n.source_plus]),
            ohm,
            np.concatenate([np.where(n.edge_diode, -n.edge_drop_v, 0.0), n.source_voltage_v]),
            n.source_minus,
        )
        conflict = replace(circuit, resistance_ohm=np.where(diode, np.inf, ohm)).conflict
        if as_it_is and conflict.any():
            ohm = np.where(conflict, CONFLICT_OHM, ohm)
            circuit = replace(circuit, resistance_ohm=ohm)
        self.at: IntArray = np.flatnonzero(can & np.isfinite(ohm))
        self._diodes: BoolArray = diode[self.at]
        hardly = self.at[ohm[self.at] < HARDLY_OHM]
        looped = circuit.rigid.on_cycles_with(hardly)
        self._driven = np.concatenate([self.at, np.setdiff1d(looped, self.at)])
        self._hardly = np.flatnonzero(np.isin(self._driven, np.union1d(hardly, looped)))
        self._left_ohm = LOOP_OHM if len(looped) else 0.0
        self._unclear = bool(circuit.conflict.any()) or (len(self._driven) > MOST_BRANCHES and not as_it_is)
        beside = ohm.copy()
        beside[self._driven[self._hardly]] += BESIDE_OHM
        self._circuit = replace(circuit, resistance_ohm=beside)

    def limits(self, held_a: Mapping[str, float]) -> Limits:
        """Of diodes, of outputs, and of what holds its current without opening, in A by id."""
        n = self._network
        hold_a = dict(zip(n.source_ids, n.source_hold_a.tolist(), strict=True))
        hold_a |= {name: min(amperes, hold_a.get(name, np.inf)) for name, amperes in held_a.items()}
        most_a = np.array([hold_a.get(self.names[k], np.inf) for k in self.at.tolist()])
        edges = self.at < len(n.edge_ids)
        return Limits(np.where(self._diodes, 0.0, np.where(edges, -most_a, -np.inf)), most_a)

    def holding(self, at_end: BoolArray) -> tuple[str, ...]:
        """Ids of what holds its current, of the branches (K,) at the end of what they can carry: outputs first."""
        at = self.at[at_end & ~self._diodes].tolist()
        return tuple(self.names[k] for k in sorted(at, key=lambda k: (k < len(self._network.edge_ids), k)))

    @cached_property
    def _response(self) -> FloatArray | None:
        """Voltages of the nodes, then currents of the branches (N + B, D + 1) for one volt in each of D driven
        branches, and as they are.
        """
        circuit, at, count = self._circuit, self._driven, len(self._driven)
        if self._unclear:
            return None
        each, drive = np.arange(count), 1.0 / circuit.resistance_ohm[at]
        into = np.zeros((circuit.nodes, count + 1))
        np.add.at(into, (circuit.end_b[at], each), drive)
        np.add.at(into, (circuit.end_a[at], each), -drive)
        volts, amps = circuit.solve(into)
        volts[:, :-1] -= volts[:, -1:]
        amps[:, :-1] -= amps[:, -1:]
        amps[at, each] += drive
        return np.concatenate([volts, amps])

    def shorted(self, ends: Sequence[tuple[int, int]]) -> ShortedTables:
        """With each of S shorts from one node to another."""
        count, branches, width = len(ends), len(self.names), len(self.at) + 1
        every, response = self._every, self._response
        if every is None or response is None:
            nothing = np.zeros((count, branches + 1, width))
            return ShortedTables(nothing[:, self.at], nothing, np.zeros(count, dtype=np.bool_))
        circuit, nodes = self._circuit, self._circuit.nodes
        a, b = np.array(ends, dtype=np.int64).T
        together = circuit.piece[a] == circuit.piece[b]
        # Where they are in no piece together nothing flows from one to the other.
        unit = np.zeros((nodes, count + 1))
        at = np.arange(1, count + 1)[together]
        unit[a[together], at] -= 1.0
        unit[b[together], at] += 1.0
        drawn = np.concatenate([x[:, 1:] - x[:, :1] for x in circuit.solve(unit)])
        if len(self._hardly):
            drawn = drawn + response[:, self._hardly] @ self._taken_out(drawn)
        across = np.where(together[:, None], every[a] - every[b], 0.0)
        each = np.arange(count)
        ohm = drawn[b, each] - drawn[a, each]
        rigid = ohm <= RIGID_OHM
        # Joined without resistance already: the short makes no path that is new.
        known = ~together | ~rigid | (np.abs(across).max(axis=1) <= NOTHING_V)
        short = np.where(rigid[:, None], 0.0, across / np.where(rigid, 1.0, ohm)[:, None])
        columns = [*range(len(self.at)), len(self._driven)]
        found = np.empty((count, branches + 1, width))
        found[:, -1] = short[:, columns]
        found[:, :-1] = every[nodes:, columns] + drawn[nodes:].T[:, :, None] * short[:, None, columns]
        return ShortedTables(found[:, self.at], found, known)

    @cached_property
    def _every(self) -> FloatArray | None:
        """``_response`` without the resistances that were put in beside what has hardly any."""
        every, hardly = self._response, self._hardly
        if every is None or not len(hardly):
            return every
        if np.linalg.cond(self._rows) > 1.0 / SETTLED:
            return None
        found: FloatArray = every + every[:, hardly] @ self._taken_out(every)
        return found

    @cached_property
    def _rows(self) -> FloatArray:
        assert self._response is not None
        through = self._circuit.nodes + self._driven[self._hardly]
        found: FloatArray = (
            np.eye(len(self._hardly)) - self._too_much_ohm * self._response[through][:, self._hardly]
        )
        return found

    @property
    def _too_much_ohm(self) -> float:
        return BESIDE_OHM - self._left_ohm

    def _taken_out(self, currents: FloatArray) -> FloatArray:
        """Voltages (H, M) that stand for the resistances put in: each is in proportion to the current in it."""
        through = self._circuit.nodes + self._driven[self._hardly]
        found: FloatArray = self._too_much_ohm * np.linalg.solve(self._rows, currents[through])
        return found
