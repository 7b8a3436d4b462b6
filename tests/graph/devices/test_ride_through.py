"""What a device certainly carries of its nominal for a time, by the published gates and by what is stated."""

from __future__ import annotations

import math
from typing import Any

import pytest
from wired import breaker, device, fuse, limiter, output

from loadloom.graph.devices.device_bands import ride_through_multiple, threshold
from loadloom.graph.model.elements import Band, Device, DeviceKind, Output
from loadloom.graph.model.settings import AnalysisSettings

SETTINGS = AnalysisSettings()


def carries(part: Device | Output, duration_s: float = math.inf) -> float | None:
    return ride_through_multiple(part, duration_s, SETTINGS)


def test_a_fuse_carries_its_rating_and_for_a_short_time_what_its_melting_integral_allows() -> None:
    """UL 248-14: 100 % continuously. 200 A²s in 0.5 s are 20 A, in 5 s 6.3 A, less than the gate lets it carry."""
    plain = fuse("F1", "a", "b", 10.0, "UL 248-14")
    assert carries(plain) == 1.0
    stated = fuse("F1", "a", "b", 10.0, "UL 248-14", melting_a2s=200.0)
    assert carries(stated) == 1.0
    assert carries(stated, 0.5) == pytest.approx(2.0)
    assert carries(stated, 5.0) == pytest.approx(1.0)
    assert carries(stated, 0.0) == carries(plain, 0.0), "a time of nothing says nothing"


def test_a_breakers_magnet_sets_an_end_to_what_it_rides_through() -> None:
    """IEC 60898-1: 1.13 times for an hour; the magnet of 5 to 10 times may open at 5, whatever its heat allows."""
    thermal = breaker("Q1", "a", "b", 16.0, "IEC 60898-1", magnetic=Band(7.5, 5.0, 10.0), melting_a2s=1e6)
    assert carries(thermal, 0.01) == 5.0
    assert 1.0 <= (carries(thermal) or 0.0) <= 1.13


@pytest.mark.parametrize(
    ("values", "duration_s", "multiple"),
    [
        ({}, math.inf, 0.9),
        ({"delay_s": 0.1}, 0.05, math.inf),  # over before it acts
        ({"delay_s": 0.1}, 0.1, 0.9),
        ({"delay_s": 0.1}, math.inf, 0.9),
        ({"active": False}, math.inf, math.inf),
        ({"active": False}, 0.1, math.inf),
    ],
)
def test_a_limiter_carries_the_lower_end_of_its_trip(
    values: dict[str, Any], duration_s: float, multiple: float
) -> None:
    assert carries(limiter("CH1", "a", "b", Band(10.0, 9.0, 11.0), **values), duration_s) == pytest.approx(multiple)


def test_an_output_that_never_trips_and_one_that_states_nothing() -> None:
    trips = output("PS1", "p", "m", limit_a=10.0, trip_a=Band(12.0, 11.4, 12.6))
    assert carries(trips) == pytest.approx(0.95)
    assert carries(output("PS1", "p", "m", limit_a=10.0, never_trips=True)) == math.inf
    assert carries(limiter("CH1", "a", "b", None)) is None
    assert carries(device(DeviceKind.FUSE, "F1", "a", "b")) is None


def test_a_resettable_device_carries_its_hold_current() -> None:
    held = device(DeviceKind.RESETTABLE, "R1", "a", "b", hold_a=2.0, trip_a=Band.exact(4.0))
    assert carries(held) == 1.0


@pytest.mark.parametrize(
    ("curve", "percent"),
    [("UL 248-14", "135 %"), ("IEC 60127-2", "210 %"), (None, "210 %"), ("IEC 60898-1", "145 %")],
)
def test_above_what_share_of_its_rating_a_device_is_certain_to_open(curve: str | None, percent: str) -> None:
    """Gates of UL 248-14 (1.35), IEC 60127-2 (2.1) and IEC 60898-1 (1.45); the widest where none is named."""
    drawn = (breaker if percent == "145 %" else fuse)("F1", "a", "b", 10.0, curve)
    found = threshold(drawn, SETTINGS, None)
    assert found.held_a == pytest.approx(float(percent.removesuffix(" %")) / 10.0)
    assert found.reason.startswith(f"certain to open only above {percent} of its rating (")
