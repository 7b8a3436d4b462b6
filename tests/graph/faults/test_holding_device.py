"""What is said of the device that holds a part's fault current, with numbers by hand.

Reference: Kirchhoff's and Ohm's laws. A current that two resistances share is shared alike at any size.
"""

from __future__ import annotations

import pytest
from wired import AT_20_C, harness, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.model.elements import Band


def searched(*, rated_a: float) -> FaultAnswer:
    """A limit of 12 A that trips at 15 A, before wires of 10 and 20 mΩ side by side: 2/3 and 1/3 of the current."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=12.0, trip_a=Band.exact(15.0), resistance_ohm=0.0),
        wire("W1", "p", "l", ohm=0.010, length_m=1.0, rated=rated_a),
        wire("W2", "p", "l", ohm=0.020, length_m=1.0, rated=40.0),
        wire("W3", "g", "m", ohm=0.010, length_m=1.0, rated=40.0),
        load("L1", "l", "g", 1.0),
    )
    return explore(drawn, AT_20_C, lambda _: None)[0].faults


@pytest.mark.parametrize("rated_a", [8.0, 40.0])
def test_what_the_device_may_hold_so_that_the_part_is_within_what_it_is_allowed(rated_a: float) -> None:
    """The return carries all: 15 A of the device are 15 A there."""
    for name, allowed_a in (("W3", 40.0), ("W1", rated_a)):
        part = searched(rated_a=rated_a).parts[name]
        assert part.held_by == "PS1" and part.held_a == pytest.approx(15.0)
        assert part.sustained_fault_a is not None and part.at_rating_a is not None
        share = part.sustained_fault_a / 15.0
        assert part.at_rating_a == pytest.approx(12.0 * share)
        over_a = max(part.sustained_fault_a - allowed_a, 0.0)
        assert part.held_to_protect_a == pytest.approx(15.0 - over_a / share)
