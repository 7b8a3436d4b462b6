"""What becomes of a harness as arrays: which resistance, voltage and limit counts, and parts of a network."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from harnesses import network_of, small_network
from wired import contact, harness, load, output, wire

from loadloom.graph.circuit.network import (
    GREATEST_FAULT,
    LEAST_FAULT,
    LOAD_STATE,
    Ageing,
    OutputVoltage,
    between,
    output_resistance_ohm,
    output_voltage_v,
    piece_of,
    without,
    without_loads,
)
from loadloom.graph.model.elements import Band, Behaviour, Chassis, LoadKind, Output, Tolerance
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness


def supply(**values: Any) -> Output:
    return output("PS1", "p", "m", 24.0, **values)


@pytest.mark.parametrize(
    ("values", "hold_a"),
    [
        ({"limit_a": 10.0, "trip_a": Band(12.0, 11.0, 13.0)}, np.inf),
        ({"behaviour": Behaviour.CONSTANT_CURRENT, "limit_a": 10.0, "trip_a": Band(12.0, 11.0, 13.0)}, 13.0),
        ({"behaviour": Behaviour.CONSTANT_CURRENT, "limit_a": 10.0}, 10.0),
        ({"behaviour": Behaviour.CONSTANT_CURRENT}, np.inf),
        ({"behaviour": Behaviour.FOLDBACK, "limit_a": 10.0}, np.inf),
    ],
)
def test_where_an_output_leaves_its_voltage(values: dict[str, Any], hold_a: float) -> None:
    drawn = harness(supply(**values), wire("W1", "p", "a", ohm=0.1), load("L1", "a", "m", 1.0))
    assert network_of(drawn).source_hold_a.tolist() == [hold_a]


def test_the_voltage_at_the_ends_of_the_tolerance() -> None:
    """24 V - 2 % + 5 %, and 0.5 V that remote sense adds to its load's voltage."""
    drawn = supply(tolerance=Tolerance(0.02, 0.05), sense_plus="s", sense_limit_v=0.5)
    volts = {which: output_voltage_v(drawn, which) for which in OutputVoltage}
    assert volts[OutputVoltage.NOMINAL] == 24.0
    assert volts[OutputVoltage.LOWEST] == pytest.approx(23.52)
    assert volts[OutputVoltage.HIGHEST] == pytest.approx(25.2)
    assert volts[OutputVoltage.COMPENSATED] == pytest.approx(25.7)
    assert output_voltage_v(supply(), OutputVoltage.LOWEST) == 24.0


def test_a_battery_new_and_aged() -> None:
    drawn = supply(resistance_ohm=0.02, resistance_high_ohm=0.06)
    found = {age: output_resistance_ohm(drawn, replace(LOAD_STATE, ageing=age)) for age in Ageing}
    assert found == {Ageing.NEW: 0.02, Ageing.MEAN: pytest.approx(0.04), Ageing.AGED: 0.06}
    assert output_resistance_ohm(supply(resistance_ohm=0.02), replace(LOAD_STATE, ageing=Ageing.AGED)) == 0.02


def test_contacts_and_wires_at_each_corner() -> None:
    """A contact new, mean and aged; a wire at the ends of what is stated."""
    drawn = harness(
        supply(),
        replace(wire("W1", "p", "a"), resistance_ohm=Band(0.10, 0.08, 0.12)),
        contact("X1.1", "a", "b", resistance_ohm=Band(0.004, 0.002, 0.008)),
        replace(contact("X1.2", "a", "b"), fitted=False),
        load("L1", "b", "m", 1.0),
    )
    found = {
        c: network_of(drawn, c).edge_resistance_ohm.tolist() for c in (LOAD_STATE, LEAST_FAULT, GREATEST_FAULT)
    }
    assert found[LOAD_STATE] == pytest.approx([0.12, 0.005, np.inf])
    assert found[LEAST_FAULT] == pytest.approx([0.12, 0.008, np.inf])
    assert found[GREATEST_FAULT] == pytest.approx([0.08, 0.002, np.inf])


def test_the_chassis_is_an_edge_of_no_resistance() -> None:
    drawn: Harness = harness(
        supply(),
        wire("W1", "p", "a", ohm=0.1),
        load("L1", "a", "m", 1.0),
        chassis=(Chassis(id="G1", subject=Subject("G1"), node="m"),),
    )
    found = network_of(drawn)
    assert found.edge_ids == ("W1", "bond G1") and found.edge_resistance_ohm.tolist() == [0.1, 0.0]
    assert [found.node_ids[k] for k in found.bond_nodes] == ["m"]


NETWORK = small_network(
    [
        ("W1", "p", "a", 0.1),
        ("W2", "b", "m", 0.2),
        ("W3", "q", "c", 0.3),
        ("W4", "d", "n", 0.4),
        ("W5", "c", "a", 0.5),
    ],
    [("PS1", "p", "m", 24.0, 0.01), ("PS2", "q", "n", 12.0, 0.02)],
    [("L1", "a", "b", LoadKind.CURRENT, 3.0), ("L2", "c", "d", LoadKind.POWER, 40.0)],
    holds={"PS2": 9.0},
)


def test_what_hangs_together_with_a_joint() -> None:
    """Through copper and outputs, and not through loads: without W5 two pieces, each with its output and load."""
    apart = without(NETWORK, ["W5"])
    assert apart.opened == ("W5",) and apart.drawn is NETWORK
    assert np.isinf(apart.edge_resistance_ohm[4]) and np.isfinite(apart.edge_resistance_ohm[:4]).all()
    wanted = {"PS1": ({"W1"}, {"p", "m", "a", "b"}), "PS2": ({"W3"}, {"q", "n", "c", "d"})}
    for name, (edges, nodes) in wanted.items():
        at = apart.source_index[name]
        piece, position = piece_of(apart, int(apart.source_plus[at]))
        assert piece.source_ids == (name,) and edges < set(piece.edge_ids) and set(piece.node_ids) == nodes
        assert piece.load_ids == (("L1",) if name == "PS1" else ("L2",))
        for k, node in enumerate(apart.node_ids):
            assert position[k] == (piece.node_ids.index(node) if node in nodes else -1)
        assert piece.source_hold_a.tolist() == [apart.source_hold_a[at]]
    whole, _ = piece_of(NETWORK, 0)
    assert set(whole.edge_ids) == {"W1", "W2", "W3", "W4", "W5"} and whole.load_ids == ("L1", "L2")


def test_some_edges_with_their_joints_and_every_output() -> None:
    found, position = between(NETWORK, np.array([1, 4]), np.array([NETWORK.node_index["d"]]))
    assert found.edge_ids == ("W2", "W5") and found.load_ids == ()
    assert set(found.node_ids) == {"b", "m", "c", "a", "p", "q", "n", "d"}
    for k, name in enumerate(found.edge_ids):
        ends = NETWORK.edge_index[name]
        assert (
            found.edge_a[k] == position[NETWORK.edge_a[ends]] and found.edge_b[k] == position[NETWORK.edge_b[ends]]
        )


def test_outputs_taken_out_are_gone_and_edges_are_open() -> None:
    found = without(NETWORK, ["PS1", "W2"])
    assert found.source_ids == ("PS2",) and found.source_voltage_v.tolist() == [12.0]
    assert found.source_hold_a.tolist() == [9.0] and found.source_resistance_ohm.tolist() == [0.02]
    assert np.isinf(found.edge_resistance_ohm).tolist() == [False, True, False, False, False]
    again = without(found, ["W1"])
    assert again.opened == ("PS1", "W2", "W1") and again.drawn is NETWORK
    off = replace(NETWORK, source_drawn_ohm=np.array([0.5, 0.6]))
    assert without(off, ["PS1"]).source_drawn_ohm is not None
    assert without(off, ["PS1"]).source_drawn_ohm.tolist() == [0.6]  # type: ignore[union-attr]


def test_no_loads() -> None:
    found = without_loads(NETWORK)
    assert found.load_ids == () and len(found.load_demand) == len(found.load_plus) == len(found.load_kind) == 0
    assert found.edge_ids == NETWORK.edge_ids
