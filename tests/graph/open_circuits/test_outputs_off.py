"""What may open once one of two joined outputs is off. Source: Kirchhoff's current law, with two like leads."""

from __future__ import annotations

import pytest
from wired import analysed, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band
from loadloom.graph.model.settings import AnalysisSettings


def told(trip_a: float, **settings: bool) -> str:
    """The finding on two like outputs, each behind a limiter, that share a load of 8 A: 4 A each."""
    parts = []
    for k in (1, 2):
        parts += [
            output(f"PS{k}", f"p{k}", "m", 24.0, limit_a=20.0, trip_a=Band.exact(25.0), resistance_ohm=0.01),
            limiter(f"CH{k}", f"p{k}", f"c{k}", Band(trip_a, 0.9 * trip_a, 1.1 * trip_a), delay_s=0.1),
            wire(f"W{k}", f"c{k}", "bus", ohm=0.01, rated=30.0),
        ]
    drawn = harness(*parts, load("L1", "bus", "m", 8.0))
    found = analysed(drawn, AnalysisSettings(conductor_temperature_c=20.0, **settings)).findings
    (finding,) = [f for f in found if f.rule == "outputs-joined"]
    return finding.message


def test_outputs_that_are_no_reserve_for_each_other_are_told() -> None:
    """With PS1 off CH2 carries all of 8 A; a trip of 6 A carries 5.4 A for certain."""
    message = told(6.0)
    assert "off CH" in message and "has to carry 8 A and is certain to carry 5.4 A (and 1 more such)" in message


@pytest.mark.parametrize(("trip_a", "settings"), [(9.0, {}), (6.0, {"single_open_circuit": False})])
def test_nothing_is_told_where_each_carries_all_or_open_circuits_are_left_out(
    trip_a: float, settings: dict[str, bool]
) -> None:
    """A trip of 9 A carries 8.1 A for certain."""
    assert " off CH" not in told(trip_a, **settings)
