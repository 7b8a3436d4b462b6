"""Joined outputs of which some are off: short circuits by Ohm's law, and against the harness drawn without them."""

import pytest
from joined_harnesses import random_joined
from wired import AT_20_C, facts, found, harness, limiter, load, output, wire

from loadloom.graph.model.harness import Harness
from loadloom.graph.short_circuits.joined import sets_off


def two_outputs(trip_a: float) -> Harness:
    """12 V behind 1 Ω each on one bus, a limiter, and a loop of 2 mΩ."""
    return harness(
        output("PS1", "p", "m", resistance_ohm=1.0, never_trips=True),
        output("PS2", "p", "m", resistance_ohm=1.0, never_trips=True),
        limiter("CH1", "p", "a", trip_a, delay_s=1e-3),
        wire("W1", "a", "lp", ohm=1e-3, rated=10.0, mm2=1.0),
        wire("W2", "lm", "m", ohm=1e-3, rated=10.0, mm2=1.0),
        load("L1", "lp", "lm", 1.0),
    )


def test_one_output_alone_does_not_open_what_both_open() -> None:
    """Both drive 12 V / 502 mΩ = 23.9 A, over the 15 A; one alone 12 V / 1.002 Ω = 11.98 A, under it."""
    drawn = two_outputs(15.0)
    row = next(s.row for s in facts(drawn).protection.short_circuits.conductors if s.part == "W1")
    assert row.least_a == pytest.approx(12.0 / 1.002)
    assert row.greatest_a == pytest.approx(12.0 / 0.502)
    assert row.cleared_by is None and len(row.outputs_off) == 1
    (got,) = found("fault-never-cleared", drawn)
    assert got.value == pytest.approx(12.0 / 1.002)
    assert (
        f"while {row.outputs_off[0]} is off" in got.message and "CH1 is certain to open only above" in got.message
    )


def test_a_limit_that_one_output_reaches_clears_every_short() -> None:
    drawn = two_outputs(10.0)
    row = next(s.row for s in facts(drawn).protection.short_circuits.conductors if s.part == "W1")
    assert row.least_a == pytest.approx(12.0 / 1.002)
    assert (row.cleared_by, row.outputs_off) == ("CH1", ())
    assert found("fault-never-cleared", drawn) == []


def _unequal_outputs(volts: float) -> Harness:
    """Outputs of 12 V and ``volts`` behind 20 mΩ each on one bus, joined again by thin returns of 4 mΩ."""
    return harness(
        output("PS1", "p", "m1", resistance_ohm=0.02, trip_a=120.0, delay_s=2.0),
        output("PS2", "p", "m2", volts=volts, resistance_ohm=0.02, trip_a=120.0, delay_s=2.0),
        limiter("CH1", "p", "a", 60.0, delay_s=1.0),
        wire("W1", "a", "lp", ohm=2e-3, rated=150.0, mm2=25.0),
        wire("W2", "lm", "m", ohm=2e-3, rated=150.0, mm2=25.0),
        wire("WA", "m", "m1", ohm=4e-3, rated=150.0, mm2=1.0),
        wire("WB", "m", "m2", ohm=4e-3, rated=150.0, mm2=1.0),
        load("L1", "lp", "lm", 1.0),
    )


@pytest.mark.parametrize("volts", [12.0, 12.6])
def test_a_current_between_two_outputs_is_not_the_shorts(volts: float) -> None:
    """Once CH1 is open the short takes nothing. That 0.6 V / 48 mΩ = 12.5 A goes on from one output to the other
    does not make it a short that nothing clears, and its heat until then counts: one output alone drives
    12 V / 28 mΩ = 429 A for the second of CH1's delay, 184 kA²s, through 1 mm² that withstands 13 kA²s.
    """
    drawn = _unequal_outputs(volts)
    rows = {s.part: s.row for s in facts(drawn).protection.short_circuits.conductors}
    assert all(rows[part].cleared_by is not None for part in ("W1", "W2", "WA", "WB"))
    assert found("fault-never-cleared", drawn) == []
    assert {got.subject.id for got in found("damage-before-clearing", drawn)} == {"WA", "WB"}
    for part in ("WA", "WB"):
        heat_a2s = rows[part].i2t_a2s
        assert heat_a2s is not None and heat_a2s >= (12.0 / 0.028) ** 2 * 0.999


@pytest.mark.parametrize("seed", range(40))
def test_no_set_of_outputs_drawn_alone_is_worse_than_the_row_of_all(seed: int) -> None:
    """The harness drawn again with only some of the outputs, each set analysed as a harness of its own."""
    drawn = random_joined(seed)
    names = [o.id for o in drawn.outputs]
    whole = next(s.row for s in facts(drawn, AT_20_C).protection.short_circuits.conductors if s.part == "W1")
    rows = []
    for off in sets_off(names):
        kept = [o for o in drawn.outputs if o.id not in off]
        alone = harness(*kept, *drawn.devices, *drawn.diodes, *drawn.conductors, *drawn.loads)
        rows += [s.row for s in facts(alone, AT_20_C).protection.short_circuits.conductors if s.part == "W1"]
    assert len(rows) == 2 ** len(names) - 1
    assert whole.least_a == pytest.approx(min(r.least_a for r in rows if r.least_a is not None), rel=1e-6)
    never = [row for row in rows if row.cleared_by is None]
    assert (whole.cleared_by is None) == bool(never)
    if not never:
        assert whole.slowest_s == pytest.approx(max(r.slowest_s for r in rows if r.slowest_s is not None), rel=1e-6)


def test_random_harnesses_hold_and_clear_their_shorts() -> None:
    """The test above sees both ends: some shorts are cleared, some are not, some only with an output off."""
    rows = [
        next(
            s.row
            for s in facts(random_joined(seed), AT_20_C).protection.short_circuits.conductors
            if s.part == "W1"
        )
        for seed in range(40)
    ]
    assert sum(row.cleared_by is None and bool(row.outputs_off) for row in rows) >= 5
    assert sum(row.cleared_by is not None for row in rows) >= 5
