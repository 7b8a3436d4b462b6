"""The continuous equivalent of a load that pulses: the current's root mean square, by hand.

Reference: the definition of the root mean square over a period: √(share·on² + (1 - share)·off²).
"""

from __future__ import annotations

import math

import pytest
from wired import load

from loadloom.graph.circuit.loading import continuous_equivalent, mean_over_rms, pulse_of
from loadloom.graph.model.elements import Load, LoadKind

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
