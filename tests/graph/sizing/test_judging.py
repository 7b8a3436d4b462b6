"""What proposals answer for: parts that a device guards, findings that count, cases that differ."""

from __future__ import annotations

import pytest
from wired import fuse, harness, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.sizing.judging import distinct_cases, guarded_above


def test_parts_below_the_rating_of_their_device_and_what_they_need() -> None:
    """A fuse of 10 A before a wire of 6 A, one of 12 A, and two of 4 A side by side that take half of it each; what
    another fuse guards is its own.
    """
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0),
        fuse("F1", "p", "a", 10.0, "UL 248-14", by_word={"pooled": {"rating_a": 15.0}}),
        wire("W1", "a", "b", ohm=0.01, rated=6.0),
        wire("W2", "b", "c", ohm=0.01, rated=20.0),
        wire("W3", "c", "d", ohm=0.01, rated=4.0),
        wire("W4", "c", "d", ohm=0.01, rated=4.0),
        fuse("F2", "d", "e", 3.0, "UL 248-14"),
        wire("W5", "e", "f", ohm=0.01, rated=3.0),
        wire("W9", "r", "m", ohm=0.01, rated=50.0),
        load("L1", "f", "r", 1.0),
    )
    facts, _ = explore(drawn, AnalysisSettings(conductor_temperature_c=20.0), lambda _: None)
    assert dict(guarded_above(facts, "F1")) == pytest.approx({"W1": 15.0, "W3": 7.5, "W4": 7.5})
    assert guarded_above(facts, "F2") == [], "it may carry just what its fuse is rated"
    assert guarded_above(facts, "W1") == [], "no device"


def test_cases_in_which_every_part_is_the_same_are_tried_once() -> None:
    """Three arrangements: one states what is drawn anyway, one differs; each state is kept in both that differ."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0),
        fuse("F1", "p", "a", 10.0, "UL 248-14", by_word={"same": {"rating_a": 10.0}, "pooled": {"rating_a": 15.0}}),
        wire("W1", "a", "b", ohm=0.01, rated=6.0),
        load("L1", "b", "m", 1.0, by_word={"slew": {"demand": 2.0}}),
    )
    cases = [Case(f"{state}{word}", state, word) for word in (None, "same", "pooled") for state in (None, "slew")]
    kept = distinct_cases(drawn, AnalysisSettings(cases=tuple(cases))).cases
    assert [(case.state, case.arrangement) for case in kept] == [
        *((None, None), ("slew", None), (None, "pooled"), ("slew", "pooled"))
    ]
