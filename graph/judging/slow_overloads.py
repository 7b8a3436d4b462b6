"""Overloads that an electronic limit lets flow for its whole delay: more than trips it, less than its faster step.

A fault of any resistance can set any current up to the short circuit. Just below the fast step of a limit, or
below the trip of an output before it, the delay of the slow step counts. On a part the current is that of its
device times its share. Of a contact the I²t of its family counts, less what it sheds at its allowed current
beyond 5 s. Fuses and breakers on the way, where they are certain to open, are left to the rules of their
standards: a device that protects against overload and breaks the short circuit protects at all currents between
(IEC 60364-4-43 435.1, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from loadloom.graph.devices.device_bands import opening_time_s
from loadloom.graph.facts.facts import Facts
from loadloom.graph.facts.protection import Protected
from loadloom.graph.heat.two_body import ADIABATIC_S, two_bodies, worst_stress
from loadloom.graph.model.elements import Conductor, Contact, Device, DeviceKind, Output
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.structure.guards import Guard

JUST_BELOW = 1.0 - 1e-9


@dataclass(frozen=True, slots=True)
class SlowOverload:
    """A current in A on a part for the time in s until a device surely opens (inf: no time is stated).

    ``over``: of a conductor the current over what it withstands for that time, of a contact its I²t over that of
    its family; NaN where that is not known.
    """

    part: str
    case: str
    current_a: float
    duration_s: float
    opens: str
    over: float


def slow_overloads(facts: Facts) -> Iterator[SlowOverload]:
    """Of every conductor, contact and arrangement the overloads that last until a slow step acts, above the allowed
    current."""
    most_a: dict[str, float] = {}
    for short in facts.protection.short_circuits.every:
        most_a[short.part] = max(short.own_greatest_a, most_a.get(short.part, 0.0))
    for there in facts.protection.arrangements:
        chains = _Chains(there, facts.settings)
        for part, guards in there.guards.items():
            element, rating = facts.harness.by_id.get(part), facts.ratings.get(part)
            if not isinstance(element, (Conductor, Contact)) or rating is None or not rating.allowed_a:
                continue
            over = _withstands(element, rating.allowed_a, facts.settings)
            for guard in guards:
                if guard.factor <= 0.0:
                    continue
                for current_a, duration_s, opens in chains.slow(
                    guard.device, _most_a(guard, most_a.get(part), facts)
                ):
                    own_a = guard.factor * current_a
                    if own_a > rating.allowed_a:
                        yield SlowOverload(part, there.case, own_a, duration_s, opens, over(own_a, duration_s))


def _most_a(guard: Guard, own_most_a: float | None, facts: Facts) -> float:
    """The most in A through a guard for a fault behind it.

    A contact of no stated I²t has no short circuit of its own: that just behind the guard counts, which is no less.
    """
    if own_most_a is not None:
        return own_most_a / guard.factor
    short = facts.protection.short_circuits.prospective.get(guard.device)
    return short.current_a if short is not None else 0.0


def _withstands(
    part: Conductor | Contact, allowed_a: float, settings: AnalysisSettings
) -> Callable[[float, float], float]:
    """How many times what a part withstands a current in A for a time in s is; NaN where that is not known."""
    if isinstance(part, Conductor):
        bodies = two_bodies(part, settings, allowed_a)
        if bodies is None:
            return lambda current_a, duration_s: math.nan
        return lambda current_a, duration_s: (
            worst_stress(bodies, [(current_a, duration_s)]).over if math.isfinite(duration_s) else math.nan
        )
    family = contact_type_of(part.contact_type, settings)
    if family is None or not family.i2t_a2s:
        return lambda current_a, duration_s: math.nan
    stands_a2s = family.i2t_a2s

    def of_contact(current_a: float, duration_s: float) -> float:
        if not math.isfinite(duration_s):
            return math.nan
        shed_a = allowed_a if duration_s > ADIABATIC_S else 0.0
        return (current_a**2 - shed_a**2) * duration_s / stands_a2s

    return of_contact


class _Chains:
    """The devices through which a guard is fed, and what they let flow for how long."""

    def __init__(self, there: Protected, settings: AnalysisSettings) -> None:
        self.there, self.settings = there, settings
        self._steps: dict[str, tuple[float, ...]] = {}
        self._opened: dict[tuple[str, float], tuple[float, str] | None] = {}

    def slow(self, guard: str, most_a: float) -> Iterator[tuple[float, float, str]]:
        """Currents in A through a guard just below each step, at most ``most_a``; time in s, and what opens."""
        chain = self._chain(guard)
        if guard not in self._steps:
            self._steps[guard] = tuple(sorted({a for part in chain for a in _steps_a(part)}))
        for step_a in self._steps[guard]:
            current_a = min(step_a * JUST_BELOW, most_a)
            if (guard, current_a) not in self._opened:
                self._opened[guard, current_a] = self._opens(chain, current_a)
            found = self._opened[guard, current_a]
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
