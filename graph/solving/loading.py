"""What a load asks of the harness in a case: at once, and as the continuous current that heats the same."""

from __future__ import annotations

import math
from dataclasses import replace

from loadloom.graph.elements import Load, LoadKind
from loadloom.graph.harness import Harness
from loadloom.graph.settings import Case


def duty(load: Load) -> float | None:
    """Share of the time that the load is on, 0…1: ``Duty``, else ``Duration`` over ``Period``; None = neither.

    A duty with neither period nor duration may be on for hours at a stretch: it says nothing about heat.
    """
    if load.duty is not None:
        return None if load.period_s is None and load.duration_s is None else load.duty
    if load.duration_s is not None and load.period_s:
        return min(1.0, load.duration_s / load.period_s)
    return None


def continuous_equivalent(load: Load, state: str | None) -> Load:
    """The load whose continuous current heats a conductor like this one does in a state.

    The current's root mean square: on for the duty, else as in the plain state. A state with a duration and
    no duty or period is a single event and heats like the plain state. In the plain state a duty means that
    the load is off for the rest. Where the two states keep different quantities constant, the state counts as
    steady (the safe side).
    """
    there = load.under(state)
    share = duty(there)
    plain = replace(load, by_word={})
    if state is None or state not in load.by_word:
        return _scaled(plain, math.sqrt(share)) if share is not None else plain
    if there.duration_s is None and share is None:
        return replace(there, by_word={})
    if there.demand is None or plain.demand is None or there.demand_kind is not plain.demand_kind:
        return replace(there, by_word={})
    if share is None:
        return plain
    on, off = _as_flow(there), _as_flow(plain)
    return _with_flow(plain, math.sqrt(share * on**2 + (1.0 - share) * off**2))


def mean_over_rms(load: Load, state: str | None) -> float:
    """Mean current over the root mean square one of a load's continuous equivalent in a state, 0…1.

    What a load itself turns to heat follows its mean power; what it heats a conductor, its root mean square.
    """
    continuous, there = continuous_equivalent(load, state), load.under(state)
    share = duty(there)
    plain = replace(load, by_word={})
    if share is None or continuous.demand is None or continuous == replace(there, by_word={}):
        return 1.0
    off = _as_flow(plain) if state is not None and state in load.by_word and plain.demand is not None else 0.0
    on = _as_flow(there)
    rms = math.sqrt(share * on**2 + (1.0 - share) * off**2)
    return (share * on + (1.0 - share) * off) / rms if rms > 0 else 1.0


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


def _scaled(load: Load, share: float) -> Load:
    return load if load.demand is None else _with_flow(load, share * _as_flow(load))
