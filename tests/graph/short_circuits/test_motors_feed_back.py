"""What a running motor gives into a short circuit, against the heat of the two currents in a row.

Reference: Joule's law. While the motor feeds, I + F flows, after that I alone.
"""

from __future__ import annotations

import math

import pytest
from wired import AT_20_C, harness, load, output, wire

from loadloom.graph.facts.protection import find_protection
from loadloom.graph.model.elements import Start
from loadloom.graph.short_circuits.short_circuits import Short, Shorts

FED_A = 20.0


def shorts(*motors: Start, delay_s: float = 0.1, elsewhere: Start | None = None) -> Shorts:
    """24 V over 10 mΩ and two wires of 20 mΩ, off after a delay; beside it another output, perhaps with a motor."""
    parts = [
        output("PS1", "p", "m", 24.0, limit_a=9.0, trip_a=10.0, delay_s=delay_s, resistance_ohm=0.01),
        wire("W1", "p", "l", ohm=0.02, length_m=1.0, rated=60.0),
        wire("W2", "g", "m", ohm=0.02, length_m=1.0, rated=60.0),
        load("L0", "l", "g", 1.0),
        *(load(f"L{k}", "l", "g", 1.0, start=start) for k, start in enumerate(motors, 1)),
        output("PS2", "p2", "m2", 24.0, limit_a=9.0, trip_a=10.0, delay_s=delay_s, resistance_ohm=0.01),
        wire("W3", "p2", "l2", ohm=0.02, length_m=1.0, rated=60.0),
        wire("W4", "g2", "m2", ohm=0.02, length_m=1.0, rated=60.0),
        load("L9", "l2", "g2", 1.0, start=elsewhere or Start()),
    ]
    drawn = harness(*parts)
    return find_protection(drawn, AT_20_C, drawn.cases(AT_20_C), {}).short_circuits


def of(name: str, found: Shorts) -> Short:
    return next(short for short in found.conductors if short.part == name)


@pytest.mark.parametrize("fed_s", [0.02, 0.05, 0.1, 0.3])
def test_it_adds_its_current_for_its_own_time(fed_s: float) -> None:
    """24 V over 30 mΩ are 800 A at the end of W1, 2400 A at its beginning."""
    plain, fed = of("W1", shorts()), of("W1", shorts(Start(feeds_back_a=FED_A, feeds_back_s=fed_s)))
    assert fed.own_greatest_a == pytest.approx(plain.own_greatest_a + FED_A)
    assert plain.row.greatest_a is not None and plain.row.i2t_a2s is not None
    assert fed.row.greatest_a == pytest.approx(plain.row.greatest_a + FED_A)
    more = ((plain.own_greatest_a + FED_A) ** 2 - plain.own_greatest_a**2) * fed_s
    assert fed.row.i2t_a2s == pytest.approx(plain.row.i2t_a2s + more)
    assert plain.cleared and len(plain.cleared) == len(fed.cleared)
    for (own_a, off_s), (heating_a, same_s) in zip(plain.cleared, fed.cleared, strict=True):
        both_s = min(fed_s, off_s)
        heat = (own_a + FED_A) ** 2 * both_s + own_a**2 * (off_s - both_s)
        assert same_s == off_s
        assert heating_a == pytest.approx(math.sqrt(heat / off_s) if off_s > 0.0 else own_a)


def test_motors_of_one_piece_add_up_and_the_longest_counts() -> None:
    plain, fed = shorts(), shorts(*(Start(feeds_back_a=a, feeds_back_s=s) for a, s in ((20.0, 0.02), (5.0, 0.04))))
    for name in ("W1", "W2"):
        before, after = of(name, plain), of(name, fed)
        assert after.own_greatest_a == pytest.approx(before.own_greatest_a + 25.0)
        assert before.row.i2t_a2s is not None
        more = ((before.own_greatest_a + 25.0) ** 2 - before.own_greatest_a**2) * 0.04
        assert after.row.i2t_a2s == pytest.approx(before.row.i2t_a2s + more)
    for name, there in fed.prospective.items():
        assert there.current_a == pytest.approx(
            plain.prospective[name].current_a + (25.0 if name == "PS1" else 0.0)
        )


def test_a_motor_of_another_piece_and_one_that_states_nothing_add_nothing() -> None:
    far = shorts(elsewhere=Start(feeds_back_a=FED_A, feeds_back_s=0.05))
    assert of("W1", far) == of("W1", shorts())
    assert of("W3", far).own_greatest_a == pytest.approx(of("W3", shorts()).own_greatest_a + FED_A)
    assert shorts(Start(stalled_a=3.0)) == shorts()
