"""Loads that last for a time: what conductors and contacts stand for that time, and shorts that are cleared late.

Reference: two bodies stepped through by scipy (``rise_by_steps``): copper of 3.45 MJ/(K·m³) with its resistance at
its own temperature (IEC 60949), and a wall of 0.25 mm that passes the heat on; at the allowed current the copper
comes to its limit. The adiabatic limit of short circuits is k²·S² (IEC 60949).
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from wired import analysed, contact, fuse, harness, limiter, load, output, splice, wire
from wired import found as _found

from loadloom.graph.model.elements import Diode, Switch
from loadloom.graph.model.findings import Finding, Subject, Verdict
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Ambient, AnalysisSettings, ContactType

AT_40_C = AnalysisSettings(
    default_ambient=Ambient(20.0, 40.0), conductor_temperature_c=20.0, resistance_table="copper"
)
PVC = "PVC 70 °C"


def rise_by_steps(area_mm2: float, allowed_a: float, before_a: float, current_a: float, duration_s: float) -> float:
    """Rise of the copper over 40 °C at the end of a current, over the 30 K at the allowed current."""
    area = area_mm2 * 1e-6
    ohm = 1.7241e-8 / area / 254.5  # times (234.5 + T)
    across = 2.0 * math.sqrt(area / math.pi)
    whole = 30.0 / (allowed_a**2 * ohm * 304.5)
    inner = min(0.5 * 6.0 * math.log((across + 0.5e-3) / across) / (2.0 * math.pi), 0.5 * whole)
    copper = 3.45e6 * area
    wall = 1.7e6 * math.pi * ((across + 0.5e-3) ** 2 - across**2) / 4.0

    def slope(amperes: float, rise: np.ndarray) -> list[float]:
        passed, lost = (rise[0] - rise[1]) / inner, rise[1] / (whole - inner)
        return [(amperes**2 * ohm * (274.5 + rise[0]) - passed) / copper, (passed - lost) / wall]

    def flows(amperes: float, start: np.ndarray, seconds: float) -> np.ndarray:
        steps = solve_ivp(
            lambda _, rise: slope(amperes, rise), (0.0, seconds), start, method="Radau", rtol=1e-8, atol=1e-8
        )
        return np.asarray(steps.y[:, -1])

    settled = flows(before_a, np.zeros(2), 50_000.0)
    return float(flows(current_a, settled, duration_s)[0]) / 30.0


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
    assert got.subject.id == "W1" and got.case == "kick"
    assert got.value == pytest.approx(rise_by_steps(1.5, 15.0, 8.0, 60.0, 30.0), rel=1e-4)


@pytest.mark.parametrize(("share", "findings"), [(0.999, 0), (1.001, 1)])
def test_longest_event_that_a_cold_conductor_stands(share: float, findings: int) -> None:
    """60 A from cold until the copper is at 70 °C; its own heat alone, 226²·ln(304.5/274.5)·1.5² / 60², takes 3.3
    s."""
    alone_s = 226.0**2 * math.log(304.5 / 274.5) * 1.5**2 / 60.0**2
    assert alone_s == pytest.approx(3.31, abs=0.005)
    longest_s = brentq(lambda t: rise_by_steps(1.5, 15.0, 0.0, 60.0, t) - 1.0, alone_s, 3.0 * alone_s)
    assert alone_s < longest_s < 1.5 * alone_s
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
    """300 A for 5 s through 10 A: 450 000 A²·s in copper of unknown size. The 6 mm² before it is judged: it becomes
    2.4 times as warm as it may be."""
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
    assert judged.value == pytest.approx(rise_by_steps(6.0, 10.0, 5.0, 300.0, 5.0), rel=1e-4)


@pytest.mark.parametrize(("rated_a", "subjects"), [(50.0, []), (30.0, ["D1", "S1", "SP1"])])
def test_switches_diodes_and_splices_state_no_time_either(rated_a: float, subjects: list[str]) -> None:
    """40 A for 1 s through a switch, a diode and a splice in series, each of 30 A: each is over its rating."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=45.0, trip_a=50.0, delay_s=0.1),
        wire("W1", "p", "a", ohm=0.01, mm2=10.0, insulation=PVC, rated=60.0),
        Diode(id="D1", subject=Subject("D1"), node_a="b", node_b="c", rating_a=rated_a),
        splice("SP1", "c", rated_a),
        wire("W2", "c", "lp", ohm=0.01, mm2=10.0, insulation=PVC, rated=60.0),
        wire("W3", "lm", "m", ohm=0.01, mm2=10.0, insulation=PVC, rated=60.0),
        load("L1", "lp", "lm", 8.0, by_word={"kick": {"demand": 40.0, "duration_s": 1.0}}),
    )
    switch = Switch(id="S1", subject=Subject("S1"), node_a="a", node_b="b", rating_a=rated_a)
    drawn = replace(drawn, switches=(switch,))
    results = analysed(drawn, AT_40_C)
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
    behind the source end of W1 it is 24 V through 20 mΩ, 1200 A. From 70 °C the 1.5 mm² stands a current for 20 s
    at which it is then at 160 - 90·ln(4)/ln(720) = 141 °C.
    """
    got = found("damage-before-clearing", shorted("limiter", delay_s=20.0))
    assert [f.subject.id for f in got] == ["W1", "W2"]
    current_a = 24.0 / (0.02 + 2 * 0.017241 * 2.0 / 1.5)

    def too_warm(amperes: float) -> float:
        return 30.0 * rise_by_steps(1.5, 15.0, 15.0, amperes, 20.0) + 40.0 - damage_c

    final_c = 304.5 * math.exp((115.0 / 226.0) ** 2) - 234.5
    damage_c = final_c - (final_c - 70.0) * math.log(20.0 / 5.0) / math.log(3600.0 / 5.0)
    stands_a = brentq(too_warm, 15.0, 80.0)
    assert got[0].value == pytest.approx(1200.0 / stands_a, rel=1e-3)
    assert got[1].value == pytest.approx(current_a / stands_a, rel=1e-3)


def test_a_conductor_that_stands_a_slow_clearing_has_no_finding() -> None:
    """10 mm² of 57 A behind a limiter that clears within 8 s: 24 V over 0.2 Ω and its loop are about 117 A, while
    10 mm² in PVC stands 115·10/√5 = 514 A for 5 s and not much less for 8 s."""
    drawn = harness(
        output("BT1", "p", "m", 24.0, never_trips=True, resistance_ohm=0.2),
        limiter("CH1", "p", "a", 40.0, delay_s=8.0),
        wire("W1", "a", "lp", mm2=10.0, length_m=2.0, rated=57.0, insulation=PVC),
        wire("W2", "lm", "m", mm2=10.0, length_m=2.0, rated=57.0, insulation=PVC),
        load("L1", "lp", "lm", 8.0),
    )
    assert found("damage-before-clearing", drawn) == found("cleared-late", drawn) == []


def test_a_gate_beyond_five_seconds_is_no_clearing_time() -> None:
    drawn = shorted("fuse")
    assert found("damage-before-clearing", drawn) == []
    (got,) = found("device-not-determined", drawn)
    assert "how fast it clears" in got.message and "Curve" in got.remedy


@pytest.mark.parametrize(("period_s", "overloaded"), [(None, True), (1.0, False)])
def test_a_duty_counts_only_where_the_period_is_known(period_s: float | None, overloaded: bool) -> None:
    """20 A on half of the time are 14.1 A root mean square on 15 A; without a period they may be on for hours."""
    cycling = load("L1", "lp", "lm", 20.0, duty=0.5, period_s=period_s)
    drawn = replace(one_way(1.0, 1.0), loads=(cycling,))
    done = analysed(drawn, AT_40_C)
    (wire_row,) = (row for row in done.conductors if row.id == "W1")
    assert wire_row.continuous_a == pytest.approx(20.0 if overloaded else 20.0 * math.sqrt(0.5))
    assert ("wire-overload" in {f.rule for f in done.findings if f.subject.id == "W1"}) is overloaded
