"""What protects a part where devices are off in an arrangement: named are those that act in each."""

from __future__ import annotations

from dataclasses import replace

from fault_bench import faults_of
from wired import harness, limiter, load, output, wire

from loadloom.graph.model.elements import Device
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case

SETTINGS = AnalysisSettings(
    conductor_temperature_c=20.0,
    resistance_table="copper",
    cases=(Case("as drawn", None, None), Case("pooled", None, "pooled")),
)


def in_line(first: Device, second: Device) -> Harness:
    """Two channels in one line before a wire of 20 A, either of which keeps it within that."""
    return harness(
        output("PS1", "p", "m", limit_a=80.0, trip_a=100.0),
        first,
        second,
        wire("W1", "b", "c", ohm=0.01, rated=20.0),
        wire("W2", "d", "m", ohm=0.01, rated=200.0),
        load("L1", "c", "d", 2.0),
    )


def off_when_pooled(device: Device) -> Device:
    return replace(device, by_word={"pooled": {"active": False}})


def test_both_that_act_always_are_named() -> None:
    found = faults_of(in_line(limiter("CH1", "p", "a", 18.0), limiter("CH2", "a", "b", 12.0)), SETTINGS)
    assert set(found.parts["W1"].protected_by) == {"CH1", "CH2"}
    assert found.protectors_without("W1", "CH1") == ("CH2",)


def test_one_that_is_off_in_an_arrangement_is_not_said_to_protect() -> None:
    """Pooled, CH1 is off and CH2 alone keeps the wire within 20 A (12 A by hand) in both."""
    drawn = in_line(off_when_pooled(limiter("CH1", "p", "a", 18.0)), limiter("CH2", "a", "b", 12.0))
    found = faults_of(drawn, SETTINGS)
    assert found.parts["W1"].protected is True
    assert found.parts["W1"].protected_by == ("CH2",)
    assert found.protectors_without("W1", "CH2") == ()


def test_where_each_protects_in_another_arrangement_both_are_named() -> None:
    """CH1 acts as drawn and CH2 pooled (each 12 A): neither alone is enough, and neither may be left out."""
    drawn = in_line(
        off_when_pooled(limiter("CH1", "p", "a", 12.0)),
        replace(limiter("CH2", "a", "b", 12.0), active=False, by_word={"pooled": {"active": True}}),
    )
    found = faults_of(drawn, SETTINGS)
    assert found.parts["W1"].protected is True
    assert set(found.parts["W1"].protected_by) == {"CH1", "CH2"}
    assert found.protectors_without("W1", "CH1") == found.protectors_without("W1", "CH2") == ()
