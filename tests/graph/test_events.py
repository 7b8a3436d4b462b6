"""Loads that last for a time: what conductors and contacts stand for that time, and shorts that are cleared late.

Reference: the copper takes up k²·S² from the ambient to its limit (IEC 60949, k = 226·√(ln(...))), and a body with
one time constant warms to r² - (r² - r₀²)·exp(-t/τ) of the rise at its allowed current (common practice).
"""

import math

import pytest
from wired import contact, fuse, harness, limiter, load, output, wire
from wired import found as _found

from loadloom.graph.findings import Finding
from loadloom.graph.harness import Harness
from loadloom.graph.settings import Ambient, AnalysisSettings, ContactType

AT_40_C = AnalysisSettings(default_ambient=Ambient(20.0, 40.0), conductor_temperature_c=20.0)
TAKES_UP_A2S = 226.0**2 * math.log((234.5 + 70.0) / (234.5 + 40.0)) * 1.5**2
TIME_CONSTANT_S = TAKES_UP_A2S / 15.0**2
PVC = "PVC 70 °C"


def found(rule: str, drawn: Harness, settings: AnalysisSettings = AT_40_C) -> list[Finding]:
    return _found(rule, drawn, settings)


def one_way(amperes: float, duration_s: float, *, before_a: float = 8.0, **values: float) -> Harness:
    kick = {"demand": amperes, "duration_s": duration_s, **values}
    return harness(
        output("PS1", "p", "m", 24.0, never_trips=True, limit_a=80.0, resistance_ohm=0.02),
        contact("J1.1", "p", "a", rated=15.0, contact_type="own"),
        wire("W1", "a", "lp", mm2=1.5, length_m=2.0, rated=15.0, insulation=PVC),
        wire("W2", "lm", "m", mm2=6.0, length_m=2.0, rated=90.0, insulation=PVC),
        load("L1", "lp", "lm", before_a, by_word={"kick": kick}),
    )


def test_rise_at_the_end_of_an_event() -> None:
    (got,) = found("event-overload", one_way(60.0, 30.0))
    start, end = (8.0 / 15.0) ** 2, 16.0
    assert got.subject.id == "W1" and got.case == "kick"
    assert got.value == pytest.approx(end - (end - start) * math.exp(-30.0 / TIME_CONSTANT_S), rel=1e-9)


@pytest.mark.parametrize(("share", "findings"), [(0.999, 0), (1.001, 1)])
def test_longest_event_that_a_cold_conductor_stands(share: float, findings: int) -> None:
    """60 A from cold: t = τ · ln(r² / (r² - 1)) = 3.42 s."""
    longest_s = TIME_CONSTANT_S * math.log(16.0 / 15.0)
    assert longest_s == pytest.approx(3.42, abs=0.005)
    drawn = one_way(60.0, share * longest_s, before_a=0.0)
    assert len(found("event-overload", drawn)) == findings


def test_an_event_that_comes_again_counts_each_time() -> None:
    """30 A for 600 s in every 3600 s: the root mean square of 14.2 A is allowed, ten minutes at twice are not."""
    drawn = one_way(30.0, 600.0, period_s=3600.0)
    assert math.sqrt(30.0**2 / 6.0 + 8.0**2 * 5.0 / 6.0) < 15.0
    assert found("wire-overload", drawn) == []
    assert [f.subject.id for f in found("event-overload", drawn)] == ["W1"]


def test_a_contact_that_states_nothing_is_not_judged_beyond_five_seconds() -> None:
    assert found("event-not-judged", one_way(40.0, 4.9)) == []
    (got,) = found("event-not-judged", one_way(40.0, 5.1))
    assert (got.subject.id, got.value, got.limit) == ("J1.1", pytest.approx(40.0), 15.0)


def test_a_contact_with_a_stated_i2t() -> None:
    """40 A for 1 s is 1600 A²·s."""
    for i2t, subjects in ((1500.0, ["J1.1"]), (1700.0, [])):
        settings = AnalysisSettings(
            default_ambient=Ambient(20.0, 40.0), contact_types={"own": ContactType("own", i2t_a2s=i2t)}
        )
        got = found("event-overload", one_way(40.0, 1.0), settings)
        assert [f.subject.id for f in got] == subjects


def test_an_event_below_the_allowed_current_is_none() -> None:
    drawn = one_way(14.9, 36_000.0)
    assert found("event-overload", drawn) == found("event-not-judged", drawn) == []


def shorted(device: str, **values: float) -> Harness:
    guard = (
        fuse("F1", "p", "a", 10.0, "UL 248-14") if device == "fuse" else limiter("CH1", "p", "a", 10.0, **values)
    )
    return harness(
        output("BT1", "p", "m", 24.0, never_trips=True, resistance_ohm=0.02),
        guard,
        wire("W1", "a", "lp", mm2=1.5, length_m=2.0, rated=15.0, insulation=PVC),
        wire("W2", "lm", "m", mm2=1.5, length_m=2.0, rated=15.0, insulation=PVC),
        load("L1", "lp", "lm", 8.0),
    )


def test_a_short_that_a_slow_limiter_clears_too_late() -> None:
    """24 V through 20 mΩ and 2 × 23.0 mΩ: 364 A for 20 s, where k²·S² = 115² · 1.5² is gone after 0.22 s; just
    behind the source end of W1 it is 24 V through 20 mΩ, 1200 A.
    """
    got = found("damage-before-clearing", shorted("limiter", delay_s=20.0))
    assert [f.subject.id for f in got] == ["W1", "W2"]
    current_a = 24.0 / (0.02 + 2 * 0.017241 * 2.0 / 1.5)
    assert got[0].value == pytest.approx(1200.0**2 * 20.0, rel=1e-6)
    assert got[1].value == pytest.approx(current_a**2 * 20.0, rel=1e-6)


def test_a_gate_beyond_five_seconds_is_no_clearing_time() -> None:
    drawn = shorted("fuse")
    assert found("damage-before-clearing", drawn) == []
    (got,) = found("device-not-checked", drawn)
    assert "within 120 s" in got.message
