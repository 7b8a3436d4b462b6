"""Capacitances that are charged through a network: every branch current against time.

The network is linear as long as no part changes its state: an output or limiter begins or ceases to hold its
current, a diode conducts or blocks, a pre-charge resistor is bridged. In each such phase the voltages of the
capacitances follow a linear differential equation, which is solved by its modes: C·dv/dt = M·v + m with M
symmetric. What the states are at the begin of a phase is asked of the solve of the network (``solve``), each
capacitance standing for a source of its voltage. A phase ends where a sample shows that a state no longer holds;
that moment is found by bisection.

A load of constant power, and one that the low voltage starves, counts in each phase with its current at the begin;
phases are short then.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.linear_circuit import Circuit
from loadloom.graph.circuit.network import LOAD_KINDS, BoolArray, FloatArray, IntArray, Network
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.elements import LoadKind

CURRENT, POWER, RESISTANCE = (LOAD_KINDS.index(k) for k in (LoadKind.CURRENT, LoadKind.POWER, LoadKind.RESISTANCE))

LEAST_OHM = 1e-5
"""Series resistance of a capacitance that states none, so that none stands on a source without any resistance."""

MOST_PHASES = 200
PER_DECADE = 60
"""Samples for each decade of time: the integral of an exponential is then right to 2e-4."""

EVEN = 33
"""Samples at even distances in a phase that ends before it has settled."""

SETTLED = 14.0
"""Time constants after which a mode has ended (1e-6 of it is left)."""

STEP = 0.05
"""Share of the highest voltage by which no capacitance moves in a phase with loads that are not linear."""

SLACK = 1e-7


@dataclass(frozen=True, slots=True)
class Capacitance:
    """A capacitance between two nodes: F, its series resistance in Ω, its voltage at the begin in V.

    ``precharge_ohm`` stands in series as well until ``precharge_s``.
    """

    name: str
    plus: int
    minus: int
    farad: float
    ohm: float
    volts: float
    precharge_ohm: float = 0.0
    precharge_s: float = 0.0

    def ohm_at(self, time_s: float) -> float:
        """Its series resistance at a time."""
        more = self.precharge_ohm if time_s < self.precharge_s else 0.0
        return max(self.ohm + more, LEAST_OHM)


@dataclass(frozen=True, slots=True)
class _Phase:
    """A time in which all states hold: currents of the rows are ``fixed`` + ``by_volt`` · v; ``volts`` (n, T).

    ``across_v`` and ``across_by_volt`` give the voltages across the outputs in the same way, ``load_v`` and
    ``load_by_volt`` those across the loads.
    """

    times_s: FloatArray
    volts: FloatArray
    fixed: FloatArray
    by_volt: FloatArray
    across_v: FloatArray
    across_by_volt: FloatArray
    load_v: FloatArray
    load_by_volt: FloatArray


@dataclass(frozen=True)
class Charging:
    """What flows while capacitances charge. Rows: edges, then outputs, then capacitances, as ``ids`` names them.

    ``unfinished``: some capacitance was not charged in any time.
    """

    ids: tuple[str, ...]
    phases: tuple[_Phase, ...]
    unfinished: bool

    @cached_property
    def end_a(self) -> FloatArray:
        """(rows,) currents at the end, in A."""
        last = self.phases[-1]
        found: FloatArray = last.fixed + last.by_volt @ last.volts[:, -1]
        return found

    def samples(self, row: int) -> tuple[FloatArray, FloatArray]:
        """Times in s and the current of a row in A."""
        times = np.concatenate([phase.times_s for phase in self.phases])
        amps = np.concatenate([phase.fixed[row] + phase.by_volt[row] @ phase.volts for phase in self.phases])
        return times, amps

    def given_w(self, source: int, row: int) -> FloatArray:
        """What an output gives in W at the times of ``samples``; ``source``: its number among the outputs."""
        found = []
        for phase in self.phases:
            amps = phase.fixed[row] + phase.by_volt[row] @ phase.volts
            found.append(amps * (phase.across_v[source] + phase.across_by_volt[source] @ phase.volts))
        return np.concatenate(found)

    def across_load(self, load: int) -> tuple[FloatArray, FloatArray]:
        """Times in s and the voltage across a load of the network in V, by its number among the loads."""
        times = np.concatenate([phase.times_s for phase in self.phases])
        volts = [phase.load_v[load] + phase.load_by_volt[load] @ phase.volts for phase in self.phases]
        return times, np.concatenate(volts)

    def peak_a(self) -> FloatArray:
        """(rows,) greatest magnitudes in A."""
        found: FloatArray = np.max([np.abs(currents).max(axis=1) for _, currents in self._chunks()], axis=0)
        return found

    def i2t_a2s(self) -> FloatArray:
        """(rows,) integral of the current's square beyond that of the current at the end, in A²s."""
        found = np.zeros(len(self.ids))
        rest = self.end_a**2
        for phase, currents in self._chunks():
            found += np.trapezoid(currents**2 - rest[:, None], phase.times_s, axis=1)
        return found

    def _chunks(self) -> Iterator[tuple[_Phase, FloatArray]]:
        for phase in self.phases:
            yield phase, phase.fixed[:, None] + phase.by_volt @ phase.volts


def charge(
    network: Network, capacitances: Sequence[Capacitance], holds: Mapping[str, float] | None = None
) -> Charging:
    """Charge capacitances from their voltages; ``holds``: A at which an edge (a limiter) holds its current, by id.

    A load that a capacitance stands at is in the network only if it draws from the begin.
    """
    return _Charger(network, tuple(capacitances), holds or {}).run()


class _Charger:
    def __init__(self, network: Network, capacitances: tuple[Capacitance, ...], holds: Mapping[str, float]) -> None:
        self.network, self.caps, self.holds = network, capacitances, holds
        self.plus = np.array([c.plus for c in capacitances], dtype=np.int64)
        self.minus = np.array([c.minus for c in capacitances], dtype=np.int64)
        self.farad = np.array([c.farad for c in capacitances])
        self.scale_v = max(float(np.abs(network.source_voltage_v).max(initial=0.0)), 1e-3)
        self.switches = sorted({c.precharge_s for c in capacitances if c.precharge_ohm > 0.0})

    def run(self) -> Charging:
        volts = np.array([c.volts for c in self.caps])
        now, phases = 0.0, []
        for _ in range(MOST_PHASES):
            phase, settled = self._phase(now, volts)
            phases.append(phase)
            now, volts = float(phase.times_s[-1]), phase.volts[:, -1]
            if settled and not any(t > now for t in self.switches):
                return Charging(self._ids, tuple(phases), unfinished=False)
            if phase.times_s[-1] == phase.times_s[0]:
                break
        return Charging(self._ids, tuple(phases), unfinished=True)

    @property
    def _ids(self) -> tuple[str, ...]:
        return (*self.network.edge_ids, *self.network.source_ids, *(c.name for c in self.caps))

    def _phase(self, now: float, volts: FloatArray) -> tuple[_Phase, bool]:
        """The phase from a time on, and whether all is settled at its end."""
        ohm = np.array([c.ohm_at(now) for c in self.caps])
        state, held = self._state(volts, ohm)
        linear = _Linear(self, state, held, ohm)
        modes = _Modes(linear, volts)
        bridged = next((t for t in self.switches if t > now), math.inf)
        step_v = STEP * self.scale_v if self._bent(state) else math.inf
        times = modes.times_s(self.scale_v, float(self.farad.sum()), step_v)
        settled = modes.settles and step_v == math.inf
        if times[-1] > bridged - now:
            times, settled = np.append(times[times < bridged - now], bridged - now), False
        elif math.isfinite(bridged) and settled:
            times = np.append(times, bridged - now)
        v = modes.volts(times)
        wrong = np.flatnonzero(~linear.holds_good(v))
        wrong = wrong[wrong > 0]
        if len(wrong):
            k = int(wrong[0])
            low, high = float(times[k - 1]), float(times[k])
            for _ in range(60):
                middle = 0.5 * (low + high)
                if linear.holds_good(modes.volts(np.array([middle])))[0]:
                    low = middle
                else:
                    high = middle
            times, settled = np.append(times[:k], max(high, np.nextafter(times[k - 1], np.inf))), False
            # What an output gives may rise all along: its power needs samples where its current needs none.
            times = np.union1d(times, np.linspace(0.0, float(times[-1]), EVEN))
            v = modes.volts(times)
        elif not modes.settles and not math.isfinite(bridged) and step_v == math.inf:
            settled = False
        elif step_v < math.inf and modes.settles and np.abs(v[:, -1] - v[:, 0]).max() < 1e-6 * self.scale_v:
            settled = True
        return _Phase(
            now + times, v, linear.fixed, linear.by_volt, *linear.across_outputs, *linear.across_loads
        ), settled

    def _bent(self, state: Solution) -> bool:
        """Whether a load's current does not follow the voltage linearly."""
        network = self.network
        starved = (network.load_kind == CURRENT) & (
            np.abs(state.load_a[: len(network.load_ids)]) < network.load_demand * (1.0 - 1e-6)
        )
        fed = np.array([name not in state.unfed for name in network.load_ids], dtype=np.bool_)
        return bool((((network.load_kind == POWER) & (network.load_demand > 0.0)) | starved)[fed].any())

    def _state(self, volts: FloatArray, ohm: FloatArray) -> tuple[Solution, tuple[int, ...]]:
        """The solve with every capacitance as a source, and which edges hold their current."""
        held: tuple[int, ...] = ()
        while True:
            found = solve(self._with_sources(volts, ohm, held))
            over = [
                k
                for k, name in enumerate(self.network.edge_ids)
                if k not in held and name in self.holds and found.edge_a[k] > self.holds[name] * (1.0 + SLACK)
            ]
            if not over:
                return found, held
            held = (*held, *over)

    def _with_sources(self, volts: FloatArray, ohm: FloatArray, held: tuple[int, ...]) -> Network:
        n, count = self.network, len(self.caps)
        resistance = n.edge_resistance_ohm.copy()
        resistance[list(held)] = np.inf
        hold_a = [self.holds[n.edge_ids[k]] for k in held]
        return replace(
            n,
            edge_resistance_ohm=resistance,
            source_ids=(*n.source_ids, *(f"«{c.name}»" for c in self.caps)),
            source_plus=np.concatenate([n.source_plus, self.plus]),
            source_minus=np.concatenate([n.source_minus, self.minus]),
            source_voltage_v=np.concatenate([n.source_voltage_v, volts]),
            source_resistance_ohm=np.concatenate([n.source_resistance_ohm, ohm]),
            source_hold_a=np.concatenate([n.source_hold_a, np.full(count, np.inf)]),
            load_ids=(*n.load_ids, *(f"«{n.edge_ids[k]}»" for k in held)),
            load_plus=np.concatenate([n.load_plus, n.edge_a[list(held)]]).astype(np.int64),
            load_minus=np.concatenate([n.load_minus, n.edge_b[list(held)]]).astype(np.int64),
            load_kind=np.concatenate([n.load_kind, np.full(len(held), CURRENT)]).astype(np.int64),
            load_demand=np.concatenate([n.load_demand, hold_a]),
        )


class _Linear:
    """The network with its states fixed: rows as in ``Charging``, and the conditions under which the states
    hold."""

    def __init__(self, charger: _Charger, state: Solution, held: tuple[int, ...], ohm: FloatArray) -> None:
        n, caps = charger.network, len(charger.caps)
        self.farad = charger.farad
        edges, sources, loads = len(n.edge_ids), len(n.source_ids), len(n.load_ids)
        holding = np.array([name in state.holding for name in n.source_ids], dtype=np.bool_)
        blocking = np.array([name in state.blocking for name in n.edge_ids], dtype=np.bool_)
        out = blocking.copy()
        out[list(held)] = True
        ohmic = n.load_kind == RESISTANCE
        circuit = Circuit(
            len(n.node_ids),
            np.concatenate([n.edge_a, n.source_minus, n.load_plus, charger.plus]),
            np.concatenate([n.edge_b, n.source_plus, n.load_minus, charger.minus]),
            np.concatenate(
                [
                    np.where(out, np.inf, n.edge_resistance_ohm),
                    np.where(holding, np.inf, n.source_resistance_ohm),
                    np.where(ohmic, n.load_demand, np.inf),
                    ohm,
                ]
            ),
            np.concatenate([-n.edge_drop_v, n.source_voltage_v, np.zeros(loads + caps)]),
            np.unique(n.source_minus),
        )
        base = np.zeros(len(n.node_ids))
        drawn = np.where(ohmic, 0.0, state.load_a[:loads])
        np.add.at(base, n.load_plus, -drawn)
        np.add.at(base, n.load_minus, drawn)
        hold_a = np.where(holding, n.source_hold_a, 0.0)
        np.add.at(base, n.source_plus, hold_a)
        np.add.at(base, n.source_minus, -hold_a)
        for k in held:
            base[n.edge_a[k]] -= charger.holds[n.edge_ids[k]]
            base[n.edge_b[k]] += charger.holds[n.edge_ids[k]]
        columns = np.repeat(base[:, None], caps + 1, axis=1)
        for k in range(caps):
            columns[charger.plus[k], k + 1] += 1.0 / ohm[k]
            columns[charger.minus[k], k + 1] -= 1.0 / ohm[k]
        node_v, branch_a = circuit.solve(columns)
        node_by_v, branch_by_v = node_v[:, 1:] - node_v[:, :1], branch_a[:, 1:] - branch_a[:, :1]
        keep = np.concatenate([np.arange(edges + sources), np.arange(edges + sources + loads, len(branch_a))])
        self.fixed, self.by_volt = branch_a[keep, 0], branch_by_v[keep]
        self.fixed[edges : edges + sources][holding] = n.source_hold_a[holding]
        self.fixed[list(held)] = [charger.holds[n.edge_ids[k]] for k in held]
        self.by_volt[edges + sources :] -= np.diag(1.0 / ohm)
        self.caps_at = edges + sources

        def across(a: IntArray, b: IntArray) -> tuple[FloatArray, FloatArray]:
            return node_v[a, 0] - node_v[b, 0], node_by_v[a] - node_by_v[b]

        self.across_outputs = across(n.source_plus, n.source_minus)
        self.across_loads = across(n.load_plus, n.load_minus)
        self.limits: list[tuple[FloatArray, FloatArray, FloatArray]] = []
        """Each: fixed + by_volt · v is at most the third."""
        finite = np.isfinite(n.source_hold_a)
        some = np.flatnonzero(finite & ~holding)
        slack_a = SLACK * max(1.0, float(np.abs(n.source_hold_a[finite]).max(initial=0.0)))
        slack_v = SLACK * charger.scale_v
        self.limits.append((self.fixed[edges + some], self.by_volt[edges + some], n.source_hold_a[some] + slack_a))
        some = np.flatnonzero(finite & holding)
        inner_ohm = np.where(np.isfinite(n.source_resistance_ohm), n.source_resistance_ohm, 0.0)  # inf = off
        top_v = n.source_voltage_v - inner_ohm * np.where(finite, n.source_hold_a, 0.0)
        self.limits.append((*across(n.source_plus[some], n.source_minus[some]), top_v[some] + slack_v))
        some = np.flatnonzero(n.edge_diode & ~blocking & np.isfinite(n.edge_resistance_ohm))
        self.limits.append((-self.fixed[some], -self.by_volt[some], np.full(len(some), slack_a)))
        some = np.flatnonzero(n.edge_diode & blocking)
        self.limits.append((*across(n.edge_a[some], n.edge_b[some]), n.edge_drop_v[some] + slack_v))
        some = np.array(held, dtype=np.int64)
        volts, by_volt = across(n.edge_a[some], n.edge_b[some])
        self.limits.append((-volts, -by_volt, np.full(len(some), slack_v)))
        free = np.array(
            [k for k, name in enumerate(n.edge_ids) if name in charger.holds and k not in held], dtype=int
        )
        most = np.array([charger.holds[n.edge_ids[k]] for k in free]) * (1.0 + SLACK) + slack_a
        self.limits.append((self.fixed[free], self.by_volt[free], most))

    def holds_good(self, volts: FloatArray) -> BoolArray:
        """(T,) whether all states hold at voltages (n, T)."""
        good = np.ones(volts.shape[1], dtype=np.bool_)
        for fixed, by_volt, most in self.limits:
            if len(fixed):
                good &= (fixed[:, None] + by_volt @ volts <= most[:, None]).all(axis=0)
        return good


class _Modes:
    """The voltages of the capacitances from a time on, by modes: w' = rate·w + push in coordinates that do not
    mix."""

    def __init__(self, linear: _Linear, volts: FloatArray) -> None:
        root = np.sqrt(linear.farad)
        own = linear.by_volt[linear.caps_at :]
        matrix = own / root[:, None] / root[None, :]
        self.rate, turn = np.linalg.eigh(0.5 * (matrix + matrix.T))
        fastest = float(np.abs(self.rate).max(initial=0.0))
        self.rate = np.where(np.abs(self.rate) <= 1e-12 * fastest, 0.0, np.minimum(self.rate, 0.0))
        self.back = turn / root[:, None]
        self.start = turn.T @ (root * volts)
        self.push = turn.T @ (linear.fixed[linear.caps_at :] / root)
        self.push[(self.rate == 0.0) & (np.abs(self.push) < 1e-9 * np.abs(self.push).max(initial=1e-30))] = 0.0

    @property
    def settles(self) -> bool:
        """Whether every mode comes to an end by itself."""
        return not bool(((self.rate == 0.0) & (self.push != 0.0)).any())

    def volts(self, times: FloatArray) -> FloatArray:
        """(n, T) voltages at times in s."""
        exponent = np.outer(self.rate, times)
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = np.where(self.rate[:, None] == 0.0, times[None, :], np.expm1(exponent) / self.rate[:, None])
        found: FloatArray = self.back @ (self.start[:, None] * np.exp(exponent) + self.push[:, None] * reach)
        return found

    def times_s(self, scale_v: float, farad: float, step_v: float) -> FloatArray:
        """Times of the samples, from 0 until all is settled, or until the voltages have moved by ``step_v``."""
        rates = np.abs(self.rate[self.rate != 0.0])
        spans = [float(SETTLED / rates.min())] if len(rates) else []
        if not self.settles:
            slope = np.abs(self.back @ (self.push * (self.rate == 0.0))).max()
            spans.append(4.0 * scale_v / max(float(slope), 1e-30))
        whole_s = max(spans, default=1.0)
        first_s = min(float(1e-4 / rates.max()) if len(rates) else whole_s, whole_s) * 1e-0
        first_s = min(first_s, 1e-4 * whole_s)
        count = max(2, math.ceil(PER_DECADE * math.log10(whole_s / first_s)))
        times = np.concatenate([[0.0], np.geomspace(first_s, whole_s, count)])
        if math.isfinite(step_v):
            moved = np.abs(self.volts(times) - self.volts(times[:1])).max(axis=0)
            # Half of the way of the phase at most: what a load draws that is not linear is found anew then.
            beyond = np.flatnonzero(moved > min(step_v, 0.5 * float(moved.max())))
            if len(beyond):
                times = times[: max(2, int(beyond[0]) + 1)]
        return times
