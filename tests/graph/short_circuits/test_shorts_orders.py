"""Short circuits that devices clear in more than one order, that a limit holds or tries again, or that another
arrangement or output hides. Source of the numbers: Ohm's and Kirchhoff's laws, by hand; that the device whose
fastest time is within the slowest of another may be the first is common practice, no published source.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from harnesses import random_harness
from joined_harnesses import random_joined, random_outputs
from wired import AT_20_C, facts, found, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Behaviour, Diode
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Curve, CurvePoint
from loadloom.graph.short_circuits.short_circuits import Short

HICCUP = {"behaviour": Behaviour.HICCUP}
CONSTANT = {"behaviour": Behaviour.CONSTANT_CURRENT}


def short(drawn: Harness, part: str, settings: AnalysisSettings = AT_20_C) -> Short:
    return next(s for s in facts(drawn, settings).protection.short_circuits.conductors if s.part == part)


def curve(name: str, *points: tuple[float, float, float | None]) -> Curve:
    return Curve(name, tuple(CurvePoint(*point) for point in points), False, "user")


def with_curves(*curves: Curve) -> AnalysisSettings:
    return AnalysisSettings(
        conductor_temperature_c=20.0, resistance_table="copper", curves={each.name: each for each in curves}
    )


def parallel_then_wire(first_a: float, second_a: float, ohm: float) -> Harness:
    """Two fuses side by side, then a loop."""
    return harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=0.01),
        fuse("F1", "p", "a", first_a, "UL 248-14"),
        fuse("F2", "p", "b", second_a, "UL 248-14"),
        wire("W1", "a", "c", ohm=0.01, rated=30.0),
        wire("W2", "b", "c", ohm=0.01, rated=30.0),
        wire("W3", "c", "lp", ohm=ohm, rated=21.0, mm2=1.5),
        wire("W4", "lm", "m", ohm=ohm, rated=21.0, mm2=1.5),
        load("L1", "lp", "lm", 2.0),
    )


def test_the_second_of_two_devices_side_by_side_holds_what_the_first_has_left() -> None:
    """14.7 A at first, 7.4 A on the 5 A fuse, which opens above 6.75 A (135 %); then 12 V / 0.82 Ω = 14.6 A on the
    fuse of 15 A, which may hold 20.25 A; one of 10 A may hold 13.5 A.
    """
    drawn = parallel_then_wire(5.0, 15.0, 0.4)
    got = short(drawn, "W3")
    assert got.row.cleared_by is None and got.held_by == "F2"
    assert got.held_a == pytest.approx(12.0 / (0.01 + 0.01 + 0.8))
    assert [f.subject.id for f in found("fault-never-cleared", drawn)] == ["W3"]
    assert found("fault-never-cleared", parallel_then_wire(5.0, 10.0, 0.4)) == []


def test_the_time_of_devices_side_by_side_is_that_of_the_last() -> None:
    """Beyond limiters of 1 ms and 2 s: 12 V / 22 mΩ for 1 ms, then 12 V / 23 mΩ for 2 s, where only the first opens
    first.
    """
    drawn = harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=0.02),
        limiter("CH1", "p", "a", 5.0, delay_s=1e-3),
        limiter("CH2", "p", "b", 20.0, delay_s=2.0),
        wire("W1", "a", "c", ohm=2e-3, rated=40.0),
        wire("W2", "b", "c", ohm=2e-3, rated=40.0),
        wire("W3", "c", "lp", ohm=5e-4, rated=26.0, mm2=1.5),
        wire("W4", "lm", "m", ohm=5e-4, rated=26.0, mm2=1.5),
        load("L1", "lp", "lm", 2.0),
    )
    row = short(drawn, "W4").row
    assert (row.cleared_by, row.slowest_s) == ("CH2", pytest.approx(2.001))
    assert row.i2t_a2s == pytest.approx((12.0 / 0.022) ** 2 * 1e-3 + (12.0 / 0.023) ** 2 * 2.0)
    # W3 also counts the short just behind its source end, without its own resistance and that of the return.
    assert short(drawn, "W3").row.at_source_end_a == pytest.approx(12.0 / 0.021)
    assert {f.subject.id for f in found("damage-before-clearing", drawn)} == {"W3", "W4"}


def test_a_device_that_may_open_first_leaves_the_others_holding() -> None:
    """59.7 A: M is certain within 0.99 s, but D1 may be open after 0.01 s; then 12 V / 1.11 Ω = 10.8 A flow by D2,
    which may hold 13.5 A, and M 27 A.
    """
    fast = curve("fast", (1.0, math.inf, None), (1.35, 10.0, 3600.0), (5.0, 0.01, 2.0), (50.0, 1e-3, 1.0))
    main = curve("main", (1.0, math.inf, None), (1.35, 10.0, 3600.0), (2.5, 0.5, 1.0), (50.0, 0.3, 0.9))
    settings = with_curves(fast, main)
    drawn = harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=0.1),
        fuse("M", "p", "t", 20.0, "main"),
        fuse("D1", "t", "a", 10.0, "fast"),
        fuse("D2", "t", "b", 10.0, "fast"),
        wire("W1", "a", "lp", ohm=0.1, rated=60.0),
        wire("W2", "b", "lp", ohm=1.0, rated=60.0),
        wire("W4", "lm", "m", ohm=0.01, rated=60.0),
        load("L1", "lp", "lm", 5.0),
    )
    got = short(drawn, "W4", settings)
    assert got.row.cleared_by is None and got.held_by == "D2"
    assert got.held_a == pytest.approx(12.0 / 1.11)


@pytest.mark.parametrize("delay_s", [None, 0.5])
def test_a_retrying_limit_may_be_faster_than_a_slow_fuse(delay_s: float | None) -> None:
    """Bursts of 12 V / 0.11 Ω = 109 A for half the time are 77 A continuously, and the fuse needs a second at
    least."""
    slow = curve("slow", (1.0, math.inf, None), (1.35, 100.0, 3600.0), (10.0, 1.0, 2.0))
    drawn = harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=0.1),
        limiter("CH1", "p", "a", 12.0, delay_s=delay_s, retry_on_s=0.5, retry_off_s=0.5, **HICCUP),
        fuse("F1", "a", "b", 10.0, "slow"),
        wire("W1", "b", "lp", ohm=5e-3, rated=20.0),
        wire("W2", "lm", "m", ohm=5e-3, rated=20.0),
        load("L1", "lp", "lm", 2.0),
    )
    got = found("fault-never-cleared", drawn, with_curves(slow))
    assert {f.subject.id for f in got} == {"W1", "W2"}
    assert max(f.value or 0.0 for f in got) == pytest.approx(12.0 / 0.1 * math.sqrt(0.5))  # at W1's source end
    assert all("CH1 retries" in f.message for f in got)


def beside(first: dict[str, object], second: dict[str, object]) -> Harness:
    """Two limiters of 10 A side by side on 12 V behind 0.5 Ω."""
    return harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=0.5),
        limiter("CH1", "p", "a", 10.0, **first),
        limiter("CH2", "p", "b", 10.0, **second),
        wire("W1", "a", "c", ohm=1e-3, rated=15.0),
        wire("W2", "b", "c", ohm=1e-3, rated=15.0),
        wire("W4", "lm", "m", ohm=0.01, rated=60.0),
        load("L1", "c", "lm", 2.0),
    )


def test_a_retrying_limit_carries_all_once_the_one_beside_it_is_open() -> None:
    """24 A (12 V / 0.5 Ω) for five sixths of the time: 21.9 A on 15 A, whichever of the two opened first."""
    again = {**HICCUP, "retry_on_s": 0.5, "retry_off_s": 0.1}
    for first, second, part in (
        ({"delay_s": 1e-3}, {"delay_s": 0.5, **again}, "W2"),
        ({"delay_s": 0.05, **again}, {"delay_s": 0.05}, "W1"),
    ):
        got = {f.subject.id: f for f in found("fault-never-cleared", beside(first, second))}
        whole_a = 12.0 / 0.5  # just behind the source end of W1 or W2
        assert got[part].value == pytest.approx(whole_a * math.sqrt(0.5 / 0.6))


def test_what_opens_only_in_the_pause_of_another_is_not_certain_to_open() -> None:
    """CH2 carries 17.7 A alone and 8.9 A beside CH1: of its 0.5 s the pause of 0.1 s leaves it a fifth."""
    again = {**HICCUP, "retry_on_s": 0.5, "retry_off_s": 0.1}
    drawn = harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=0.67),
        limiter("CH1", "p", "a", 5.0, delay_s=0.01, **again),
        limiter("CH2", "p", "b", 10.0, delay_s=0.5),
        wire("W1", "a", "c", ohm=1e-3, rated=40.0),
        wire("W2", "b", "c", ohm=1e-3, rated=40.0),
        wire("W4", "lm", "m", ohm=0.0, rated=40.0),
        load("L1", "c", "lm", 2.0),
    )
    assert short(drawn, "W4").row.cleared_by is None
    longer = replace(drawn.devices[0], retry_off_s=0.6)
    assert short(replace(drawn, devices=(longer, drawn.devices[1])), "W4").row.cleared_by is not None


def test_a_device_on_the_way_back_clears_what_comes_through_it() -> None:
    """12 V / 25 mΩ for 2 s at the far end, 460,800 A²·s; it does not see 12 V / 20 mΩ just behind the source end of
    W1, which the fault search calls unprotected.
    """
    drawn = harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=0.02),
        wire("W1", "p", "lp", ohm=2.5e-3, rated=26.0, mm2=1.5),
        wire("W2", "lm", "r", ohm=2.5e-3, rated=26.0, mm2=1.5),
        limiter("CH1", "r", "m", 20.0, delay_s=2.0),
        load("L1", "lp", "lm", 2.0),
    )
    row = short(drawn, "W1").row
    assert (row.cleared_by, row.i2t_a2s) == ("CH1", pytest.approx(480.0**2 * 2.0))
    assert row.at_source_end_a == pytest.approx(600.0)
    assert {f.subject.id for f in found("damage-before-clearing", drawn)} == {"W1", "W2"}


# --- what one arrangement or output may not hide ---------------------------------------------------------------


def channel(**values: object) -> Harness:
    """A channel of a unit of 15 mΩ before 0.5 m of 1.5 mm², whose 29,800 A²·s (115² · 1.5², IEC 60949) count."""
    return harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=0.015),
        limiter("CH1", "p", "a", **values),
        wire("W1", "a", "c", mm2=1.5, length_m=0.5, insulation="PVC 70 °C", rated=20.0),
        wire("W4", "m", "f", mm2=16.0, length_m=0.1, insulation="PVC 70 °C", rated=60.0),
        load("L1", "c", "f", 5.0),
    )


def test_a_harmless_arrangement_does_not_hide_the_damage_of_another() -> None:
    """Drawn as a constant current of 10 A, pooled as a limit that opens after 2 s: some 700 A for 2 s."""
    pooled = {"behaviour": Behaviour.LATCH_OFF, "trip_a": Band.exact(20.0), "delay_s": 2.0}
    assert found("damage-before-clearing", channel(trip_a=10.0, **CONSTANT)) == []
    both = channel(trip_a=10.0, by_word={"pooled": pooled}, **CONSTANT)
    assert "W1" in {f.subject.id for f in found("damage-before-clearing", both)}


def test_a_limit_that_stays_off_does_not_hide_one_that_tries_again() -> None:
    pooled = {"delay_s": 1e-3, "retry_on_s": 0.05, "retry_off_s": 0.5, **HICCUP}
    assert found("fault-never-cleared", channel(trip_a=10.0, delay_s=0.01)) == []
    both = channel(trip_a=10.0, delay_s=0.01, by_word={"pooled": pooled})
    assert "W1" in {f.subject.id for f in found("fault-never-cleared", both)}


def test_another_output_does_not_hide_what_a_battery_does_to_the_common_return() -> None:
    battery = (
        output("BT1", "q", "m", never_trips=True, resistance_ohm=0.015),
        limiter("CH1", "q", "r", 20.0, delay_s=2.0),
        wire("W2", "r", "b", mm2=16.0, length_m=0.2, insulation="PVC 70 °C", rated=60.0),
        wire("W3", "m", "f", mm2=1.5, length_m=0.5, insulation="PVC 70 °C", rated=40.0),
        load("L2", "b", "f", 2.0),
    )
    other = (
        output("PS1", "p", "m", limit_a=10.0, trip_a=10.0, resistance_ohm=0.01, **CONSTANT),
        wire("W1", "p", "a", mm2=4.0, length_m=0.2, insulation="PVC 70 °C", rated=30.0),
        load("L1", "a", "f", 2.0),
    )
    alone = {f.subject.id for f in found("damage-before-clearing", harness(*battery))}
    assert "W3" in alone
    assert alone <= {f.subject.id for f in found("damage-before-clearing", harness(*battery, *other))}


# --- limits that hold -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("behaviour", [Behaviour.CONSTANT_CURRENT, Behaviour.FOLDBACK])
def test_joined_outputs_that_hold_their_current_clear_no_more_than_that(behaviour: Behaviour) -> None:
    """Two of 14 A behind diodes: never the 600 A of 12 V / 20 mΩ each, on which the fuses would open at once. Of a
    foldback nobody states the least, so that it clears nothing for certain.
    """
    parts = []
    for k in (1, 2):
        parts += [
            output(f"PS{k}", f"p{k}", "m", limit_a=14.0, trip_a=14.0, behaviour=behaviour, resistance_ohm=0.02),
            fuse(f"F{k}", f"p{k}", f"q{k}", 8.0, "IEC 60127-2 F"),
            Diode(id=f"D{k}", subject=Subject(f"D{k}"), node_a=f"q{k}", node_b=f"r{k}"),
            wire(f"W{k}", f"r{k}", "c", ohm=0.01, rated=20.0, mm2=1.0),
        ]
    drawn = harness(
        *parts,
        wire("W3", "c", "lp", ohm=0.01, rated=40.0),
        wire("W4", "lm", "m", ohm=0.01, rated=40.0),
        load("L1", "lp", "lm", 5.0),
    )
    row = short(drawn, "W3").row
    assert row.greatest_a == pytest.approx(28.0)
    assert row.least_a == pytest.approx(14.0 if behaviour is Behaviour.CONSTANT_CURRENT else 0.0)


def test_limiters_that_hold_side_by_side_add_up() -> None:
    """Two of 10 A on leads of 10 and 100 mΩ: by resistance the first would take 10/11; each gives its 10 A."""
    drawn = harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=0.01),
        limiter("CH1", "p", "a", 10.0, **CONSTANT),
        limiter("CH2", "p", "b", 10.0, **CONSTANT),
        wire("W1", "a", "c", ohm=0.01, rated=25.0),
        wire("W2", "b", "c", ohm=0.1, rated=25.0),
        wire("W3", "c", "lp", ohm=0.01, rated=15.0),
        wire("W4", "lm", "m", ohm=0.01, rated=25.0),
        load("L1", "lp", "lm", 1.0),
    )
    row = short(drawn, "W3").row
    assert row.greatest_a == row.least_a == pytest.approx(20.0)
    assert "W3" in {f.subject.id for f in found("fault-never-cleared", drawn)}


# --- large copper -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(10))
def test_the_part_of_the_copper_that_matters_gives_the_same(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Several outputs, some joined or in series: every row of shorts alike, in the whole piece and in its part."""
    for drawn in (random_harness(seed), random_joined(seed), random_outputs(seed)):
        whole = facts(drawn).protection.short_circuits
        monkeypatch.setattr("loadloom.graph.short_circuits.short_circuits.LARGE", 0)
        part = facts(drawn).protection.short_circuits
        monkeypatch.undo()
        assert [s.part for s in part.every] == [s.part for s in whole.every]
        for one, other in zip(whole.every, part.every, strict=True):
            for name in ("least_a", "greatest_a", "at_source_end_a", "slowest_s", "i2t_a2s", "loop_heat_w"):
                expected = getattr(one.row, name)
                assert getattr(other.row, name) == (
                    expected if expected is None else pytest.approx(expected, rel=1e-6, abs=1e-9)
                ), (one.part, name)
        for device, found_there in whole.prospective.items():
            assert part.prospective[device].current_a == pytest.approx(found_there.current_a, rel=1e-6)
