"""Single open circuits: what every part carries after one conductor or contact opens.

The load currents being fixed, an open circuit moves current inside its block only (``chains``): no solve per open
circuit, and exact. Loads of constant resistance or power feel the changed voltage and answer it
(``load_reaction``).

Where an open circuit can change the state of a diode or of a constant-current output, linear reasoning ends: these
breaks are solved in full. So are those that a converter answers, whose input follows what its output gives.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from loadloom.graph.circuit.blocks import Blocks
from loadloom.graph.circuit.chains import AT_ONCE, Batch, Chains
from loadloom.graph.circuit.copper import Copper
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import ROUNDING, solve
from loadloom.graph.open_circuits.load_reaction import LoadReaction

BoolArray = npt.NDArray[np.bool_]

FULL_SOLVES = 2_000
"""OpenCircuits that are solved in full at most; the others are linear, with ``error_a`` infinite."""


@dataclass(frozen=True)
class OpenCircuits:
    """Every single open circuit of one solution. E edges, positions as in ``solution.network``.

    ``opened`` (E,): edges whose break was looked at. ``bridge`` (E,): they carry all there is; nothing shares
    their current, and opening them leaves loads dark (``loses_supply``). For the others ``worst`` (E,) is the edge
    of their block, of those looked at, with the greatest current after the open circuit, -1 if none, ``worst_a``
    (E,) that current, and ``error_a`` (E,) a bound of what the loads' reaction was not followed up.
    ``open_circuit_a``
    (E,) is the greatest current of an edge after any one open circuit, ``open_circuit_by`` (E,) that break; -1 and
    the undisturbed current where no open circuit moves current onto it. ``exact`` says that no reaction of loads
    was left out.
    """

    solution: Solution
    opened: BoolArray
    bridge: BoolArray
    worst: IntArray
    worst_a: FloatArray
    error_a: FloatArray
    open_circuit_a: FloatArray
    open_circuit_by: IntArray
    solved_in_full: BoolArray
    exact: bool
    _chains: Chains
    _full_dark: Mapping[int, tuple[str, ...]] = field(default_factory=dict)

    def loses_supply(self, edge: int) -> tuple[str, ...]:
        """Ids of the loads that lose supply when an edge opens, in the network's order."""
        if edge in self._full_dark:
            return self._full_dark[edge]
        if not self.bridge[edge]:
            return ()
        return self._behind.ids(edge)

    def around(self, node: int) -> list[int]:
        """The edges looked at in the loops that come to a node: their breaks move current there."""
        network, count = self.solution.network, len(self.solution.network.edge_ids)
        label, bridge = self._chains.blocks.label[:count], self._chains.blocks.bridge[:count]
        at = ((network.edge_a == node) | (network.edge_b == node)) & ~bridge & (label >= 0)
        found: list[int] = np.flatnonzero(np.isin(label, np.unique(label[at])) & ~bridge & self.opened).tolist()
        return found

    @cached_property
    def _behind(self) -> _Behind:
        return _Behind(self.solution, self._chains.blocks)


def single_open_circuits(
    solution: Solution, *, opened: BoolArray | None = None, allowed_a: FloatArray | None = None
) -> OpenCircuits:
    """Open every edge of ``opened`` (E,; all if None) by itself.

    ``allowed_a`` (E,; inf or NaN if unrated) chooses between parts that carry the same current in series: the
    weakest is named.
    """
    return _Breaking(solution, opened, allowed_a).run()


class _Breaking:
    def __init__(self, solution: Solution, opened: BoolArray | None, allowed_a: FloatArray | None) -> None:
        net = solution.network
        self.solution, self.net = solution, net
        self.edges = len(net.edge_ids)
        self.opened = np.ones(self.edges, dtype=np.bool_) if opened is None else opened.copy()
        limit = (
            np.full(self.edges, np.inf) if allowed_a is None else np.where(np.isnan(allowed_a), np.inf, allowed_a)
        )
        self.allowed_a: FloatArray = limit
        self.copper = Copper(solution)
        self.chains = self.copper.chains
        self.closed = self.copper.closed
        self.segment_a = self.copper.segment_a
        self.worst = np.full(self.edges, -1, dtype=np.int64)
        self.worst_a = np.zeros(self.edges)
        self.error_a = np.zeros(self.edges)
        self.open_circuit_a = np.abs(solution.edge_a)
        self.rounding_a = ROUNDING * float(self.open_circuit_a.max(initial=0.0))
        self.open_circuit_by = np.full(self.edges, -1, dtype=np.int64)

    def run(self) -> OpenCircuits:
        chains = self.chains
        self.opened &= self.closed[: self.edges]
        bridge = chains.blocks.bridge[: self.edges] & self.opened
        self._represent()
        loads = LoadReaction.of(self.copper)
        for batch in chains.batches:
            self._batch(batch, loads)
        touchy = self._touchy() & self.opened
        full_dark = self._in_full(touchy)
        return OpenCircuits(
            solution=self.solution,
            opened=self.opened,
            bridge=bridge,
            worst=self.worst,
            worst_a=self.worst_a,
            error_a=self.error_a,
            open_circuit_a=self.open_circuit_a,
            open_circuit_by=self.open_circuit_by,
            solved_in_full=touchy,
            exact=loads is None or loads.coupled,
            _chains=chains,
            _full_dark=full_dark,
        )

    def _represent(self) -> None:
        """The edge to name for each segment, the weakest looked at: it opens, and breaks are charged to it."""
        chains = self.chains
        segments = chains.segments
        member, segment = chains.member, chains.segment
        is_edge = member < self.edges
        self.part = np.full(segments, -1, dtype=np.int64)
        rank = np.full(len(member), np.inf)
        rank[is_edge] = self.allowed_a[member[is_edge]]
        order = np.lexsort((member, rank, segment))[::-1]
        order = order[is_edge[order]]
        looked_at = order[self.opened[member[order]]]
        self.part[segment[looked_at]] = member[looked_at]

    def _batch(self, batch: Batch, loads: LoadReaction | None) -> None:
        m, c = batch.segment.shape[1], batch.loop_ohm.shape[1]
        if m * m <= AT_ONCE:
            ratio = batch.ratio(np.arange(c))
            rows = np.arange(len(ratio))[:, None, None]
            self._columns(batch, ratio[rows, batch.chain[:, :, None], batch.chain[:, None, :]], np.arange(m), loads)
            return
        for some in np.array_split(np.arange(m), min(m, m * m // AT_ONCE + 1)):
            ratio = batch.ratio(batch.chain[0, some])
            self._columns(batch, ratio[:, batch.chain[0]], some, loads)

    def _columns(self, batch: Batch, ratio: FloatArray, columns: IntArray, loads: LoadReaction | None) -> None:
        """OpenCircuits of the segments ``columns`` of a batch; ``ratio`` (K, M, n)."""
        segment = batch.segment
        opening = segment[:, columns]
        before = self.segment_a[segment]
        after = before[:, :, None] - ratio * before[:, None, columns]
        error = np.zeros(opening.shape)
        if loads is not None:
            loop = np.take_along_axis(batch.loop_ohm, batch.chain[:, columns], axis=1)
            change, error = loads.change(segment, opening, ratio, loop)
            after = after + change
        size = np.abs(after)
        size[:, columns, np.arange(len(columns))] = 0.0
        size[
            self.part[segment] < 0
        ] = -1.0  # an output or a chassis bond is no part that an open circuit is charged to
        opens = self.part[opening] >= 0

        worst = np.argmax(size, axis=1)
        worst_a = np.take_along_axis(size, worst[:, None, :], axis=1)[:, 0]
        named = np.take_along_axis(self.part[segment], worst, axis=1)
        self._worst_of_segment(opening[opens], named[opens], worst_a[opens], error[opens])

        size = np.where(opens[:, None, :], size, -1.0)
        by = np.argmax(size, axis=2)
        most = np.take_along_axis(size, by[:, :, None], axis=2)[:, :, 0]
        opener = np.take_along_axis(self.part[opening], by, axis=1)
        self._most_of_segment(segment.ravel(), most.ravel(), opener.ravel())

    def _worst_of_segment(self, segment: IntArray, named: IntArray, worst_a: FloatArray, error: FloatArray) -> None:
        values = np.zeros((3, self.chains.segments))
        values[:, segment] = named, worst_a, error
        done = np.zeros(self.chains.segments, dtype=np.bool_)
        done[segment] = True
        edge, of = self._edges_of(done)
        edge, of = edge[self.opened[edge]], of[self.opened[edge]]
        self.worst[edge] = np.where(values[1, of] >= 0, values[0, of], -1).astype(np.int64)
        self.worst_a[edge] = np.maximum(values[1, of], 0.0)
        self.error_a[edge] = values[2, of]

    def _most_of_segment(self, segment: IntArray, most: FloatArray, opener: IntArray) -> None:
        values = np.full(self.chains.segments, -1.0)
        by = np.full(self.chains.segments, -1, dtype=np.int64)
        values[segment], by[segment] = most, opener
        edge, of = self._edges_of(values >= 0)
        higher = values[of] > self.open_circuit_a[edge] + self.rounding_a
        self.open_circuit_a[edge[higher]] = values[of[higher]]
        self.open_circuit_by[edge[higher]] = by[of[higher]]

    def _edges_of(self, which: BoolArray) -> tuple[IntArray, IntArray]:
        """Edges of the marked segments, with their segments."""
        chains = self.chains
        take = which[chains.segment] & (chains.member < self.edges)
        return chains.member[take], chains.segment[take]

    def _touchy(self) -> BoolArray:
        """(E,) edges whose break can change the state of a diode, a constant-current output or a starved load."""
        net, solution, blocks = self.net, self.solution, self.chains.blocks
        piece = blocks.piece
        fragile = np.zeros(int(piece.max(initial=-1)) + 1, dtype=np.bool_)
        sources = {x: k for k, x in enumerate(net.source_ids)}
        loads = {x: k for k, x in enumerate(net.load_ids)}
        for x in solution.holding:
            fragile[piece[net.source_plus[sources[x]]]] = True
        for x in solution.collapsed:
            fragile[piece[net.load_plus[loads[x]]]] = True
        stateful = np.concatenate([net.edge_diode, np.isfinite(net.source_hold_a)])
        mixed = stateful & ~blocks.bridge & self.closed
        in_block = np.isin(blocks.label, np.unique(blocks.label[mixed])) & (blocks.label >= 0)
        touched: BoolArray = (in_block[: self.edges] & ~blocks.bridge[: self.edges]) | fragile[piece[net.edge_a]]
        return touched | self._before_converters() if net.couplings else touched

    def _before_converters(self) -> BoolArray:
        """(E,) edges whose break a converter answers: in a loop its draw changes, and behind a bridge its loads
        lose supply together with its input.
        """
        behind = _Behind(self.solution, self.chains.blocks)
        inputs = {coupling.load for coupling in self.net.couplings}
        bridge = self.chains.blocks.bridge[: self.edges]
        found: BoolArray = ~bridge & self.closed[: self.edges]
        for edge in np.flatnonzero(bridge & self.opened).tolist():
            found[edge] = not inputs.isdisjoint(behind.ids(edge))
        return found

    def _in_full(self, touchy: BoolArray) -> dict[int, tuple[str, ...]]:
        """Solve the touchy open circuits one by one; their rows replace the linear ones."""
        net, blocks = self.net, self.chains.blocks
        positions = np.flatnonzero(touchy)
        if not len(positions):
            return {}
        beyond = positions[FULL_SOLVES:]
        self.error_a[beyond] = np.inf
        touchy[beyond] = False
        hit = np.isin(blocks.label[: self.edges], np.unique(blocks.label[positions])) & ~blocks.bridge[: self.edges]
        undisturbed = np.abs(self.solution.edge_a)
        self.open_circuit_a[hit], self.open_circuit_by[hit] = undisturbed[hit], -1
        loses_supply: dict[int, tuple[str, ...]] = {}
        was_fed = set(net.load_ids) - set(self.solution.unfed)
        for e in positions[:FULL_SOLVES].tolist():
            resistance = net.edge_resistance_ohm.copy()
            resistance[e] = np.inf
            after = solve(replace(net, edge_resistance_ohm=resistance))
            gone = set(after.unfed) & was_fed
            loses_supply[e] = tuple(x for x in net.load_ids if x in gone)
            size = np.abs(after.edge_a)
            if blocks.bridge[e]:
                continue
            mates = np.flatnonzero((blocks.label[: self.edges] == blocks.label[e]) & (size > 0) & self.opened)
            mates = mates[mates != e]
            self.worst[e], self.worst_a[e], self.error_a[e] = -1, 0.0, 0.0
            if len(mates):
                top = mates[size[mates] >= size[mates].max() * (1 - 1e-9)]
                self.worst[e] = top[np.argmin(self.allowed_a[top])]
                self.worst_a[e] = size[self.worst[e]]
            more = size > self.open_circuit_a * (1 + 1e-9) + self.rounding_a  # what rounding alone adds is no more
            self.open_circuit_a[more], self.open_circuit_by[more] = size[more], e
        return loses_supply


class _Behind:
    """Which loads lose their way to an output, or back, when a bridge opens. Sorted once for all bridges."""

    def __init__(self, solution: Solution, blocks: Blocks) -> None:
        net = solution.network
        self.blocks = blocks
        self.plus, self.minus = blocks.entry[net.load_plus], blocks.entry[net.load_minus]
        self.by_plus, self.by_minus = np.argsort(self.plus), np.argsort(self.minus)
        self.source = np.sort(blocks.entry[net.source_plus])
        self.load_ids = net.load_ids
        self.unfed = frozenset(solution.unfed)

    def ids(self, edge: int) -> tuple[str, ...]:
        """Loads that lose supply when the bridge ``edge`` opens, in the network's order."""
        top = int(self.blocks.below[edge])
        low, high = int(self.blocks.entry[top]), int(self.blocks.leave[top])
        plus, minus = (
            self._within(self.plus, self.by_plus, low, high),
            self._within(self.minus, self.by_minus, low, high),
        )
        loses_supply = np.setxor1d(plus, minus)
        fed_below = bool(np.diff(np.searchsorted(self.source, (low, high)))[0])
        if not fed_below:
            loses_supply = np.union1d(plus, minus)
        here = self.blocks.piece[top]
        span = self._span[here]
        if not self._outside_source(low, high, span):
            all_here = self._within(self.plus, self.by_plus, *span)
            loses_supply = np.union1d(loses_supply, np.setdiff1d(all_here, np.union1d(plus, minus)))
        return tuple(x for x in (self.load_ids[k] for k in loses_supply.tolist()) if x not in self.unfed)

    @cached_property
    def _span(self) -> list[tuple[int, int]]:
        """First entry and end of every piece."""
        entry, piece = self.blocks.entry, self.blocks.piece
        known = entry >= 0
        pieces = int(piece.max(initial=-1)) + 1
        first = np.full(pieces, np.iinfo(np.int64).max)
        np.minimum.at(first, piece[known], entry[known])
        size = np.bincount(piece[known], minlength=pieces)
        return list(zip(first.tolist(), (first + size).tolist(), strict=True))

    def _outside_source(self, low: int, high: int, span: tuple[int, int]) -> bool:
        places = np.searchsorted(self.source, (span[0], low, high, span[1]))
        return bool(places[1] > places[0] or places[3] > places[2])

    @staticmethod
    def _within(entry: IntArray, order: IntArray, low: int, high: int) -> IntArray:
        first, last = np.searchsorted(entry, (low, high), sorter=order)
        return np.sort(order[first:last])
