"""Open circuits in other units of current and voltage are the same ones, and no end of a wire is its first.

Source: Ohm's and Kirchhoff's laws are linear; I²t goes with the square of the current.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from other_units import Units, differences
from random_drawings import drawing_of, harness_of
from wired import analysed

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
