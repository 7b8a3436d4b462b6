"""Which copper is the reference, and what a conductor of every other rail can touch anywhere.

Common practice, no published source: a frame and a return are never far; the frame is where the bond is, else where
the loads return.
"""

from __future__ import annotations

from dataclasses import replace

from wired import AT_20_C, harness, load, output, wire

from loadloom.graph.circuit.network import CHASSIS_NODE, GREATEST_FAULT, compile_network
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.model.elements import Chassis, Switch
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case
from loadloom.graph.structure.rails import find_rails


def returns(drawn: Harness, arrangement: str | None = None) -> dict[str, set[str]]:
    """By joint: what can be touched from everywhere on its copper."""
    case = Case("case", None, arrangement)
    network = compile_network(drawn, case, GREATEST_FAULT, AT_20_C, conductor_resistances(drawn, AT_20_C))
    rails = find_rails(network)
    names = network.node_ids
    return {
        names[node]: {names[k] for k in rails.returns[rail]}
        for node, rail in enumerate(rails.island.tolist())
        if rail in rails.returns
    }


def stack(*more: object, bond: str | None = None) -> Harness:
    bonds = (Chassis(id="GND1", subject=Subject("GND1"), node=bond),) if bond else ()
    return harness(output("U1", "top", "mid"), output("U2", "mid", "bot"), *more, chassis=bonds)  # type: ignore[arg-type]


def test_one_output_touches_its_own_return() -> None:
    assert returns(harness(output("U1", "p", "m"), load("L1", "p", "m", 1.0))) == {"p": {"m"}}


def test_a_bonded_plus_is_the_reference() -> None:
    drawn = replace(
        harness(output("U1", "p", "m"), load("L1", "p", "m", 1.0)),
        chassis=(Chassis(id="GND1", subject=Subject("GND1"), node="p"),),
    )
    assert returns(drawn) == {"m": {"p", CHASSIS_NODE}}


def test_a_tap_of_a_bonded_stack_is_a_feed() -> None:
    found = returns(stack(load("L1", "top", "bot", 1.0), load("L2", "mid", "bot", 1.0), bond="bot"))
    assert found == {"top": {"mid", "bot", CHASSIS_NODE}, "mid": {"bot", CHASSIS_NODE}}


def test_without_a_bond_loads_say_where_the_reference_is() -> None:
    tap = stack(load("L1", "top", "bot", 1.0), load("L2", "mid", "bot", 1.0))
    assert returns(tap) == {"top": {"mid", "bot"}, "mid": {"bot"}}
    rails = stack(load("L1", "top", "mid", 1.0), load("L2", "mid", "bot", 1.0))
    assert returns(rails) == {"top": {"mid"}, "bot": {"mid"}}
    bank = stack(load("L1", "top", "bot", 1.0))
    assert returns(bank) == {"top": {"mid", "bot"}, "mid": {"bot"}}


def test_both_ends_are_tried_where_the_drawing_leaves_it_open() -> None:
    drawn = stack(load("L1", "top", "mid", 1.0), load("L2", "mid", "bot", 1.0), load("L3", "top", "bot", 1.0))
    assert returns(drawn) == {"top": {"mid", "bot"}, "mid": {"bot"}, "bot": {"mid"}}


def test_a_load_that_a_relay_parts_from_its_rail_still_says_which_one_is_the_reference() -> None:
    relay = Switch(id="K1", subject=Subject("K1"), node_a="bot", node_b="x", by_word={"stop": {"fitted": False}})
    drawn = replace(stack(load("L1", "top", "mid", 1.0), load("L2", "mid", "x", 1.0)), switches=(relay,))
    for arrangement in (None, "stop"):
        found = returns(drawn, arrangement)
        assert found["top"] == {"mid"}
        assert found["bot"] == {"mid"}
        assert "mid" not in found


def test_nothing_touches_itself() -> None:
    shorted = harness(output("U1", "p", "m"), wire("W1", "p", "m", ohm=0.1), load("L1", "p", "m", 1.0))
    assert returns(shorted) == {}


def test_a_rail_that_another_output_feeds_beside_a_stack_still_touches_the_middle_of_it() -> None:
    beside = (output("U3", "top", "bot"), load("L1", "top", "bot", 1.0))
    assert returns(stack(*beside)) == {"top": {"mid", "bot"}, "mid": {"bot"}}
    # Below a reference in the middle the same holds from minus to plus.
    below = stack(
        output("U3", "bot2", "bot"), output("U4", "mid", "bot2"), load("L1", "mid", "bot", 1.0), bond="mid"
    )
    assert returns(below)["bot"] == {"mid", "bot2", CHASSIS_NODE}
