"""A short circuit behind wires in parallel whose contacts may be unlike: the heat of one of them.

Two ways of a contact (1 to 3 mΩ) and a wire (5 mΩ) share it as 6 to 8 mΩ at the worst, so that one wire carries
8 / (6 + 8) of it and not half (the current divider of any textbook).
"""

from __future__ import annotations

import pytest
from wired import AT_20_C, contact, harness, limiter, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band


def own_a(band: Band) -> tuple[dict[str, float], float]:
    """The most in A that every part carries in a short circuit behind it, and the short at the load."""
    drawn = harness(
        output("U", "u", "m", 24.0, limit_a=400.0, trip_a=None, resistance_ohm=0.05),
        limiter("D", "u", "d", 20.0, resistance_ohm=Band.exact(1e-3)),
        wire("W3", "d", "p", ohm=5e-3, rated=100.0),
        *(contact(f"P1.{n}", "k", f"c{n}", resistance_ohm=band, rated=100.0) for n in (1, 2)),
        *(wire(f"W{n}", f"c{n}", "m", ohm=5e-3, rated=100.0) for n in (1, 2)),
        load("L1", "p", "k", 1e-6),
    )
    facts = explore(drawn, AT_20_C, lambda _: None)[0]
    found = facts.protection.short_circuits
    return {short.part: short.own_greatest_a for short in found.every}, 24.0 / (0.05 + 1e-3 + 5e-3 + 6e-3 / 2)


def test_a_return_in_parallel_is_held_against_its_worst_share() -> None:
    """No short circuit can be at the source end of a return: the share of what the load's terminals short
    counts."""
    even, short_a = own_a(Band.exact(1e-3))
    assert even["W1"] == pytest.approx(short_a / 2.0)
    uneven, short_a = own_a(Band(2e-3, 1e-3, 3e-3))
    assert uneven["W1"] == pytest.approx(short_a * 8.0 / 14.0)
    assert uneven["W2"] == pytest.approx(short_a * 8.0 / 14.0)
