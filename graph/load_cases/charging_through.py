"""What charges a capacitance behind a converter is drawn by the converter's input as well.

The output's power against time is known from the charging itself (``circuit/charging``). Its excess over what the
output gives when all is charged is set on the converter in the solve of the whole network, at as many powers as
make the currents between them straight lines. What every part then carries more is added to what it carries
without. So a chain of converters hands the pulse on, stage by stage.

The excess is the one at the highest output voltage; what it draws is solved at the lowest voltage with the most
resistance, where a constant power draws most. Charged capacitances before the input would help out; they are left
out here, the safe side for what feeds the input.

An input that takes no more than its ``Input limit`` takes that for longer: until it has drawn the same energy. That
is a bound, since what charges slower loses less in the resistances on its way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from loadloom.graph.circuit.charging import Charging
from loadloom.graph.circuit.network import FloatArray, Network
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve

TELLING = 1e-3
"""Share by which a power or a current has to change to count."""

POWERS = 17
"""Powers at which the whole is solved: a straight line between two of them is right to 1e-3 of the change."""


HALVES = 12
"""Times that the range of powers is halved until an input's current is its limit, to 2e-4 of the range."""


@dataclass(frozen=True)
class Passed:
    """Currents of what feeds the inputs of converters, by id of edge or output: times in s, A; and by how much the
    voltage of other loads falls meanwhile, by id of the load: times in s, V.

    ``stops``: converters (ids of their outputs) whose input falls below what it needs. ``sinks``: converters whose
    input would have to draw more than its supply can give, or than it takes for a pulse further behind. With either
    of them no currents are told.
    """

    rows: Mapping[str, tuple[FloatArray, FloatArray]] = field(default_factory=dict)
    falls: Mapping[str, tuple[FloatArray, FloatArray]] = field(default_factory=dict)
    stops: tuple[str, ...] = ()
    sinks: tuple[str, ...] = ()


def passed_on(
    runs: Sequence[tuple[Network, Charging]], idle: Network, low: Network, input_limit_a: Mapping[str, float]
) -> Passed | None:
    """What the inputs of converters draw while ``runs`` charge what lies behind them; None where they draw no more.

    ``idle`` and ``low``: the network without the loads that start, at the corner of the runs and at the one of the
    lowest voltage. ``input_limit_a``: the most that an input takes, by id of the converter's output.
    """
    before = solve(idle)
    excess = _excess_w(runs, idle, before)
    if not excess:
        return None
    calm = solve(low)
    for name, limit_a in input_limit_a.items():
        if name in excess:
            excess[name] = _limited(excess[name], name, limit_a, low, calm)
    at, knots, by_knot = _knots(excess)
    edges, sources, falls, sinks = [], [], [], dict.fromkeys(calm.collapsed)
    for k in range(len(knots)):
        found = _with_more(low, {name: float(watts[k]) for name, watts in by_knot.items()})
        stops = tuple(name for name in found.off if name not in calm.off)
        if stops:
            return Passed(stops=stops)
        sinks = dict.fromkeys((*sinks, *_sinking(found, calm, input_limit_a)))
        edges.append(found.edge_a - calm.edge_a)
        sources.append(found.source_a - calm.source_a)
        falls.append(calm.load_v - found.load_v)
    if sinks:
        return Passed(sinks=tuple(sinks))
    changes = np.concatenate([np.array(edges), np.array(sources)], axis=1)
    names = (*low.edge_ids, *low.source_ids)
    least = np.concatenate([calm.edge_a, calm.source_a])
    greatest = np.concatenate([before.edge_a, before.source_a])
    rows = {}
    for k, name in enumerate(names):
        if np.abs(changes[:, k]).max() <= TELLING * abs(least[k]) + 1e-9:
            continue
        times, more_a = at.times_s, np.interp(at.place, knots, changes[:, k])
        shift_a = least[k] - greatest[k] if abs(least[k]) > abs(greatest[k]) else 0.0
        own = _own(runs, name)
        if own is None:
            rows[name] = (times, greatest[k] + shift_a + more_a)
        else:
            rows[name] = sum_of(own, (times, more_a + shift_a))
    by_load = {
        name: (at.times_s, np.interp(at.place, knots, np.array(falls)[:, k]))
        for k, name in enumerate(low.load_ids)
        if max(fall[k] for fall in falls) > TELLING
    }
    return Passed(rows, by_load)


@dataclass(frozen=True)
class _At:
    """Times in s, and how far the excess powers have come at them."""

    times_s: FloatArray
    place: FloatArray


def _excess_w(
    runs: Sequence[tuple[Network, Charging]], idle: Network, before: Solution
) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Times and what a converter's output gives beyond its end, by id of the output, where that tells."""
    found = {}
    for piece, run in runs:
        for coupling in idle.couplings:
            k = piece.source_index.get(coupling.output)
            if k is None or coupling.output in before.off:
                continue
            row = len(piece.edge_ids) + k
            watts = run.given_w(k, row)
            more_w = watts - watts[-1]
            if float(np.abs(more_w).max()) > TELLING * abs(float(watts[-1])) + 1e-6:
                found[coupling.output] = (run.samples(row)[0], more_w)
    return found


def _with_more(network: Network, more_w: Mapping[str, float]) -> Solution:
    """The network solved with more power out of some converters, in W by id of the output."""
    couplings = tuple(replace(c, more_w=more_w.get(c.output, 0.0)) for c in network.couplings)
    return solve(replace(network, couplings=couplings))


def _limited(
    excess: tuple[FloatArray, FloatArray], name: str, limit_a: float, low: Network, calm: Solution
) -> tuple[FloatArray, FloatArray]:
    """Excess power against time of a converter whose input takes no more than a current."""
    load = next(c.load for c in low.couplings if c.output == name)
    k = low.load_index[load]
    times, watts = excess
    most_w = float(watts.max())
    calm_a, volts = abs(float(calm.load_a[k])), float(calm.load_v[k])
    if calm_a >= limit_a:
        return excess

    def over(more_w: float) -> bool:
        found = _with_more(low, {name: more_w})
        return name in found.off or load in found.collapsed or abs(float(found.load_a[k])) > limit_a

    if not over(most_w):
        return excess
    least_w, most_w = 0.0, min(most_w, limit_a * volts)
    for _ in range(HALVES):
        middle = 0.5 * (least_w + most_w)
        least_w, most_w = (least_w, middle) if over(middle) else (middle, most_w)
    if least_w <= 0.0:
        return excess
    lasts_s = float(np.trapezoid(np.maximum(watts, 0.0), times)) / least_w
    block = np.linspace(0.0, lasts_s, POWERS)
    ends = np.array([lasts_s * (1.0 + 1e-9), lasts_s * 1.001])
    return np.concatenate([block, ends]), np.concatenate([np.full(POWERS, least_w), np.zeros(2)])


def _knots(excess: Mapping[str, tuple[FloatArray, FloatArray]]) -> tuple[_At, FloatArray, dict[str, FloatArray]]:
    """Where the whole is solved: places in ascending order with the excess of every converter at them.

    Of one converter the place is its power, of several how far all of them have come together.
    """
    if len(excess) == 1:
        ((name, (times, watts)),) = excess.items()
        knots = np.linspace(float(watts.min()), float(watts.max()), POWERS)
        return _At(times, watts), knots, {name: knots}
    times = np.unique(np.concatenate([each for each, _ in excess.values()]))
    every = {name: np.interp(times, *each) for name, each in excess.items()}
    steps = sum(np.abs(np.diff(watts)) / max(float(np.abs(watts).max()), 1e-12) for watts in every.values())
    place = np.concatenate([[0.0], np.cumsum(steps)])
    knots = np.linspace(0.0, float(place[-1]), 2 * len(excess) * POWERS)
    return _At(times, place), knots, {name: np.interp(knots, place, watts) for name, watts in every.items()}


def _sinking(found: Solution, calm: Solution, input_limit_a: Mapping[str, float]) -> list[str]:
    """Converters that can't draw what they should."""
    sinks = []
    for coupling in found.network.couplings:
        k = found.network.load_index.get(coupling.load)
        if k is None:
            continue
        limit_a = input_limit_a.get(coupling.output)
        over = limit_a is not None and abs(float(found.load_a[k])) > limit_a * (1.0 + 1e-9)
        over &= limit_a is not None and abs(float(calm.load_a[k])) <= limit_a * (1.0 + 1e-9)
        if over or (coupling.load in found.collapsed and coupling.load not in calm.collapsed):
            sinks.append(coupling.output)
    return sinks


def _own(runs: Sequence[tuple[Network, Charging]], name: str) -> tuple[FloatArray, FloatArray] | None:
    """Times and current of a row in the run that it is part of."""
    for _, run in runs:
        if name in run.ids:
            return run.samples(run.ids.index(name))
    return None


def sum_of(
    one: tuple[FloatArray, FloatArray], other: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Two currents or voltages against time, at the times of both."""
    times, amps = one
    if len(times) == len(other[0]) and bool((times == other[0]).all()):
        return times, amps + other[1]
    between = np.setdiff1d(other[0], times)
    every = np.concatenate([times, between])
    order = np.argsort(every, kind="stable")
    total = np.concatenate([amps, np.interp(between, times, amps)])[order]
    return every[order], total + np.interp(every[order], *other)
