"""Currents, voltages and starts of a harness in other units of current and voltage are the same ones.

Source: Ohm's law and i = C dv/dt are linear; a pulse heats by the mean of its square, whatever the unit.
"""

from __future__ import annotations

from typing import Any

import pytest
from other_units import Units, differences
from wired import analysed, contact, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Battery, LoadKind, Start, Tolerance
from loadloom.graph.model.harness import Harness

ROWS = ("conductors", "contacts", "devices", "loads", "outputs", "starts")


def supplied(*parts: Any, **supply: Any) -> Harness:
    """24 V ± 5 % behind 20 mΩ, a feed, a limiter, a contact that ages and a return; then what is given."""
    values = {"limit_a": 30.0, "trip_a": 40.0, "delay_s": 0.05, "resistance_ohm": 0.02} | supply
    return harness(
        output("PS1", "p", "m", 24.0, tolerance=Tolerance.even(0.05), **values),
        wire("W1", "p", "a", ohm=0.02, rated=20.0, length_m=2.0),
        limiter("Q1", "a", "b", Band(10.0, 9.0, 11.0), delay_s=0.002),
        contact("J1.1", "b", "n", resistance_ohm=Band(2e-3, 1e-3, 6e-3), rated=12.0),
        wire("W2", "n", "c", ohm=0.05, rated=12.0, length_m=3.0),
        wire("W3", "d", "m", ohm=0.02, rated=25.0, length_m=2.0),
        *parts,
    )


DRAWN = {
    "a capacitance beside a load": supplied(
        load(
            "L1",
            "c",
            "d",
            3.0,
            minimum_v=18.0,
            hold_up_s=0.01,
            start=Start(capacitance_f=2e-3, series_ohm=0.1, precharge_ohm=2.0, precharge_s=0.01),
        ),
        load("L2", "c", "d", 36.0, demand_kind=LoadKind.POWER, minimum_v=15.0),
    ),
    "a motor that starts, stalls and feeds back": supplied(
        load(
            "L1",
            "c",
            "d",
            1.5,
            start=Start(
                starting_a=8.0,
                starting_s=0.2,
                every_s=5.0,
                stalled_a=12.0,
                stalled_s=3.0,
                stated_at_v=24.0,
                feeds_back_a=6.0,
                feeds_back_s=0.1,
            ),
        ),
        load("L2", "a", "d", 12.0, demand_kind=LoadKind.RESISTANCE),
    ),
    "pulses and an inrush": supplied(
        load("L1", "c", "d", 48.0, demand_kind=LoadKind.POWER, duty=0.4, period_s=2.0, minimum_v=15.0),
        load("L2", "c", "d", 2.0, duty=0.5, period_s=60.0),
        load("L3", "a", "d", 2.0, start=Start(inrush_a=15.0, inrush_s=1e-3, stated_at_v=24.0)),
    ),
    "a state that lasts for a time": supplied(
        load("L1", "c", "d", 2.0, by_word={"slew": {"demand": 9.0, "duration_s": 0.5}, "idle": {"demand": 0.1}}),
        load("L2", "c", "d", 1.0, maximum_v=26.0, minimum_v=20.0),
    ),
    "a battery": supplied(
        load("L1", "c", "d", 2.0), resistance_high_ohm=0.06, battery=Battery(capacity_ah=40.0, charge_limit_a=8.0)
    ),
}


@pytest.mark.parametrize("drawn", DRAWN.values(), ids=DRAWN)
@pytest.mark.parametrize("units", [Units(4.0, 2.0), Units(0.25, 0.5)])
def test_other_units_are_the_same_currents(drawn: Harness, units: Units) -> None:
    was, now = analysed(drawn), analysed(units.of(drawn))
    for rows in ROWS:
        assert list(differences(getattr(was, rows), getattr(now, rows), units)) == [], rows
