"""Parts that meet without a wire, and how a joint is called where a finding is about it."""

from __future__ import annotations

from dataclasses import replace

from observatory_sample import sample

from loadloom.reports.ends import Joined, joined_directly, subject_said


def test_parts_that_meet_without_a_wire_are_listed() -> None:
    """A fuse is bolted to the battery; from its other side a wire goes to two contacts of one connector."""
    base = sample()
    output, load = replace(base.outputs[0], id="BT1"), replace(base.loads[0], id="L1")
    wire = replace(base.conductors[0], id="W1", from_id="@FU1.2", to_id="@P1.1")
    contacts = tuple(replace(base.contacts[0], id=f"P1.{n}", connector="P1") for n in (1, 2))
    results = replace(
        base,
        outputs=(output,),
        loads=(load,),
        conductors=(wire,),
        contacts=contacts,
        splices=(),
        links=(
            ("BT1", "@BT1.1", "@BT1.2"),
            ("FU1", "@BT1.1", "@FU1.2"),
            ("W1", "@FU1.2", "@P1.1"),
            ("P1.1", "@P1.1", "@L1.1"),
            ("P1.2", "@P1.1", "@L1.1"),
            ("L1", "@L1.1", "@BT1.2"),
        ),
    )
    assert joined_directly(results) == (
        Joined("terminal BT1.1", ("BT1 +", "FU1"), ()),
        Joined("terminal BT1.2", ("BT1 −", "L1 −"), ()),
        Joined("terminal L1.1", ("L1 +", "P1.1"), ()),
    )


def test_a_joint_is_said_as_a_terminal_or_by_its_name() -> None:
    assert subject_said("@BT1.1", {"@BT1.1": "BT1.1"}) == "terminal BT1.1"
    assert subject_said("@W2.2", {"@W2.2": "joint W2.2, 4 wires"}) == "joint W2.2, 4 wires"
    assert subject_said("W7", {}) == "W7"
