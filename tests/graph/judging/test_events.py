"""Loads that last for a time: what conductors and contacts stand for that time, and shorts that are cleared late.

Reference: the copper takes up k²·S² from the ambient to its limit (IEC 60949, k = 226·√(ln(...))), and a body with
one time constant warms to r² - (r² - r₀²)·exp(-t/τ) of the rise at its allowed current (common practice).
"""

import math
from dataclasses import replace

import pytest
from wired import contact, fuse, harness, limiter, load, output, splice, wire
from wired import found as _found

from loadloom.graph.analysis import analyse
from loadloom.graph.elements import Diode, Switch
from loadloom.graph.findings import Finding, Subject, Verdict
from loadloom.graph.harness import Harness
from loadloom.graph.settings import Ambient, AnalysisSettings, ContactType

AT_40_C = AnalysisSettings(
    default_ambient=Ambient(20.0, 40.0), conductor_temperature_c=20.0, resistance_table="copper"
)
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


def test_a_contact_that_states_nothing_is_never_taken_to_stand_an_event() -> None:
    """40 A on 15 A, be it for 4.9 s or 5.1 s: nothing says how long the contact stands 2.67 times its current."""
    for duration_s in (0.1, 4.9, 5.1):
        (got,) = found("event-not-determined", one_way(40.0, duration_s))
        assert (got.subject.id, got.value, got.limit) == ("J1.1", pytest.approx(40.0), 15.0)
        assert ("shorter than 5 s" in got.remedy) == (duration_s > 5.0)


def test_a_conductor_without_a_gauge_is_never_taken_to_stand_an_event() -> None:
    """300 A for 5 s through 10 A: 450 000 A²·s in copper of unknown size. The 6 mm² before it is judged: 300 A is
    30 times its 10 A, and k²·S² = 226²·ln(304.5/274.5)·6² = 190 716 A²·s, so it is 900 - 899.75·exp(-5/1907) = 2.6
    times as warm as it may be."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, never_trips=True, limit_a=300.0),
        wire("W1", "p", "a", mm2=6.0, length_m=0.2, rated=10.0, insulation=PVC),
        wire("W2", "a", "lp", ohm=0.002, rated=10.0),
        wire("W3", "lm", "m", mm2=95.0, length_m=0.2, rated=300.0, insulation=PVC),
        load("L1", "lp", "lm", 5.0, by_word={"kick": {"demand": 300.0, "duration_s": 5.0}}),
    )
    (unknown,) = found("event-not-determined", drawn)
    assert (unknown.subject.id, unknown.value, unknown.limit) == ("W2", pytest.approx(300.0), 10.0)
    (judged,) = found("event-overload", drawn)
    assert judged.subject.id == "W1"
    assert judged.value == pytest.approx(
        900.0 - 899.75 * math.exp(-5.0 * 10.0**2 / (TAKES_UP_A2S / 1.5**2 * 6.0**2)), rel=1e-9
    )


@pytest.mark.parametrize(("rated_a", "subjects"), [(50.0, []), (30.0, ["D1", "S1", "SP1"])])
def test_switches_diodes_and_splices_state_no_time_either(rated_a: float, subjects: list[str]) -> None:
    """40 A for 1 s through a switch, a diode and a splice in series, each of 30 A: each is over its rating."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=45.0, trip_a=50.0, delay_s=0.1),
        wire("W1", "p", "a", ohm=0.01, rated=60.0),
        Diode(id="D1", subject=Subject("D1"), node_a="b", node_b="c", rating_a=rated_a),
        splice("SP1", "c", rated_a),
        wire("W2", "c", "lp", ohm=0.01, rated=60.0),
        wire("W3", "lm", "m", ohm=0.01, rated=60.0),
        load("L1", "lp", "lm", 8.0, by_word={"kick": {"demand": 40.0, "duration_s": 1.0}}),
    )
    switch = Switch(id="S1", subject=Subject("S1"), node_a="a", node_b="b", rating_a=rated_a)
    drawn = replace(drawn, switches=(switch,))
    results = analyse(drawn, AT_40_C, tool_version="t", date="2025-01-01", settings_echo={}, progress=str)
    got = [f for f in results.findings if f.rule == "event-not-determined"]
    assert [f.subject.id for f in got] == subjects
    assert all(f.value == pytest.approx(40.0) for f in got)
    assert (results.verdict is Verdict.PASS) == (not subjects)


def test_a_contact_with_a_stated_i2t() -> None:
    """40 A for 1 s is 1600 A²·s."""
    for i2t, subjects in ((1500.0, ["J1.1"]), (1700.0, [])):
        settings = AnalysisSettings(
            default_ambient=Ambient(20.0, 40.0), contact_types={"own": ContactType("own", i2t_a2s=i2t)}
        )
        got = found("event-overload", one_way(40.0, 1.0), settings)
        assert [f.subject.id for f in got] == subjects
        assert found("event-not-determined", one_way(40.0, 1.0), settings) == []


def test_an_event_below_the_allowed_current_is_none() -> None:
    drawn = one_way(14.9, 36_000.0)
    assert found("event-overload", drawn) == found("event-not-determined", drawn) == []


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
    assert "within 120 s" in got.message and "Curve" in got.remedy


@pytest.mark.parametrize(("period_s", "overloaded"), [(None, True), (1.0, False)])
def test_a_duty_counts_only_where_the_period_is_known(period_s: float | None, overloaded: bool) -> None:
    """20 A on half of the time are 14.1 A root mean square on 15 A; without a period they may be on for hours."""
    cycling = load("L1", "lp", "lm", 20.0, duty=0.5, period_s=period_s)
    drawn = replace(one_way(1.0, 1.0), loads=(cycling,))
    done = analyse(drawn, AT_40_C, tool_version="t", date="2025-01-01", settings_echo={}, progress=str)
    (wire_row,) = (row for row in done.conductors if row.id == "W1")
    assert wire_row.continuous_a == pytest.approx(20.0 if overloaded else 20.0 * math.sqrt(0.5))
    assert ("wire-overload" in {f.rule for f in done.findings if f.subject.id == "W1"}) is overloaded
