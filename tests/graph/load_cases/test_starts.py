"""Loads that start: the cases that they make, what devices see, and how a stalled motor is switched off.

Values by hand from the fields of the drawing; fuses by the gates of UL 248-14 (110 % for ever, 135 % within 1 h,
200 % within 2 min up to 30 A).
"""

from __future__ import annotations

import math

import pytest
from test_variants import Sketch, found

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import Results, StartRow
from loadloom.graph.model.settings import AnalysisSettings, Case, Curve, CurvePoint

SETTINGS = AnalysisSettings(basis_stated=True)


def motor(settings: AnalysisSettings = SETTINGS, *, device: str = "10 A", **fields: str) -> Results:
    """24 V ± 10 %, a fuse by UL 248-14 or another, 20 mΩ of wires, and a motor that runs with 5 A."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="200 A", Trip="300 A", Delay="1 ms", Tolerance="10 %")
    draw("F1", "fuse", "p q", device, Curve="UL 248-14", Resistance="1 mΩ")
    draw("W1", "wire", "q r", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    draw("W2", "wire", "s m", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    draw("M1", "load", "r s", fields={name.replace("_", " "): text for name, text in fields.items()})
    return draw.results(settings)


def start(results: Results, kind: str) -> StartRow:
    (row,) = (row for row in results.starts if row.kind == kind)
    return row


def test_a_start_is_a_case_of_its_own_at_the_highest_voltage() -> None:
    """30 A stated at 24 V are 33 A at 26.4 V, for 2 s; the fuse of 10 A is not asked for it continuously."""
    results = motor(Load="5 A", Starting_current="30 A", Starting_time="2 s", Stated_at="24 V")
    assert [case.id for case in results.cases] == ["nominal", "start of M1"]
    row = start(results, "start")
    assert row.current_a == pytest.approx(33.0)
    assert row.duration_s == 2.0
    assert row.i2t_a2s == pytest.approx(33.0**2 * 2.0)
    currents = next(r for r in results.conductors if r.id == "W1").currents_a
    assert currents["nominal"] == pytest.approx(5.0)
    assert currents["start of M1"] == pytest.approx(33.0)
    assert next(r for r in results.conductors if r.id == "W1").continuous_a == pytest.approx(5.0)


def test_the_fault_search_does_not_take_a_single_start_for_lasting() -> None:
    plain, starting = motor(Load="5 A"), motor(Load="120 W", Starting_current="300 A", Starting_time="1 s")
    for before, after in zip(plain.conductors, starting.conductors, strict=True):
        assert after.sustained_fault_a == pytest.approx(before.sustained_fault_a, rel=1e-6)


def test_repeated_starts_heat_by_their_root_mean_square() -> None:
    """2 s of 33 A in every 8 s, else 5 A: √((2·33² + 6·5²) / 8) = 17.06 A continuously; a fuse of 10 A opens."""
    results = motor(Load="5 A", Starting_current="30 A", Starting_time="2 s", Stated_at="24 V", Start_every="8 s")
    rms_a = math.sqrt((2.0 * 33.0**2 + 6.0 * 5.0**2) / 8.0)
    assert next(r for r in results.conductors if r.id == "W1").continuous_a == pytest.approx(rms_a)
    assert "F1" in found(results, "fuse-would-open")


def test_a_limiter_sees_the_momentary_current() -> None:
    """33 A for 2 s through a limiter of 20 A that waits 1 s; it rides through where it waits 3 s."""
    for delay, trips in (("1 s", True), ("3 s", False)):
        draw = Sketch()
        draw("PS1", "output", "p m", "24 V", Limit="200 A", Trip="300 A", Delay="1 ms", Tolerance="10 %")
        draw("CH1", "limiter", "p q", "20 A", Delay=delay)
        draw("W1", "wire", "q r", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
        draw("W2", "wire", "s m", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
        fields = {"Load": "5 A", "Starting current": "30 A", "Starting time": "2 s", "Stated at": "24 V"}
        draw("M1", "load", "r s", fields=fields)
        assert ("CH1" in found(draw.results(SETTINGS), "limiter-would-trip")) is trips


def test_starts_come_on_top_of_every_state_and_of_the_cases_in_the_settings() -> None:
    """A heater of 2 A, 20 A while it dries; the motor's 33 A come on top of both."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="200 A", Trip="300 A", Delay="1 ms", Tolerance="10 %")
    draw("W1", "wire", "p r", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    draw("W2", "wire", "s m", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    draw("H1", "load", "r s", fields={"Load": "2 A", "Load@drying": "20 A"})
    fields = {"Load": "5 A", "Starting current": "30 A", "Starting time": "2 s", "Stated at": "24 V"}
    draw("M1", "load", "r s", fields=fields)
    stated = AnalysisSettings(basis_stated=True, cases=(Case("day"), Case("night", "drying")))
    for settings in (SETTINGS, stated):
        results = draw.results(settings)
        currents = next(r for r in results.conductors if r.id == "W1").currents_a
        assert currents["start of M1"] == pytest.approx(35.0)
        assert currents["start of M1 / drying"] == pytest.approx(53.0)


def test_loads_that_start_together_add_up() -> None:
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="200 A", Trip="300 A", Delay="1 ms")
    draw("W1", "wire", "p r", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    draw("W2", "wire", "s m", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    fields = {"Load": "5 A", "Starting current": "30 A", "Starting time": "2 s", "Start together": "axes"}
    draw("M1", "load", "r s", fields=fields)
    draw("M2", "load", "r s", fields={**fields, "Starting current": "20 A"})
    currents = next(r for r in draw.results(SETTINGS).conductors if r.id == "W1").currents_a
    assert currents["start of M1"] == pytest.approx(35.0)
    assert currents["start of M2"] == pytest.approx(25.0)
    assert currents["start of axes (M1, M2)"] == pytest.approx(50.0)


def test_inrush_of_a_capacitance_counts_at_the_device() -> None:
    """26.4 V onto 10 mF through 1 + 10 + 10 + 20 mΩ: 644 A, C·V²/(2·R) = 85.0 A²s."""
    results = motor(Load="5 A", Capacitance="10 mF", Series_resistance="20 mΩ")
    row = start(results, "capacitance")
    assert row.current_a == pytest.approx(26.4 / 0.041, rel=1e-3)
    assert row.i2t_a2s == pytest.approx(10e-3 * 26.4**2 / (2.0 * 0.041), rel=1e-3)
    assert "F1" in found(results, "nuisance-opening")  # nothing states what it carries for so short a time


def test_inrush_trips_a_limit_that_is_shorter_than_it() -> None:
    """26.4 V, 41 mΩ, 10 mF: above 300 A for 0.41 ms · ln(644 / 300) = 0.313 ms; the output waits that long or
    not."""
    for delay, trips in (("0.2 ms", True), ("0.4 ms", False)):
        draw = Sketch()
        draw("PS1", "output", "p m", "24 V", Limit="200 A", Trip="300 A", Delay=delay, Tolerance="10 %")
        draw("W1", "wire", "p r", "10 mm²", Length="1 m", Rating="60 A", Resistance="10.5 mΩ")
        draw("W2", "wire", "s m", "10 mm²", Length="1 m", Rating="60 A", Resistance="10.5 mΩ")
        draw("M1", "load", "r s", fields={"Load": "0 A", "Capacitance": "10 mF", "Series resistance": "20 mΩ"})
        assert ("PS1" in found(draw.results(SETTINGS), "limiter-would-trip")) is trips


def test_an_inrush_that_nothing_limits_is_not_determined() -> None:
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="200 A", Trip="300 A", Delay="1 ms")
    draw("L1", "load", "p m", fields={"Load": "1 A", "Capacitance": "1 mF"})
    results = draw.results(SETTINGS)
    assert "L1" in found(results, "start-not-determined")
    assert start(results, "capacitance").current_a is None
    assert results.verdict is not Verdict.PASS


SLOW = Curve(
    "motor fuse",
    (CurvePoint(1.1, math.inf, None), CurvePoint(1.35, 60.0, 3600.0), CurvePoint(2.0, 5.0, 120.0),
     CurvePoint(4.0, 0.5, 8.0), CurvePoint(10.0, 0.02, 0.2)),
    False,
    "invented for this test",
)  # fmt: skip


def test_a_stalled_motor_behind_a_fuse_opens_within_the_band() -> None:
    """40 A at 24 V are 0.6 Ω; least 21.6 V over 0.6 Ω and 21 mΩ: 34.8 A, greatest 26.4 V: 42.5 A.

    The fuse of 10 A by its own curve: log–log between 2 and 4 times (120 s, 8 s) at 3.48 times, and between
    4 and 10 times (0.5 s, 0.02 s) at 4.25 times.
    """
    settings = AnalysisSettings(basis_stated=True, curves={"motor fuse": SLOW})
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="200 A", Trip="300 A", Delay="1 ms", Tolerance="10 %")
    draw("F1", "fuse", "p q", "10 A", Curve="motor fuse", Resistance="1 mΩ")
    draw("W1", "wire", "q r", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    draw("W2", "wire", "s m", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    fields = {"Load": "5 A", "Stalled current": "40 A", "Stated at": "24 V", "Stalled time": "20 s"}
    draw("M1", "load", "r s", fields=fields)
    results = draw.results(settings)
    row = start(results, "stall")
    least_a, greatest_a = 21.6 / 0.621, 26.4 / 0.621
    assert (row.least_a, row.current_a) == (pytest.approx(least_a), pytest.approx(greatest_a))
    assert row.cleared_by == ("F1",)
    slow = 120.0 * (8.0 / 120.0) ** (math.log(least_a / 20.0) / math.log(2.0))
    fast = 0.5 * (0.02 / 0.5) ** (math.log(greatest_a / 40.0) / math.log(2.5))
    assert row.opens_slowest_s == pytest.approx(slow, rel=1e-6)
    assert row.opens_fastest_s is not None
    assert fast <= row.opens_fastest_s * (1.0 + 1e-6)
    assert row.opens_fastest_s <= row.opens_slowest_s
    assert "M1" not in found(results, "stall-not-cleared")


STALLED = {"Load": "5 A", "Stalled current": "40 A", "Stated at": "24 V", "Stalled time": "120 s"}


def test_a_stalled_motor_ends_the_setting_range_of_its_fuse() -> None:
    """At least 21.6 V / (0.6 Ω + 21 mΩ) = 34.8 A stalled: a fuse of up to half of that opens for certain
    within 120 s (200 % gate). Without the stall the wires alone count, rated 60 A (135 % gate).
    """
    most_a = 21.6 / 0.621 / 2.0
    (row,) = motor(**STALLED).devices
    assert row.setting_high_a == pytest.approx(most_a, rel=2e-4) and row.setting_high_a <= most_a
    assert row.setting_high_by == "M1" and "standing still within 120 s" in row.setting_high_because
    assert row.setting_low_a == pytest.approx(5.0)
    for times, cleared in ((0.999, True), (0.7, True), (0.4, True), (1.01, False), (1.7, False)):
        results = motor(device=f"{times * row.setting_high_a:.4f} A", **STALLED)
        assert ("M1" not in found(results, "stall-not-cleared")) is cleared, times
        assert results.devices[0].setting_high_a == pytest.approx(row.setting_high_a, rel=2e-4)
    (unknown,) = motor(**{name: text for name, text in STALLED.items() if name != "Stalled time"}).devices
    assert unknown.setting_high_a == pytest.approx(60.0 / 1.35)


def test_a_stall_that_another_fuse_ends_does_not_end_the_range_of_the_one_before_it() -> None:
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="200 A", Trip="300 A", Delay="1 ms", Tolerance="10 %")
    draw("F1", "fuse", "p q", "50 A", Curve="UL 248-14", Resistance="1 mΩ")
    draw("F2", "fuse", "q t", "10 A", Curve="UL 248-14")
    draw("W1", "wire", "t r", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    draw("W2", "wire", "s m", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    draw("M1", "load", "r s", fields=STALLED)
    rows = {row.id: row for row in draw.results(SETTINGS).devices}
    assert rows["F1"].setting_high_by != "M1"
    assert rows["F2"].setting_high_a == pytest.approx(21.6 / 0.621 / 2.0, rel=2e-4)


def test_no_setting_where_a_start_needs_more_than_ends_the_stall() -> None:
    """A start of 90 A for 100 s: by UL 248-14 a fuse carries 1.1 times its rating for certain at so long a time, at
    least 81.8 A of rating; the stall of 34.8 A lets at most 17.4 A.
    """
    fields = {**STALLED, "Starting current": "90 A", "Starting time": "100 s"}
    results = motor(**fields)
    (row,) = results.devices
    assert row.setting_low_a is not None and row.setting_low_a > 17.4
    assert row.setting_high_by == "M1" and row.setting_stands == "no range"
    text = found(results, "no-setting-range")["F1"]
    assert "standing still within 120 s" in str(text)


@pytest.mark.parametrize("holder", ["output", "limiter"])
def test_what_holds_a_stall_gives_the_least_that_it_states(holder: str) -> None:
    """A limit of 20 A ± 10 % may hold 18 A: no gate of a fuse of 15 A (135 % = 20.25 A) is reached for certain.

    Nor is it at 19.5 A ± 5 % (18.5 A), where the upper end, 20.5 A, would be above the gate.
    """
    for trip, cleared in (("20 A ±10 %", False), ("19.5 A ±5 %", False), ("22 A ±5 %", True)):
        draw = Sketch()
        held = {"Trip": trip, "Delay": "1 ms", "Behaviour": "constant-current"}
        free = {"Limit": "200 A", "Trip": "300 A", "Delay": "1 ms"}
        own = {"Limit": "17 A", **held} if holder == "output" else free
        draw("PS1", "output", "p m", "24 V", Tolerance="10 %", fields=own)
        if holder == "limiter":
            draw("CH1", "limiter", "p k", fields={**held, "Resistance": "1 mΩ"})
        draw("F1", "fuse", "p q" if holder == "output" else "k q", "15 A", Curve="UL 248-14", Resistance="1 mΩ")
        draw("W1", "wire", "q r", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
        draw("W2", "wire", "s m", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
        fields = {"Load": "5 A", "Stalled current": "40 A", "Stated at": "24 V", "Stalled time": "2 h"}
        draw("M1", "load", "r s", fields=fields)
        assert ("M1" in found(draw.results(SETTINGS), "stall-not-cleared")) is not cleared, trip


@pytest.mark.parametrize(("device", "late"), [("10 A", False), ("30 A", True), ("60 A", True)])
def test_a_stall_that_nothing_ends_in_time_is_found(device: str, late: bool) -> None:
    """34.8 A at least: a fuse of 10 A opens within 2 min; for one of 30 A (135 % = 40.5 A) nothing says so."""
    results = motor(device=device, Load="5 A", Stalled_current="40 A", Stated_at="24 V", Stalled_time="130 s")
    assert ("M1" in found(results, "stall-not-cleared")) is late


def test_a_running_motor_feeds_a_short_for_as_long_as_it_states() -> None:
    """12 A for 50 ms on top of the short: (2·I·12 + 12²)·0.05 A²s more, and 12 A more at the fuse."""
    without, feeds = motor(Load="5 A"), motor(**{"Load": "5 A", "Feed-back current": "12 A"})
    assert "M1" in found(feeds, "start-not-determined")
    draws = {"Load": "5 A", "Feed-back current": "12 A", "Feed-back time": "50 ms"}
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="200 A", Trip="300 A", Delay="1 ms", Tolerance="10 %")
    draw("F1", "fuse", "p q", "10 A", Curve="UL 248-14", Resistance="1 mΩ")
    draw("W1", "wire", "q r", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    draw("W2", "wire", "s m", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
    draw("M1", "load", "r s", fields=draws)
    before = next(row for row in without.short_circuits if row.conductor == "W2")
    after = next(row for row in draw.results(SETTINGS).short_circuits if row.conductor == "W2")
    assert before.greatest_a is not None
    assert after.greatest_a == pytest.approx(before.greatest_a + 12.0)
    assert after.i2t_a2s == pytest.approx(
        before.i2t_a2s + (2.0 * before.greatest_a * 12.0 + 144.0) * 0.05, rel=1e-6
    )


def test_a_start_that_draws_less_than_the_running_load_is_not_believed() -> None:
    """30 A stated at 230 V are 3.4 A at 26.4 V; the motor runs with 5 A, or with 120 W at 24 V."""
    started = {"Starting_current": "30 A", "Starting_time": "2 s"}
    far = found(motor(Load="5 A", **started, Stated_at="230 V"), "start-not-determined")["M1"]
    assert far.value == pytest.approx(30.0 * 26.4 / 230.0) and far.limit == pytest.approx(5.0)
    assert found(motor(Load="5 A", **started, Stated_at="24 V"), "start-not-determined") == {}
    few = motor(Load="120 W", Starting_current="3 A", Starting_time="2 s", Stated_at="24 V")
    assert "M1" in found(few, "start-not-determined")
    lamp = motor(Load="5 A", Inrush="30 A", Inrush_time="20 ms", Stated_at="230 V")
    assert "M1" in found(lamp, "start-not-determined")
    still = motor(Load="5 A", Stalled_current="30 A", Stalled_time="2 h", Stated_at="230 V")
    assert "M1" in found(still, "start-not-determined")


def test_capacitances_behind_outputs_that_share_no_copper_are_each_charged() -> None:
    """24 V over 10 + 20 + 10 mΩ and over 10 + 50 + 10 mΩ, twice beside each other on the first: 1 / 2 of 20 mΩ."""
    draw = Sketch()
    for k, series in ((1, "20 mΩ"), (2, "50 mΩ")):
        draw(f"PS{k}", "output", f"p{k} m{k}", "24 V", Limit="200 A", Trip="900 A", Delay="1 s", Tolerance="0 %")
        draw(f"W{k}", "wire", f"p{k} a{k}", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
        draw(f"W{k}9", "wire", f"b{k} m{k}", "10 mm²", Length="1 m", Rating="60 A", Resistance="10 mΩ")
        draw(
            f"M{k}",
            "load",
            f"a{k} b{k}",
            fields={"Load": "0 A", "Capacitance": "10 mF", "Series resistance": series},
        )
    rows = [(row.id, row.current_a) for row in draw.results(SETTINGS).starts if row.kind == "capacitance"]
    assert rows == [("M1", pytest.approx(24.0 / 0.04, rel=1e-3)), ("M2", pytest.approx(24.0 / 0.07, rel=1e-3))]
