"""What the results say of converters, by hand from the fields."""

from __future__ import annotations

import pytest
from test_converters import results


def test_a_converter_says_what_it_draws_gives_and_loses() -> None:
    """Input power = output power / 0.9 + 1 W in every case, the same current as the wire before it."""
    found = results(**{"Input limit": "4 A"})
    (row,) = found.converters
    there = row.cases["nominal"]
    assert there.running and row.isolated is False and row.case == "nominal"
    assert there.input_w == pytest.approx(there.output_w / 0.9 + 1.0, rel=1e-9)
    assert there.efficiency == pytest.approx(0.9, rel=1e-9)
    assert there.heat_w == pytest.approx(there.input_w - there.output_w)
    wire = next(conductor for conductor in found.conductors if conductor.id == "W1")
    assert there.input_a == pytest.approx(wire.continuous_a or 0.0)
    assert row.utilisation == pytest.approx(there.input_a / 4.0)
    # 12 V + 2 % behind 5 mΩ, up to the trip of 12 A + 5 %, over 90 %, and 1 W.
    most_w = (12.24 - 0.005 * 12.6) * 12.6 / 0.9 + 1.0
    assert row.greatest_input_w == pytest.approx(most_w)


def test_a_converter_that_stops_is_told_so() -> None:
    (row,) = results(**{"Input minimum": "25 V"}).converters
    there = row.cases["nominal"]
    assert not there.running and there.efficiency is None and there.output_w == 0.0
    (row,) = results(isolated=True).converters
    assert row.isolated
