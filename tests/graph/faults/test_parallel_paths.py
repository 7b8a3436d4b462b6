"""Paths side by side: the sets of openings that are tried give what every set gives.

Source of the numbers: every set of devices and outputs out is a piece of its own, and each is searched; that
devices in parallel open one after the other is common practice, no published source.
"""

from __future__ import annotations

import random

import pytest
from fault_bench import faults_of
from wired import harness, limiter, load, output, wire

from loadloom.graph.faults import opened
from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.model.elements import Diode
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness


def side_by_side(seed: int) -> Harness:
    """Packs on a bus, some with diodes, or a bank of limiters behind one output; leads before and behind each."""
    r = random.Random(seed)
    kind = ("packs", "bank", "diodes", "mixed")[seed % 4]
    parts = []
    if kind == "bank":
        parts += [output("PS", "p", "n", 12.0, trip_a=r.choice((30.0, 400.0)), resistance_ohm=0.01)]
        parts += [wire("W0", "p", "u", ohm=r.uniform(0.002, 0.05))]
    for k in range(5 if kind in ("bank", "diodes") else 3):
        at = "u" if kind == "bank" else f"p{k}"
        if kind != "bank":
            minus = f"m{k}" if kind != "diodes" and r.random() < 0.7 else "n"
            volts, trip_a = 12.0 + r.choice((0.0, 0.0, r.uniform(0.0, 0.6))), r.choice((8.0, 20.0, 60.0))
            parts.append(output(f"B{k}", at, minus, volts, trip_a=trip_a, resistance_ohm=r.choice((0.01, 0.03))))
            if minus != "n":
                parts.append(wire(f"R{k}", "n", minus, ohm=r.uniform(0.005, 0.05)))
        if r.random() < 0.5:
            parts.append(wire(f"A{k}", at, f"a{k}", ohm=r.uniform(0.002, 0.05)))
            at = f"a{k}"
        if kind != "diodes" or r.random() < 0.3:
            parts.append(limiter(f"Q{k}", at, f"q{k}", r.uniform(3.0, 15.0)))
            at = f"q{k}"
        if kind == "diodes" or (kind == "mixed" and r.random() < 0.5):
            parts.append(Diode(id=f"D{k}", subject=Subject(f"D{k}"), node_a=at, node_b=f"d{k}"))
            at = f"d{k}"
        parts.append(wire(f"W{k}.", at, "bus", ohm=10.0 ** r.uniform(-2.3, -0.7)))
    end_ohm = r.choice((0.01, 0.1, 0.3))
    parts += [wire("WX", "bus", "x", ohm=end_ohm), wire("WY", "n", "y", ohm=end_ohm)]
    parts += [load("L", "x", "y", r.uniform(1.0, 6.0))]
    if r.random() < 0.5:
        parts += [limiter("QB", "bus", "z", 5.0), wire("WZ", "z", "z1", ohm=0.02), load("L2", "z1", "n", 2.0)]
    return harness(*parts)


def by_every_set(drawn: Harness, monkeypatch: pytest.MonkeyPatch) -> FaultAnswer:
    with monkeypatch.context() as m:
        m.setattr(opened, "parallel_paths_of", lambda piece, label: None)
        m.setattr(opened, "MOST_AT_WILL", 12)
        m.setattr(opened, "MOST_SETS", 10**6)
        return faults_of(drawn)


@pytest.mark.parametrize("seed", range(8))
def test_the_sets_that_are_tried_give_what_every_set_gives(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = side_by_side(seed)
    found, expected = faults_of(drawn), by_every_set(drawn, monkeypatch)
    for name, part in expected.parts.items():
        assert found.parts[name].exact
        assert found.parts[name].sustained_fault_a == pytest.approx(part.sustained_fault_a, rel=1e-6), name
    back = {(part.id, part.back_fed_by): part.sustained_fault_a for part in found.back_feeds}
    for part in expected.back_feeds:
        assert back[part.id, part.back_fed_by] == pytest.approx(part.sustained_fault_a, rel=1e-6), part.id


def test_diodes_fed_with_unlike_voltages_give_no_more_than_those_that_conduct_together() -> None:
    """Eight outputs of 24.0, 24.2 ... 25.4 V, 10 A and 0.02 Ω to the bus: at V the ones between V and V + 0.2 V
    give (E - V) / 0.02 Ω. The most is at V where one is at its 10 A: that one, and the next below with nothing.
    """
    parts = []
    for k in range(8):
        parts += [output(f"PS{k}", f"p{k}", "n", 24.0 + 0.2 * k, trip_a=10.0, resistance_ohm=0.01)]
        parts += [wire(f"W{k}", f"p{k}", f"d{k}", ohm=0.01)]
        parts += [Diode(id=f"D{k}", subject=Subject(f"D{k}"), node_a=f"d{k}", node_b="bus")]
    parts += [wire("WX", "bus", "x", ohm=0.01), wire("WY", "n", "y", ohm=0.01), load("L", "x", "y", 1.0)]
    part = faults_of(harness(*parts)).parts["WX"]
    assert part.exact
    assert part.sustained_fault_a == pytest.approx(10.0, rel=1e-6)
