"""The ends of the tolerances at which a load case puts the most on each part.

No single set of voltages and resistances is the worst for every part. Each of these states is solved, and every
part takes its greatest current from the one that is worst for it:

* *nominal*: all as drawn;
* *voltages high*: highest output voltages, new contacts, short and cold conductors. A load of constant resistance
  draws the most here;
* *voltages low*: lowest output voltages, aged contacts, long and hot conductors. A load of constant power draws the
  most here;
* *voltages high, leads long*: the same with most resistances, where an output senses at a distance: what lies
  nearer to it than where it senses has the most there;
* *joined outputs apart*: outputs joined by copper on both sides share by their small differences. For each part of
  such a loop every output stands at the end of its tolerance that puts more on that part, and so does every contact
  and every length. The sign of an effect is that of the derivative at the state found (``sensitivity``), taken
  anew until the current no longer grows; to begin with each output alone is high or low;
* *converters apart*: a converter's output high while what feeds it is low, and the other way round;
* *before a converter stops to run*: where one has no voltage enough at a corner, what flows just before that. It is
  marked as a bound;
* *each load at its most*: where no one state lets every load draw the most that it draws in any, each load draws
  that as a constant current. What flows together then is a bound: no state need reach it. It is marked.

Why the ends are enough: load currents are convex in the output voltages. The current of a constant-power load
solves i = P / (V - Z·i), which is convex in V and grows with the other loads' currents, and the least solution of
such a system is convex (for Z of no negative entry, so for loads that do not raise each other's voltage). A convex
function over a box of voltages is greatest at a corner of the box. A part in which load currents oppose each other,
in the middle of a ring, follows their difference, which need not be convex; nominal is solved for its sake.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.copper import Copper
from loadloom.graph.circuit.joint_current import through_joints
from loadloom.graph.circuit.network import (
    GREATEST_FAULT,
    HIGHEST_VOLTAGE,
    LEAST_FAULT,
    LOAD_KINDS,
    LOAD_STATE,
    Ageing,
    BoolArray,
    Corner,
    FloatArray,
    IntArray,
    Network,
    OutputVoltage,
    ResistanceEnd,
    Warmth,
    at_corner,
    compile_network,
)
from loadloom.graph.circuit.sensitivity import Sensitivity, sensitivities
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solved_once import SolvedOnce
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.load_cases.compensation import compensated, compensating
from loadloom.graph.model.elements import LoadKind
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case

NOMINAL = "nominal"
HIGH = "voltages high"
LOW = "voltages low"
HIGH_LONG = "voltages high, leads long"
EACH_AT_MOST = "each load at its most"

ALL_HIGH = HIGHEST_VOLTAGE
"""Highest voltages and least resistances: a resistance draws the most."""

ALL_LOW = LEAST_FAULT
"""Lowest voltages and most resistances: a constant power draws the most, and the voltage at a load is least."""

LONG = Corner(Ageing.AGED, OutputVoltage.HIGHEST, Warmth.HOT, ResistanceEnd.GREATEST)
"""Highest voltages and most resistances: an output that senses at a distance gives the most at its terminals."""

LEAST_OHM = Corner(Ageing.NEW, OutputVoltage.NOMINAL, Warmth.OWN, ResistanceEnd.LEAST)
MOST_OHM = Corner(Ageing.AGED, OutputVoltage.NOMINAL, Warmth.OWN, ResistanceEnd.GREATEST)

SAME = 1e-9
"""Share within which two currents count as one."""

TELLING = 0.002
"""Share by which a corner has to ask for more than nominal to be looked at for open circuits and sharing."""

MOST_ROUNDS = 3
"""Times that the signs of joined outputs are taken anew; the first round finds them almost always."""

MOST_APART = 4
"""Converters of which every combination of voltage ends is solved: 16 of them at either end of all else."""

MOST_PARTS = 400_000
"""Edges times parts of joined loops that are looked at one by one; what is beyond takes the bound of ``_apart``."""


@dataclass(frozen=True)
class CornerState:
    """A case solved at one corner. ``bound``: no state need reach these currents, and none exceeds them."""

    corner: str
    solution: Solution
    bound: bool = False


@dataclass(frozen=True, slots=True)
class AtCorner:
    """The corner of the tolerances that gives a part its greatest current in a case (``cases.corners``).

    ``bound``: no state need reach that current, and none exceeds it.
    """

    corner: str
    bound: bool = False

    @property
    def words(self) -> str:
        """For a sentence, behind a current: empty for the nominal corner."""
        if self.corner in ("", NOMINAL):
            return ""
        return f" at most ({self.corner}: a bound)" if self.bound else f" ({self.corner})"


def corner_states(
    harness: Harness,
    case: Case,
    settings: AnalysisSettings,
    temperatures_c: Mapping[str, float],
    solved: SolvedOnce,
) -> tuple[CornerState, ...]:
    """A case at every corner that can be worst for a part, with the chassis as a joint and without it.

    ``temperatures_c``: conductors' own temperatures at the nominal corner. States in which a load collapses are
    left out beyond the nominal one: their currents are placeholders, and ``load-unfed`` speaks of them.
    """
    resistance = conductor_resistances(harness, settings, temperatures_c)
    found: list[CornerState] = []
    for with_chassis in harness.chassis_variants:
        nominal = compile_network(harness, case, LOAD_STATE, settings, resistance, with_chassis=with_chassis)

        def at(corner: Corner, nominal: Network = nominal) -> Network:
            return at_corner(nominal, harness, corner, settings, resistance)

        joined = _joined(nominal)
        apart = outputs_in_one_loop(nominal)
        high, low = at(ALL_HIGH), at(ALL_LOW)
        if apart:  # of these, which makes up for a drop is not known: each may by all that it can
            most_v = at(GREATEST_FAULT).source_voltage_v
            own = np.array([name in apart for name in high.source_ids], dtype=np.bool_)
            high = replace(high, source_voltage_v=np.where(own, most_v, high.source_voltage_v))
        corners = [(NOMINAL, nominal), (HIGH, high), (LOW, low)]
        if compensating(harness, case.arrangement):
            corners.append((HIGH_LONG, at(LONG)))
        here = [CornerState(name, compensated(network, harness, solved, apart)) for name, network in corners]
        if joined:
            high_v = at(GREATEST_FAULT).source_voltage_v
            box = _Box(nominal, low.source_voltage_v, high_v, at(LEAST_OHM), at(MOST_OHM), joined)
            here += _apart(box, [state.solution for state in here], solved)
        if nominal.couplings:
            here += _converters_apart(nominal, low, high, solved)
            here += _before_drop_out(tuple(here), solved)
        here += _each_at_its_most(tuple(here), solved)
        found += [state for state in here if state.corner == NOMINAL or not state.solution.collapsed]
    return tuple(found)


def worst_by_part(harness: Harness, states: Sequence[CornerState]) -> dict[str, tuple[float, AtCorner]]:
    """By id of a two-ended part, output or splice: the greatest current in A over some corners, and at which."""
    parts = harness.two_ended
    outputs = tuple(dict.fromkeys(name for state in states for name in state.solution.network.source_ids))
    joints = [splice.node for splice in harness.splices]
    rows = []
    for state in states:
        network = state.solution.network
        given = dict(zip(network.source_ids, state.solution.source_a.tolist(), strict=True))
        at_joint = through_joints(state.solution) if joints else np.zeros(0)
        rows.append(
            np.concatenate(
                [
                    np.abs(state.solution.edge_a[: len(parts)]),
                    np.array([max(0.0, given.get(name, 0.0)) for name in outputs]),
                    np.array([at_joint[network.node_index[node]] for node in joints]),
                ]
            )
        )
    table = np.array(rows)
    # The first of equal ones, so that nominal is named where no corner is worse.
    most = table.max(axis=0)
    first = (table >= most * (1.0 - SAME)).argmax(axis=0)
    corners = [AtCorner(state.corner, state.bound) for state in states]
    ids = (*(part.id for part in parts), *outputs, *(splice.id for splice in harness.splices))
    return {
        name: (current_a, corners[k]) for name, current_a, k in zip(ids, most.tolist(), first.tolist(), strict=True)
    }


def telling_states(states: Sequence[CornerState]) -> tuple[Solution, ...]:
    """The nominal states, and of the others those in which all loads together or one output give the most.

    For questions that cost too much to be asked at every corner. Without a tolerance of a voltage the nominal ones
    are enough: loads then change by what the copper drops only.
    """
    found = [state.solution for state in states if state.corner == NOMINAL]
    firm = [state.solution for state in states if not state.bound]
    for nominal in tuple(found):
        like = [s for s in firm if s.network.edge_ids == nominal.network.edge_ids]
        volts = np.array([s.network.source_voltage_v for s in like])
        if not len(like) or np.ptp(volts, axis=0).max(initial=0.0) == 0.0:
            continue
        asked = np.array([[float(np.abs(s.load_a).sum()), *s.source_a.tolist()] for s in like])
        own = np.array([float(np.abs(nominal.load_a).sum()), *nominal.source_a.tolist()])
        for column in np.flatnonzero(asked.max(axis=0) > own * (1.0 + TELLING) + SAME).tolist():
            best = like[int(asked[:, column].argmax())]
            if not any(best is known for known in found):
                found.append(best)
    return tuple(found)


# --- joined outputs -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Box:
    """A network with the ends of its voltages (S,) and of its resistances, and its ``joined`` outputs by loop."""

    nominal: Network
    low_v: FloatArray
    high_v: FloatArray
    least: Network
    most: Network
    joined: tuple[IntArray, ...]

    def at(self, high: BoolArray, ohm: FloatArray | None = None) -> Network:
        """The network with some outputs (S,) high and the others low, at given resistances, else those drawn."""
        return replace(
            self.nominal,
            source_voltage_v=np.where(high, self.high_v, self.low_v),
            edge_resistance_ohm=self.nominal.edge_resistance_ohm if ohm is None else ohm,
            # Sources beside each other share by their voltages the more, the less resistance they have.
            source_resistance_ohm=self.least.source_resistance_ohm,
        )


def _joined(network: Network) -> tuple[IntArray, ...]:
    """Outputs that lie in one loop with another one, as numbers, by block; a diode counts as closed."""
    if len(network.source_ids) < 2:
        return ()
    blocks = find_blocks(*_closed(network))
    edges = len(network.edge_ids)
    label = blocks.label[edges:]
    found = [np.flatnonzero(label == block) for block in np.unique(label[~blocks.bridge[edges:]]).tolist()]
    return tuple(group for group in found if len(group) > 1)


def outputs_in_one_loop(network: Network) -> frozenset[str]:
    """Ids of the outputs that lie in one loop with another one."""
    return frozenset(network.source_ids[k] for group in _joined(network) for k in group.tolist())


def _closed(network: Network) -> tuple[int, IntArray, IntArray, BoolArray]:
    ends_a = np.concatenate([network.edge_a, network.source_minus])
    ends_b = np.concatenate([network.edge_b, network.source_plus])
    closed = np.isfinite(np.concatenate([network.edge_resistance_ohm, network.source_resistance_ohm]))
    return len(network.node_ids), ends_a, ends_b, closed


def _apart(box: _Box, known: Sequence[Solution], solved: SolvedOnce) -> Iterator[CornerState]:
    """Joined outputs each at its own end: one alone high or low, then what each part of their loops asks for."""
    alone = [solved(box.at(mask)) for mask in _one_apart(box)]
    yield from (_state(box, solution) for solution in alone)
    parts = _parts(box, known[0])
    some = max(2, MOST_PARTS // max(1, len(box.nominal.edge_ids)))
    if len(parts) > some:
        yield from _superposed(box, alone, known[0], solved)
        parts = parts[:some]
    climbs = [_Climb(part, sign, _best((*known, *alone), part, sign)) for part in parts for sign in (1.0, -1.0)]
    seen: set[int] = set()
    for _ in range(MOST_ROUNDS):
        rising = []
        for climb, network in _asked_for(box, climbs):
            solution = solved(network)
            if climb.gain(solution) > climb.gain(climb.at) + SAME * abs(climb.gain(climb.at)):
                rising.append(_Climb(climb.part, climb.sign, solution))
                if id(solution) not in seen:
                    seen.add(id(solution))
                    yield _state(box, solution)
        climbs = rising


@dataclass(frozen=True)
class _Climb:
    """A branch (edges, then outputs, then loads) whose current in one direction is to be made greater."""

    part: int
    sign: float
    at: Solution

    def gain(self, solution: Solution) -> float:
        """The current in that direction in A."""
        return self.sign * _branch_a(solution, self.part)


def _branch_a(solution: Solution, part: int) -> float:
    edges, sources = len(solution.network.edge_ids), len(solution.network.source_ids)
    if part < edges:
        return float(solution.edge_a[part])
    part -= edges
    return float(solution.source_a[part] if part < sources else solution.load_a[part - sources])


def _best(states: Sequence[Solution], part: int, sign: float) -> Solution:
    return max(states, key=lambda solution: sign * _branch_a(solution, part))


def _asked_for(box: _Box, climbs: Sequence[_Climb]) -> Iterator[tuple[_Climb, Network]]:
    """For every branch the network that the derivatives of its current ask for."""
    by_state: dict[int, list[_Climb]] = {}
    for climb in climbs:
        by_state.setdefault(id(climb.at), []).append(climb)
    for group in by_state.values():
        wanted = np.array([climb.part for climb in group], dtype=np.int64)
        for climb, slope in zip(group, sensitivities(group[0].at, wanted), strict=True):
            if slope is not None:
                yield climb, _greatest(box, slope, climb.sign)


def _greatest(box: _Box, slope: Sensitivity, sign: float) -> Network:
    """Every voltage and resistance at the end that the derivative asks for; what has no effect is low."""
    more = sign * slope.by_resistance > 0.0
    ohm = np.where(more, box.most.edge_resistance_ohm, box.least.edge_resistance_ohm)
    return box.at(sign * slope.by_voltage > 0.0, ohm)


def _one_apart(box: _Box) -> Iterator[BoolArray]:
    """(S,) which outputs are high: one of each group and no other, or all but one of each group."""
    for k in range(max(len(group) for group in box.joined)):
        mask = np.zeros(len(box.nominal.source_ids), dtype=np.bool_)
        mask[[group[k] for group in box.joined if k < len(group)]] = True
        yield mask
        yield ~mask


def _parts(box: _Box, nominal: Solution) -> list[int]:
    """One branch, of the most resistance, of every run of parts in joined outputs' loops, outputs' runs first; then
    the loads that draw by their voltage, which is greatest where what an output takes back has the most resistance.
    """
    copper = Copper(nominal)
    chains = copper.chains
    outputs = copper.edges + np.concatenate(box.joined)
    loops = np.unique(chains.blocks.label[outputs])
    inside = np.isin(chains.blocks.label[chains.member], loops)
    member, segment = chains.member[inside], chains.segment[inside]
    order = np.lexsort((-copper.resistance_ohm[member], segment))
    first = np.unique(segment[order], return_index=True)[1]
    of_output = set(segment[np.isin(member, outputs)].tolist())
    chosen = [(int(segment[order[k]]) not in of_output, int(member[order[k]])) for k in first.tolist()]
    network = box.nominal
    varies = np.flatnonzero(network.load_kind != LOAD_KINDS.index(LoadKind.CURRENT))
    loads = (varies + copper.edges + len(network.source_ids)).tolist()
    return [*(branch for _, branch in sorted(chosen)), *loads]


def _superposed(
    box: _Box, alone: Sequence[Solution], nominal: Solution, solved: SolvedOnce
) -> Iterator[CornerState]:
    """A bound for every edge: what each output by itself adds to the state of all low, and takes from all high; all
    of it as many times greater as a run of parts in the loops can have more resistance than it can have less. So
    much more goes through a run whose resistance is least where all beside it have their most.
    """
    spread = _greatest_spread(box, nominal)
    every = np.ones(len(box.nominal.source_ids), dtype=np.bool_)
    for base, others in ((solved(box.at(~every)), alone[0::2]), (solved(box.at(every)), alone[1::2])):
        edge_a, source_a = (
            np.maximum(
                spread * np.abs(own + sum(np.maximum(other - own, 0.0) for other in of_others)),
                spread * np.abs(own + sum(np.minimum(other - own, 0.0) for other in of_others)),
            )
            for own, of_others in (
                (base.edge_a, [o.edge_a for o in others]),
                (base.source_a, [o.source_a for o in others]),
            )
        )
        most = replace(base, edge_a=edge_a, source_a=source_a)
        yield CornerState("joined outputs apart, effects added up", most, bound=True)


def _greatest_spread(box: _Box, nominal: Solution) -> float:
    """The greatest ratio of the most to the least resistance of a run of parts in joined outputs' loops."""
    copper = Copper(nominal)
    chains = copper.chains
    outputs = copper.edges + np.concatenate(box.joined)
    loops = np.unique(chains.blocks.label[outputs])
    inside = np.isin(chains.blocks.label[chains.member], loops)
    member, segment = chains.member[inside], chains.segment[inside]
    sums = []
    for network in (box.most, box.least):
        ohm = np.concatenate([network.edge_resistance_ohm, network.source_resistance_ohm])
        weights = np.where(member < len(ohm), ohm[np.minimum(member, len(ohm) - 1)], 0.0)
        sums.append(np.bincount(segment, weights=np.where(np.isfinite(weights), weights, 0.0)))
    most, least = sums
    some = least > 0.0
    return float((most[some] / least[some]).max(initial=1.0))


def _state(box: _Box, solution: Solution) -> CornerState:
    network = solution.network
    numbers = np.concatenate(box.joined).tolist()
    high = [network.source_ids[k] for k in numbers if network.source_voltage_v[k] >= box.high_v[k]]
    low = [network.source_ids[k] for k in numbers if network.source_ids[k] not in high]
    return CornerState(_voltage_words(high, low), solution)


def _voltage_words(high: Sequence[str], low: Sequence[str]) -> str:
    """Which outputs are high and which low, in words."""
    if not low or not high:
        return f"joined outputs {'high' if high else 'low'}"
    if len(low) > 2 and len(high) == 1:
        return f"{high[0]} high, the other outputs low"
    if len(high) > 2 and len(low) == 1:
        return f"{low[0]} low, the other outputs high"
    return f"{', '.join(high)} high, {', '.join(low)} low"


# --- converters -----------------------------------------------------------------------------------------------


def _converters_apart(nominal: Network, low: Network, high: Network, solved: SolvedOnce) -> Iterator[CornerState]:
    """Converters at other ends of their tolerance than what feeds them.

    The least voltage before a converter and the highest behind it make its input draw the most where its loads are
    resistances or constant currents. Up to ``MOST_APART`` converters stand at every combination of their ends, more
    at both ends together and each alone.
    """
    source = nominal.source_index
    numbers = [source[c.output] for c in nominal.couplings if c.output in source]
    spread = [k for k in numbers if low.source_voltage_v[k] < high.source_voltage_v[k]]
    if len(spread) <= MOST_APART:
        chosen = [tuple(k for n, k in enumerate(spread) if mask >> n & 1) for mask in range(1, 1 << len(spread))]
    else:
        chosen = [tuple(spread), *((k,) for k in spread), *(tuple(x for x in spread if x != k) for k in spread)]
    for base, end, words in ((low, high, "others low"), (high, low, "others high")):
        for apart in chosen:
            volts = base.source_voltage_v.copy()
            volts[list(apart)] = end.source_voltage_v[list(apart)]
            if (volts == end.source_voltage_v).all() and (
                base.edge_resistance_ohm == end.edge_resistance_ohm
            ).all():
                continue
            names = ", ".join(nominal.source_ids[k] for k in apart)
            which = "high" if base is low else "low"
            yield CornerState(f"{names} {which}, {words}", solved(replace(base, source_voltage_v=volts)))


def _before_drop_out(states: Sequence[CornerState], solved: SolvedOnce) -> Iterator[CornerState]:
    """Where converters have dropped out: what flows just before they do, which is more. No state need stay so."""
    for state in states:
        if state.solution.off:
            network = state.solution.network
            forced = tuple(replace(c, minimum_v=None) for c in network.couplings)
            before = solved(replace(network, couplings=forced))
            names = ", ".join(state.solution.off)
            yield CornerState(f"{state.corner}, before {names} stops to run", before, bound=True)


# --- loads that draw the most at different corners ------------------------------------------------------------


def _each_at_its_most(states: Sequence[CornerState], solved: SolvedOnce) -> Iterator[CornerState]:
    """Every load drawing the most that it draws in any state, as a constant current: a bound.

    Not needed where one state has all of that, unless joined outputs share through diodes or hold their current:
    what such a one passes is not convex in the voltages, and is greatest where the others just block or hold, which
    is between the corners.
    """
    fed = [state.solution for state in states if not state.solution.collapsed]
    if not fed or not len(fed[0].load_a):
        return
    network = fed[0].network
    kinds = network.load_kind
    inputs = np.isin(np.array(network.load_ids), [c.load for c in network.couplings])
    drawn = np.abs(np.array([solution.load_a for solution in fed]))
    most = drawn.max(axis=0)
    resistive = bool((kinds[~inputs] == LOAD_KINDS.index(LoadKind.RESISTANCE)).any())
    apart = any(state.corner not in (NOMINAL, HIGH, LOW) for state in states)
    varies = bool((kinds != LOAD_KINDS.index(LoadKind.CURRENT)).any())
    bends = apart and varies and bool(network.edge_diode.any() or np.isfinite(network.source_hold_a).any())
    coupled = bool(inputs.any()) and resistive
    if (drawn >= most * (1.0 - SAME)).all(axis=1).any() and not (coupled or bends):
        return
    # A converter's input still draws what its output gives, at the voltage that it then has; where outputs share
    # through diodes it draws its most as well, since it is a constant power.
    coupled_still = inputs & (not bends)
    kind = np.where(coupled_still, kinds, LOAD_KINDS.index(LoadKind.CURRENT))
    demand = np.where(coupled_still, network.load_demand, most)
    changed: dict[str, Any] = {"load_kind": kind, "load_demand": demand} | ({"couplings": ()} if bends else {})
    for state in states:
        if state.corner not in (HIGH, LOW) and not state.bound:
            solution = solved(replace(state.solution.network, **changed))
            words = EACH_AT_MOST if state.corner == NOMINAL else f"{state.corner}, {EACH_AT_MOST}"
            yield CornerState(words, solution, bound=True)
