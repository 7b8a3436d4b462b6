"""How loads that are not of constant current answer a single open circuit.

An open circuit puts a voltage into the way to the loads behind it; loads of constant resistance or power change
their current, which changes the block's, and so on. In a harness up to ``COUPLED_LIMIT`` this is carried through to
the end: the loads' response is linearised once around the solved state, which is exact for resistances, and the
rest of constant power is iterated until it no longer matters. In a larger harness the loads' first response is
taken into account for parallel paths, and what remains is stated as an error in A.

Reciprocity saves the solves: the voltage at load k per volt put into segment e equals the current in segment e
per ampere drawn by load k.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loadloom.graph.circuit.chains import AT_ONCE
from loadloom.graph.circuit.copper import Copper
from loadloom.graph.circuit.linear_circuit import sum_at
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.solve import KNEE, POWER, RESISTANCE

BoolArray = npt.NDArray[np.bool_]

COUPLED_LIMIT = 2_000_000_000
"""Segments times the square of reacting loads up to which the reaction is carried through to the end."""

PASSES = 30


@dataclass(frozen=True)
class LoadReaction:
    """How loads that are not of constant current answer an open circuit. P of them react.

    ``per_load`` (segments, P): change of a segment's current per ampere of load. ``slope_s`` (P,): change of
    load current per volt. ``inverse`` (P, P): of 1 + slope · transfer. For a large harness only ``at_slope``
    (segments, 2): the segments' currents if every load drew its slope, or its slope's magnitude, as a current.
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
    def of(cls, copper: Copper) -> LoadReaction | None:
        """None where all loads draw constant current, or no block has a parallel path."""
        solution, chains = copper.solution, copper.chains
        net = solution.network
        skip = set(solution.unfed) | set(solution.collapsed)
        reacts = (net.load_kind != 0) & (solution.load_a != 0)
        reacts &= ~np.isin(np.array(net.load_ids, dtype=object), list(skip)) if skip else True
        which = np.flatnonzero(reacts)
        if not len(which) or not chains.segments:
            return None
        kind, demand = net.load_kind[which], net.load_demand[which]
        volts, amps = solution.load_v[which], solution.load_a[which]
        slope = np.where(kind == RESISTANCE, 1.0, -1.0) * amps / volts
        circuit = copper.circuit()
        size = len(which)
        coupled = chains.segments * size**2 <= COUPLED_LIMIT
        per_load: FloatArray = np.zeros((0, 0))
        transfer: FloatArray = np.zeros((0, 0))
        inverse: FloatArray = np.zeros((0, 0))
        at_slope: FloatArray = np.zeros((0, 2))
        plus, minus = net.load_plus[which], net.load_minus[which]
        if coupled:
            per_load = np.zeros((chains.segments, size))
            transfer = np.zeros((size, size))
            for some in np.array_split(np.arange(size), min(size, size * len(net.node_ids) // AT_ONCE + 1)):
                inject = np.zeros((len(net.node_ids), len(some)))
                inject[plus[some], np.arange(len(some))] -= 1.0
                inject[minus[some], np.arange(len(some))] += 1.0
                node_v, branch_a = circuit.solve(inject)
                per_load[chains.segment, some[0] : some[-1] + 1] = chains.sign[:, None] * branch_a[chains.member]
                transfer[:, some] = node_v[minus] - node_v[plus]
            inverse = np.asarray(np.linalg.inv(np.eye(size) + slope[:, None] * transfer), dtype=np.float64)
        else:
            nodes = len(net.node_ids)
            both = (slope, np.abs(slope))
            inject = np.stack([sum_at(minus, x, nodes) - sum_at(plus, x, nodes) for x in both], axis=1)
            _, branch_a = circuit.solve(inject)
            at_slope = np.zeros((chains.segments, 2))
            at_slope[chains.segment] = chains.sign[:, None] * branch_a[chains.member]
        highest = float(np.max(net.source_voltage_v, initial=0.0))
        droop = float(np.clip(1.0 - np.abs(volts) / highest, 0.0, None).max()) if highest else 1.0
        return cls(
            coupled=coupled,
            segment_a=copper.segment_a,
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
        """(K, M, n) change of the currents after an open circuit by the loads' reaction; (K, n) error left, in
        A."""
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
            response: FloatArray = start - answer * pull
            return response

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
        """Loads behind parallel paths see the open circuit's voltage and answer it once; the rest is the error.

        The voltage at the loads is the opened part's share of the current times the voltage over it. The loads'
        answer comes back through all paths of the block, the opened one excepted.
        """
        signed, size = self.at_slope[segment][..., 0], self.at_slope[segment][..., 1]
        own, own_size = self.at_slope[opening][..., 0], self.at_slope[opening][..., 1]
        total = np.abs(size).sum(axis=1)[:, None]
        emf = -loop_ohm * self.segment_a[opening]
        share = np.abs(own_size) / np.where(total > 0, total, 1.0)
        step = share * emf * np.sign(own_size)
        change = step[:, None, :] * (signed[:, :, None] - ratio * own[:, None, :])
        return change, np.abs(emf) * total * min(1.0, 3.0 * self.droop + 0.05)
