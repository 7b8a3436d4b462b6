"""A motor that stands still: its stalled current, what opens then, and how soon and how late.

At standstill a motor is a resistance, its stated voltage over its stalled current. What is certain to open is asked
at the lowest voltage with the most resistance in the path, all other loads off, since none is credited with helping
a device to open; the greatest current and the fastest opening at the highest voltage with the least resistance.
What limits its current without opening holds the least that it states while a device is to open. Of each device
and output that sees the stall, the settings between which it ends in time, all else as drawn, belong to its setting
range.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.circuit.network import (
    GREATEST_FAULT,
    LEAST_FAULT,
    Ageing,
    Corner,
    Network,
    OutputVoltage,
    ResistanceEnd,
    Warmth,
    compile_network,
    without,
)
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.devices.device_bands import Threshold, nominal_a, opening_time_s, threshold
from loadloom.graph.devices.other_settings import set_to
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.model.elements import Device, Load, LoadKind, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.short_circuits.clearing import openers
from loadloom.graph.short_circuits.joined import holding_a

SETTINGS_TRIED = tuple(10.0 ** (k / 8.0) for k in range(-16, 17))
"""Settings at which the end of a stall is looked at, as multiples of the drawn one: from 1/100 to 100 times."""

WITHIN = 1e-4
"""Share within which a setting is found at which a stall just ends in time, on the safe side."""

NOMINAL = Corner(Ageing.NEW, OutputVoltage.NOMINAL, Warmth.COLD, ResistanceEnd.LEAST)


@dataclass(frozen=True)
class Stall:
    """One load at standstill in a case of one arrangement.

    ``least_a`` and ``greatest_a``: its current. ``cleared_by``: the devices that open one after the other at the
    least current until nothing flows; empty where it is held. ``fastest_s``: the soonest that anything opens at the
    greatest current, None = nothing may. ``slowest_s``: when it has surely ended, inf = no time is stated, None =
    it is held. ``stands_s``: how long the load stands it. ``carried_a``: the greatest currents by id of a part,
    with all else that may draw beside it, and without. ``in_time_a``: of each device and output that carries
    something of the least current, the least and the greatest setting in A between which the stall ends within
    ``stands_s``, all else as drawn (0 and inf where that is no end); without those of which no setting does.
    """

    load: str
    case: str
    least_a: float
    greatest_a: float
    cleared_by: tuple[str, ...]
    fastest_s: float | None
    slowest_s: float | None
    stands_s: float | None
    carried_a: Mapping[str, float]
    in_time_a: Mapping[str, tuple[float, float]]


def find_stalls(harness: Harness, settings: AnalysisSettings, cases: Sequence[Case]) -> tuple[Stall, ...]:
    """Every load that states a stalled current, once in each arrangement and state in which it states another."""
    found = []
    known: set[tuple[object, ...]] = set()
    for case in cases:
        for load in harness.loads:
            there = load.under(case.state)
            key = (load.id, case.arrangement, there.start)
            if there.fitted and there.start.stalled_a and key not in known:
                known.add(key)
                beside = [c for c in cases if c.arrangement == case.arrangement and not c.for_a_time]
                found.append(_stall(harness, settings, case, there, beside))
    return tuple(found)


def _stall(harness: Harness, settings: AnalysisSettings, case: Case, load: Load, beside: Sequence[Case]) -> Stall:
    """``beside``: the cases in which it may stand still while all else draws what it draws there."""
    cold = conductor_resistances(harness, settings)
    only = Case(case.id, None, case.arrangement)

    def network(corner: Corner, ohm: float | None) -> Network:
        alone = () if ohm is None else (_still(load, ohm),)
        there = replace(harness, loads=alone, converters=())
        return compile_network(there, only, corner, settings, cold, with_chassis=False)

    stated_v = load.start.stated_at_v
    if stated_v is None:
        stated_v = solve(network(NOMINAL, None)).across_v(load.node_plus, load.node_minus)
    ohm = max(stated_v, 1e-3) / (load.start.stalled_a or 1.0)
    parts: dict[str, Device | Output] = {o.id: o for o in (x.under(case.arrangement) for x in harness.outputs)}
    parts |= {d.id: d for d in (x.under(case.arrangement) for x in harness.devices)}
    parts = {name: part for name, part in parts.items() if part.fitted}
    most = solve(network(GREATEST_FAULT, ohm))
    carried = dict(zip(most.network.edge_ids, np.abs(most.edge_a).tolist(), strict=True))
    whole = replace(harness, loads=tuple(_still(x, ohm) if x.id == load.id else x for x in harness.loads))
    for there, corner in itertools.product(beside, (GREATEST_FAULT, LEAST_FAULT)):
        # Constant power draws most at the lowest voltage.
        busy = solve(compile_network(whole, there, corner, settings, cold, with_chassis=False))
        for name, amps in zip(busy.network.edge_ids, np.abs(busy.edge_a).tolist(), strict=True):
            carried[name] = max(amps, carried.get(name, 0.0))
    fast = [opening_time_s(part, a, settings)[0] for part, a in _flows(most, parts)]
    opening = [t for t in fast if t is not None]
    least = solve(network(LEAST_FAULT, ohm))
    limits = {name: threshold(part, settings, None) for name, part in parts.items()}
    least_a = float(np.abs(least.load_a).sum()) * _limited(_flows(least, parts), parts, limits)
    cleared, slowest_s = _cleared(least, parts, limits, settings)
    return Stall(
        load.id,
        case.id,
        least_a,
        float(np.abs(most.load_a).sum()),
        cleared,
        min(opening) if opening else None,
        slowest_s,
        load.start.stalled_s,
        carried,
        _in_time(least, parts, limits, load.start.stalled_s, settings),
    )


def _in_time(
    solution: Solution,
    parts: Mapping[str, Device | Output],
    limits: Mapping[str, Threshold],
    stands_s: float | None,
    settings: AnalysisSettings,
) -> Mapping[str, tuple[float, float]]:
    """See ``Stall``; ``solution`` is the stall at its least current before anything limits it.

    Of several stretches of settings in time the one with the drawn setting counts, or the next below it.
    """
    found: dict[str, tuple[float, float]] = {}
    for part, _ in _flows(solution, parts) if stands_s is not None else ():
        drawn_a = nominal_a(part)
        if not drawn_a or not math.isfinite(limits[part.id].held_a):
            continue

        def in_time(setting_a: float, part: Device | Output = part) -> bool:
            there = set_to(part, setting_a)
            changed = {**limits, part.id: threshold(there, settings, None)}
            slowest_s = _cleared(solution, {**parts, part.id: there}, changed, settings)[1]
            return slowest_s is not None and slowest_s <= (stands_s or 0.0)

        tried = [drawn_a * times for times in SETTINGS_TRIED]
        good = [in_time(setting_a) for setting_a in tried]
        at = [k for k, yes in enumerate(good) if yes]
        if not at:
            continue
        drawn = SETTINGS_TRIED.index(1.0)
        first = last = max((k for k in at if k <= drawn), default=at[0])
        while first > 0 and good[first - 1]:
            first -= 1
        while last + 1 < len(good) and good[last + 1]:
            last += 1
        low_a = _edge(in_time, tried[first], tried[first - 1]) if first > 0 else 0.0
        high_a = _edge(in_time, tried[last], tried[last + 1]) if last + 1 < len(good) else math.inf
        found[part.id] = low_a, high_a
    return found


def _edge(in_time: Callable[[float], bool], good_a: float, bad_a: float) -> float:
    """The last setting in A that is in time on the way from one that is to one that is not."""
    while abs(bad_a - good_a) > WITHIN * good_a:
        middle_a = 0.5 * (good_a + bad_a)
        good_a, bad_a = (middle_a, bad_a) if in_time(middle_a) else (good_a, middle_a)
    return good_a


def _still(load: Load, ohm: float) -> Load:
    return replace(load, by_word={}, demand_kind=LoadKind.RESISTANCE, demand=ohm)


def _flows(solution: Solution, parts: Mapping[str, Device | Output]) -> list[tuple[Device | Output, float]]:
    """Devices and outputs that carry something, with their currents in A; an output that takes current is none."""
    network = solution.network
    edges = zip(network.edge_ids, np.abs(solution.edge_a).tolist(), strict=True)
    sources = zip(network.source_ids, solution.source_a.tolist(), strict=True)
    return [(parts[name], a) for name, a in (*edges, *sources) if name in parts and a > 0.0]


def _limited(
    flows: Sequence[tuple[Device | Output, float]],
    parts: Mapping[str, Device | Output],
    limits: Mapping[str, Threshold],
) -> float:
    """The share of the currents that is left where the least of what limits without opening holds them all.

    Where several limits feed side by side the others may give more; the least share is the safe side for what has
    to open.
    """
    least_a = holding_a(parts, limits, least=True)
    return min(
        (least_a[part.id] / a for part, a in flows if part.id in least_a and a > least_a[part.id]), default=1.0
    )


def _cleared(
    solution: Solution,
    parts: Mapping[str, Device | Output],
    limits: Mapping[str, Threshold],
    settings: AnalysisSettings,
) -> tuple[tuple[str, ...], float | None]:
    """What opens one after the other until nothing flows, and when that is over in s; None where it is held."""
    opened: list[str] = []
    total_s = 0.0
    flowing_a = float(np.abs(solution.load_a).sum())
    while float(np.abs(solution.load_a).sum()) > 1e-6 * max(flowing_a, 1e-9):
        flows = _flows(solution, parts)
        left = _limited(flows, parts, limits)
        first = openers([(part, a * left) for part, a in flows], limits, settings)
        if first.certain is None:
            return (), None
        opened.append(first.certain.id)
        total_s += first.within_s
        solution = solve(without(solution.network, [first.certain.id]))
    return tuple(opened), total_s if math.isfinite(total_s) else math.inf
