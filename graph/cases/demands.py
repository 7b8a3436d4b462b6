"""What each device and output has to ride through: currents with how long they last, in every case.

Events are given for all that has to stand their heat as well: conductors, contacts, splices, switches and diodes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.conductors import conductor_resistances
from loadloom.graph.elements import Conductor, Contact, Device, Diode, Load, Switch, TwoEnded
from loadloom.graph.harness import Harness
from loadloom.graph.settings import AnalysisSettings, Case
from loadloom.graph.solving.joint_current import through_joint
from loadloom.graph.solving.loading import continuous_equivalent, duty
from loadloom.graph.solving.network import LEAST_FAULT, LOAD_STATE, Corner, compile_network
from loadloom.graph.solving.solution import Solution
from loadloom.graph.solving.solved_once import SolvedOnce


@dataclass(frozen=True, slots=True)
class Demand:
    """A current in A that lasts for a time in s in a case; inf = continuously."""

    case: str
    duration_s: float
    current_a: float


HEATED = (Conductor, Contact, Switch, Diode)

Demands = Mapping[str, tuple[Demand, ...]]
"""By id of a device or output, for events also of other parts and splices; per case from the longest to the
shortest.
"""


def find_demands(
    harness: Harness,
    settings: AnalysisSettings,
    cases: tuple[Case, ...],
    temperatures_c: Mapping[str, float] | None = None,
) -> Demands:
    """Currents to ride through, at the nominal and at the lowest corner of the voltage, the greater of both.

    A state with a duration is an event on top of what is steady; events of different lengths count together
    only for as long as the shorter one lasts. The continuous current is the one of equal heat (``loading``).
    """
    solved = SolvedOnce()
    found: dict[str, list[Demand]] = {}
    for case in cases:
        for duration_s in _durations(harness, case):
            loads = tuple(_lasting(load, case.state, duration_s) for load in harness.loads)
            there = replace(harness, loads=loads)
            plain = Case(case.id, None, case.arrangement)
            kinds = (Device,) if math.isinf(duration_s) else (Device, *HEATED)
            for name, current_a in _currents(there, plain, settings, temperatures_c or {}, kinds, solved).items():
                found.setdefault(name, []).append(Demand(case.id, duration_s, current_a))
    return {name: tuple(_rising(demands)) for name, demands in found.items()}


def _rising(demands: list[Demand]) -> list[Demand]:
    """Without those that a longer and no smaller one of the same case covers."""
    kept: list[Demand] = []
    for demand in demands:
        covered = any(d.case == demand.case and d.current_a >= demand.current_a * (1 - 1e-9) for d in kept)
        if not covered:
            kept.append(demand)
    return kept


def _durations(harness: Harness, case: Case) -> list[float]:
    events = {_event_s(load, case.state) for load in harness.loads if load.fitted}
    return sorted(events | {math.inf}, reverse=True)


def _event_s(load: Load, state: str | None) -> float:
    """How long a load draws its current at once: its duration, or the on-time of its duty; inf = continuously."""
    there = load.under(state)
    if there.duration_s is not None:
        return there.duration_s
    share = duty(there)
    if share is not None and there.period_s is not None:
        return share * there.period_s
    return math.inf


def _lasting(load: Load, state: str | None, duration_s: float) -> Load:
    """A load as it is while an event of a length lasts: at once if its own event is as long, else steady."""
    event_s = _event_s(load, state)
    there = load.under(state)
    if event_s >= duration_s and (math.isfinite(event_s) or duty(there) is not None):
        return replace(there, by_word={})
    return continuous_equivalent(load, state)


def _currents(
    harness: Harness,
    case: Case,
    settings: AnalysisSettings,
    temperatures_c: Mapping[str, float],
    kinds: tuple[type[TwoEnded], ...],
    solved: SolvedOnce,
) -> dict[str, float]:
    """Magnitudes by id of the parts of these kinds, of outputs and splices, the greatest over both corners and the
    chassis variants.
    """
    devices = [(k, e.id) for k, e in enumerate(harness.two_ended) if isinstance(e, kinds)]
    found: dict[str, float] = {}
    for corner in (LOAD_STATE, LEAST_FAULT):
        solutions = _solve(harness, case, corner, settings, temperatures_c, solved)
        if corner is LEAST_FAULT and any(s.collapsed for s in solutions):
            continue
        for solution in solutions:
            for k, name in devices:
                found[name] = max(float(np.abs(solution.edge_a[k])), found.get(name, 0.0))
            for name, current_a in zip(solution.network.source_ids, solution.source_a.tolist(), strict=True):
                found[name] = max(float(np.abs(current_a)), found.get(name, 0.0))
            for splice in harness.splices:
                current_a = through_joint(solution, splice.node)
                found[splice.id] = max(current_a, found.get(splice.id, 0.0))
    return found


def _solve(
    harness: Harness,
    case: Case,
    corner: Corner,
    settings: AnalysisSettings,
    temperatures_c: Mapping[str, float],
    solved: SolvedOnce,
) -> tuple[Solution, ...]:
    resistances = conductor_resistances(harness, settings, temperatures_c)
    return tuple(
        solved(compile_network(harness, case, corner, settings, resistances, with_chassis=with_chassis))
        for with_chassis in harness.chassis_variants
    )
