"""What each device and output has to ride through: currents with how long they last, in every case.

Events are given for all that has to stand their heat as well: conductors, contacts, splices, switches and diodes.
"""

from __future__ import annotations

import math
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, replace

from loadloom.graph.circuit.loading import continuous_equivalent, duty
from loadloom.graph.circuit.solved_once import SolvedOnce
from loadloom.graph.load_cases.charging import AGAIN_S, Charge
from loadloom.graph.load_cases.corners import NOMINAL, AtCorner, corner_states, worst_by_part
from loadloom.graph.model.elements import Conductor, Contact, DeviceKind, Diode, Load, Switch
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case


@dataclass(frozen=True, slots=True)
class Demand:
    """A current in A that lasts for a time in s in a case; inf = continuously.

    ``corner``: the corner of the tolerances that gives it. ``bound``: no state need reach it.
    """

    case: str
    duration_s: float
    current_a: float
    corner: str = NOMINAL
    bound: bool = False


INRUSH = "inrush"
"""Stands for the corner in the demands of capacitances that charge."""

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
    charges: Sequence[Charge] = (),
) -> Demands:
    """Currents to ride through, the greatest over all corners of the tolerances.

    A state with a duration is an event on top of what is steady; events of different lengths count together
    only for as long as the shorter one lasts. The continuous current is the one of equal heat (``loading``).
    ``charges``: the inrush of the cases that switch a capacitance on.
    """
    solved = SolvedOnce()
    heated = {e.id for e in harness.two_ended if isinstance(e, HEATED)}
    acting = {part.id for part in (*harness.devices, *harness.outputs, *harness.splices)}
    found: dict[str, list[Demand]] = {}
    for case in cases:
        for duration_s in _durations(harness, case):
            loads = tuple(_lasting(load, case.state, duration_s) for load in harness.loads)
            there = replace(harness, loads=loads)
            plain = Case(case.id, None, case.arrangement)
            for name, (current_a, at) in _currents(there, plain, settings, temperatures_c or {}, solved).items():
                if name in acting or (name in heated and math.isfinite(duration_s)):
                    demand = Demand(case.id, duration_s, current_a, at.corner, at.bound)
                    found.setdefault(name, []).append(demand)
    limits = {part.id for part in harness.outputs}
    limits |= {device.id for device in harness.devices if device.kind is DeviceKind.LIMITER}
    for charge in charges:
        for name, demands in _of_charge(charge, acting, heated, limits, found).items():
            found.setdefault(name, []).extend(demands)
    return {name: tuple(_rising(demands)) for name, demands in found.items()}


def together(demands: Demands, more: Demands) -> Demands:
    """Both, part by part."""
    return {name: (*demands.get(name, ()), *more.get(name, ())) for name in {**demands, **more}}


def _of_charge(
    charge: Charge,
    acting: Container[str],
    heated: Container[str],
    limits: Container[str],
    calm: Mapping[str, Sequence[Demand]],
) -> dict[str, list[Demand]]:
    """What parts have to stand while capacitances charge; ``limits`` act by how long a current lasts."""
    made: dict[str, list[Demand]] = {}
    for pulses in charge.pulses:
        for name, pulse in pulses.items():
            if name not in acting and name not in heated:
                continue
            here = made.setdefault(name, [])
            if name in limits:
                here += [Demand(charge.case, s, a, INRUSH) for s, a in pulse.levels]
            elif pulse.block_s > 0.0:
                here.append(Demand(charge.case, pulse.block_s, pulse.peak_a, INRUSH))
            if charge.every_s is not None:
                steady = [
                    d.current_a for d in calm.get(name, ()) if d.case == charge.case and math.isinf(d.duration_s)
                ]
                before_a = max((*steady, pulse.calm_a))
                rms_a = math.sqrt(before_a**2 + pulse.i2t_a2s / charge.every_s)
                here.append(Demand(charge.case, math.inf if name in acting else AGAIN_S, rms_a, INRUSH))
    return made


def _rising(demands: list[Demand]) -> list[Demand]:
    """From the longest to the shortest, without those that a longer and no smaller one of the same case covers."""
    kept: list[Demand] = []
    for demand in sorted(demands, key=lambda d: (-d.duration_s, -d.current_a)):
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
    solved: SolvedOnce,
) -> dict[str, tuple[float, AtCorner]]:
    """Magnitudes in A by id of parts, outputs and splices, the greatest over all corners and chassis variants."""
    return worst_by_part(harness, corner_states(harness, case, settings, temperatures_c, solved))
