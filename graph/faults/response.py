"""How a loaded piece answers to an ampere at any place, and what its loads can draw meanwhile.

How loads enter, each so that the answer is on the safe side:
constant current: from 0 to its current, at whatever voltage is left;
constant power: from 0 to power / the least voltage that this fault can leave at it, not below its minimum
voltage, where it is taken to stop, or the voltage of the case where that is lower still; with no minimum stated,
up to what devices and copper let it have; in any event up to what it draws in the case at its lowest voltage;
resistance: from 0 to its own voltage / resistance, exactly, as a row.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.programmes import EXCESS, Programme
from loadloom.graph.circuit.unit_flows import BoolArray
from loadloom.graph.faults.budgets import BOUND_ROUNDS
from loadloom.graph.faults.piece import CURRENT, POWER, RESISTANCE, Variant
from loadloom.graph.faults.places import OwnEnd, Place, Places
from loadloom.graph.faults.tolerances import TINY

EVERY = slice(None)

UNBOUNDED_A = 1e9
"""Stands for a load current that neither a device nor copper bounds."""


class Currents:
    """What the branches of a variant carry per ampere of fault at each of P places, found when it is asked for.
    ``drawn`` makes values by place of values by node.
    """

    def __init__(self, variant: Variant, drawn: Callable[[FloatArray], FloatArray], places: int) -> None:
        self._variant, self._drawn = variant, drawn
        self.bytes_later = 2 * 8 * places * len(variant.piece.branches.ids)

    @cached_property
    def even(self) -> FloatArray:
        """(B, P) as the network has it, which sums over branches ask for."""
        return self._drawn(self._variant.flows.flow)

    @cached_property
    def mixed(self) -> tuple[FloatArray, ...]:
        """(L, P) each, what shares unevenly in each of its mixtures."""
        return tuple(self._drawn(flow) for flow in self._variant.mixed_flow)

    @cached_property
    def branch(self) -> FloatArray:
        """(B, P) what shares unevenly in the worst of its mixtures."""
        return self._variant.ways.with_worst(self.even, self.mixed)

    def each_mixture(self, branch: int, places: IntArray) -> list[FloatArray]:
        """(K,) currents of a branch at some places, in each mixture that it is in."""
        row = self._variant.ways.row_of.get(branch)
        return [self.even[branch, places]] if row is None else [each[row, places] for each in self.mixed]


@dataclass(frozen=True)
class Response:
    """What P places do to a variant: arrays over places, rows and loads.

    ``currents`` of the branches; ``rows`` (R, P); ``loop_ohm`` (P,) loop resistance; ``open_v`` (P,) voltage
    without the fault; ``fall`` (P, L) fall of that voltage per ampere of each load; ``most_a`` (P, L) the most each
    load can draw; ``at_load`` (P, L) fall of a load's voltage per fault ampere. ``voltages`` keeps what
    ``LoadedVariant`` finds for a place that is asked for again.
    """

    currents: Currents
    rows: FloatArray
    loop_ohm: FloatArray
    open_v: FloatArray
    fall: FloatArray
    at_load: FloatArray
    most_a: FloatArray
    voltages: dict[int, tuple[FloatArray, FloatArray]] = field(default_factory=dict, compare=False)

    @property
    def branch(self) -> FloatArray:
        """(B, P) currents per ampere of fault."""
        return self.currents.branch

    @property
    def bytes_later(self) -> int:
        """What the currents take once they are asked for."""
        return self.currents.bytes_later

    def on_end(self, end: OwnEnd) -> tuple[float, float]:
        """What the near and the far part of a conductor carry per ampere of a fault at a place on it."""
        sign = 1.0 if end.at_high else -1.0
        each = np.concatenate(self.currents.each_mixture(end.branch, np.array([end.place])))
        near, far = each + sign * (1.0 - end.share), each - sign * end.share
        return max(near.tolist(), key=abs), max(far.tolist(), key=abs)


class LoadedVariant:
    """A variant of a piece with the L loads that it can feed.

    ``load_at`` are their positions among the piece's loads; ``load_rows`` (R, L) and ``load_fall`` (N, L) the
    response to an ampere through each; ``load_pair`` (L, L) the fall of one load's
    voltage per ampere of another; ``load_open_v`` (L,) voltages with no load; ``least_load_v`` (L,) the least
    voltage that can stand at each.
    """

    def __init__(self, variant: Variant) -> None:
        self.variant = variant
        self._known: dict[str, Response] = {}
        piece, flows = variant.piece, variant.flows
        loads = piece.loads
        fed = np.flatnonzero(flows.piece[loads.plus] == flows.piece[loads.minus])
        self.load_at = fed
        self.plus, self.minus = loads.plus[fed], loads.minus[fed]
        self.kind, self.demand, self.minimum = loads.kind[fed], loads.demand[fed], loads.minimum_v[fed]
        self.case_a = loads.case_a[fed]
        self.peak, self.rest, self.share = loads.peak[fed], loads.rest[fed], loads.share[fed]
        self.load_rows = variant.rows.per_node[:, self.plus] - variant.rows.per_node[:, self.minus]
        # A limit that a pulse is over before it acts sees what the load draws between the pulses.
        self._see_pulses(loads.on_s[fed])
        self.load_fall = flows.fall_ohm[:, self.plus] - flows.fall_ohm[:, self.minus]
        self.load_pair = self.load_fall[self.plus] - self.load_fall[self.minus]
        self.load_open_v = flows.own_v[self.plus] - flows.own_v[self.minus]
        highest = float(np.abs(piece.branches.emf_v).sum())
        # A load's voltage can turn round only where another output drives it; then its row must allow for it.
        self.least_load_v = np.full(len(fed), -highest if len(piece.sources) > 1 else 0.0)

    @cached_property
    def load_even(self) -> FloatArray:
        """(B, L) currents of the branches per ampere of each load, as the network shares them."""
        flow = self.variant.flows.flow
        found: FloatArray = flow[:, self.plus] - flow[:, self.minus]
        return found

    @cached_property
    def load_branch(self) -> FloatArray:
        """(B, L) the same, in the worst mixture of what shares unevenly."""
        mixed = tuple(flow[:, self.plus] - flow[:, self.minus] for flow in self.variant.mixed_flow)
        return self.variant.ways.with_worst(self.load_even, mixed)

    def _see_pulses(self, on_s: FloatArray) -> None:
        """What devices make of pulses of ``on_s`` (L,). Where a pulse is over before a limit acts, the limit sees
        what the load draws between pulses. A load whose pulses open a limit does not pulse for long.
        """
        device = self.variant.rows.device
        delay_s = np.where(device >= 0, self.variant.piece.rides_s[device], np.nan)[:, None]
        pulses = (self.share < 1.0)[None, :]
        on = np.where(self.kind == CURRENT, self.demand * self.peak, 0.0)[None, :]
        opens = pulses & (delay_s < on_s[None, :]) & (self.load_rows * on > self.variant.rows.limit[:, None])
        stopped = opens.any(axis=0) & (self.rest < 1.0)
        self.demand = np.where(stopped, self.demand * self.rest, self.demand)
        self.peak, self.rest, self.share = (np.where(stopped, 1.0, x) for x in (self.peak, self.rest, self.share))
        self.rides = (delay_s >= on_s[None, :]) & (self.share < 1.0)[None, :]
        self.per_amp = self.load_rows
        """(R, L) what an ampere through each load adds to each row, at any moment."""
        self.load_rows = np.where(self.rides, self.load_rows * self.rest[None, :], self.load_rows)

    @cached_property
    def cycle(self) -> tuple[tuple[float, FloatArray], ...]:
        """The parts of a period in which different loads are on: share of the time, and (L,) what each load draws,
        as a multiple of its continuous equivalent. All pulses begin together.
        """
        ends = sorted({*self.share[self.share < 1.0].tolist(), 1.0})
        return tuple(
            (end - start, np.where(self.share >= end, self.peak, self.rest))
            for start, end in pairwise([0.0, *ends])
            if end > start
        )

    def response_at(self, places: Places) -> Response:
        """How everything answers to one ampere at each of the places of a variant."""
        if not places.name:
            return self.response(places.listed)
        if places.name not in self._known:
            linear = self.variant.keep(f"response at {places.name}", lambda: self._linear(places.listed))
            self._known[places.name] = replace(linear, most_a=self._most(linear), voltages={})
        return self._known[places.name]

    def response(self, places: list[Place]) -> Response:
        """How everything answers to one ampere at each place."""
        made = self._linear(places)
        return replace(made, most_a=self._most(made))

    def _linear(self, places: list[Place]) -> Response:
        """The same, without what the loads can draw, which hangs on what devices hold."""
        flows, piece = self.variant.flows, self.variant.piece
        high_a = np.array([p.high.a for p in places], dtype=np.int64)
        high_b = np.array([p.high.b for p in places], dtype=np.int64)
        low_a = np.array([p.low.a for p in places], dtype=np.int64)
        low_b = np.array([p.low.b for p in places], dtype=np.int64)
        s, t = np.array([p.high.share for p in places]), np.array([p.low.share for p in places])

        def drawn(per_node: FloatArray) -> FloatArray:
            high: FloatArray = per_node[:, high_a] * (1.0 - s) + per_node[:, high_b] * s
            low: FloatArray = per_node[:, low_a] * (1.0 - t) + per_node[:, low_b] * t
            high -= low
            return high

        def between(at_node: FloatArray) -> FloatArray:
            """(N, K) to (P, K): high minus low."""
            high: FloatArray = at_node[high_a] * (1.0 - s)[:, None] + at_node[high_b] * s[:, None]
            low: FloatArray = at_node[low_a] * (1.0 - t)[:, None] + at_node[low_b] * t[:, None]
            high -= low
            return high

        fall = drawn(flows.fall_ohm)
        every = np.arange(len(places))
        loop = fall[high_a, every] * (1.0 - s) + fall[high_b, every] * s
        loop -= fall[low_a, every] * (1.0 - t) + fall[low_b, every] * t
        ohm = piece.branches.resistance_ohm
        loop += s * (1.0 - s) * ohm[[p.high.branch for p in places]]
        loop += t * (1.0 - t) * ohm[[p.low.branch for p in places]]
        rows = drawn(self.variant.rows.per_node)
        open_v = between(flows.own_v[:, None])[:, 0]
        at_load = (fall[self.plus] - fall[self.minus]).T
        currents = Currents(self.variant, drawn, len(places))
        return Response(currents, rows, loop, open_v, between(self.load_fall), at_load, np.zeros_like(at_load))

    @cached_property
    def most_anywhere_a(self) -> FloatArray:
        """(L,) the most in A that every load can draw wherever a fault is: one of constant power what devices and
        copper let it have by itself, or its power at its minimum voltage.
        """
        with np.errstate(divide="ignore", invalid="ignore"):
            spare = np.maximum(self.variant.rows.limit, 0.0)[:, None]
            alone = np.where(self.load_rows > TINY, spare / self.load_rows, np.inf).min(axis=0, initial=np.inf)
            short = np.maximum(self.load_open_v, 0.0) / np.diag(self.load_pair)
            alone = np.fmin(np.where(np.isnan(alone), np.inf, alone), np.where(np.isnan(short), np.inf, short))
            stop = np.where(self.minimum > 0.0, self.demand / self.minimum, np.inf)
            power = np.maximum(np.fmin(alone, stop), self.case_a)
            highest = self.load_open_v if len(self.variant.piece.sources) == 1 else -self.least_load_v
            ohmic = np.maximum(highest, 0.0) / self.demand
        found: FloatArray = np.where(
            self.kind == POWER, power, np.where(self.kind == RESISTANCE, ohmic, self.demand)
        )
        return found

    def _most(self, response: Response) -> FloatArray:
        """The most that every load can draw with the fault at each place, (P, L)."""
        most = np.tile(self.most_anywhere_a, (len(response.loop_ohm), 1))
        power = self.kind == POWER
        if not power.any():
            return most
        with np.errstate(divide="ignore", invalid="ignore"):
            fault = self.most_fault(response, most)
            for _ in range(BOUND_ROUNDS):
                # At its lowest where all that pulse are on at once.
                drop = (most * self.peak) @ np.maximum(self.load_pair, 0.0).T
                least = self.load_open_v - np.maximum(response.at_load, 0.0) * fault[:, None] - drop
                least = np.maximum(least, self.minimum)
                bound = np.where(least > TINY, self.demand / least, np.inf)
                most[:, power] = np.maximum(np.fmin(most, bound), self.case_a)[:, power]
        bounded: FloatArray = np.minimum(most, UNBOUNDED_A)
        return bounded

    def holds_somehow(self, response: Response) -> BoolArray:
        """(P,) places at which some fault current may satisfy all rows, each with the loads that ease it the most.
        At the others no state holds: one row needs more fault current than another one lets through.
        """
        limit = np.concatenate(
            [np.tile(self.variant.rows.limit[:, None], len(response.loop_ohm)), response.open_v[None]]
        )
        rows = np.concatenate([response.rows, response.loop_ohm[None]])
        eased = np.concatenate(
            [
                response.most_a @ np.minimum(self.load_rows, 0.0).T,
                (response.most_a * np.minimum(response.fall, 0.0)).sum(axis=1)[:, None],
            ],
            axis=1,
        ).T
        room = limit + EXCESS - eased
        with np.errstate(divide="ignore", invalid="ignore"):
            least = np.where(rows < 0.0, room / rows, 0.0).max(axis=0)
            most = np.where(rows > 0.0, room / rows, np.inf).min(axis=0)
        found: BoolArray = ((rows != 0.0) | (room >= 0.0)).all(axis=0) & (np.maximum(least, 0.0) <= most)
        return found

    def most_fault(self, response: Response, most: FloatArray, some: slice = EVERY) -> FloatArray:
        """An upper bound of the fault current at each or ``some`` of the places, whatever the loads do, (P,)."""
        rows, loop_ohm, fall = response.rows[:, some].T, response.loop_ohm[some], response.fall[some]
        with np.errstate(divide="ignore", invalid="ignore"):
            # 0 times a load without bound is 0: it has nothing to do with that row.
            helping = np.nan_to_num(most @ np.maximum(-self.load_rows, 0.0).T, nan=np.inf, posinf=np.inf)
            room = np.maximum(self.variant.rows.limit[None, :] + helping, 0.0)
            ratio = np.where(rows > TINY, room / rows, np.inf)
            raised = (most * np.maximum(-fall, 0.0)).sum(axis=1)
            raised = np.nan_to_num(raised, nan=np.inf, posinf=np.inf)
            short = np.where(loop_ohm > 0.0, (response.open_v[some] + raised) / loop_ohm, np.inf)
        least: FloatArray = np.maximum(np.fmin(ratio.min(axis=1, initial=np.inf), short), 0.0)
        return least

    def programme(
        self, response: Response, place: int, gain: float, helps: FloatArray, *, at_any_place: bool = False
    ) -> Programme:
        """The linear programme of one query: variables x and y, all rows written out; ``at_any_place`` with rows of
        resistive loads that hold wherever the fault is.
        """
        limit = self.variant.rows.limit
        blocks = [np.column_stack([response.rows[:, place], self.load_rows])]
        blocks.append(np.concatenate([[response.loop_ohm[place]], response.fall[place]])[None])
        right = [limit, response.open_v[[place]]]
        most = response.most_a[place].copy()
        resistive = np.flatnonzero((self.kind == RESISTANCE) & (most > TINY))
        if len(resistive):
            least, top = self.least_load_v, most * self.demand
            if not at_any_place:
                least, top = self._voltages(response, place)
                most[resistive] = top[resistive] / self.demand[resistive]
            # It draws nothing at the least voltage, its most at the greatest, and no more between than by a line.
            slope = (self.demand * (1.0 - least / np.maximum(top, TINY)))[resistive]
            own = self.load_pair[resistive].copy()
            own[np.arange(len(resistive)), resistive] += slope
            blocks.append(np.column_stack([response.at_load[place][resistive], own]))
            right.append((self.load_open_v - least)[resistive])
        return Programme(
            np.concatenate([[gain], helps]),
            np.concatenate(blocks),
            np.concatenate(right),
            np.concatenate([[np.inf], most]),
        )

    def _voltages(self, response: Response, place: int) -> tuple[FloatArray, FloatArray]:
        """The least voltage (0 or below) and the greatest (0 or above) at each load, with the fault at a place."""
        if place in response.voltages:
            return response.voltages[place]
        at_load, resistive = response.at_load[place], self.kind == RESISTANCE
        most = response.most_a[place].copy()
        least, top = self.least_load_v, most * self.demand
        for _ in range(BOUND_ROUNDS if len(self.variant.piece.sources) > 1 else 0):
            fault_a = float(self.most_fault(response, most[None], slice(place, place + 1))[0])
            with np.errstate(invalid="ignore"):
                fall = np.maximum(at_load, 0.0) * fault_a + np.maximum(self.load_pair, 0.0) @ most
                rise = np.maximum(-at_load, 0.0) * fault_a + np.maximum(-self.load_pair, 0.0) @ most
            least = np.minimum(np.fmax(self.load_open_v - fall, least), 0.0)
            top = np.maximum(np.fmin(self.load_open_v + rise, top), 0.0)
            most = np.where(resistive, np.minimum(most, top / np.maximum(self.demand, TINY)), most)
        response.voltages[place] = least, top
        return least, top
