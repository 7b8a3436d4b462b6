"""Devices side by side whose ways' resistances are known within bands: what they feed together carries the most
where each gives its limit, not where the resistances are least.

Kirchhoff's laws alone: ways side by side take one voltage, so that each carries its limit where limit times
resistance is the same for all of them.
"""

import random

import pytest
from wired import AT_20_C, contact, fuse, harness, limiter, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, Device
from loadloom.graph.model.harness import Harness

WAYS = tuple[tuple[float, float, Band], ...]
"""Of each way: what its device holds in A, its wire in Ω, its contact."""


def band(least_ohm: float, most_ohm: float) -> Band:
    return Band((least_ohm + most_ohm) / 2, least_ohm, most_ohm)


def side_by_side(ways: WAYS, *, slow: bool = False) -> Harness:
    parts: list[Device] = []
    for k, (held_a, _, _) in enumerate(ways, 1):
        made = fuse(f"F{k}", "u", f"a{k}", held_a) if slow else limiter(f"F{k}", "u", f"a{k}", held_a)
        parts.append(made)
    leads = [wire(f"W{k}", f"b{k}", "bus", ohm=ohm, rated=100.0) for k, (_, ohm, _) in enumerate(ways, 1)]
    contacts = [
        contact(f"P1.{k}", f"a{k}", f"b{k}", resistance_ohm=ohm, rated=100.0)
        for k, (_, _, ohm) in enumerate(ways, 1)
    ]
    return harness(
        output("U", "u", "m", limit_a=500.0),
        *parts,
        *contacts,
        *leads,
        wire("FEED", "bus", "l", ohm=0.005, rated=36.0),
        wire("RETURN", "l2", "m", ohm=0.005, rated=200.0),
        load("L", "l", "l2", 1.0),
    )


def held_a(drawn: Harness, part: str = "FEED") -> float:
    answer = explore(drawn, AT_20_C, lambda _: None)[0].faults.parts[part]
    assert answer.sustained_fault_a is not None
    return answer.sustained_fault_a


def protected(drawn: Harness) -> bool | None:
    return explore(drawn, AT_20_C, lambda _: None)[0].faults.parts["FEED"].protected


def test_a_worn_contact_lets_both_give_their_most() -> None:
    """At 1 mΩ each, 20 A through 6 mΩ leave 120 mV, 15 A for 8 mΩ: 35 A. With 3 mΩ in the first way both have 8 mΩ:
    40 A, where 36 A are allowed.
    """
    even = side_by_side(((20.0, 0.005, band(1e-3, 3e-3)), (20.0, 0.007, band(1e-3, 3e-3))))
    assert held_a(even) == pytest.approx(40.0, rel=1e-9)
    assert protected(even) is False
    new = side_by_side(((20.0, 0.005, Band.exact(1e-3)), (20.0, 0.007, Band.exact(1e-3))))
    assert held_a(new) == pytest.approx(35.0, rel=1e-9)
    assert protected(new) is True


def test_a_band_that_does_not_reach_counts_as_far_as_it_goes() -> None:
    """With at most 2 mΩ the first way has 7 mΩ: 140 mV, 17.5 A for 8 mΩ."""
    drawn = side_by_side(((20.0, 0.005, band(1e-3, 2e-3)), (20.0, 0.007, band(1e-3, 2e-3))))
    assert held_a(drawn) == pytest.approx(37.5, rel=1e-9)


def test_unlike_limits_are_even_at_the_same_voltage() -> None:
    """10 A and 30 A: 18 mΩ and 6 mΩ take 180 mV each; the contact of the first goes from 1 to 3 mΩ."""
    drawn = side_by_side(((10.0, 0.015, band(1e-3, 9e-3)), (30.0, 0.005, band(1e-3, 1e-3))))
    assert held_a(drawn) == pytest.approx(40.0, rel=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_no_resistances_within_the_bands_put_more_on_it(seed: int) -> None:
    """Exact resistances drawn at random from the bands, each searched as it is."""
    rng = random.Random(seed)
    ways = tuple(
        (rng.choice((5.0, 10.0, 20.0)), rng.uniform(2e-3, 2e-2), band(1e-3, rng.uniform(1e-3, 1e-2)))
        for _ in range(rng.choice((2, 3)))
    )
    most_a = held_a(side_by_side(ways))
    assert most_a <= sum(way[0] for way in ways) * (1.0 + 1e-9)
    for _ in range(12):
        exact = tuple(
            (a, ohm, Band.exact(rng.choice((c.lower, c.upper, rng.uniform(c.lower, c.upper)))))
            for a, ohm, c in ways
        )
        assert held_a(side_by_side(exact)) <= most_a * (1.0 + 1e-9)


def test_highest_settings_of_such_ways_are_not_told() -> None:
    """At which resistances they share evenly hangs on the setting that is sought."""
    drawn = side_by_side(((20.0, 0.005, band(1e-3, 3e-3)), (20.0, 0.007, band(1e-3, 3e-3))))
    ranges = explore(drawn, AT_20_C, lambda _: None)[0].protection.setting_ranges
    assert all(ranges[name].high is None for name in ("F1", "F2"))
