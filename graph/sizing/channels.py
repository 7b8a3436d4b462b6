"""The channels of a harness and the loads on them, as a problem of assignment.

Channels are the limiters next behind the outputs, else the outputs themselves, or those that the settings name.
A load asks for its current in the case; an event that is shorter than the channel's delay counts with the load's
continuous current. What a load draws does not change with its channel (the drop on the path is left out). No output
is asked for more continuous current than its limit by loads that are moved.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import networkx as nx
import numpy as np

from loadloom.graph.circuit.loading import continuous_equivalent
from loadloom.graph.circuit.network import IntArray
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.devices.device_bands import threshold
from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Behaviour, Device, DeviceKind, Load, Output
from loadloom.graph.model.settings import Case
from loadloom.graph.sizing.assignment import Problem

SAME_VOLTAGE = 0.02
"""Share by which voltages of outputs may differ for a load to be moved between them."""


def channel_problem(facts: Facts) -> Problem | None:
    """The problem, or None where there are not two channels with loads on any of them."""
    channels = _channels(facts)
    today = {load.id: at for load in facts.harness.loads if (at := _channel_of(facts, load, channels)) is not None}
    loads = [load for load in facts.harness.loads if load.id in today]
    if len(channels) < 2 or not loads:
        return None
    volts = [_voltage_v(facts, channel) for channel in channels]
    number = {channel.id: c for c, channel in enumerate(channels)}
    here = np.array([number[today[load.id]] for load in loads], dtype=np.int64)
    may = np.array([[_alike(volts[c], volts[at]) for c in range(len(channels))] for at in here], dtype=np.float64)
    current_a = np.zeros((len(loads), len(facts.cases), len(channels)))
    limit_a = np.full((len(facts.cases), len(channels)), np.inf)
    for k, case in enumerate(facts.cases):
        for c, channel in enumerate(channels):
            there = channel.under(case.arrangement)
            non_tripping_a = threshold(there, facts.settings, None).non_tripping_a
            if non_tripping_a is not None and there.fitted:
                limit_a[k, c] = non_tripping_a
            for n, load in enumerate(loads):
                current_a[n, k, c] = _asked_a(facts, load, case, there)
    design = facts.settings.design
    place = {load.id: n for n, load in enumerate(loads)}

    def those(names: tuple[str, ...]) -> tuple[int, ...]:
        return tuple(place[name] for name in names if name in place)

    return Problem(
        tuple(load.id for load in loads),
        tuple(case.id for case in facts.cases),
        tuple(channel.id for channel in channels),
        current_a,
        limit_a,
        may,
        here,
        tuple(t for names in design.together if len(t := those(names)) > 1),
        tuple(t for names in design.apart if len(t := those(names)) > 1),
        those(design.alone),
        **_of_outputs(facts, loads, channels, here),
    )


def _of_outputs(
    facts: Facts, loads: list[Load], channels: list[Device | Output], today: IntArray
) -> Mapping[str, Any]:
    """What the loads ask of the outputs that channels are behind, and what these may be asked for: the limit less
    what else they feed, or what they are asked for today where that is more. Empty for channels of one output.
    """
    feeds = [(c.id,) if isinstance(c, Output) else facts.topology.feeds(c.node_a) for c in channels]
    groups = list(dict.fromkeys(feeds))
    if len(groups) < 2:
        return {}
    behind = [groups.index(feed) for feed in feeds]
    continuous_a = np.array([[_drawn_a(load, facts.continuous[case.id]) for case in facts.cases] for load in loads])
    most_a = np.full((len(facts.cases), len(groups)), np.inf)
    outputs = {o.id: o for o in facts.harness.outputs}
    for o, names in enumerate(groups):
        mine = [k for k, c in enumerate(today.tolist()) if behind[c] == o]
        for k, case in enumerate(facts.cases):
            limits = [outputs[name].under(case.arrangement).limit_a for name in names]
            asked_a = float(continuous_a[mine, k].sum())
            solved = all(name in facts.currents for name in names)  # not without a readable voltage
            if None not in limits and solved:
                others_a = sum(facts.currents[name].continuous_a[case.id] for name in names) - asked_a
                most_a[k, o] = max(sum(a for a in limits if a is not None) - max(others_a, 0.0), asked_a)
    return {
        "outputs": tuple(" and ".join(names) for names in groups),
        "behind": tuple(behind),
        "continuous_a": continuous_a,
        "most_a": most_a,
    }


def _drawn_a(load: Load, solutions: Iterable[Solution]) -> float:
    found = [0.0]
    for solution in solutions:
        if load.id in solution.network.load_ids:
            found.append(abs(float(solution.load_a[solution.network.load_ids.index(load.id)])))
    return max(found)


def _channels(facts: Facts) -> list[Device | Output]:
    harness = facts.harness
    named = facts.settings.design.channels
    if named:
        parts = [harness.by_id.get(name) for name in named]
        return [p for p in parts if isinstance(p, Device | Output)]
    outputs = {o.id for o in harness.outputs}
    limiters = [
        d
        for d in harness.devices
        if d.kind is DeviceKind.LIMITER
        and d.fitted
        and d.active
        and set(facts.protection.upstream(d.id)) <= outputs
    ]
    return [*limiters] if limiters else [o for o in harness.outputs if o.fitted]


def _channel_of(facts: Facts, load: Load, channels: list[Device | Output]) -> str | None:
    """The one channel that a load hangs on; None where it hangs on none, or on several side by side."""
    if not load.fitted or load.demand is None:
        return None
    cut = {channel.id for channel in channels}
    copper: nx.Graph = nx.Graph()
    copper.add_node(load.node_plus)
    copper.add_edges_from((e.node_a, e.node_b) for e in facts.harness.two_ended if e.fitted and e.id not in cut)
    reached = set(nx.bfs_tree(copper, load.node_plus))
    found = [c.id for c in channels if (c.node_b if isinstance(c, Device) else c.node_plus) in reached]
    return found[0] if len(found) == 1 else None


def _voltage_v(facts: Facts, channel: Device | Output) -> float | None:
    if isinstance(channel, Output):
        return channel.voltage_v
    outputs = {o.id: o for o in facts.harness.outputs}
    volts = [outputs[name].voltage_v for name in facts.topology.feeds(channel.node_a)]
    known = [v for v in volts if v is not None]
    return max(known) if known and len(known) == len(volts) else None


def _alike(one: float | None, other: float | None) -> float:
    return float(one is not None and other is not None and math.isclose(one, other, rel_tol=SAME_VOLTAGE))


def _asked_a(facts: Facts, load: Load, case: Case, channel: Device | Output) -> float:
    """Current in A that a load asks of a channel in a case."""
    solutions = facts.loaded[case.id]
    there = load.under(case.state)
    brief = (
        there.duration_s is not None
        and channel.delay_s is not None
        and channel.behaviour is Behaviour.LATCH_OFF
        and there.duration_s < channel.delay_s
    )
    if brief or (there.duty is not None and there.duration_s is None):
        solutions = facts.continuous[case.id]
        if continuous_equivalent(load, case.state).demand is None:
            return 0.0
    return _drawn_a(load, solutions)
