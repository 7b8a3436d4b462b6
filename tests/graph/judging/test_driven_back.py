"""What other sources drive back through a solar string that has failed short, by adding up what each gives.

A string gives at most 1.25 times its short-circuit current (common practice, no published source).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from wired import harness, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.judging.driven_back import DrivenBack, driven_back, nearest
from loadloom.graph.model.elements import Band, Behaviour, Output, Solar
from loadloom.graph.model.settings import AnalysisSettings


def string(name: str, plus: str, minus: str, gives_a: float = 10.0, count: int = 1) -> Output:
    return output(
        name,
        plus,
        minus,
        40.0,
        limit_a=gives_a * count,
        trip_a=Band.exact(gives_a * count),
        behaviour=Behaviour.CONSTANT_CURRENT,
        resistance_ohm=0.01,
        solar=Solar(None, count, gives_a),
    )


def back(*strings: Output) -> DrivenBack:
    """What comes back through the first of some strings; each beside the first has a lead of its own."""
    drawn = harness(
        *strings,
        wire("W1", "p1", "a", ohm=0.02, rated=60.0),
        wire("W2", "p2", "a", ohm=0.02, rated=60.0),
        wire("W9", "b", "m", ohm=0.02, rated=60.0),
        load("L1", "a", "b", 1.0),
    )
    facts, _ = explore(drawn, AnalysisSettings(conductor_temperature_c=20.0), lambda _: None)
    return driven_back(facts, strings[0])


def test_one_alone_gets_nothing_back() -> None:
    assert back(string("PV1", "p1", "m")) == DrivenBack(0.0)


def test_strings_of_one_symbol() -> None:
    assert back(string("PV1", "p1", "m", count=4)).current_a == pytest.approx(30.0)


def test_strings_on_the_very_same_joints() -> None:
    assert back(string("PV1", "p1", "m"), string("PV2", "p1", "m", 7.0)).current_a == pytest.approx(7.0)
    left_out = replace(string("PV2", "p1", "m", 7.0), fitted=False)
    assert back(string("PV1", "p1", "m"), left_out).current_a == 0.0


def test_through_its_lead_and_from_beside_add_up() -> None:
    """8 A come through W1 from the string on the other lead, 7 A from the one on the same joints."""
    one = back(string("PV1", "p1", "m"), string("PV2", "p2", "m", 8.0))
    assert one.current_a == pytest.approx(8.0) and one.case == "nominal" and one.held_by == "PV2"
    both = back(string("PV1", "p1", "m"), string("PV2", "p2", "m", 8.0), string("PV3", "p1", "m", 7.0))
    assert both.current_a == pytest.approx(15.0)


def test_the_lead_is_what_is_nearest_to_the_plus_terminal() -> None:
    strings = (string("PV1", "p1", "m"), string("PV2", "p2", "m", 8.0))
    drawn = harness(
        *strings,
        wire("W1", "p1", "c", ohm=0.02, rated=60.0),
        wire("W3", "c", "a", ohm=0.02, rated=60.0),
        wire("W2", "p2", "a", ohm=0.02, rated=60.0),
        wire("W9", "b", "m", ohm=0.02, rated=60.0),
        load("L1", "a", "b", 1.0),
    )
    facts, _ = explore(drawn, AnalysisSettings(conductor_temperature_c=20.0), lambda _: None)
    parts = [a for a in facts.faults.back_feeds if a.back_fed_by == "PV1"]
    assert {part.id for part in parts} == {"W1", "W2", "W3"}
    assert [part.id for part in nearest(drawn, strings[0], parts)] == ["W1"]
    assert {p.id for p in nearest(drawn, strings[0], [p for p in parts if p.id != "W1"])} == {"W3"}
