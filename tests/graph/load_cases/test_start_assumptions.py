"""What is said of starts that leave something open: which sentence for which field, and for one part or several."""

from __future__ import annotations

from typing import Any

import pytest
from wired import harness, load, output

from loadloom.graph.load_cases.starts import start_assumptions, started_from
from loadloom.graph.model.elements import Start
from loadloom.graph.model.settings import Case

VOLTAGE = "Stated at is not stated"
EVERY = "Start every is not stated"
TIME = "Stalled time is not stated"
SERIES = "Series resistance is not stated"


@pytest.mark.parametrize(
    ("start", "told"),
    [
        ({}, set()),
        ({"starting_a": 9.0}, {VOLTAGE, EVERY, "a start counts as a constant current"}),
        ({"starting_a": 9.0, "stated_at_v": 24.0, "every_s": 60.0}, {"a start counts as a constant current"}),
        ({"inrush_a": 9.0, "stated_at_v": 24.0}, {EVERY}),
        ({"inrush_a": 9.0, "every_s": 60.0}, {VOLTAGE}),
        ({"stalled_a": 9.0}, {VOLTAGE, TIME}),
        ({"stalled_a": 9.0, "stalled_s": 2.0, "stated_at_v": 24.0}, set()),
        ({"capacitance_f": 1e-3}, {EVERY, SERIES, "nothing but the capacitance draws"}),
        ({"capacitance_f": 1e-3, "series_ohm": 0.1, "every_s": 60.0}, {"nothing but the capacitance draws"}),
    ],
)
def test_each_open_field_is_one_sentence(start: dict[str, Any], told: set[str]) -> None:
    drawn = harness(output("PS1", "p", "m"), load("M1", "p", "m", 1.0, minimum_v=9.0, start=Start(**start)))
    said = list(start_assumptions(drawn))
    assert len(said) == len(told)
    assert all(any(words.startswith(f"M1: {each}") for words in said) for each in told), said


def charging(*names: str, **beside: Any) -> list[str]:
    full = Start(capacitance_f=1e-3, series_ohm=0.1, every_s=60.0)
    loads = [load(name, "p", "m", 1.0, minimum_v=9.0, start=full) for name in names]
    drawn = harness(output("PS1", "p", "m"), *loads, load("L9", "p", "m", 1.0, **beside))
    return [words for words in start_assumptions(drawn) if "Minimum voltage" in words]


def test_what_is_beside_a_capacitance_and_states_no_least_voltage() -> None:
    rest = "no Minimum voltage is stated, so whether the voltage falls too far while"
    assert charging("M1") == [f"L9: {rest} M1 charges is not judged."]
    assert charging("M1", "M2") == [f"L9: {rest} M1 and M2 charge is not judged."]
    assert charging("M1", minimum_v=9.0) == [] == charging() == charging("M1", fitted=False)


def test_parts_that_leave_the_same_open_share_a_sentence() -> None:
    drawn = harness(
        output("PS1", "p", "m"),
        *(load(n, "p", "m", 1.0, start=Start(stalled_a=9.0, stated_at_v=24.0)) for n in ("M1", "M2", "M3")),
        load("M4", "p", "m", 1.0, fitted=False, start=Start(stalled_a=9.0)),
    )
    assert list(start_assumptions(drawn)) == [
        f"M1 to M3: {TIME}: whether a stall is cleared in time is not judged."
    ]


def test_the_case_that_a_start_comes_on_top_of() -> None:
    """The state that its name ends in, else the plain state, of its own arrangement."""
    plain, pooled, slew = Case("nominal"), Case("pooled", None, "pooled"), Case("slew", "slew")
    start = Case("start of M1", "start of M1", None, for_a_time=True)
    on_slew = Case("start of M1 / slew", "start of M1 / slew", None, for_a_time=True)
    there = Case("start of M1, pooled", "start of M1", "pooled", for_a_time=True)
    cases = (start, on_slew, pooled, slew, plain, there)
    assert started_from(start, cases) == plain
    assert started_from(on_slew, cases) == slew
    assert started_from(there, cases) == pooled
    assert started_from(on_slew, (start, on_slew, plain)) is None, "the state below it is not looked at"
    assert [started_from(each, cases) for each in (plain, pooled, slew)] == [None, None, None]


def begin(*together: str | None, **values: Any) -> list[str]:
    starts = [Start(starting_a=9.0, together=name, **values) for name in together]
    loads = [load(f"M{k}", "p", "m", 1.0, start=start) for k, start in enumerate(starts, start=1)]
    return [w for w in start_assumptions(harness(output("PS1", "p", "m"), *loads)) if "all start at once" in w]


def test_that_loads_do_not_all_start_at_once_is_told() -> None:
    """Two inrushes of 30 A behind a trip of 40 A ride through one after the other, and not together."""
    assert begin("a", "a") == [] == begin(None) == begin()
    for names in ((None, None), ("a", "a", None), ("a", "b")):
        (told,) = begin(*names)
        listed = "M1 to M3" if len(names) == 3 else "M1 and M2"
        assert told.startswith(f"{listed} start one after the other, save those of one Start together")
