"""Loads that pulse in the fault search: true root mean square in copper, momentary current in devices.

The numbers are by hand: a current i(t) heats as its root mean square √(Σ share·i²); one body of time constant τ
under i² of a period P is warmest at the end of the pulse, at off² + (on² - off²)·(1 - e^(-dP/τ)) / (1 - e^(-P/τ)).
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from wired import AT_20_C, analysed, harness, limiter, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.circuit.loading import Pulse, pulse_of
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.model.harness import Harness


def branches(*pulses: tuple[float, float, float, float], trip_a: float = 32.0, delay_s: float = 1e-3) -> Harness:
    """Channels on one bus with a common return W9: (off, on in A, duration, period in s) of each load."""
    parts: list[object] = [
        output("PS1", "bus", "m", 24.0, trip_a=1000.0, delay_s=1e-3, resistance_ohm=1e-3),
        wire("W9", "r", "m", ohm=1e-3, rated=65.0),
    ]
    for n, (off, on, duration_s, period_s) in enumerate(pulses, 1):
        parts += [
            limiter(f"CH{n}", "bus", f"c{n}", trip_a, delay_s=delay_s),
            wire(f"W{n}", f"c{n}", f"l{n}", ohm=1e-3, rated=40.0, length_m=1.0),
            replace(
                load(f"L{n}", f"l{n}", "r", off),
                by_word={"move": {"demand": on, "duration_s": duration_s, "period_s": period_s}},
            ),
        ]
    return harness(*parts)


def of(drawn: Harness, name: str) -> PartFault:
    """The tool's answer for one part."""
    facts, _ = explore(drawn, AT_20_C, lambda _: None)
    return facts.faults.parts[name]


def test_a_fault_beside_pulses_on_a_common_return() -> None:
    """One channel holds 32 A into a fault; the three others pulse from 10 A to 30 A for 1 s in every 9 s."""
    answer = of(branches(*[(10.0, 30.0, 1.0, 9.0)] * 4), "W9")
    assert answer.sustained_fault_a == pytest.approx(math.sqrt(((32 + 90) ** 2 + 8 * (32 + 30) ** 2) / 9), rel=1e-6)
    assert answer.exact
    assert [share for share, _ in answer.cycle] == pytest.approx([1 / 9, 8 / 9])


def test_pulses_of_different_duty_overlap() -> None:
    """On for a quarter and for a half of the time: 32 + 20 + 12, then 32 + 5 + 12, then 32 + 5 + 2."""
    answer = of(branches((5.0, 20.0, 0.25, 1.0), (2.0, 12.0, 1.0, 2.0), (0.0, 30.0, 0.1, 1.0)), "W9")
    # The fault stands in place of the load that adds least: here the third, 30 A for a tenth.
    square = 0.25 * 64.0**2 + 0.25 * 49.0**2 + 0.5 * 39.0**2
    third = 0.1 * (32 + 20 + 30) ** 2 + 0.15 * (32 + 20) ** 2 + 0.75 * (32 + 5) ** 2
    second = 0.1 * (32 + 12 + 30) ** 2 + 0.4 * (32 + 12) ** 2 + 0.5 * (32 + 2) ** 2
    assert answer.sustained_fault_a == pytest.approx(math.sqrt(max(square, third, second)), rel=1e-6)
    assert answer.exact


def test_pulses_that_would_trip_their_device_do_not_last() -> None:
    """The second load's 30 A open its 20 A limiter within 1 ms: its 10 A in between last beside 20 A of fault."""
    answer = of(branches((10.0, 15.0, 1.0, 9.0), (10.0, 30.0, 1.0, 9.0), trip_a=20.0), "W9")
    assert answer.sustained_fault_a == pytest.approx(math.sqrt(((20 + 15) ** 2 + 8 * (20 + 10) ** 2) / 9), rel=1e-6)


def test_a_limit_that_a_pulse_is_over_before_it_acts_lets_more_through() -> None:
    """Limits of 32 A that act after 2 s: 22 A of fault and 10 A of load hold, and 20 A more for 1 s of every 9."""
    answer = of(branches((10.0, 30.0, 1.0, 9.0), delay_s=2.0), "W1")
    assert answer.sustained_fault_a is not None
    assert answer.sustained_fault_a >= math.sqrt((52.0**2 + 8 * 32.0**2) / 9)


def test_a_device_sees_the_momentary_current() -> None:
    """Nothing on a channel exceeds what its limiter lets through at any moment, whatever the root mean square."""
    assert of(branches(*[(10.0, 30.0, 1.0, 9.0)] * 4), "W1").sustained_fault_a == pytest.approx(32.0)


@pytest.mark.parametrize("on, off, duty", [(30.0, 10.0, 1 / 9), (5.0, 8.0, 0.5), (20.0, 0.0, 0.1)])
def test_a_period_is_short_or_its_warmest_moment_counts(on: float, off: float, duty: float) -> None:
    rms = math.sqrt(duty * on**2 + (1 - duty) * off**2)
    assert Pulse(on, off, duty, 1.0).equal_heat(10.0) == pytest.approx(rms)
    assert Pulse(on, off, duty, 1e6).equal_heat(10.0) == pytest.approx(max(on, off))
    slow = Pulse(on, off, duty, 20.0)
    # Step by step through many periods of one body of 10 s.
    rise, warmest, steps = 0.0, 0.0, 4000
    for _ in range(20):
        warmest = 0.0
        for n in range(steps):
            amps = on if n < duty * steps else off
            rise += (amps**2 - rise) * -math.expm1(-20.0 / steps / 10.0)
            warmest = max(warmest, rise)
    assert slow.equal_heat(10.0) == pytest.approx(math.sqrt(warmest), rel=2e-3)


def test_slow_pulses_warm_a_thin_wire_more_than_their_root_mean_square() -> None:
    """A wire of 1 mm² allowed 10 A settles in k²S²/Iz² s, far less than a period of 600 s: the peak counts."""
    drawn = harness(
        output("PS1", "bus", "m", 24.0, trip_a=200.0, delay_s=1e-3, resistance_ohm=1e-3),
        wire("W9", "r", "m", mm2=1.0, length_m=1.0, rated=10.0, insulation="PVC 70 °C"),
        limiter("CH1", "bus", "c1", 4.0, delay_s=1e-3),
        limiter("CH2", "bus", "c2", 20.0, delay_s=1e-3),
        wire("W1", "c1", "l1", ohm=1e-3, rated=40.0),
        wire("W2", "c2", "l2", ohm=1e-3, rated=40.0),
        load("L1", "l1", "r", 1.0),
        replace(
            load("L2", "l2", "r", 2.0),
            by_word={"move": {"demand": 19.0, "duration_s": 300.0, "period_s": 600.0}},
        ),
    )
    answer = of(drawn, "W9")
    assert answer.sustained_fault_a is not None
    # CH1 alone into a fault beside the pulses: 4 + 19 A, long enough to be as warm as ever. The answer is a sum.
    assert answer.sustained_fault_a >= (4.0 + 19.0) * (1 - 1e-3)
    assert not answer.exact


def test_pulse_of_a_plain_state_is_off_for_the_rest() -> None:
    lamp = replace(load("L1", "a", "b", 6.0), duty=0.25, period_s=2.0)
    assert pulse_of(lamp, None) == Pulse(6.0, 0.0, 0.25, 2.0)
    assert pulse_of(lamp, None).rms == pytest.approx(3.0)


def test_pulses_where_nothing_ever_opens() -> None:
    """12 V behind 100 mΩ: 120 A of a dead short, and the load pulses on wires of its own."""
    drawn = harness(
        output("PS1", "p", "m", 12.0, never_trips=True, resistance_ohm=0.1),
        wire("W1", "p", "l", ohm=1e-3, rated=40.0),
        wire("W2", "r", "m", ohm=1e-3, rated=40.0),
        replace(load("L1", "l", "r", 0.0), by_word={"run": {"demand": 5.0, "duration_s": 1.0, "period_s": 4.0}}),
    )
    answer = of(drawn, "W1")
    assert answer.sustained_fault_a == pytest.approx(12.0 / 0.1, rel=1e-6)


def test_a_bound_is_not_told_as_what_a_part_can_be_made_to_carry() -> None:
    """CH1 rides through pulses of 50 ms, so that 31 A of fault beside 1 A and 30 A for a sixth of the time last:
    √((5·32² + 61²)/6) = 38.4 A. The search adds the root mean square of the pulses, 12.3 A, to the 31 A: a bound.
    """
    drawn = branches((1.0, 30.0, 0.05, 0.3), delay_s=0.1)
    thin = replace(drawn, conductors=tuple(replace(c, own_rating_a=25.0) for c in drawn.conductors))
    (finding,) = (f for f in analysed(thin).findings if f.rule == "path-unprotected" and f.subject.id == "W9")
    assert finding.value is not None
    assert math.sqrt((5 * 32**2 + 61**2) / 6) <= finding.value <= 31.0 + math.sqrt((5 * 1**2 + 30**2) / 6) + 1e-6
    assert "may carry up to 43.3 A" in finding.message
    assert "The 43.3 A are a bound on the safe side" in finding.message
