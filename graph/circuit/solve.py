"""The solve: currents and voltages of one network.

Nodal analysis on the groups of nodes that 0 Ω joins (``circuit``, ``zero_ohm``), with three kinds of parts that
are not linear:

* *Parts with states*: a diode conducts or blocks; a constant-current output holds its voltage or its current;
  a constant-current load draws its current in the direction in which the voltage across it drives one, or,
  where the network can't supply that much, takes what comes at no voltage. Each relation is monotone, so the
  currents are unique; the states are found by correcting the wrong ones until none is wrong. While states
  are sought, a blocking diode and a holding output leak a little (``LEAK_S``), so that no part of the network
  floats; the answer itself is solved without leak.
* *Constant-power loads*: from the voltage without them downwards, by repeated solve with the currents last
  found, and by Newton steps where that is slow. Both come down on the stable voltage from above. Below the
  share ``KNEE`` of the voltage without load nothing stable is left: the load is then taken as a resistance,
  its current falling with the voltage, and reported as collapsed.
* *Loads with no copper way to both terminals of an output* take nothing (``unfed``). One load is no way for
  another's current, save a resistance, which is a branch like any other.

A load drawn with its terminals swapped draws as much as one that is not: its voltage and its current are
negative. It takes no load off the conductors that it shares, which is the reading on the safe side.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from loadloom.graph.circuit.couplings import solve_coupled
from loadloom.graph.circuit.linear_circuit import Circuit, sum_at
from loadloom.graph.circuit.network import LOAD_KINDS, FloatArray, IntArray, Network
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.model.elements import LoadKind

BoolArray = npt.NDArray[np.bool_]

CURRENT, POWER, RESISTANCE = (LOAD_KINDS.index(k) for k in (LoadKind.CURRENT, LoadKind.POWER, LoadKind.RESISTANCE))

LEAK_S = 1e-6
"""Conductance of a blocking diode and slope of a holding output while states are sought."""

SEEKING_OHM = 1e-6
"""Resistance of a conducting diode that has none, while states are sought, so that diodes in parallel can tell
which of them conducts."""

SHORTED_OHM = 1e-6
"""Resistance of a constant-current load that the network can't feed."""

KNEE = 0.2
"""Share of the no-load voltage below which a constant-power load counts as collapsed. One such load alone has
no stable voltage below 0.5; several on one line can stand lower."""

CONFLICT_OHM = 1e-3
"""Placeholder for the internal resistance of outputs that disagree through 0 Ω."""

SLACK_A = 1e-9
ROUNDING = 1e-14
"""Share of a network's greatest current below which a current is rounding, and none."""
SLACK_V = 1e-9
POWER_PASSES = 400
SLOW = 0.3
"""Above this ratio of one correction to the one before, constant-power loads get Newton steps."""


@dataclass(frozen=True)
class _States:
    """``conducts`` (E,) of diodes, ``holds`` (S,) of outputs, ``fed`` (L,), ``sign`` (L,) of a load's current:
    1, -1, or 0 for a starved one; ``knee_v`` (L,): voltage at which a load's resistance stands in for its
    constant power, 0 where it doesn't.
    """

    conducts: BoolArray
    holds: BoolArray
    fed: BoolArray
    sign: IntArray
    knee_v: FloatArray

    def key(self) -> tuple[bytes, ...]:
        """Equal for equal states."""
        return tuple(
            part.tobytes() for part in (self.conducts, self.holds, self.fed & (self.sign == 0), self.knee_v)
        )


@dataclass(frozen=True)
class _Answer:
    """One linear solve: ``drawn_a`` (L,) is the signed current taken as given."""

    circuit: Circuit
    states: _States
    node_v: FloatArray
    branch_a: FloatArray
    drawn_a: FloatArray
    settled: bool


def solve(network: Network) -> Solution:
    """Solve a network; see the module's text for what is exact and what a state means.

    Never fails on a network that is well formed: loads that can't be fed are listed in ``unfed`` and
    ``collapsed``, outputs that disagree through 0 Ω in ``conflicts`` (solved with a placeholder of
    ``CONFLICT_OHM`` each). Converters are settled around it (``couplings``).
    """
    if network.couplings:
        return solve_coupled(network, lambda given: _Solver(given).run())
    return _Solver(network).run()


class _Solver:
    """Fixed arrays of one network, branches in the order edges, outputs, loads."""

    def __init__(self, network: Network) -> None:
        self.net = network
        n = network
        self.edges, self.sources, self.loads = len(n.edge_ids), len(n.source_ids), len(n.load_ids)
        self.end_a = np.concatenate([n.edge_a, n.source_minus, n.load_plus])
        self.end_b = np.concatenate([n.edge_b, n.source_plus, n.load_minus])
        self.live = np.isfinite(n.source_resistance_ohm)
        self.inner_ohm = np.where(self.live, n.source_resistance_ohm, 0.0)
        self.placeholder = np.zeros(self.edges + self.sources, dtype=np.bool_)
        self.has_states = bool(n.edge_diode.any() or np.isfinite(n.source_hold_a).any())
        parts = int(n.edge_diode.sum()) + self.sources
        self.leaked_a = LEAK_S * parts * float(np.abs(n.source_voltage_v).sum())
        self.iterations = 0
        self._kept: dict[bool, tuple[tuple[bytes, ...], Circuit]] = {}

    def run(self) -> Solution:
        """Settle the states, then bring the constant-power loads down to their voltage."""
        net = self.net
        states = _States(
            conducts=net.edge_diode.copy(),
            holds=np.zeros(self.sources, dtype=np.bool_),
            fed=np.ones(self.loads, dtype=np.bool_),
            sign=np.ones(self.loads, dtype=np.int64),
            knee_v=np.zeros(self.loads),
        )
        states = replace(states, fed=self._fed(self.circuit(states, seeking=self.has_states)))
        power = (net.load_kind == POWER) & (net.load_demand > 0)
        demand = np.where(net.load_kind == CURRENT, net.load_demand, 0.0)
        answer = self._settle(states, demand)
        power &= answer.states.fed
        if not power.any():
            return self._solution(answer)

        idle_v = np.abs(self._load_v(answer.node_v))
        power &= idle_v > SLACK_V
        before, newton = np.inf, True
        for _ in range(POWER_PASSES):
            load_v = np.abs(self._load_v(answer.node_v))
            states = answer.states
            active = power & (states.knee_v == 0)
            gone = active & (load_v < KNEE * idle_v)
            if gone.any():
                states = replace(states, knee_v=np.where(gone, KNEE * idle_v, states.knee_v))
                active &= ~gone
                before, newton = np.inf, True
            wanted = demand.copy()
            wanted[power] = 0.0
            wanted[active] = net.load_demand[active] / load_v[active]
            step = float(np.abs(wanted - demand).max(initial=0.0))
            if not gone.any() and step <= 1e-13 * float(wanted.max(initial=0.0)):
                break
            slow = step > SLOW * before
            before = step
            if slow and newton:
                better = self._newton(answer, demand, active, KNEE * idle_v)
                newton = better is not None
                wanted = wanted if better is None else better
            demand = wanted
            answer = self._settle(states, demand)
        return self._solution(answer)

    def _settle(self, states: _States, demand: FloatArray) -> _Answer:
        """Solve at given load currents (L,), correcting the states until none is wrong."""
        seeking = self.has_states
        limit = 20 + 4 * (self.edges * self.has_states + self.sources + self.loads)
        for turn in range(limit):
            circuit = self.circuit(states, seeking)
            drawn = np.where(states.fed, demand * states.sign, 0.0)
            node_v, branch_a = circuit.solve(self._injection(states, drawn))
            self.iterations += 1
            answer = _Answer(circuit, states, node_v, branch_a, drawn, settled=True)
            better = self._corrected(answer, demand, seeking, one_by_one=turn > 30)
            if better is not None:
                states = better
            elif not seeking:
                return answer
            else:
                seeking = False
                states = replace(states, fed=states.fed & self._fed(self.circuit(states, seeking=False)))
        return replace(answer, settled=False)

    def circuit(self, states: _States, seeking: bool) -> Circuit:
        """The linear circuit under given states. Outputs that disagree get their placeholder."""
        kept = self._kept.get(seeking)
        if kept is not None and kept[0] == states.key():
            return kept[1]
        net = self.net
        resistance = np.full(len(self.end_a), np.inf)
        emf = np.zeros(len(self.end_a))
        edge, source, load = self._slices()

        on = ~net.edge_diode | states.conducts
        least = np.where(net.edge_diode, SEEKING_OHM, 0.0) if seeking else 0.0
        blocked = np.where(np.isfinite(net.edge_resistance_ohm), 1 / LEAK_S if seeking else np.inf, np.inf)
        resistance[edge] = np.where(on, np.maximum(net.edge_resistance_ohm, least), blocked)
        emf[edge] = np.where(net.edge_diode & states.conducts, -net.edge_drop_v, 0.0)

        hold = np.where(states.holds, net.source_hold_a, 0.0)
        resistance[source] = np.where(states.holds, 1 / LEAK_S if seeking else np.inf, net.source_resistance_ohm)
        emf[source] = net.source_voltage_v - self.inner_ohm * hold

        resistance[load] = np.where(net.load_kind == RESISTANCE, net.load_demand, np.inf)
        starved = (net.load_kind != RESISTANCE) & (states.sign == 0) & states.fed
        resistance[load] = np.where(starved, SHORTED_OHM, resistance[load])
        collapsed = states.knee_v > 0
        demand = np.where(net.load_demand > 0, net.load_demand, np.inf)
        resistance[load] = np.where(collapsed, states.knee_v**2 / demand, resistance[load])

        resistance[: self.edges + self.sources][self.placeholder] = CONFLICT_OHM
        circuit = Circuit(len(net.node_ids), self.end_a, self.end_b, resistance, emf, net.source_minus)
        conflict = circuit.conflict[: self.edges + self.sources]
        if conflict.any():
            self.placeholder |= conflict
            self._kept.clear()
            return self.circuit(states, seeking)
        self._kept[seeking] = (states.key(), circuit)
        return circuit

    def _slices(self) -> tuple[slice, slice, slice]:
        edge_end, source_end = self.edges, self.edges + self.sources
        return slice(0, edge_end), slice(edge_end, source_end), slice(source_end, source_end + self.loads)

    def _fed(self, circuit: Circuit) -> BoolArray:
        """Loads whose terminals both have a copper way to one output and are not joined without resistance."""
        net = self.net
        resistance = circuit.resistance_ohm.copy()
        resistance[self._slices()[2]] = np.inf
        # A holding output is a way as well, one that is off is none.
        resistance[self._slices()[1]] = np.where(self.live, 0.0, np.inf)
        copper = Circuit(circuit.nodes, self.end_a, self.end_b, resistance, circuit.emf_v, circuit.preferred)
        live = np.zeros(len(net.node_ids), dtype=np.bool_)
        live[net.source_plus[self.live]] = True
        with_output = np.isin(copper.piece, np.unique(copper.piece[live]))
        same = copper.piece[net.load_plus] == copper.piece[net.load_minus]
        rigid = circuit.rigid
        bridged: BoolArray = rigid.group[net.load_plus] == rigid.group[net.load_minus]
        bridged &= circuit.offset_v[net.load_plus] == circuit.offset_v[net.load_minus]
        fed: BoolArray = same & with_output[net.load_plus] & ~bridged
        return fed

    def _injection(self, states: _States, load_a: FloatArray) -> FloatArray:
        """(N,) current that holding outputs and loads bring into the nodes."""
        net = self.net
        nodes = len(net.node_ids)
        held = np.where(states.holds, net.source_hold_a, 0.0)
        into = sum_at(net.source_plus, held, nodes) - sum_at(net.source_minus, held, nodes)
        into += sum_at(net.load_minus, load_a, nodes) - sum_at(net.load_plus, load_a, nodes)
        return into

    def _newton(
        self, answer: _Answer, demand: FloatArray, active: BoolArray, least_v: FloatArray
    ) -> FloatArray | None:
        """Load currents (L,) after one Newton step, or None where it leaves the stable side."""
        net, circuit, sign = self.net, answer.circuit, answer.states.sign
        load_v = self._load_v(answer.node_v)
        resistance = circuit.resistance_ohm.copy()
        tail = self._slices()[2]
        with np.errstate(divide="ignore", invalid="ignore"):
            resistance[tail] = np.where(active, -(load_v**2) / net.load_demand, resistance[tail])
            tangent = np.where(active, 2.0 * net.load_demand / load_v, answer.drawn_a)
        try:
            node_v, _ = replace(circuit, resistance_ohm=resistance).solve(self._injection(answer.states, tangent))
        except RuntimeError:  # singular: the end of the stable side
            return None
        after = (self._load_v(node_v) * sign)[active]
        stays = (after >= least_v[active]) & (after <= (load_v * sign)[active] * (1 + 1e-9))
        if not stays.all():
            return None
        better = demand.copy()
        better[active] = net.load_demand[active] / after
        return better

    def _load_v(self, node_v: FloatArray) -> FloatArray:
        return node_v[self.net.load_plus] - node_v[self.net.load_minus]

    def _corrected(self, answer: _Answer, demand: FloatArray, seeking: bool, one_by_one: bool) -> _States | None:
        """The states with the wrong ones corrected, all at once or only the first; None if none is wrong."""
        net, states, node_v, branch_a = self.net, answer.states, answer.node_v, answer.branch_a
        edge, source, load = self._slices()
        slack_a = SLACK_A * max(1.0, float(np.abs(branch_a).max(initial=0.0)))
        across = node_v[net.edge_a] - node_v[net.edge_b]
        # While leaks flow, a diode that holds a rail may carry those of all others backwards, and still be on.
        leaked_a = self.leaked_a if seeking else 0.0
        turns_off = net.edge_diode & states.conducts & (branch_a[edge] < -slack_a - leaked_a)
        turns_on = net.edge_diode & ~states.conducts & (across > net.edge_drop_v + SLACK_V)
        turns_on &= np.isfinite(net.edge_resistance_ohm)
        if not seeking and turns_on.any():  # across separate pieces a voltage means nothing
            piece = answer.circuit.piece
            turns_on &= piece[net.edge_a] == piece[net.edge_b]
        diode = turns_off | turns_on

        over = ~states.holds & (branch_a[source] > net.source_hold_a + slack_a)
        terminal = node_v[net.source_plus] - node_v[net.source_minus]
        held = np.where(states.holds, net.source_hold_a, 0.0)
        free = net.source_voltage_v - self.inner_ohm * held
        under = states.holds & (terminal > free + SLACK_V)
        output = over | under

        load_v = self._load_v(node_v)
        draws = (net.load_kind != RESISTANCE) & states.fed & (states.knee_v == 0)
        flips = draws & (states.sign != 0) & (states.sign * load_v < -SLACK_V)
        short_a = branch_a[load]
        frees = draws & (states.sign == 0) & (np.abs(short_a) > demand + slack_a)
        sign = np.where(flips, 0, np.where(frees, np.sign(short_a).astype(np.int64), states.sign))

        wrong = np.flatnonzero(np.concatenate([diode, output, flips | frees]))
        if not len(wrong):
            return None
        take = np.zeros(len(self.end_a), dtype=np.bool_)
        take[wrong[:1] if one_by_one else wrong] = True
        return replace(
            states,
            conducts=states.conducts ^ (diode & take[edge]),
            holds=states.holds ^ (output & take[source]),
            sign=np.where(take[load], sign, states.sign),
        )

    def _solution(self, answer: _Answer) -> Solution:
        net, circuit, states = self.net, answer.circuit, answer.states
        node_v, branch_a = answer.node_v, answer.branch_a
        edge, source, load = self._slices()
        load_a = branch_a[load] + answer.drawn_a
        source_a = branch_a[source] + np.where(states.holds, net.source_hold_a, 0.0)
        flow = np.concatenate([branch_a[edge], source_a, load_a])
        residual = float(np.abs(circuit.outflow_a(flow)).max(initial=0.0))
        flow[np.abs(flow) < ROUNDING * float(np.abs(flow).max(initial=0.0))] = 0.0

        load_v = self._load_v(node_v)
        asks = (net.load_kind != RESISTANCE) & (net.load_demand > 0)
        nothing = np.abs(load_a) <= 1e-9 * net.load_demand
        dead = ~states.fed | (asks & nothing)
        low = ~dead & asks & ((states.sign == 0) | (states.knee_v > 0) | (not answer.settled))
        shared = circuit.rigid.shared
        names = (*net.edge_ids, *net.source_ids)

        def ids(mask: BoolArray, of: tuple[str, ...]) -> tuple[str, ...]:
            return tuple(of[k] for k in np.flatnonzero(mask))

        return Solution(
            network=net,
            node_v=node_v,
            edge_a=flow[edge],
            source_a=flow[source],
            load_v=np.where(dead, 0.0, load_v),
            load_a=flow[load],
            residual_a=residual,
            unfed=ids(dead, net.load_ids),
            collapsed=ids(low, net.load_ids),
            holding=ids(states.holds, net.source_ids),
            equal_share=ids(shared[: self.edges + self.sources], names),
            conflicts=ids(self.placeholder, names),
            blocking=ids(net.edge_diode & ~states.conducts, net.edge_ids),
            iterations=self.iterations,
        )
