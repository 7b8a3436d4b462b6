"""Laws that the whole analysis obeys on any harness.

Nothing hangs on names and order, a conductor is the same as two halves of it in a row, energy is kept, equal paths
carry equal currents, more copper lowers drops, and a lower trip lowers what a fault holds while nothing has opened.

Source: Kirchhoff's and Joule's laws; that equal things are treated equally.
"""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest
from random_drawings import drawing_of, harness_of
from wired import contact, harness, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Band, Conductor
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0)
KINDS = ("single", "ring", "joined", "diode-or", "series", "two voltages")
SAME = 1e-6
"""Relative; what the fault search promises of an exact answer."""


def explored(drawn: Harness) -> Facts:
    return explore(drawn, AT_20_C, lambda _: None)[0]


def faults_a(facts: Facts) -> dict[str, float]:
    return {name: part.sustained_fault_a or 0.0 for name, part in facts.faults.parts.items()}


def loads_a(facts: Facts) -> dict[str, float]:
    return {name: found.worst_peak[1] for name, found in facts.currents.items()}


def renamed(drawn: Harness, rng: random.Random) -> tuple[Harness, dict[str, str]]:
    """The same harness with other names, its parts in another order; and the new name of each part."""
    parts = [*drawn.conductors, *drawn.contacts, *drawn.devices, *drawn.diodes, *drawn.outputs, *drawn.loads]
    numbers = rng.sample(range(100, 999), len(parts))
    new = {part.id: f"Z{number}" for part, number in zip(parts, numbers, strict=True)}
    new |= {part.id: f"J{number}.{number}" for part, number in zip(parts, numbers, strict=True) if "." in part.id}

    def joint(name: str) -> str:
        return "n" + name[::-1]

    def changed(part: Any) -> Any:
        ends = {
            end: joint(getattr(part, end))
            for end in ("node_a", "node_b", "node_plus", "node_minus", "node")
            if hasattr(part, end)
        }
        more = {"connector": new[part.id].partition(".")[0], "pin": "1"} if hasattr(part, "connector") else {}
        return replace(part, id=new.get(part.id, part.id), **ends, **more)

    def changed_all(kind: str) -> tuple[Any, ...]:
        found = [changed(part) for part in getattr(drawn, kind)]
        rng.shuffle(found)
        return tuple(found)

    kinds = ("conductors", "contacts", "devices", "diodes", "outputs", "loads", "chassis")
    return replace(drawn, connectors=(), **{kind: changed_all(kind) for kind in kinds}), new


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(2))
def test_names_and_order_change_nothing_but_names(kind: str, seed: int) -> None:
    drawn = replace(harness_of(drawing_of(kind, seed)), connectors=())
    other, new = renamed(drawn, random.Random(seed))
    before, after = explored(drawn), explored(other)
    for values in (loads_a, faults_a):
        was, now = values(before), values(after)
        assert {new[name]: value for name, value in was.items() if name in new} == pytest.approx(
            {name: value for name, value in now.items() if name in new.values()}, rel=SAME
        )


def halved(drawn: Harness, whole: Conductor) -> Harness:
    ohm = whole.resistance_ohm
    half = replace(whole, resistance_ohm=Band.exact(ohm.nominal / 2), length_m=0.5)
    two = (
        replace(half, id=f"{whole.id}.one", node_b=f"{whole.id}.middle"),
        replace(half, id=f"{whole.id}.two", node_a=f"{whole.id}.middle"),
    )
    rest = tuple(each for each in drawn.conductors if each.id != whole.id)
    return replace(drawn, conductors=(*rest, *two))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(3, 5))
def test_two_halves_of_a_conductor_in_a_row_are_the_conductor(kind: str, seed: int) -> None:
    drawn = harness_of(drawing_of(kind, seed))
    whole = random.Random(seed).choice(drawn.conductors)
    before, after = explored(drawn), explored(halved(drawn, whole))
    for values in (loads_a, faults_a):
        was, now = values(before), values(after)
        halves = [now.pop(f"{whole.id}.{name}") for name in ("one", "two")]
        assert max(halves) == pytest.approx(was.pop(whole.id), rel=SAME)
        assert now == pytest.approx(was, rel=SAME)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(6, 8))
def test_what_is_supplied_is_used_or_lost(kind: str, seed: int) -> None:
    for solutions in explored(harness_of(drawing_of(kind, seed))).loaded.values():
        for solution in solutions:
            network = solution.network
            high = solution.node_v[network.source_plus] - solution.node_v[network.source_minus]
            used = solution.node_v[network.load_plus] - solution.node_v[network.load_minus]
            fall = solution.node_v[network.edge_a] - solution.node_v[network.edge_b]
            supplied_w = float((high * solution.source_a).sum())
            used_w = float((used * solution.load_a).sum())
            lost_w = float((fall * solution.edge_a).sum())
            assert supplied_w == pytest.approx(used_w + lost_w, rel=1e-9, abs=1e-9)


def fed(*parts: Any) -> Harness:
    """12 V behind a contact on plus; the return is one wire."""
    return harness(
        output("U", "u", "m", trip_a=40.0, delay_s=0.01),
        contact("P1.1", "u", "p"),
        wire("R", "m", "b", ohm=0.01, length_m=1.0),
        *parts,
    )


def test_equal_paths_carry_equal_currents() -> None:
    paths = [wire(f"W{k}", "p", "a", ohm=0.01, length_m=1.0) for k in range(4)]
    facts = explored(fed(*paths, load("L", "a", "b", 12.0)))
    carried = {loads_a(facts)[path.id] for path in paths}
    assert max(carried) == pytest.approx(3.0) and min(carried) == pytest.approx(3.0)
    held = [faults_a(facts)[path.id] for path in paths]
    assert max(held) == pytest.approx(min(held), rel=SAME)


@pytest.mark.parametrize("seed", range(12, 20))
def test_more_copper_never_raises_a_drop(seed: int) -> None:
    """True of one output and loads of constant current; with constant power, too, but not with two voltages."""
    drawn = harness_of(drawing_of("single", seed))
    thick = random.Random(seed).choice(drawn.conductors)
    ohm = thick.resistance_ohm
    thicker = replace(thick, resistance_ohm=Band.exact(ohm.nominal / 3))
    other = replace(drawn, conductors=tuple(thicker if c.id == thick.id else c for c in drawn.conductors))
    for case, solutions in explored(drawn).loaded.items():
        for before, after in zip(solutions, explored(other).loaded[case], strict=True):
            was_v, now_v = (s.node_v[s.network.load_plus] - s.node_v[s.network.load_minus] for s in (before, after))
            assert (now_v >= was_v - 1e-9).all()


@pytest.mark.parametrize("seed", range(20, 28))
def test_a_lower_trip_never_raises_what_a_fault_holds_while_nothing_has_opened(seed: int) -> None:
    drawn = harness_of(drawing_of("single", seed))
    rng = random.Random(seed)
    (only,) = drawn.outputs
    assert only.trip_a is not None
    lower = rng.uniform(0.5, 0.95)
    band = Band.exact(lower * only.trip_a.nominal)
    other = replace(drawn, outputs=(replace(only, trip_a=band),))
    before, after = explored(drawn).faults.parts, explored(other).faults.parts
    compared = 0
    for name, part in after.items():
        if part.fault is not None and part.fault.opened:
            continue
        compared += 1
        assert (part.sustained_fault_a or 0.0) <= (before[name].sustained_fault_a or 0.0) * (1 + SAME)
    assert compared


@pytest.mark.parametrize("trip_a", [8.0, 5.0])
def test_what_another_output_feeds_once_one_has_opened_is_more_than_while_nothing_has(trip_a: float) -> None:
    """Two outputs of 240 V with 10 mΩ inside, and a contact of 0.2 Ω between them.

    While both are on, a fault at the one takes 0.21/0.22 of its current from there: of the 8 A that this output
    gives at most, 8 × 0.01/0.21 = 0.381 A come over the contact. A stronger fault opens the output; what is left of
    the fault is fed by the other, which trips at 8 A, over the contact alone. By Kirchhoff's laws, by hand.
    """
    first = output("A", "a", "b", 240.0, trip_a=trip_a, resistance_ohm=0.01)
    other = output("B", "c", "b", 240.0, trip_a=8.0, resistance_ohm=0.01)
    part = explored(harness(first, other, contact("X1.1", "a", "c", ohm=0.2))).faults.parts["X1.1"]
    assert part.sustained_fault_a == pytest.approx(8.0, rel=SAME)
    assert part.fault is not None and part.fault.opened == ("A",)
