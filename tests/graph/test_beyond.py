"""Splices, switches and diodes: what a fault can hold on them, recomputed by hand (in a tree the least limit)."""

from __future__ import annotations

import pytest
from wired import harness, limiter, load, output, splice, wire

from loadloom.graph.analysis import analyse
from loadloom.graph.elements import Band, Diode, Switch
from loadloom.graph.findings import Finding, Subject
from loadloom.graph.harness import Harness
from loadloom.graph.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0)


def found(rule: str, drawn: Harness) -> list[Finding]:
    results = analyse(
        drawn, AT_20_C, tool_version="test", date="2025-01-01", settings_echo={}, progress=lambda _: None
    )
    return [f for f in results.findings if f.rule == rule]


def branching(rated_a: float) -> Harness:
    """A splice behind a limiter of 16 A, with loads of 5 A and 4 A on two branches."""
    return harness(
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0),
        limiter("CH1", "p", "a", 16.0),
        wire("W1", "a", "s", ohm=0.02, rated=17.0),
        splice("S1", "s", rated_a),
        wire("W2", "s", "b", ohm=0.02, rated=17.0),
        wire("W3", "s", "c", ohm=0.02, rated=17.0),
        wire("W4", "r", "m", ohm=0.02, rated=17.0),
        load("L1", "b", "r", 5.0),
        load("L2", "c", "r", 4.0),
    )


@pytest.mark.parametrize(("rated_a", "findings"), [(20.0, 0), (16.0, 0), (10.0, 1)])
def test_a_splice_stands_what_its_device_holds(rated_a: float, findings: int) -> None:
    got = found("splice-unprotected", branching(rated_a))
    assert [(f.subject.id, f.value) for f in got] == [("S1", pytest.approx(16.0))] * findings
    assert found("splice-overload", branching(rated_a)) == []  # 9 A of load


def test_the_overload_band_holds_for_splices() -> None:
    """A limiter of 16 A ± 10 %: 17.6 A on a splice of 16 A is 1.1 times, its number is within the rating."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0),
        limiter("CH1", "p", "a", Band(16.0, 14.4, 17.6)),
        wire("W1", "a", "s", ohm=0.02, rated=20.0),
        splice("S1", "s", 16.0),
        wire("W2", "s", "b", ohm=0.02, rated=20.0),
        wire("W4", "r", "m", ohm=0.02, rated=20.0),
        load("L1", "b", "r", 9.0),
    )
    assert found("splice-unprotected", drawn) == []


def switched(rated_a: float, *, side_by_side: bool = False, diode: bool = False) -> Harness:
    kind = {"id": "S1", "subject": Subject("S1"), "node_a": "a", "node_b": "b", "rating_a": rated_a}
    second = Switch(id="S2", subject=Subject("S2"), node_a="a", node_b="b", rating_a=rated_a)
    parts = {
        "switches": (() if diode else (Switch(**kind),)) + ((second,) if side_by_side else ()),
        "diodes": (Diode(**kind),) if diode else (),
    }
    return harness(
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0),
        limiter("CH1", "p", "a", 8.0),
        wire("W1", "b", "c", ohm=0.02, rated=17.0),
        wire("W2", "r", "m", ohm=0.02, rated=17.0),
        load("L1", "c", "r", 2.0),
        **parts,
    )


@pytest.mark.parametrize("diode", [False, True])
@pytest.mark.parametrize(("rated_a", "findings"), [(10.0, 0), (8.0, 0), (3.0, 1)])
def test_a_switch_stands_what_its_device_holds(rated_a: float, findings: int, diode: bool) -> None:
    got = found("switch-unprotected", switched(rated_a, diode=diode))
    assert [(f.subject.id, f.value) for f in got] == [("S1", pytest.approx(8.0))] * findings
    assert found("switch-overload", switched(rated_a, diode=diode)) == []  # 2 A of load


def test_switches_side_by_side_are_not_judged_here() -> None:
    assert found("switch-unprotected", switched(3.0, side_by_side=True)) == []
