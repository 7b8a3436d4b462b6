"""Overloads that an electronic limit lets flow for its whole delay: more than trips it, less than its faster step.

A fault of any resistance can set any current up to the short circuit. Just below the fast step of a limit, or below
the trip of an output before it, the delay of the slow step counts. On a conductor the current is that of its device
times its share. Fuses and breakers on the way, where they are certain to open, are left to the rules of their
standards: a device that protects against overload and breaks the short circuit protects at all currents between
(IEC 60364-4-43 435.1, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from loadloom.graph.devices.device_bands import opening_time_s
from loadloom.graph.facts.facts import Facts
from loadloom.graph.facts.protection import Protected
from loadloom.graph.heat.two_body import two_bodies, worst_stress
from loadloom.graph.model.elements import Conductor, Device, DeviceKind, Output
from loadloom.graph.model.settings import AnalysisSettings

JUST_BELOW = 1.0 - 1e-9


@dataclass(frozen=True, slots=True)
class SlowOverload:
    """A current in A on a conductor for the time in s until a device surely opens (inf: no time is stated).

    ``over``: the current over what the conductor withstands for that time; NaN where that is not known.
    """

    part: str
    case: str
    current_a: float
    duration_s: float
    opens: str
    over: float


def slow_overloads(facts: Facts) -> Iterator[SlowOverload]:
    """Of every conductor and arrangement the overloads that last until a slow step acts, above the allowed
    current."""
    most_a: dict[str, float] = {}
    for short in facts.protection.short_circuits.every:
        most_a[short.part] = max(short.own_greatest_a, most_a.get(short.part, 0.0))
    for there in facts.protection.arrangements:
        chains = _Chains(there, facts.settings)
        for part, guards in there.guards.items():
            conductor, rating = facts.harness.by_id.get(part), facts.ratings.get(part)
            if not isinstance(conductor, Conductor) or rating is None or not rating.allowed_a or part not in most_a:
                continue
            bodies = two_bodies(conductor, facts.settings, rating.allowed_a)
            for guard in guards:
                if guard.factor <= 0.0:
                    continue
                for current_a, duration_s, opens in chains.slow(guard.device, most_a[part] / guard.factor):
                    own_a = guard.factor * current_a
                    if own_a > rating.allowed_a:
                        timed = bodies is not None and math.isfinite(duration_s)
                        over = worst_stress(bodies, [(own_a, duration_s)]).over if timed and bodies else math.nan
                        yield SlowOverload(part, there.case, own_a, duration_s, opens, over)


class _Chains:
    """The devices through which a guard is fed, and what they let flow for how long."""

    def __init__(self, there: Protected, settings: AnalysisSettings) -> None:
        self.there, self.settings = there, settings
        self._steps: dict[str, tuple[float, ...]] = {}

    def slow(self, guard: str, most_a: float) -> Iterator[tuple[float, float, str]]:
        """Currents in A through a guard just below each step, at most ``most_a``; time in s, and what opens."""
        chain = self._chain(guard)
        if guard not in self._steps:
            self._steps[guard] = tuple(sorted({a for part in chain for a in _steps_a(part)}))
        for step_a in self._steps[guard]:
            current_a = min(step_a * JUST_BELOW, most_a)
            found = self._opens(chain, current_a)
            if found is not None:
                yield current_a, *found

    def _chain(self, guard: str) -> Sequence[Device | Output]:
        before = self.there.always_before.get(guard, frozenset())
        return [self.there.parts[name] for name in (guard, *sorted(before)) if name in self.there.parts]

    def _opens(self, chain: Sequence[Device | Output], current_a: float) -> tuple[float, str] | None:
        """The soonest that a device is certain to have opened; None where none is, or a fuse or breaker is."""
        certain: Mapping[str, float] = {
            part.id: slowest
            for part in chain
            if (slowest := opening_time_s(part, current_a, self.settings)[1]) is not None
        }
        if not certain or any(part.id in certain and _is_thermal(part) for part in chain):
            return None
        first = min(certain, key=lambda name: certain[name])
        return certain[first], first


def _is_thermal(part: Device | Output) -> bool:
    if not isinstance(part, Device):
        return False
    return part.kind in (DeviceKind.FUSE, DeviceKind.BREAKER) or part.fuse_rating_a is not None


def _steps_a(part: Device | Output) -> Iterator[float]:
    """The currents above which a limit is certain to act sooner than just below them."""
    for band in (part.trip_a, part.fast_trip_a):
        if band is not None:
            yield band.upper
