"""What a load asks of the harness in a case: at once, and as the continuous current that heats the same."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from loadloom.graph.model.elements import Load, LoadKind
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case

SHORT_PERIOD = 0.1
"""Share of a thermal time constant up to which a period leaves the temperature nearly even."""


def duty(load: Load) -> float | None:
    """Share of the time that the load is on, 0…1: ``Duty``, else ``Duration`` over ``Period``; None = neither.

    A duty with neither period nor duration may be on for hours at a stretch: it says nothing about heat.
    """
    if load.duty is not None:
        return None if load.period_s is None and load.duration_s is None else load.duty
    if load.duration_s is not None and load.period_s:
        return min(1.0, load.duration_s / load.period_s)
    return None


@dataclass(frozen=True, slots=True)
class Pulse:
    """A load that pulses: what it draws ``on`` and ``off`` in one unit (A, W, or 1/Ω), the ``share`` of the time
    that it is on (0…1), and its period in s.
    """

    on: float
    off: float
    share: float
    period_s: float

    @property
    def on_s(self) -> float:
        """How long it is on at a stretch, in s."""
        return self.share * self.period_s

    @property
    def rms(self) -> float:
        """The root mean square over a period."""
        return math.sqrt(self.share * self.on**2 + (1.0 - self.share) * self.off**2)

    def equal_heat(self, time_constant_s: float) -> float:
        """The continuous draw that makes a part of a thermal time constant as warm as it gets within a period.

        Where the period is at most a tenth of the time constant that is the root mean square; else the warmest
        moment of one body of that time constant counts, which is the end of the longer draw's time.
        """
        if self.period_s <= SHORT_PERIOD * time_constant_s:
            return self.rms
        much, little, share = self.on**2, self.off**2, self.share
        if much < little:
            much, little, share = little, much, 1.0 - share
        periods = self.period_s / time_constant_s if time_constant_s > 0.0 else math.inf
        warmed = -math.expm1(-share * periods) / -math.expm1(-periods) if math.isfinite(periods) else 1.0
        return math.sqrt(little + (much - little) * warmed)


def pulse_of(load: Load, state: str | None) -> Pulse | None:
    """How a load pulses in a state: on with its demand there, off with that of the plain state; in the plain state
    a duty means that it is off for the rest. None where it does not pulse.
    """
    there, plain = load.under(state), replace(load, by_word={})
    share = duty(there)
    if share is None or there.demand is None:
        return None
    period_s = there.period_s
    if period_s is None:
        period_s = there.duration_s / share if there.duration_s is not None and share > 0.0 else math.inf
    if state is None or state not in load.by_word:
        return Pulse(_as_flow(plain), 0.0, share, period_s)
    if plain.demand is None or there.demand_kind is not plain.demand_kind:
        return None
    return Pulse(_as_flow(there), _as_flow(plain), share, period_s)


def continuous_equivalent(load: Load, state: str | None) -> Load:
    """The load whose continuous current heats a conductor like this one does in a state.

    Of a load that pulses, the current's root mean square. A state with a duration and no duty or period is a single
    event and heats like the plain state; a start says itself what heats the same. Where the two states keep
    different quantities constant, the state counts as steady (the safe side).
    """
    there = load.under(state)
    plain = replace(load, by_word={})
    if there.calm is not None:
        kind, demand = there.calm
        return replace(plain, demand_kind=kind, demand=demand)
    pulse = pulse_of(load, state)
    if pulse is not None:
        return _with_flow(plain, pulse.rms)
    if state is None or state not in load.by_word:
        return plain
    is_event = there.duration_s is not None and duty(there) is None
    readable = there.demand is not None and plain.demand is not None and there.demand_kind is plain.demand_kind
    return plain if is_event and readable else replace(there, by_word={})


def mean_over_rms(load: Load, state: str | None) -> float:
    """Mean current over the root mean square one of a load's continuous equivalent in a state, 0…1.

    What a load itself turns to heat follows its mean power; what it heats a conductor, its root mean square.
    """
    pulse = pulse_of(load, state)
    if pulse is None or pulse.rms == 0.0:
        return 1.0
    return (pulse.share * pulse.on + (1.0 - pulse.share) * pulse.off) / pulse.rms


def continuous_harness(harness: Harness, case: Case) -> Harness:
    """The harness with every load replaced by its continuous equivalent in a case."""
    loads = tuple(continuous_equivalent(load, case.state) for load in harness.loads)
    return replace(harness, loads=loads)


def has_events(harness: Harness, case: Case) -> bool:
    """Whether any load differs between its demand at once and its continuous equivalent in a case."""
    return any(
        (there := load.under(case.state)).duration_s is not None or duty(there) is not None
        for load in harness.loads
    )


def _as_flow(load: Load) -> float:
    """A number that is proportional to the current: the demand, for a resistance its inverse."""
    assert load.demand is not None
    return 1.0 / load.demand if load.demand_kind is LoadKind.RESISTANCE else load.demand


def _with_flow(load: Load, flow: float) -> Load:
    if flow == 0.0 and load.demand_kind is LoadKind.RESISTANCE:
        return replace(load, fitted=False)
    return replace(load, demand=1.0 / flow if load.demand_kind is LoadKind.RESISTANCE else flow)
