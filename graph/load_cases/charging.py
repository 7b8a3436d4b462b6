"""Inrush into capacitances: what every part carries while loads are switched on, in every case that switches some
on.

The capacitances of all other loads are charged already and feed into the one that starts. Each case is followed at
the highest output voltages with the least resistances, which give the greatest peak, and with aged contacts and hot
conductors, where the current lasts longest. A converter's input draws what its output charges
(``charging_through``).

A pulse counts in two ways. What acts by heat (fuses, conductors, contacts) is asked for the peak for as long as
gives the same I²t. What acts by a current that lasts (electronic limits) is asked for each level of current for as
long as it is exceeded at a stretch.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from loadloom.graph.circuit.charging import LEAST_OHM, Capacitance, Charging, charge
from loadloom.graph.circuit.network import (
    GREATEST_FAULT,
    LEAST_FAULT,
    LOAD_KINDS,
    Ageing,
    ConductorResistance,
    Corner,
    FloatArray,
    Network,
    OutputVoltage,
    ResistanceEnd,
    Warmth,
    compile_network,
    piece_of,
)
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.load_cases.charging_through import passed_on, sum_of
from loadloom.graph.model.elements import Behaviour, DeviceKind, Load, LoadKind
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case

CORNERS = (
    GREATEST_FAULT,
    Corner(Ageing.MEAN, OutputVoltage.HIGHEST, Warmth.OWN, ResistanceEnd.GREATEST),
    Corner(Ageing.AGED, OutputVoltage.HIGHEST, Warmth.HOT, ResistanceEnd.GREATEST),
)

MOST_CHARGED = 40
"""Charged capacitances that are followed exactly. Where there are more, they count once as stiff and once as
absent: a stiff one gives the most into the load that starts, and without it the most comes from the output."""

TELLING = 1e-3
"""Share by which a pulse has to exceed the continuous current to count."""

LEVELS = 1.08
"""Step between the levels of current for which the time above is told; each counts with the level above it."""

LEAST_LEVEL = 0.02
"""Share of the peak below which no level is told."""

AGAIN_S = 1e6
"""As good as continuous for every part: the time for which the heat of repeated charging counts."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """What one part carries while a load is switched on: its greatest current in A, the one that stays, and the I²t
    in A²s beyond the latter. ``block_s``: for how long the peak gives the same heat. ``levels``: (s, A), for how
    long at most a current is exceeded at a stretch.
    """

    peak_a: float
    calm_a: float
    i2t_a2s: float
    block_s: float
    levels: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Charge:
    """The inrush of ``loads`` in a case, at each corner by id of edge, output or splice; ``own`` by load.

    ``unlimited``: loads whose inrush no resistance limits. ``unfinished``: the output never charges them.
    ``every_s``: the shortest time from one charging to the next, where it is stated. ``stops``: converters before
    them that lose their input voltage meanwhile, ``sinks``: those whose input would have to draw more than it can.
    ``dips``: loads and inputs of converters beside them whose voltage falls below what they need, each with the
    least voltage in V and for how long it is too low in s.
    """

    case: str
    loads: tuple[str, ...]
    pulses: tuple[Mapping[str, Pulse], ...]
    own: Mapping[str, Pulse]
    unlimited: tuple[str, ...]
    unfinished: bool
    every_s: float | None
    stops: tuple[str, ...] = ()
    sinks: tuple[str, ...] = ()
    dips: Mapping[str, tuple[float, float]] = field(default_factory=dict)


def find_charges(
    harness: Harness,
    settings: AnalysisSettings,
    cases: Sequence[Case],
    temperatures_c: Mapping[str, float] | None = None,
) -> tuple[Charge, ...]:
    """The inrush of every case that switches a capacitance on."""
    found = []
    resistances = conductor_resistances(harness, settings, temperatures_c or {})
    for case in cases:
        loads = {load.id: load.under(case.state) for load in harness.loads if load.fitted}
        starting = [load for load in loads.values() if load.charges and load.start.capacitance_f]
        if starting:
            networks = [
                _at(harness, case, corner, settings, resistances, with_chassis=with_chassis)
                for with_chassis in harness.chassis_variants
                for corner in CORNERS
            ]
            found.append(_charged(harness, case, networks, loads, starting))
    return tuple(found)


def _at(
    harness: Harness,
    case: Case,
    corner: Corner,
    settings: AnalysisSettings,
    resistances: ConductorResistance,
    *,
    with_chassis: bool,
) -> tuple[Network, Network]:
    """The network at a corner, and at the one of the lowest voltage."""
    one, low = (
        compile_network(harness, case, each, settings, resistances, with_chassis=with_chassis)
        for each in (corner, LEAST_FAULT)
    )
    return one, low


def _charged(
    harness: Harness,
    case: Case,
    networks: Sequence[tuple[Network, Network]],
    loads: Mapping[str, Load],
    starting: Sequence[Load],
) -> Charge:
    """``networks``: at the corners of the charging, each with the one of the lowest voltage."""
    holds = {
        d.id: d.trip_a.upper
        for d in (device.under(case.arrangement) for device in harness.devices)
        if d.kind is DeviceKind.LIMITER and d.behaviour is Behaviour.CONSTANT_CURRENT and d.active and d.trip_a
    }
    acting = {o.id for o in harness.outputs}
    acting |= {d.id for d in harness.devices if d.kind is DeviceKind.LIMITER}
    splices = {splice.id: splice.node for splice in harness.splices}
    pulses: list[Mapping[str, Pulse]] = []
    own: dict[str, Pulse] = {}
    unlimited: dict[str, None] = {}
    unfinished = False
    names = [load.id for load in starting]
    needs_v = _needed_v(harness, loads, set(names))
    inputs = {c.output_id: c.load_id for c in harness.converters}
    input_limit_a = {c.output_id: c.input_limit_a for c in harness.converters if c.input_limit_a is not None}
    stops: dict[str, None] = {}
    sinks: dict[str, None] = {}
    dips: dict[str, tuple[float, float]] = {}
    at_low: dict[object, list[tuple[Network, Charging]]] = {}
    for network, low in networks:
        carried = _carried(network)
        runs = list(_runs(network, loads, starting, holds))
        for piece, run in runs:
            unfinished |= run.unfinished
            here = dict(_pulses(run, carried, acting, names))
            for name in names:
                if name in here:
                    pulse = here.pop(name)
                    if name not in own or pulse.i2t_a2s > own[name].i2t_a2s:
                        peak_a = max(pulse.peak_a, own[name].peak_a if name in own else 0.0)
                        own[name] = replace(pulse, peak_a=peak_a)
                    top_v = float(np.abs(network.source_voltage_v).max(initial=0.0))
                    if pulse.peak_a * LEAST_OHM > 0.1 * top_v:
                        unlimited[name] = None
            here |= dict(_of_splices(piece, here, splices))
            pulses.append(here)
        # The voltage falls furthest where it is lowest from the begin.
        if needs_v and not unlimited and low.electrical_key not in at_low:
            at_low[low.electrical_key] = list(_runs(low, loads, starting, holds))
            for piece, run in (*runs, *at_low[low.electrical_key]):
                for name, needed_v in needs_v.items():
                    if name in piece.load_index:
                        _add_dip(dips, name, needed_v, *run.across_load(piece.load_index[name]))
        if not network.couplings or unlimited:
            continue
        idle, idle_low = (_without_loads(each, set(names)) for each in (network, low))
        for together in _side_by_side(runs):
            passed = passed_on(together, idle, idle_low, input_limit_a)
            if passed is None:
                continue
            stops |= dict.fromkeys(passed.stops)
            sinks |= dict.fromkeys(passed.sinks)
            for name, (times, fall_v) in passed.falls.items():
                if name in needs_v:
                    volts = _with_own_fall(name, times, fall_v, low, at_low[low.electrical_key])
                    _add_dip(dips, name, needs_v[name], *volts)
            carried_low = _carried(low)
            there = {}
            for name, (times, amps) in passed.rows.items():
                exceeds = _pulse(times, amps, carried_low.get(name, 0.0), told=name in acting)
                if exceeds is not None:
                    there[name] = exceeds
            there |= dict(_of_splices(network, there, splices))
            pulses.append(there)
    every = [load.start.every_s for load in starting if load.start.every_s is not None]
    stopped = {inputs[name] for name in stops}
    return Charge(
        case.id,
        tuple(names),
        tuple(pulses),
        own,
        tuple(unlimited),
        unfinished,
        min(every) if every else None,
        tuple(stops),
        tuple(sinks),
        {name: found for name, found in dips.items() if name not in stopped},
    )


def _needed_v(harness: Harness, loads: Mapping[str, Load], starting: set[str]) -> dict[str, float]:
    """The least voltage in V of every load that runs beside those that start, and of every converter's input."""
    inputs = {c.load_id for c in harness.converters}
    return {
        load.id: load.minimum_v
        for load in loads.values()
        if load.minimum_v is not None and load.id not in starting and (load.demand or load.id in inputs)
    }


def _add_dip(
    dips: dict[str, tuple[float, float]], name: str, needed_v: float, times: FloatArray, volts: FloatArray
) -> None:
    """Note a load whose voltage lies below what it needs for a time, while it has enough at the end."""
    if float(volts.min()) >= needed_v or float(volts[-1]) < needed_v:
        return
    least_v, lasts_s = dips.get(name, (math.inf, 0.0))
    late_s = float(times[min(int(np.flatnonzero(volts < needed_v)[-1]) + 1, len(times) - 1)])
    dips[name] = min(least_v, float(volts.min())), max(lasts_s, late_s)


def _with_own_fall(
    name: str, times: FloatArray, fall_v: FloatArray, low: Network, runs: Sequence[tuple[Network, Charging]]
) -> tuple[FloatArray, FloatArray]:
    """A load's voltage against time, of which a converter's input takes ``fall_v``: less what the charging takes in
    the load's own piece."""
    for piece, run in runs:
        if name in piece.load_index:
            own_times, volts = run.across_load(piece.load_index[name])
            return sum_of((own_times, volts), (times, -fall_v))
    calm = solve(low)
    return times, float(calm.load_v[low.load_index[name]]) - fall_v


def _carried(network: Network) -> dict[str, float]:
    """The currents in A of all edges and outputs while everything runs."""
    full = solve(network)
    carried = dict(zip(network.edge_ids, np.abs(full.edge_a).tolist(), strict=True))
    return carried | dict(zip(network.source_ids, np.abs(full.source_a).tolist(), strict=True))


def _side_by_side(runs: Sequence[tuple[Network, Charging]]) -> Iterator[list[tuple[Network, Charging]]]:
    """The runs of different pieces, which happen at one moment; a piece that is run in two ways is in both."""
    by_piece: dict[tuple[str, ...], list[tuple[Network, Charging]]] = {}
    for piece, run in runs:
        by_piece.setdefault(piece.edge_ids, []).append((piece, run))
    for k in range(max((len(ways) for ways in by_piece.values()), default=0)):
        yield [ways[min(k, len(ways) - 1)] for ways in by_piece.values()]


def _runs(
    network: Network, loads: Mapping[str, Load], starting: Sequence[Load], holds: Mapping[str, float]
) -> Iterator[tuple[Network, Charging]]:
    """The galvanic pieces in which loads are switched on, each with what flows."""
    names = {load.id for load in starting}
    bare = _without_loads(network, names)
    node_of = network.node_index
    settled = solve(bare)
    bare = _as_before(settled)
    done: set[int] = set()
    for load in starting:
        if node_of[load.node_plus] in done:
            continue
        piece, position = piece_of(bare, node_of[load.node_plus])
        done |= set(np.flatnonzero(position >= 0).tolist())
        if not piece.source_ids:
            continue
        start, rest = [], []
        for other in loads.values():
            plus, minus = node_of[other.node_plus], node_of[other.node_minus]
            if not other.start.capacitance_f or position[plus] < 0 or position[minus] < 0 or plus == minus:
                continue
            volts = float(settled.node_v[plus] - settled.node_v[minus])
            one = _capacitance(other, int(position[plus]), int(position[minus]))
            if other.id in names:
                start.append(one)
            elif volts > 0.0:
                rest.append(replace(one, volts=volts, precharge_ohm=0.0))
        if not start:
            continue  # it has no way back, so that nothing is charged
        here = {name: most for name, most in holds.items() if name in piece.edge_index}
        if len(rest) <= MOST_CHARGED:
            yield piece, charge(piece, (*start, *rest), here)
        else:
            stiff = _with_stiff(piece, rest)
            for each in (piece, stiff):
                yield each, charge(each, start, here)


def _capacitance(load: Load, plus: int, minus: int) -> Capacitance:
    start = load.start
    return Capacitance(
        load.id,
        plus,
        minus,
        start.capacitance_f or 0.0,
        start.series_ohm or 0.0,
        0.0,
        start.precharge_ohm or 0.0,
        start.precharge_s or 0.0,
    )


def _with_stiff(piece: Network, rest: Sequence[Capacitance]) -> Network:
    """The network with charged capacitances as sources of their voltage."""
    return replace(
        piece,
        source_ids=(*piece.source_ids, *(f"«{one.name}»" for one in rest)),
        source_plus=np.concatenate([piece.source_plus, [one.plus for one in rest]]).astype(np.int64),
        source_minus=np.concatenate([piece.source_minus, [one.minus for one in rest]]).astype(np.int64),
        source_voltage_v=np.concatenate([piece.source_voltage_v, [one.volts for one in rest]]),
        source_resistance_ohm=np.concatenate(
            [piece.source_resistance_ohm, [max(one.ohm, LEAST_OHM) for one in rest]]
        ),
        source_hold_a=np.concatenate([piece.source_hold_a, np.full(len(rest), np.inf)]),
    )


def _as_before(settled: Solution) -> Network:
    """The network with everything that keeps its power, a converter's input too, drawing the current that it draws
    before anything starts: it bridges the moment from its own capacitance or drops out.
    """
    network = settled.network
    power = network.load_kind == LOAD_KINDS.index(LoadKind.POWER)
    return replace(
        network,
        couplings=(),
        load_kind=np.where(power, LOAD_KINDS.index(LoadKind.CURRENT), network.load_kind),
        load_demand=np.where(power, np.abs(settled.load_a), network.load_demand),
    )


def _without_loads(network: Network, names: set[str]) -> Network:
    kept = np.array([name not in names for name in network.load_ids], dtype=np.bool_)
    return replace(
        network,
        load_ids=tuple(name for name in network.load_ids if name not in names),
        load_plus=network.load_plus[kept],
        load_minus=network.load_minus[kept],
        load_kind=network.load_kind[kept],
        load_demand=network.load_demand[kept],
    )


def _pulses(
    run: Charging, carried: Mapping[str, float], acting: set[str], starting: Sequence[str]
) -> Iterator[tuple[str, Pulse]]:
    """Every row whose current exceeds what it carries continuously, with the loads that start among them.

    What a starting load draws itself is added: it may begin before its capacitance is charged.
    """
    peaks, beyond, end = run.peak_a(), run.i2t_a2s(), np.abs(run.end_a)
    for k, name in enumerate(run.ids):
        calm_a, peak_a = float(end[k]), float(peaks[k])
        if name.startswith("«"):
            continue
        if name not in starting and peak_a <= calm_a * (1.0 + TELLING) + 1e-9:
            continue
        samples = run.samples(k) if name in acting else None
        yield name, _made(peak_a, calm_a, float(beyond[k]), carried.get(name, 0.0), samples)


def _pulse(times: FloatArray, amps: FloatArray, carried_a: float, *, told: bool) -> Pulse | None:
    """The pulse of a current against time; None where it does not exceed its end. ``told``: with its levels."""
    calm_a, peak_a = abs(float(amps[-1])), float(np.abs(amps).max())
    if peak_a <= calm_a * (1.0 + TELLING) + 1e-9:
        return None
    i2t = float(np.trapezoid(amps**2 - calm_a**2, times))
    return _made(peak_a, calm_a, i2t, carried_a, (times, amps) if told else None)


def _made(
    peak_a: float, calm_a: float, i2t: float, carried_a: float, samples: tuple[FloatArray, FloatArray] | None
) -> Pulse:
    more_a, i2t = max(0.0, carried_a - calm_a), max(i2t, 0.0)
    square = peak_a**2 - calm_a**2
    block_s = i2t / square if square > 0.0 else 0.0
    levels = () if samples is None else tuple((s, a + more_a) for s, a in _levels(*samples, calm_a))
    return Pulse(peak_a + more_a, calm_a, i2t, block_s, levels)


def _levels(times: FloatArray, amps: FloatArray, calm_a: float) -> Iterator[tuple[float, float]]:
    """For how long a current is exceeded at a stretch, from the least level to the peak, each with the next
    level."""
    size = np.abs(amps)
    peak_a = float(size.max())
    level = max(calm_a * (1.0 + TELLING), LEAST_LEVEL * peak_a)
    while level < peak_a:
        above = np.concatenate([[False], size >= level, [False]])
        turns = np.flatnonzero(above[1:] != above[:-1])
        # From the sample before the first above to the one behind the last: no time is left out.
        begins = times[np.maximum(turns[::2] - 1, 0)]
        ends = times[np.minimum(turns[1::2], len(times) - 1)]
        yield float((ends - begins).max()), min(level * LEVELS, peak_a)
        level *= LEVELS


def _of_splices(
    piece: Network, pulses: Mapping[str, Pulse], splices: Mapping[str, str]
) -> Iterator[tuple[str, Pulse]]:
    """At a splice half the sum of the peaks of all that ends there, for the longest of their times."""
    for name, node in splices.items():
        k = piece.node_index.get(node)
        if k is None:
            continue
        ends = [*zip(piece.edge_ids, piece.edge_a, piece.edge_b, strict=True)]
        ends += [*zip(piece.source_ids, piece.source_plus, piece.source_minus, strict=True)]
        here = [pulses[edge] for edge, a, b in ends if k in (a, b) and edge in pulses]
        if here:
            peak_a = max(0.5 * math.fsum(p.peak_a for p in here), *(p.peak_a for p in here))
            block_s = max(p.block_s for p in here)
            calm_a = max(p.calm_a for p in here)
            yield name, Pulse(peak_a, calm_a, peak_a**2 * block_s, block_s)
