"""Single breaks: what every part carries after one conductor or contact opens.

The load currents being fixed, a break moves current inside its block only (``chains``): no solve per break.
Loads of constant resistance or power feel the changed voltage and change their current. In a harness of up to
``COUPLED_LIMIT`` numbers this is carried through to the end: the loads' response is linearised once, which is
exact for resistances, and the rest of constant power is iterated until it no longer matters. In a larger one
the loads' first response is taken into account for parallel ways, and the rest is stated as ``error_a``.

Where a break can change the state of a diode or of a constant-current output, linear reasoning ends: these
breaks are solved in full.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from loadloom.graph.blocks import Blocks
from loadloom.graph.chains import AT_ONCE, Batch, Chains
from loadloom.graph.circuit import Circuit
from loadloom.graph.network import FloatArray, IntArray, Network
from loadloom.graph.solution import Solution
from loadloom.graph.solve import CONFLICT_OHM, KNEE, POWER, RESISTANCE, solve

BoolArray = npt.NDArray[np.bool_]

COUPLED_LIMIT = 30_000_000
"""Segments times reacting loads up to which the loads' reaction is carried through to the end."""

FULL_SOLVES = 2_000
"""Breaks that are solved in full at most; the others are linear, with ``error_a`` infinite."""

PASSES = 30


@dataclass(frozen=True)
class Breaks:
    """Every single break of one solution. E edges, positions as in ``solution.network``.

    ``opened`` (E,): edges whose break was looked at. ``bridge`` (E,): they carry all there is; nothing shares
    their current, and their break leaves loads dark (``dark``). For the others ``worst`` (E,) is the edge of
    their block with the greatest current after the break, -1 if none, ``worst_a`` (E,) that current, and
    ``error_a`` (E,) a bound of what the loads' reaction was not followed up. ``broken_a`` (E,) is the greatest
    current of an edge after any one break, ``broken_by`` (E,) that break; -1 and the undisturbed current where
    no break moves current onto it. ``exact`` says that no reaction of loads was left out.
    """

    solution: Solution
    opened: BoolArray
    bridge: BoolArray
    worst: IntArray
    worst_a: FloatArray
    error_a: FloatArray
    broken_a: FloatArray
    broken_by: IntArray
    solved_in_full: BoolArray
    exact: bool
    _chains: Chains
    _full_dark: Mapping[int, tuple[str, ...]] = field(default_factory=dict)

    def dark(self, edge: int) -> tuple[str, ...]:
        """Ids of the loads that go dark when an edge opens, in the network's order."""
        if edge in self._full_dark:
            return self._full_dark[edge]
        if not self.bridge[edge]:
            return ()
        return _behind(self.solution, self._chains.blocks, edge)


def single_breaks(
    solution: Solution, *, opened: BoolArray | None = None, allowed_a: FloatArray | None = None
) -> Breaks:
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
        self.end_a = np.concatenate([net.edge_a, net.source_minus])
        self.end_b = np.concatenate([net.edge_b, net.source_plus])
        self.resistance = np.concatenate([net.edge_resistance_ohm, net.source_resistance_ohm])
        marked = [net.edge_index[x] for x in solution.conflicts if x in net.edge_index]
        marked += [self.edges + k for k, x in enumerate(net.source_ids) if x in set(solution.conflicts)]
        self.resistance[np.array(marked, dtype=np.int64)] = CONFLICT_OHM
        self.current = np.concatenate([solution.edge_a, solution.source_a])
        self.closed = np.isfinite(self.resistance)
        busy = np.zeros(len(net.node_ids), dtype=np.bool_)
        busy[net.load_plus] = busy[net.load_minus] = True
        self.chains = Chains(len(net.node_ids), self.end_a, self.end_b, self.resistance, self.closed, busy)
        self.worst = np.full(self.edges, -1, dtype=np.int64)
        self.worst_a = np.zeros(self.edges)
        self.error_a = np.zeros(self.edges)
        self.broken_a = np.abs(solution.edge_a)
        self.broken_by = np.full(self.edges, -1, dtype=np.int64)

    def run(self) -> Breaks:
        chains = self.chains
        self.opened &= self.closed[: self.edges]
        bridge = chains.blocks.bridge[: self.edges] & self.opened
        self._represent()
        loads = _Loads.of(self)
        for batch in chains.batches:
            self._batch(batch, loads)
        touchy = self._touchy() & self.opened
        full_dark = self._in_full(touchy)
        return Breaks(
            solution=self.solution,
            opened=self.opened,
            bridge=bridge,
            worst=self.worst,
            worst_a=self.worst_a,
            error_a=self.error_a,
            broken_a=self.broken_a,
            broken_by=self.broken_by,
            solved_in_full=touchy,
            exact=loads is None or loads.coupled,
            _chains=chains,
            _full_dark=full_dark,
        )

    def _represent(self) -> None:
        """One edge to name for each segment, as the part that carries and as the part that opens."""
        chains = self.chains
        segments = chains.segments
        member, segment = chains.member, chains.segment
        is_edge = member < self.edges
        self.carrier = np.full(segments, -1, dtype=np.int64)
        self.opener = np.full(segments, -1, dtype=np.int64)
        rank = np.full(len(member), np.inf)
        rank[is_edge] = self.allowed_a[member[is_edge]]
        order = np.lexsort((member, rank, segment))[::-1]
        order = order[is_edge[order]]
        self.carrier[segment[order]] = member[order]
        openable = order[self.opened[member[order]]]
        self.opener[segment[openable]] = member[openable]
        self.segment_a = np.zeros(segments)
        self.segment_a[segment] = chains.sign * self.current[member]

    def _batch(self, batch: Batch, loads: _Loads | None) -> None:
        m, c = batch.segment.shape[1], batch.loop_ohm.shape[1]
        if m * m <= AT_ONCE:
            ratio = batch.ratio(np.arange(c))
            rows = np.arange(len(ratio))[:, None, None]
            self._columns(batch, ratio[rows, batch.chain[:, :, None], batch.chain[:, None, :]], np.arange(m), loads)
            return
        for some in np.array_split(np.arange(m), m * m // AT_ONCE + 1):
            ratio = batch.ratio(batch.chain[0, some])
            self._columns(batch, ratio[:, batch.chain[0]], some, loads)

    def _columns(self, batch: Batch, ratio: FloatArray, columns: IntArray, loads: _Loads | None) -> None:
        """Breaks of the segments ``columns`` of a batch; ``ratio`` (K, M, n)."""
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
        size[self.carrier[segment] < 0] = -1.0  # an output is no part that a break is charged to
        opens = self.opener[opening] >= 0

        worst = np.argmax(size, axis=1)
        worst_a = np.take_along_axis(size, worst[:, None, :], axis=1)[:, 0]
        named = np.take_along_axis(self.carrier[segment], worst, axis=1)
        self._worst_of_segment(opening[opens], named[opens], worst_a[opens], error[opens])

        size = np.where(opens[:, None, :], size, -1.0)
        by = np.argmax(size, axis=2)
        most = np.take_along_axis(size, by[:, :, None], axis=2)[:, :, 0]
        opener = np.take_along_axis(self.opener[opening], by, axis=1)
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
        higher = values[of] > self.broken_a[edge]
        self.broken_a[edge[higher]] = values[of[higher]]
        self.broken_by[edge[higher]] = by[of[higher]]

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
        return touched

    def _in_full(self, touchy: BoolArray) -> dict[int, tuple[str, ...]]:
        """Solve the touchy breaks one by one; their rows replace the linear ones."""
        net, blocks = self.net, self.chains.blocks
        positions = np.flatnonzero(touchy)
        if not len(positions):
            return {}
        beyond = positions[FULL_SOLVES:]
        self.error_a[beyond] = np.inf
        touchy[beyond] = False
        hit = np.isin(blocks.label[: self.edges], np.unique(blocks.label[positions])) & ~blocks.bridge[: self.edges]
        undisturbed = np.abs(self.solution.edge_a)
        self.broken_a[hit], self.broken_by[hit] = undisturbed[hit], -1
        dark: dict[int, tuple[str, ...]] = {}
        was_fed = set(net.load_ids) - set(self.solution.unfed)
        for e in positions[:FULL_SOLVES].tolist():
            resistance = net.edge_resistance_ohm.copy()
            resistance[e] = np.inf
            after = solve(replace(net, edge_resistance_ohm=resistance))
            gone = set(after.unfed) & was_fed
            dark[e] = tuple(x for x in net.load_ids if x in gone)
            size = np.abs(after.edge_a)
            if blocks.bridge[e]:
                continue
            mates = np.flatnonzero((blocks.label[: self.edges] == blocks.label[e]) & (size > 0))
            mates = mates[mates != e]
            self.worst[e], self.worst_a[e], self.error_a[e] = -1, 0.0, 0.0
            if len(mates):
                top = mates[size[mates] >= size[mates].max() * (1 - 1e-9)]
                self.worst[e] = top[np.argmin(self.allowed_a[top])]
                self.worst_a[e] = size[self.worst[e]]
            more = size > self.broken_a
            self.broken_a[more], self.broken_by[more] = size[more], e
        return dark


@dataclass(frozen=True)
class _Loads:
    """How loads that are not of constant current answer a break. P of them react.

    ``per_load`` (segments, P): change of a segment's current per ampere of load. ``slope_s`` (P,): change of
    load current per volt. ``inverse`` (P, P): of 1 + slope · transfer. For a large harness only ``at_slope``
    (segments,): the segments' currents if every load drew its slope as a current.
    """

    coupled: bool
    segment_a: FloatArray
    slope_s: FloatArray
    voltage_v: FloatArray
    current_a: FloatArray
    demand: FloatArray
    is_power: BoolArray
    per_load: FloatArray
    transfer: FloatArray
    inverse: FloatArray
    at_slope: FloatArray
    droop: float

    @classmethod
    def of(cls, breaking: _Breaking) -> _Loads | None:
        """None where all loads draw constant current, or no block has a parallel way."""
        net, solution, chains = breaking.net, breaking.solution, breaking.chains
        skip = set(solution.unfed) | set(solution.collapsed)
        reacts = (net.load_kind != 0) & (solution.load_a != 0)
        reacts &= ~np.isin(np.array(net.load_ids, dtype=object), list(skip)) if skip else True
        which = np.flatnonzero(reacts)
        if not len(which) or not chains.segments:
            return None
        kind, demand = net.load_kind[which], net.load_demand[which]
        volts, amps = solution.load_v[which], solution.load_a[which]
        slope = np.where(kind == RESISTANCE, 1.0, -1.0) * amps / volts
        copper = _copper(breaking)
        size = len(which)
        coupled = chains.segments * size <= COUPLED_LIMIT
        per_load, transfer, inverse = np.zeros((0, 0)), np.zeros((0, 0)), np.zeros((0, 0))
        at_slope = np.zeros(0)
        plus, minus = net.load_plus[which], net.load_minus[which]
        if coupled:
            per_load = np.zeros((chains.segments, size))
            transfer = np.zeros((size, size))
            for some in np.array_split(np.arange(size), size * len(net.node_ids) // AT_ONCE + 1):
                inject = np.zeros((len(net.node_ids), len(some)))
                inject[plus[some], np.arange(len(some))] -= 1.0
                inject[minus[some], np.arange(len(some))] += 1.0
                node_v, branch_a = copper.solve(inject)
                per_load[chains.segment, some[0] : some[-1] + 1] = chains.sign[:, None] * branch_a[chains.member]
                transfer[:, some] = node_v[minus] - node_v[plus]
            inverse = np.linalg.inv(np.eye(size) + slope[:, None] * transfer)
        else:
            inject = np.zeros(len(net.node_ids))
            np.subtract.at(inject, plus, slope)
            np.add.at(inject, minus, slope)
            _, branch_a = copper.solve(inject)
            at_slope = np.zeros(chains.segments)
            at_slope[chains.segment] = chains.sign * branch_a[chains.member]
        highest = float(np.max(net.source_voltage_v, initial=0.0))
        droop = float(np.clip(1.0 - np.abs(volts) / highest, 0.0, None).max()) if highest else 1.0
        return cls(
            coupled=coupled,
            segment_a=breaking.segment_a,
            slope_s=slope,
            voltage_v=volts,
            current_a=amps,
            demand=demand,
            is_power=kind == POWER,
            per_load=per_load,
            transfer=transfer,
            inverse=inverse,
            at_slope=at_slope,
            droop=droop,
        )

    def change(
        self, segment: IntArray, opening: IntArray, ratio: FloatArray, loop_ohm: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """(K, M, n) change of the currents after a break by the loads' reaction; (K, n) error left, in A."""
        if not self.coupled:
            return self._first_response(segment, opening, ratio, loop_ohm)
        blocks, count = opening.shape
        flat = opening.ravel()
        reaction, error = self._reaction(flat, loop_ohm.ravel())
        own = np.einsum("ep,pe->e", self.per_load[flat], reaction).reshape(blocks, count)
        mates = self.per_load[segment] @ reaction.T.reshape(blocks, count, -1).transpose(0, 2, 1)
        return mates - ratio * own[:, None, :], error.reshape(blocks, count)

    def _reaction(self, opening: IntArray, loop_ohm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(P, n) change of the load currents when each segment opens, and (n,) the error left."""
        through = self.per_load[opening].T  # (P, n): also volts at the loads per volt in the segment
        answer = self.inverse @ (self.slope_s[:, None] * through)
        weight = 1.0 + loop_ohm * np.einsum("pn,pn->n", through, answer)

        def respond(extra_a: FloatArray) -> FloatArray:
            """Load currents for a nonlinear part (P, n) on top of the linear response."""
            start = self.inverse @ extra_a - answer * (loop_ohm * self.segment_a[opening])
            pull = loop_ohm * np.einsum("pn,pn->n", through, start) / weight
            return start - answer * pull

        reaction = respond(np.zeros_like(through))
        if not self.is_power.any():
            return reaction, np.zeros(len(opening))
        error = np.full(len(opening), np.inf)
        power = self.is_power
        for _ in range(PASSES):
            emf = -loop_ohm * (self.segment_a[opening] + np.einsum("pn,pn->n", through, reaction))
            shift = through * emf - self.transfer @ reaction
            volts = self.voltage_v[:, None] + shift
            lost = (volts[power] / self.voltage_v[power, None] < KNEE).any(axis=0)
            extra = np.zeros_like(through)
            with np.errstate(divide="ignore", invalid="ignore"):
                drawn = self.demand[power, None] / volts[power]
            linear = self.current_a[power, None] + self.slope_s[power, None] * shift[power]
            extra[power] = np.where(lost, 0.0, drawn - linear)
            better = respond(extra)
            error = np.where(lost, np.inf, np.abs(better - reaction).sum(axis=0))
            reaction = better
            if not (error[~lost] > 1e-12 * np.abs(self.current_a).sum()).any():
                break
        return reaction, error

    def _first_response(
        self, segment: IntArray, opening: IntArray, ratio: FloatArray, loop_ohm: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Loads behind parallel ways see the break's voltage and answer it once; the rest is the error.

        The voltage at the loads is the opened part's share of the current times the voltage over it. The loads'
        answer comes back through all ways of the block, the opened one excepted.
        """
        slope_a = self.at_slope[segment]
        own = self.at_slope[opening]
        total = np.abs(slope_a).max(axis=1)[:, None]
        emf = -loop_ohm * self.segment_a[opening]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(total > 0, np.abs(own) / np.abs(slope_a).sum(axis=1)[:, None], 0.0)
        step = share * emf * np.sign(own)
        change = step[:, None, :] * (slope_a[:, :, None] - ratio * own[:, None, :])
        bound = np.abs(emf) * np.abs(slope_a).sum(axis=1)[:, None]
        return change, bound * min(1.0, 3.0 * self.droop + 0.05)


def _copper(breaking: _Breaking) -> Circuit:
    """The conducting branches alone, without voltages: how load currents spread."""
    net, solution = breaking.net, breaking.solution
    resistance = breaking.resistance.copy()
    off = set(solution.blocking) | set(solution.holding)
    names = (*net.edge_ids, *net.source_ids)
    if off:
        resistance[[k for k, x in enumerate(names) if x in off]] = np.inf
    return Circuit(
        len(net.node_ids), breaking.end_a, breaking.end_b, resistance, np.zeros(len(resistance)), net.source_minus
    )


def _behind(solution: Solution, blocks: Blocks, edge: int) -> tuple[str, ...]:
    """Loads that lose their way to an output, or back, when a bridge opens."""
    net: Network = solution.network
    top = int(blocks.below[edge])
    low, high = int(blocks.entry[top]), int(blocks.leave[top])
    piece = blocks.piece[top]

    def inside(node: IntArray) -> BoolArray:
        answer: BoolArray = (blocks.entry[node] >= low) & (blocks.entry[node] < high)
        return answer

    source_in = inside(net.source_plus)
    here = blocks.piece[net.source_plus] == piece
    plus, minus = inside(net.load_plus), inside(net.load_minus)
    dark = plus != minus
    if not source_in.any():
        dark |= plus & minus
    if not (here & ~source_in).any():
        dark |= (blocks.piece[net.load_plus] == piece) & ~plus & ~minus
    out = set(solution.unfed)
    return tuple(net.load_ids[k] for k in np.flatnonzero(dark) if net.load_ids[k] not in out)
