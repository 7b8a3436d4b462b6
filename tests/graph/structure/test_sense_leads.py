"""The leads by which an output senses, found from its sense terminals alone."""

from __future__ import annotations

import pytest
from wired import harness, load, output, wire

from loadloom.graph.structure.sense_leads import sense_leads


@pytest.mark.parametrize(
    ("sense", "leads"),
    [
        ({}, []),
        ({"sense_plus": "sp"}, [(True, "sp", ("S1",), "l", "W1")]),
        ({"sense_minus": "sm"}, [(False, "sm", ("S2",), "g", "W2")]),
        (
            {"sense_plus": "sp", "sense_minus": "sm"},
            [(True, "sp", ("S1",), "l", "W1"), (False, "sm", ("S2",), "g", "W2")],
        ),
        ({"sense_plus": "p"}, [(True, "p", (), "p", None)]),
    ],
)
def test_a_lead_for_each_terminal_that_is_wired(
    sense: dict[str, str], leads: list[tuple[bool, str, tuple[str, ...], str, str | None]]
) -> None:
    """S1 and S2 go to the load's joints, where W1 and W2 end."""
    drawn = harness(
        output("PS1", "p", "m", **sense),
        wire("W1", "p", "l", ohm=0.01),
        wire("W2", "g", "m", ohm=0.01),
        wire("S1", "sp", "l", ohm=0.1),
        wire("S2", "sm", "g", ohm=0.1),
        load("L1", "l", "g", 1.0),
    )
    found = sense_leads(drawn, None)
    assert [(each.plus, each.joint, each.parts, each.tap, each.main) for each in found] == leads
    assert all(each.output == "PS1" for each in found)
