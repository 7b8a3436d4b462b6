"""Devices against the gates of the standards, handbook limits and power laws."""

import math

import pytest
from wired import breaker, device, fuse, limiter, output

from loadloom.graph.devices.curves import shipped_curves
from loadloom.graph.devices.device_bands import (
    TIME_NOT_STATED,
    band,
    hiccup_share,
    opening_time_s,
    ride_through_multiple,
    threshold,
)
from loadloom.graph.model.elements import Band, Behaviour, DeviceKind
from loadloom.graph.model.settings import Ambient, AnalysisSettings, Curve, CurvePoint

PLAIN = AnalysisSettings()
UL, IEC = "UL 248-14", "IEC 60127-2 F"


@pytest.mark.parametrize(
    ("rating_a", "curve", "share", "fastest_s", "slowest_s"),
    [
        # UL 248-14: carries 100 %, opens within 1 h at 135 %, within 120 s at 200 % (up to 30 A), 240 s (35-60 A).
        (5.0, UL, 1.00, None, None),
        (5.0, UL, 1.20, 0.0, None),
        (5.0, UL, 1.35, 0.0, 3600.0),
        (5.0, UL, 2.00, 0.0, 120.0),
        (40.0, UL, 2.00, 0.0, 240.0),
        # In the gap between 30 A and 35 A the slower gate counts.
        (32.0, UL, 2.00, 0.0, 240.0),
        (5.0, "UL 248-14 time-delay", 2.00, 12.0, 120.0),
        (3.0, "UL 248-14 time-delay", 2.00, 5.0, 120.0),
        (5.0, "UL 248-14 miniature", 1.10, 14400.0, None),
        # IEC 60127-2 sheet 2, 125 mA to 10 A.
        (5.0, IEC, 1.50, 3600.0, None),
        (5.0, IEC, 2.10, 0.05, 1800.0),
        (5.0, IEC, 2.75, 0.05, 2.0),
        (5.0, IEC, 4.00, 0.01, 0.3),
        (5.0, IEC, 10.0, 0.0, 0.02),
        (0.1, IEC, 2.75, 0.01, 0.5),
        (0.1, IEC, 4.00, 0.003, 0.1),
    ],
)
def test_fuse_gates(
    rating_a: float, curve: str, share: float, fastest_s: float | None, slowest_s: float | None
) -> None:
    assert opening_time_s(fuse("F1", "a", "b", rating_a, curve), share * rating_a, PLAIN) == (fastest_s, slowest_s)


def test_between_gates_no_curve_is_invented() -> None:
    """Between 2.75 and 4 times the slowest of the gate passed and the fastest of the next (IEC 60127-2)."""
    part = fuse("F1", "a", "b", 5.0, IEC)
    for share in (2.8, 3.3, 3.99):
        assert opening_time_s(part, share * 5.0, PLAIN) == (0.01, 2.0)


def test_five_ampere_fuse_at_ten_ampere() -> None:
    """Worked example: UL 248-14, a 5 A fuse at 10 A opens within 120 s."""
    assert opening_time_s(fuse("F1", "a", "b", 5.0, UL), 10.0, PLAIN)[1] == 120.0


@pytest.mark.parametrize(
    ("rating_a", "curve", "held_a"), [(20.0, UL, 27.0), (5.0, IEC, 10.5), (20.0, None, 42.0), (20.0, "blade", 42.0)]
)
def test_what_a_fuse_may_hold(rating_a: float, curve: str | None, held_a: float) -> None:
    """135 % (UL 248-14), 210 % (IEC 60127-2); with no known curve the wider of them."""
    found = threshold(fuse("F1", "a", "b", rating_a, curve), PLAIN, None)
    assert found.held_a == pytest.approx(held_a)
    assert found.non_tripping_a == rating_a
    assert found.opens and not found.assumed
    assert ("the widest of" in found.reason) == (curve in (None, "blade"))


def test_a_standard_does_not_hold_beyond_its_ratings() -> None:
    """IEC 60127-2 F ends at 10 A, UL 248-14 at 60 A: then the widest band counts."""
    assert threshold(fuse("F1", "a", "b", 80.0, UL), PLAIN, None).held_a == pytest.approx(168.0)
    assert "no gates for this rating" in threshold(fuse("F1", "a", "b", 20.0, IEC), PLAIN, None).reason


@pytest.mark.parametrize(("letter", "least", "most"), [("B", 3, 5), ("C", 5, 10), ("D", 10, 20)])
def test_breaker_bands(letter: str, least: float, most: float) -> None:
    """IEC 60898-1 (AC): 1.13 for an hour, 1.45 within the hour, instantaneous between least and most × In; on DC
    the upper end × 1.5 (from memory).
    """
    part = breaker("Q1", "a", "b", 10.0, letter)
    assert opening_time_s(part, 10.0, PLAIN) == (None, None)
    assert opening_time_s(part, 11.3, PLAIN) == (3600.0, None)
    assert opening_time_s(part, 14.5, PLAIN) == (0.1, 3600.0)
    assert opening_time_s(part, 10.0 * least, PLAIN) == (0.1, 3600.0)
    assert opening_time_s(part, 10.0 * most, PLAIN) == (0.0, 3600.0)
    assert opening_time_s(part, 15.0 * most, PLAIN) == (0.0, 0.1)
    assert threshold(part, PLAIN, None).held_a == pytest.approx(14.5)
    assert ride_through_multiple(part, 0.05, PLAIN) == least
    assert opening_time_s(breaker("Q1", "a", "b", 10.0, f"IEC 60898-1 {letter}"), 14.5, PLAIN)[1] == 3600.0


def test_only_verified_currents_ship() -> None:
    assert set(shipped_curves()) == {UL, f"{UL} miniature", f"{UL} time-delay", IEC, "B", "C", "D"}


def test_own_curve_is_interpolated_on_log_log_axes() -> None:
    """t = 100 s · (I / 2 In)^-2 is a straight line on log–log axes: exact between its points."""
    points = tuple(CurvePoint(m, 0.5 * 100.0 * (m / 2) ** -2, 100.0 * (m / 2) ** -2) for m in (2.0, 8.0))
    settings = AnalysisSettings(curves={"own": Curve("own", points, gates=False, source="test")})
    part = fuse("F1", "a", "b", 10.0, "own")
    fastest, slowest = opening_time_s(part, 40.0, settings)
    assert (fastest, slowest) == (pytest.approx(12.5), pytest.approx(25.0))
    assert opening_time_s(part, 19.0, settings) == (50.0, None)
    assert opening_time_s(part, 200.0, settings) == (0.0, pytest.approx(6.25))
    # It rides through t seconds up to the current at which its fastest time is t.
    assert ride_through_multiple(part, 12.5, settings) == pytest.approx(4.0)
    assert threshold(part, settings, None).held_a == pytest.approx(20.0)


def test_own_gates_stay_gates() -> None:
    points = (CurvePoint(1.1, 360000.0, None), CurvePoint(1.35, 0.75, 600.0), CurvePoint(2.0, 0.15, 5.0))
    settings = AnalysisSettings(curves={"blade": Curve("blade", points, gates=True, source="test")})
    part = fuse("F1", "a", "b", 10.0, "Blade")
    assert opening_time_s(part, 17.0, settings) == (0.15, 600.0)
    assert threshold(part, settings, None).held_a == pytest.approx(13.5)
    assert threshold(part, settings, None).non_tripping_a == pytest.approx(10.0)


def test_rerating_takes_each_end_at_its_own_ambient() -> None:
    """Own rerating 100 % at 20 °C, 80 % at 60 °C: carries least when hot, holds most when cold."""
    own = Curve(
        "own", (CurvePoint(1.0, math.inf, None), CurvePoint(1.35, None, 3600.0)), True, "test",
        rerating=((20.0, 1.0), (60.0, 0.8)),
    )  # fmt: skip
    settings = AnalysisSettings(curves={"own": own}, default_ambient=Ambient(20.0, 40.0))
    part = fuse("F1", "a", "b", 10.0, "own")
    both = threshold(part, settings, None)
    assert (both.non_tripping_a, both.held_a) == (pytest.approx(9.0), pytest.approx(13.5))
    assert threshold(part, settings, 60.0).held_a == pytest.approx(10.8)
    assert threshold(fuse("F1", "a", "b", 10.0, UL), settings, 60.0).held_a == pytest.approx(13.5)


@pytest.mark.parametrize(
    ("points", "ambient", "carries_a", "held_a"),
    [
        # Between the points: 10 A × share, and × 1.35 where it opens for certain.
        (((0.0, 1.1), (20.0, 1.0), (60.0, 0.8)), Ambient(0.0, 40.0), 9.0, 14.85),
        # Colder and hotter than the points: straight on, 1.1 + 30 × 0.005 and 0.8 − 10 × 0.005.
        (((0.0, 1.1), (20.0, 1.0), (60.0, 0.8)), Ambient(-30.0, 70.0), 7.5, 1.35 * 12.5),
        # One point alone tells no slope.
        (((25.0, 1.0),), Ambient(-30.0, 70.0), 10.0, 13.5),
        # A curve that does not fall is not made to rise or fall beyond its ends on the wrong side.
        (((0.0, 0.9), (40.0, 1.0)), Ambient(-20.0, 60.0), 9.0, 13.5),
        # The greatest share may lie between the ends of the ambient.
        (((-40.0, 0.9), (0.0, 1.2), (40.0, 0.8)), Ambient(-40.0, 40.0), 8.0, 1.35 * 12.0),
        # A curve that leaves nothing: never a division by zero.
        (((0.0, 1.0), (60.0, 0.0)), Ambient(0.0, 60.0), 0.1, 13.5),
    ],
)
def test_a_rerating_counts_over_all_of_the_ambient(
    points: tuple[tuple[float, float], ...], ambient: Ambient, carries_a: float, held_a: float
) -> None:
    band = (CurvePoint(1.0, math.inf, None), CurvePoint(1.35, None, 3600.0))
    settings = AnalysisSettings(
        curves={"own": Curve("own", band, True, "test", rerating=points)}, default_ambient=ambient
    )
    part = fuse("F1", "a", "b", 10.0, "own")
    found = threshold(part, settings, None)
    assert (found.non_tripping_a, found.held_a) == (pytest.approx(carries_a), pytest.approx(held_a))
    # Beyond its last gate a fuse lets through no more heat than at it.
    assert opening_time_s(part, held_a * 1.01, settings)[1] == pytest.approx(3600.0 / 1.01**2)
    assert opening_time_s(part, held_a * 0.99, settings)[1] is None


def test_limiter_with_tolerance_and_delay() -> None:
    part = limiter("CH1", "a", "b", Band(40.0, 36.0, 44.0), delay_s=1e-3)
    found = threshold(part, PLAIN, None)
    assert (found.non_tripping_a, found.held_a, found.tripping_within_s) == (36.0, 44.0, 1e-3)
    assert opening_time_s(part, 36.0, PLAIN) == (None, None)
    assert opening_time_s(part, 40.0, PLAIN) == (1e-3, None)
    assert opening_time_s(part, 45.0, PLAIN) == (1e-3, 1e-3)
    assert ride_through_multiple(part, 1e-4, PLAIN) == math.inf
    assert ride_through_multiple(part, 0.1, PLAIN) == pytest.approx(0.9)


def test_limiter_without_delay_may_act_at_once_but_nothing_says_how_late() -> None:
    assert opening_time_s(limiter("CH1", "a", "b", 40.0), 50.0, PLAIN) == (0.0, TIME_NOT_STATED)


def test_limits_that_never_open() -> None:
    constant = limiter("CH1", "a", "b", Band(40.0, 36.0, 44.0), behaviour=Behaviour.CONSTANT_CURRENT)
    assert not threshold(constant, PLAIN, None).opens
    assert threshold(constant, PLAIN, None).held_a == 44.0
    assert opening_time_s(constant, 60.0, PLAIN)[1] is None
    inactive = limiter("CH1", "a", "b", None, active=False)
    assert threshold(inactive, PLAIN, None).held_a == math.inf
    assert opening_time_s(inactive, 1e6, PLAIN) == (None, None)


def test_a_missing_number_protects_nothing_and_is_marked() -> None:
    for part in (limiter("CH1", "a", "b", None), device(DeviceKind.FUSE, "F1", "a", "b")):
        found = threshold(part, PLAIN, None)
        assert found.held_a == math.inf and found.assumed and not found.opens
        assert opening_time_s(part, 1e6, PLAIN)[1] is None
        assert ride_through_multiple(part, 1.0, PLAIN) is None


@pytest.mark.parametrize(
    ("values", "non_tripping_a", "held_a", "opens", "assumed"),
    [
        ({"limit_a": 5.0, "trip_a": 7.5}, 7.5, 7.5, True, False),
        # 150 % of the limit, reported as assumed: convention of the tool.
        ({"limit_a": 5.0}, 5.0, 7.5, True, True),
        ({"limit_a": 5.0, "behaviour": Behaviour.CONSTANT_CURRENT}, 5.0, 5.0, False, False),
        ({"trip_a": 6.0, "limit_a": 5.0, "behaviour": Behaviour.CONSTANT_CURRENT}, 6.0, 6.0, False, False),
        ({"trip_a": 4.0, "limit_a": 5.0, "behaviour": Behaviour.FOLDBACK}, 4.0, 5.0, False, False),
        ({"never_trips": True}, math.inf, math.inf, False, False),
        ({}, None, math.inf, False, False),
    ],
)
def test_outputs(
    values: dict[str, float], non_tripping_a: float | None, held_a: float, opens: bool, assumed: bool
) -> None:
    found = threshold(output("PS1", "p", "m", **values), PLAIN, None)
    assert (found.non_tripping_a, found.held_a, found.opens, found.assumed) == (
        non_tripping_a,
        held_a,
        opens,
        assumed,
    )


def test_hiccup_counts_up_to_its_trip_and_its_bursts_by_their_effective_value() -> None:
    """1 s on, 3 s off: √(1/4) of the burst current (definition of the effective value)."""
    part = limiter("CH1", "a", "b", 10.0, behaviour=Behaviour.HICCUP, retry_on_s=1.0, retry_off_s=3.0)
    assert threshold(part, PLAIN, None).held_a == 10.0
    assert hiccup_share(part) == pytest.approx(0.5)
    assert hiccup_share(limiter("CH1", "a", "b", 10.0, behaviour=Behaviour.HICCUP)) is None


def test_resettable_by_hold_and_trip() -> None:
    part = device(DeviceKind.RESETTABLE, "R1", "a", "b", hold_a=1.1, trip_a=Band.exact(2.2))
    found = threshold(part, PLAIN, None)
    assert (found.non_tripping_a, found.held_a, found.tripping_within_s) == (1.1, 2.2, None)
    assert opening_time_s(part, 1.0, PLAIN) == (None, None)
    assert opening_time_s(part, 2.0, PLAIN) == (0.0, None)


def test_chart_band_keeps_steps_as_steps() -> None:
    points = band(fuse("F1", "a", "b", 10.0, UL), PLAIN)
    currents = [current for current, _, _ in points]
    assert currents == sorted(currents)
    below = [slowest for current, _, slowest in points if current < 13.5]
    above = [slowest for current, _, slowest in points if 13.5 < current < 20.0]
    assert set(below) == {None} and set(above) == {3600.0}
    assert all(slowest is None or math.isfinite(slowest) for _, _, slowest in points)
    assert band(limiter("CH1", "a", "b", None), PLAIN) == ()
