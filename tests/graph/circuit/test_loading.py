"""The continuous equivalent of a load that pulses: the current's root mean square, by hand.

Reference: the definition of the root mean square over a period: √(share·on² + (1 - share)·off²).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import pytest
from wired import harness, load, output

from loadloom.graph.circuit.loading import (
    Pulse,
    continuous_equivalent,
    continuous_harness,
    duty,
    has_events,
    mean_over_rms,
    pulse_of,
)
from loadloom.graph.model.elements import Load, LoadKind
from loadloom.graph.model.settings import Case

KINDS = (LoadKind.CURRENT, LoadKind.POWER, LoadKind.RESISTANCE)


def pulsing(kind: LoadKind, demand: float, **values: float) -> Load:
    return load("L1", "p", "m", demand, demand_kind=kind, **values)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", [0.04, 0.25, 1.0])
def test_on_for_a_share_of_the_time(kind: LoadKind, share: float) -> None:
    """A resistance draws √share of its current, as if it were 1/√share of itself."""
    found = continuous_equivalent(pulsing(kind, 8.0, duty=share, period_s=2.0), None)
    assert found.fitted and found.demand_kind is kind
    root = math.sqrt(share)
    assert found.demand == pytest.approx(8.0 / root if kind is LoadKind.RESISTANCE else 8.0 * root)
    by_duration = continuous_equivalent(pulsing(kind, 8.0, duration_s=2.0 * share, period_s=2.0), None)
    assert by_duration.demand == pytest.approx(found.demand)
    assert mean_over_rms(pulsing(kind, 8.0, duty=share, period_s=2.0), None) == pytest.approx(share / root)


@pytest.mark.parametrize("kind", KINDS)
def test_never_on_is_no_load(kind: LoadKind) -> None:
    """A resistance that never conducts is not fitted: it has no value that says so."""
    lamp = pulsing(kind, 8.0, duty=0.0, period_s=2.0)
    found = continuous_equivalent(lamp, None)
    assert (not found.fitted) if kind is LoadKind.RESISTANCE else (found.fitted and found.demand == 0.0)
    assert mean_over_rms(lamp, None) == 1.0


@pytest.mark.parametrize("kind", KINDS)
def test_one_that_does_not_pulse_is_itself(kind: LoadKind) -> None:
    """A duty without a period may be on for hours at a stretch."""
    for lamp in (pulsing(kind, 8.0), pulsing(kind, 8.0, duty=0.25)):
        assert pulse_of(lamp, None) is None
        assert continuous_equivalent(lamp, None).demand == 8.0
        assert mean_over_rms(lamp, None) == 1.0


def warmest(pulse: Pulse, time_constant_s: float) -> float:
    """Heat of the warmest moment of one body, in squares of the draw: its balance stepped through many periods."""
    warm = 0.0
    steps = 2000
    step_s = pulse.period_s / steps
    hottest = 0.0
    for _ in range(max(2, math.ceil(12.0 * time_constant_s / pulse.period_s))):
        hottest = 0.0
        for k in range(steps):
            draw = pulse.on if (k + 0.5) / steps < pulse.share else pulse.off
            warm += (draw**2 - warm) * -math.expm1(-step_s / time_constant_s)
            hottest = max(hottest, warm)
    return hottest


@pytest.mark.parametrize(("on", "off"), [(8.0, 0.0), (8.0, 3.0), (2.0, 7.0)])
@pytest.mark.parametrize("period_s", [30.0, 100.0, 600.0])
@pytest.mark.parametrize("share", [0.2, 0.75])
def test_a_slow_pulse_heats_as_its_warmest_moment(on: float, off: float, period_s: float, share: float) -> None:
    pulse = Pulse(on, off, share, period_s)
    assert pulse.on_s == pytest.approx(share * period_s)
    assert pulse.equal_heat(100.0) ** 2 == pytest.approx(warmest(pulse, 100.0), rel=2e-3)


def test_a_quick_pulse_heats_as_its_root_mean_square() -> None:
    """Up to a tenth of the time constant; 0.3 · 8² + 0.7 · 3² = 25.5 A²."""
    assert Pulse(8.0, 3.0, 0.3, 10.0).equal_heat(100.0) == pytest.approx(math.sqrt(25.5))
    assert Pulse(8.0, 3.0, 0.3, 10.01).equal_heat(100.0) > math.sqrt(25.5) * 1.01
    for without_end in (Pulse(8.0, 3.0, 0.3, math.inf), Pulse(8.0, 3.0, 0.3, 5.0)):
        time_constant_s = 100.0 if math.isinf(without_end.period_s) else 0.0
        assert without_end.equal_heat(time_constant_s) == 8.0, "it has the time to get as warm as it lasts"


def test_how_long_a_load_is_on() -> None:
    assert duty(pulsing(LoadKind.CURRENT, 8.0, duration_s=5.0, period_s=2.0)) == 1.0
    assert duty(pulsing(LoadKind.CURRENT, 8.0, duration_s=0.5)) is None
    assert duty(pulsing(LoadKind.CURRENT, 8.0, duty=0.3, duration_s=0.6)) == 0.3
    by_duration = pulse_of(pulsing(LoadKind.CURRENT, 8.0, duty=0.3, duration_s=0.6), None)
    assert by_duration is not None and by_duration.period_s == pytest.approx(2.0)
    never = pulse_of(pulsing(LoadKind.CURRENT, 8.0, duty=0.0, duration_s=0.6), None)
    assert never is not None and never.period_s == math.inf


def in_states(kind: LoadKind, plain: float, **states: Mapping[str, object]) -> Load:
    """A load with words for its states, each with what differs there."""
    return replace(pulsing(kind, plain), by_word={word: dict(values) for word, values in states.items()})


@pytest.mark.parametrize("kind", KINDS)
def test_a_state_pulses_between_its_demand_and_the_plain_one(kind: LoadKind) -> None:
    """A quarter of the time 8, else 2: the root of 0.25 · 64 + 0.75 · 4 is √19; resistances by their inverses."""
    on, off = (1 / 8.0, 1 / 2.0) if kind is LoadKind.RESISTANCE else (8.0, 2.0)
    lamp = in_states(kind, off, slew={"demand": on, "duty": 0.25, "period_s": 2.0})
    pulse = pulse_of(lamp, "slew")
    assert pulse == Pulse(pytest.approx(8.0), pytest.approx(2.0), 0.25, 2.0)
    found = continuous_equivalent(lamp, "slew").demand
    assert found == pytest.approx(1 / math.sqrt(19.0) if kind is LoadKind.RESISTANCE else math.sqrt(19.0))
    assert mean_over_rms(lamp, "slew") == pytest.approx((0.25 * 8.0 + 0.75 * 2.0) / math.sqrt(19.0))
    assert continuous_equivalent(lamp, None).demand == off


def test_a_state_that_happens_once_heats_as_the_plain_one() -> None:
    lamp = in_states(LoadKind.CURRENT, 2.0, jam={"demand": 9.0, "duration_s": 0.5}, slew={"demand": 8.0})
    assert continuous_equivalent(lamp, "jam").demand == 2.0
    assert continuous_equivalent(lamp, "slew").demand == 8.0
    unreadable = in_states(LoadKind.CURRENT, 2.0, jam={"demand": None, "duration_s": 0.5})
    assert continuous_equivalent(unreadable, "jam").demand is None, "unknown stays unknown"
    other_kind = in_states(
        LoadKind.CURRENT, 2.0, jam={"demand": 90.0, "demand_kind": LoadKind.POWER, "duration_s": 0.5}
    )
    assert continuous_equivalent(other_kind, "jam").demand == 90.0, "the safe side"
    pulsed = in_states(
        LoadKind.CURRENT, 2.0, jam={"demand": 90.0, "demand_kind": LoadKind.POWER, "duty": 0.1, "period_s": 1.0}
    )
    assert pulse_of(pulsed, "jam") is None
    assert continuous_equivalent(pulsed, "jam").demand == 90.0


def test_cases_with_events_are_told() -> None:
    quiet = in_states(LoadKind.CURRENT, 2.0, slew={"demand": 8.0})
    jammed = in_states(LoadKind.CURRENT, 2.0, jam={"demand": 9.0, "duration_s": 0.5})
    pulsed = in_states(LoadKind.CURRENT, 2.0, jam={"demand": 9.0, "duty": 0.5, "period_s": 1.0})
    for lamp, told in ((quiet, False), (jammed, True), (pulsed, True)):
        drawn = harness(output("PS1", "p", "m"), lamp)
        assert has_events(drawn, Case("c", "jam")) is told
        assert not has_events(drawn, Case("c"))
        (found,) = continuous_harness(drawn, Case("c", "jam")).loads
        assert found == continuous_equivalent(lamp, "jam")
