"""Open circuits in other units of current and voltage are the same ones, and no end of a wire is its first.

Source: Ohm's and Kirchhoff's laws are linear; I²t goes with the square of the current.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from other_units import Units, differences
from random_drawings import drawing_of, harness_of
from wired import analysed, harness, load, output, wire

KINDS = ("single", "ring", "joined", "diode-or", "series", "two voltages")


@pytest.mark.parametrize("kind", KINDS)
def test_other_units_and_other_ends_are_the_same_open_circuits(kind: str) -> None:
    units = Units(4.0, 2.0)
    drawn = harness_of(drawing_of(kind, 81))
    turned = tuple(replace(c, node_a=c.node_b, node_b=c.node_a) for c in drawn.conductors)
    was = analysed(drawn).open_circuits
    assert was
    assert list(differences(was, analysed(units.of(drawn)).open_circuits, units)) == []
    assert list(differences(was, analysed(replace(drawn, conductors=turned)).open_circuits, Units(1.0, 1.0))) == []


def test_who_has_an_output_of_its_own_loses_nothing_with_the_bridge_to_the_other() -> None:
    """Two outputs, a load each, plus joined to plus by one wire, and apart: with it open each feeds its own."""
    drawn = harness(
        *(output(f"PS{k}", f"p{k}", f"m{k}", 24.0, limit_a=30.0, trip_a=40.0) for k in (1, 2)),
        *(wire(f"W{k}", f"p{k}", f"a{k}", ohm=0.01, rated=30.0) for k in (1, 2)),
        wire("TIE", "p1", "p2", ohm=0.01, rated=30.0),
        *(load(f"L{k}", f"a{k}", f"m{k}", 2.0) for k in (1, 2)),
    )
    lost = {row.opened: row.loses_supply for row in analysed(drawn).open_circuits}
    assert (lost.get("TIE", ()), lost["W1"], lost["W2"]) == ((), ("L1",), ("L2",))
