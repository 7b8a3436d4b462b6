"""Which devices and outputs do not ride through their loads."""

from __future__ import annotations

import enum
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from loadloom.graph.devices.device_bands import Threshold, opening_time_s
from loadloom.graph.facts.facts import Facts
from loadloom.graph.load_cases.corners import AtCorner
from loadloom.graph.load_cases.demands import Demand
from loadloom.graph.model.elements import Device, DeviceKind, Output
from loadloom.graph.model.figures import duration, figures
from loadloom.graph.model.settings import AnalysisSettings, Case


class Outcome(enum.Enum):
    """What a demand does to a device, gravest last."""

    CARRIED = 0
    NOT_STATED = 1
    """Above what it carries continuously, an event, and nothing says that it carries it for as long."""
    MAY_OPEN = 2
    OPENS = 3


@dataclass(frozen=True, slots=True)
class Trip:
    """A device that does not surely carry a demand, the worst one of the cases."""

    part: Device | Output
    limits: Threshold
    demand: Demand
    outcome: Outcome

    @property
    def how_long(self) -> str:
        """The demand's duration in words."""
        return "continuously" if math.isinf(self.demand.duration_s) else f"for {duration(self.demand.duration_s)}"

    @property
    def asked(self) -> str:
        """The demand's current in words, with its corner."""
        return f"{figures(self.demand.current_a)} A{AtCorner(self.demand.corner, self.demand.bound).words}"

    @property
    def carries(self) -> str:
        """The lower end of the device in words."""
        non_tripping_a = self.limits.non_tripping_a
        return "an unknown current" if non_tripping_a is None else f"{figures(non_tripping_a)} A"


def outcome(part: Device | Output, demand: Demand, settings: AnalysisSettings) -> Outcome:
    """What a demand does to a device by its band."""
    fastest, slowest = opening_time_s(part, demand.current_a, settings)
    if fastest is None or demand.current_a <= 0.0:
        return Outcome.CARRIED
    # "Not stated how late" (inf) is no certain opening within an event, but is one within a continuous current.
    if slowest is not None and demand.duration_s >= slowest:
        return Outcome.OPENS
    if math.isinf(demand.duration_s):
        return Outcome.MAY_OPEN
    at_once = isinstance(part, Output) or part.kind is DeviceKind.LIMITER
    if isinstance(part, Device) and part.magnetic is not None and part.rating_a is not None:
        at_once = at_once or exceeds_multiple(demand.current_a, part.magnetic.lower * part.rating_a)
    if fastest > 0.0 or at_once:
        return Outcome.MAY_OPEN if demand.duration_s >= fastest else Outcome.CARRIED
    return Outcome.NOT_STATED


def exceeds_multiple(current_a: float, limit_a: float) -> bool:
    """Whether a current is over a limit by more than rounding."""
    return current_a > limit_a * (1.0 + 1e-9)


def find_trips(facts: Facts, cases: Iterable[Case] | None = None) -> Iterator[Trip]:
    """The worst trip of every device and output, in their order; none for parts whose number is missing.

    ``cases``: those that count; all without it.
    """
    listed = facts.cases if cases is None else tuple(cases)
    order = [*facts.harness.outputs, *facts.harness.devices]
    for drawn in order:
        worst: tuple[int, float, Trip] | None = None
        for case in listed:
            there = facts.protection.under(case)
            if there is None or drawn.id not in there.parts:
                continue
            part, limits = there.parts[drawn.id], there.thresholds[drawn.id]
            if limits.assumed or not limits.non_tripping_a:
                continue
            for demand in facts.protection.demands.get(drawn.id, ()):
                if demand.case != case.id:
                    continue
                found = outcome(part, demand, facts.settings)
                if found is Outcome.CARRIED:
                    continue
                key = (found.value, demand.current_a / limits.non_tripping_a)
                if worst is None or key > worst[:2]:
                    worst = (*key, Trip(part, limits, demand, found))
        if worst is not None:
            yield worst[2]


def tripping_cases(facts: Facts) -> frozenset[str]:
    """Cases in which some device or output does not surely carry its load: what flows then may soon end."""
    found = set()
    for case in facts.cases:
        there = facts.protection.under(case)
        if there is None:
            continue
        for name, part in there.parts.items():
            demands = (d for d in facts.protection.demands.get(name, ()) if d.case == case.id)
            if any(outcome(part, d, facts.settings) in (Outcome.MAY_OPEN, Outcome.OPENS) for d in demands):
                found.add(case.id)
    return frozenset(found)
