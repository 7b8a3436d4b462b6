"""Which of two cases is left out of the fault search: the one whose loads all draw less, and never the other.

The judge (``brute_force``) is asked for the heavier demand alone.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from brute_force import Draw, Drawing, Part, Source, most_a
from random_drawings import harness_of

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, LoadKind
from loadloom.graph.model.settings import AnalysisSettings


def trunk(kind: str, demand: float) -> Drawing:
    """12 V, two limiters on a bus, one common return; the second branch feeds a load of a kind."""
    return Drawing(
        parts=(
            Part("Q1", "device", "p", "a", 0.002, 14.0),
            Part("Q2", "device", "p", "b", 0.002, 9.0),
            Part("W1", "wire", "a", "fa", 0.02),
            Part("W2", "wire", "b", "fb", 0.02),
            Part("WR", "wire", "r", "m", 0.01),
        ),
        sources=(Source("U1", "p", "m", 12.0, 0.02, 60.0),),
        draws=(Draw("L1", "fa", "r", "current", 2.0), Draw("L2", "fb", "r", kind, demand)),
        returns={"p": ("m",)},
    )


@pytest.mark.parametrize("heavier_in", ["plain", "run"])
@pytest.mark.parametrize(
    ("kind", "heavier", "lighter"), [("resistance", 1.5, 6.0), ("current", 8.0, 2.0), ("power", 90.0, 20.0)]
)
def test_the_heavier_of_two_demands_counts(kind: str, heavier: float, lighter: float, heavier_in: str) -> None:
    plain, run = (heavier, lighter) if heavier_in == "plain" else (lighter, heavier)
    drawn = harness_of(trunk(kind, plain))
    loads = tuple(
        replace(load, by_word={"run": {"demand": run, "demand_kind": LoadKind(kind)}}) if load.id == "L2" else load
        for load in drawn.loads
    )
    settings = AnalysisSettings(conductor_temperature_c=20.0)
    facts, _ = explore(replace(drawn, loads=loads), settings, lambda _: None)
    for name, found in most_a(trunk(kind, heavier)).items():
        if name in facts.faults.parts:
            value_a = facts.faults.parts[name].sustained_fault_a
            assert value_a is not None
            assert found.current_a <= value_a * 1.002 + 1e-3, (name, found)


@pytest.mark.parametrize(("held_a", "alike"), [(14.0, True), (30.0, False)])
def test_an_arrangement_that_changes_nothing_has_the_answers_of_the_one_before(held_a: float, alike: bool) -> None:
    drawn = harness_of(trunk("current", 2.0))
    first = drawn.devices[0]
    assert first.id == "Q1" and first.trip_a is not None
    trip = {"trip_a": Band(held_a, held_a, held_a)}
    devices = (replace(first, trip_a=Band(14.0, 14.0, 14.0), by_word={"other": trip}), *drawn.devices[1:])
    settings = AnalysisSettings(conductor_temperature_c=20.0)
    facts, _ = explore(replace(drawn, devices=devices), settings, lambda _: None)
    plain, other = (facts.faults.by_arrangement[word] for word in (None, "other"))
    assert plain["W1"].sustained_fault_a == pytest.approx(14.0, rel=1e-6)
    # 12 V drive more than 30 A through 0.052 Ohm, so that the device holds the fault at either setting.
    assert other["W1"].sustained_fault_a == pytest.approx(held_a, rel=1e-6)
    assert (plain == other) is alike
