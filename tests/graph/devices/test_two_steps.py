"""Devices of two steps as one band: electronic limits, breakers with thermal and magnetic part, a fuse inside a
limit."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from drawings import symbol
from test_variants import Sketch, found

from loadloom.graph.devices.device_bands import band, opening_time_s, ride_through_multiple, threshold
from loadloom.graph.model.elements import Band, Behaviour, Device, DeviceKind, Output
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings, ContactType

SETTINGS = AnalysisSettings(basis_stated=True)


def device(kind: DeviceKind, **values: object) -> Device:
    return Device(id="X1", subject=Subject("X1"), node_a="a", node_b="b", kind=kind, **values)  # type: ignore[arg-type]


TWO_STEPS = device(
    DeviceKind.LIMITER,
    trip_a=Band(20.0, 19.0, 21.0),
    delay_s=0.5,
    fast_trip_a=Band(60.0, 54.0, 66.0),
    fast_delay_s=0.001,
)


@pytest.mark.parametrize(
    ("current_a", "fastest", "slowest"),
    [(18.0, None, None), (20.0, 0.5, None), (30.0, 0.5, 0.5), (60.0, 0.001, 0.5), (70.0, 0.001, 0.001)],
)
def test_an_electronic_limit_of_two_steps(current_a: float, fastest: float | None, slowest: float | None) -> None:
    assert opening_time_s(TWO_STEPS, current_a, SETTINGS) == (fastest, slowest)
    limits = threshold(TWO_STEPS, SETTINGS, None)
    assert (limits.non_tripping_a, limits.held_a) == (19.0, 21.0)


def test_an_output_of_two_steps_opens_with_the_faster() -> None:
    output = Output(
        id="PS1", subject=Subject("PS1"), node_plus="p", node_minus="m", voltage_v=24.0, trip_a=Band.exact(20.0),
        delay_s=0.5, fast_trip_a=Band.exact(60.0), fast_delay_s=0.001,
    )  # fmt: skip
    assert opening_time_s(output, 40.0, SETTINGS) == (0.5, 0.5)
    assert opening_time_s(output, 61.0, SETTINGS) == (0.001, 0.001)


def test_a_fast_step_without_its_time_gives_no_clearing_time() -> None:
    unknown = device(DeviceKind.LIMITER, trip_a=Band.exact(20.0), delay_s=0.5, fast_trip_a=Band.exact(60.0))
    assert opening_time_s(unknown, 70.0, SETTINGS) == (0.0, 0.5)


def test_a_limit_that_holds_its_current_has_no_fast_step() -> None:
    holds = device(
        DeviceKind.LIMITER, trip_a=Band.exact(20.0), behaviour=Behaviour.CONSTANT_CURRENT,
        fast_trip_a=Band.exact(60.0), fast_delay_s=0.001,
    )  # fmt: skip
    assert not threshold(holds, SETTINGS, None).opens
    assert opening_time_s(holds, 70.0, SETTINGS)[1] is None


BREAKER = device(DeviceKind.BREAKER, rating_a=16.0, curve="C", magnetic=Band(10.5, 7.0, 14.0), magnetic_s=0.02)


@pytest.mark.parametrize(
    ("multiple", "fastest", "slowest"),
    [
        (1.1, 3600.0, None),  # 1.13: carried for an hour at least
        (1.5, 0.1, 3600.0),  # above 1.45 within 1 h; up to 5 times not within 0.1 s (IEC 60898-1 C)
        (6.0, 0.0, 3600.0),  # the thermal part's own least time is not stated there
        (8.0, 0.0, 3600.0),  # the magnetic part may act
        (14.1, 0.0, 0.02),  # it is certain to
    ],
)
def test_a_breaker_with_its_own_magnetic_part_on_dc(multiple: float, fastest: float | None, slowest: float) -> None:
    """Thermal part by IEC 60898-1: 1.13 and 1.45 times; magnetic part 7 to 14 times as its user states for DC."""
    assert opening_time_s(BREAKER, 16.0 * multiple, SETTINGS) == (fastest, slowest)


def test_without_its_own_magnetic_part_the_table_for_ac_is_widened() -> None:
    plain = device(DeviceKind.BREAKER, rating_a=16.0, curve="C")
    assert opening_time_s(plain, 16.0 * 14.1, SETTINGS)[1] == 3600.0
    assert opening_time_s(plain, 16.0 * 15.1, SETTINGS)[1] == 0.1


def test_a_magnetic_part_below_what_the_thermal_part_carries_counts() -> None:
    low = device(DeviceKind.BREAKER, rating_a=16.0, curve="C", magnetic=Band(1.05, 1.0, 1.1), magnetic_s=0.02)
    assert threshold(low, SETTINGS, None).non_tripping_a == pytest.approx(16.0)
    assert ride_through_multiple(low, math.inf, SETTINGS) == 1.0


WITH_FUSE = device(
    DeviceKind.LIMITER, trip_a=Band(12.0, 11.0, 13.0), behaviour=Behaviour.CONSTANT_CURRENT,
    fuse_rating_a=8.0, fuse_curve="UL 248-14",
)  # fmt: skip


def test_a_fuse_inside_a_limit_that_holds_opens_what_the_limit_does_not() -> None:
    """A constant current of 11…13 A never opens; a fuse of 8 A is certain to above 10.8 A (135 %) within 1 h, and
    beyond 16 A (200 %) it lets through no more heat than there in 120 s.
    """
    limits = threshold(WITH_FUSE, SETTINGS, None)
    assert (limits.non_tripping_a, limits.held_a, limits.opens) == (8.0, pytest.approx(10.8), True)
    assert opening_time_s(WITH_FUSE, 12.0, SETTINGS)[1] == 3600.0
    assert opening_time_s(WITH_FUSE, 17.0, SETTINGS)[1] == pytest.approx(120.0 * (16.0 / 17.0) ** 2)


def test_a_fuse_inside_that_does_not_open_leaves_the_limit_holding() -> None:
    larger = device(
        DeviceKind.LIMITER, trip_a=Band(12.0, 11.0, 13.0), behaviour=Behaviour.CONSTANT_CURRENT,
        fuse_rating_a=10.0, fuse_curve="UL 248-14",
    )  # fmt: skip
    limits = threshold(larger, SETTINGS, None)  # 135 % of 10 A is more than the 13 A that it holds
    assert (limits.held_a, limits.opens) == (13.0, False)


def test_the_chart_has_a_step_for_each_part_of_the_band() -> None:
    currents = [point[0] for point in band(TWO_STEPS, SETTINGS)]
    for corner in (19.0, 21.0, 54.0, 66.0):
        assert any(c == pytest.approx(corner, rel=1e-5) for c in currents)
    for corner in (8.0, 10.8, 16.0, 13.0):
        assert any(c[0] == pytest.approx(corner, rel=1e-5) for c in band(WITH_FUSE, SETTINGS)) or corner == 13.0


def test_a_fuse_does_not_melt_below_its_own_i2t() -> None:
    """100 A for 1 ms are 10 A²s: carried where the fuse melts at 30 A²s at least, not stated where nothing says
    so."""
    fuse = device(DeviceKind.FUSE, rating_a=10.0, curve="UL 248-14", melting_a2s=30.0)
    assert opening_time_s(fuse, 100.0, SETTINGS)[0] == pytest.approx(0.003)
    assert ride_through_multiple(fuse, 0.001, SETTINGS) == pytest.approx(math.sqrt(30.0 / 0.001) / 10.0)
    assert ride_through_multiple(fuse, math.inf, SETTINGS) == 1.0


def drawn(**fields: str) -> Sketch:
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="100 A", Trip="none", Resistance="20 mΩ")
    draw("CH1", "limiter", "p q", fields={name.replace("_", " "): text for name, text in fields.items()})
    draw("W1", "wire", "q r", "1.5 mm²", Length="2 m", Rating="25 A", Resistance="20 mΩ", Insulation="PVC 70 °C")
    draw("W2", "wire", "s m", "1.5 mm²", Length="2 m", Rating="25 A", Resistance="20 mΩ", Insulation="PVC 70 °C")
    draw("L1", "load", "r s", "5 A")
    return draw


def test_a_slow_limit_alone_lets_a_short_damage_what_its_fast_step_saves() -> None:
    """24 V over 60 mΩ: 400 A; 1.5 mm² in PVC stands k²S² = 29 756 A²s, so 0.186 s, not the 0.5 s of the slow
    step."""
    slow = drawn(Trip="20 A", Delay="500 ms").results(SETTINGS)
    fast = drawn(Trip="20 A", Delay="500 ms", Fast_trip="60 A", Fast_delay="1 ms").results(SETTINGS)
    assert "W1" in found(slow, "damage-before-clearing")
    assert not found(fast, "damage-before-clearing")


def test_a_load_that_the_fast_step_does_not_carry_trips() -> None:
    draw = drawn(Trip="20 A", Delay="500 ms", Fast_trip="30 A", Fast_delay="1 ms")
    draw("L2", "load", "r s", fields={"Load": "1 A", "Starting current": "40 A", "Starting time": "100 ms"})
    assert "CH1" in found(draw.results(SETTINGS), "limiter-would-trip")
    fits = drawn(Trip="20 A", Delay="500 ms", Fast_trip="60 A", Fast_delay="1 ms")
    fits("L2", "load", "r s", fields={"Load": "1 A", "Starting current": "40 A", "Starting time": "100 ms"})
    assert "CH1" not in found(fits.results(SETTINGS), "limiter-would-trip")


@pytest.mark.parametrize(
    ("delay", "fast_a", "over"), [("500 ms", 240.0, False), ("500 ms", 250.0, True), ("8 s", 80.0, True)]
)
def test_a_fault_just_below_the_fast_step_lasts_as_long_as_the_slow_one(
    delay: str, fast_a: float, over: bool
) -> None:
    """k²S² = 29 756 A²s of 1.5 mm² in PVC stand 243.9 A for 0.5 s, 77 A for 5 s; 400 A themselves end within
    1 ms."""
    results = drawn(Trip="20 A", Delay=delay, Fast_trip=f"{fast_a} A", Fast_delay="1 ms").results(SETTINGS)
    told = found(results, "damage-before-clearing")
    assert ("W1" in told) is over
    if over and delay == "500 ms":
        assert told["W1"].value == pytest.approx(fast_a / math.sqrt(29756.0 / 0.5), rel=1e-3)


def test_the_trip_of_the_output_before_it_is_such_a_step_too() -> None:
    """Below the output's 105 A the limit alone opens, after 4 s: 105 A · √4 s are over √29 756 A²s by 1.22."""
    draw = drawn(Trip="20 A", Delay="4 s")
    fields = {"Limit": "80 A", "Trip": "100 A ±5 %", "Delay": "1 ms", "Resistance": "20 mΩ"}
    draw.symbols[0] = symbol("PS1", "output", pins="1:+ 2:-", value="24 V", fields=fields)
    told = found(draw.results(SETTINGS), "damage-before-clearing")
    assert told["W1"].value == pytest.approx(105.0 * 2.0 / math.sqrt(29756.0), rel=1e-3)


@pytest.mark.parametrize(("i2t", "over"), [(30_000.0, 15_625.0 * 2.0 / 30_000.0), (32_000.0, None), (None, None)])
def test_a_contact_is_held_against_its_own_i2t_at_currents_below_the_fast_step(
    i2t: float | None, over: float | None
) -> None:
    """125 A for 2 s are 31 250 A²s; the short circuit itself ends within 1 ms. Own calculation."""
    told = found(_with_contacts(i2t, "2 s"), "damage-before-clearing")
    assert told.keys() == ({"J1.1", "J1.2"} if over else set())
    if over:
        assert told["J1.1"].value == pytest.approx(over, rel=1e-6)


def test_a_contact_of_unknown_i2t_under_a_long_overload_is_told() -> None:
    """125 A on contacts of 20 A for 6 s; nothing says whether they stand that."""
    results = _with_contacts(None, "6 s")
    assert found(results, "cleared-late")["CH1"].value == 6.0
    assert not found(_with_contacts(None, "4 s"), "cleared-late")
    assert any(line.startswith("J1.1 and J1.2: no I²t of the contact") for line in results.assumptions)
    assert not any("no I²t of the contact" in line for line in _with_contacts(1e6, "2 s").assumptions)


def _with_contacts(i2t: float | None, delay: str) -> Results:
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="200 A", Trip="none", Resistance="20 mΩ")
    fields = {"Trip": "20 A", "Delay": delay, "Fast trip": "125 A", "Fast delay": "1 ms"}
    draw("CH1", "limiter", "p q", fields=fields)
    wide = {"Length": "2 m", "Rating": "100 A", "Resistance": "5 mΩ", "Insulation": "PVC 70 °C"}
    draw("W1", "wire", "q r", "25 mm²", **wide)
    draw("J1", "through", "r s t u", pins="1A 1B 2A 2B", Contact="blade", Contact_resistance="1 mΩ")
    draw("L1", "load", "s t", "5 A")
    draw("W2", "wire", "u m", "25 mm²", **wide)
    blade = ContactType("blade", ((2, 20.0),), Band.exact(1e-3), i2t_a2s=i2t)
    return draw.results(replace(SETTINGS, contact_types={"blade": blade}))


def test_a_slow_step_without_its_time_is_needed_between_the_steps() -> None:
    """21 to 60 A flow for a time that nothing states, on a wire of 25 A."""
    results = drawn(Trip="20 A ±5 %", Fast_trip="60 A", Fast_delay="1 ms").results(SETTINGS)
    assert "CH1" in found(results, "device-not-determined")
    within = drawn(Trip="20 A ±5 %", Fast_trip="24 A", Fast_delay="1 ms").results(SETTINGS)
    assert found(within, "device-not-determined") == {}
