"""Pulses that go against other currents: the root mean square of what flows, against a simulation in time.

All loads draw constant currents, so what a part carries in every moment follows by the node rule alone.
"""

from __future__ import annotations

import random

import numpy as np
import pytest
from wired import analysed, harness, load, output, wire

from loadloom.graph.model.elements import Load
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case

SETTINGS = AnalysisSettings(conductor_temperature_c=20.0, cases=(Case("run", "run"),))
STEPS = 2000


def continuous_a(drawn: Harness, name: str) -> float:
    results = analysed(drawn, SETTINGS)
    (row,) = (r for r in results.conductors if r.id == name)
    assert row.continuous_a is not None
    return row.continuous_a


def pulsing(name: str, plus: str, minus: str, on: float, off: float, duty: float) -> Load:
    there = {"demand": on, "duration_s": duty * 0.5, "period_s": 0.5}
    return load(name, plus, minus, off, by_word={"run": there})


def rails(loads: list[tuple[bool, float, float, float]]) -> Harness:
    """Rails of plus and minus 24 V with one common return; a load is (on the plus rail, on A, off A, share)."""
    drawn = []
    for n, (plus, on, off, duty) in enumerate(loads):
        ends = ("f", "z") if plus else ("z", "g")
        drawn.append(pulsing(f"L{n}", *ends, on, off, duty) if duty < 1.0 else load(f"L{n}", *ends, on))
    return harness(
        output("U1", "p", "o", 24.0, limit_a=99.0, trip_a=100.0, delay_s=1e-3),
        output("U2", "o", "n", 24.0, limit_a=99.0, trip_a=100.0, delay_s=1e-3),
        wire("WP", "p", "f", ohm=0.01, rated=99.0),
        wire("WN", "g", "n", ohm=0.01, rated=99.0),
        wire("WZ", "z", "o", ohm=0.01, rated=99.0),
        *drawn,
    )


def wave(on: float, off: float, duty: float, start: float) -> np.ndarray:
    moment = (np.arange(STEPS) / STEPS - start) % 1.0
    return np.where(moment < duty, on, off)


def test_two_pulses_that_never_meet_do_not_cancel() -> None:
    """30 A for a quarter of the time on either rail: the mean square of the return is up to 2 × 0.25 × 30²."""
    found = continuous_a(rails([(True, 30.0, 0.0, 0.25), (False, 30.0, 0.0, 0.25)]), "WZ")
    assert found == pytest.approx((2 * 0.25 * 30.0**2) ** 0.5, rel=1e-6)


def test_one_pulse_against_a_steady_current_is_exact() -> None:
    """10 A against 10 A for a quarter of the time: 10 A in the other three quarters."""
    found = continuous_a(rails([(True, 10.0, 0.0, 1.0), (False, 10.0, 0.0, 0.25)]), "WZ")
    assert found == pytest.approx((0.75 * 10.0**2) ** 0.5, rel=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_no_position_of_the_pulses_heats_a_common_return_more(seed: int) -> None:
    rng = random.Random(seed)
    loads = []
    for n in range(rng.randint(2, 4)):
        duty = rng.choice([0.1, 0.25, 0.5, 1.0]) if n else 0.25
        on, off = round(rng.uniform(2.0, 20.0), 2), round(rng.uniform(0.0, 2.0), 2)
        loads.append((rng.random() < 0.5, on, off, duty))
    found = continuous_a(rails(loads), "WZ")
    for _ in range(300):
        flow = np.zeros(STEPS)
        for plus, on, off, duty in loads:
            flow += (1.0 if plus else -1.0) * wave(on, off, duty, rng.random())
        assert float(np.sqrt((flow**2).mean())) <= found * (1.0 + 1e-3)


@pytest.mark.parametrize("seed", range(10))
def test_nor_the_middle_of_a_ring(seed: int) -> None:
    """A ring of three equal sections, loads at the two joints: the middle carries a third of their difference."""
    rng = random.Random(100 + seed)
    pulses = [(round(rng.uniform(5.0, 30.0), 2), round(rng.uniform(0.0, 2.0), 2), 0.25) for _ in range(2)]
    drawn = harness(
        output("U1", "p", "m", 24.0, limit_a=99.0, trip_a=100.0, delay_s=1e-3),
        *(
            wire(f"W{n}", a, b, ohm=0.01, rated=99.0)
            for n, (a, b) in enumerate((("p", "a"), ("a", "b"), ("b", "p")))
        ),
        *(pulsing(f"L{n}", joint, "m", *pulse) for n, (joint, pulse) in enumerate(zip("ab", pulses, strict=True))),
    )
    found = continuous_a(drawn, "W1")
    for _ in range(300):
        one, other = (wave(*pulse, rng.random()) for pulse in pulses)
        assert float(np.sqrt((((one - other) / 3.0) ** 2).mean())) <= found * (1.0 + 1e-3)
