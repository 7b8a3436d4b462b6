"""Which conductors are sized together, and between which sizes: cables, ways side by side, crimp ranges."""

from __future__ import annotations

from dataclasses import replace

from wired import contact, harness, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, ConductorKind, Element
from loadloom.graph.model.settings import AnalysisSettings, ContactType
from loadloom.graph.sizing.groups import Grouping, find_groups
from loadloom.graph.sizing.shelf import shelf

SIZES = ("0.5 mm²", "0.75 mm²", "1 mm²", "1.5 mm²", "2.5 mm²", "4 mm²")
PIN = ContactType("pin", rated_a=((1, 9.0),), resistance_ohm=Band.exact(2e-3), wire_area_mm2=(0.75, 2.5))
SETTINGS = AnalysisSettings(stocked_sizes=SIZES, contact_types={"pin": PIN})


def grouped(*parts: Element, together: tuple[frozenset[str], ...] = ()) -> Grouping:
    drawn = harness(output("PS1", "p", "m", 24.0, limit_a=8.0, trip_a=9.0), *parts, load("L1", "a", "r", 2.0))
    facts, _ = explore(drawn, SETTINGS, lambda _: None)
    return find_groups(facts, shelf(drawn.conductors, SETTINGS), together)


def conductor(name: str, a: str, b: str, **values: object) -> Element:
    plain = wire(name, a, b, mm2=1.5, length_m=1.0, insulation="PVC 70 °C")
    return replace(plain, **values)  # type: ignore[arg-type]


def sets(found: Grouping) -> set[tuple[str, ...]]:
    return {tuple(group.members) for group in found.groups}


def test_each_wire_is_by_itself_and_ways_side_by_side_are_alike() -> None:
    parts = (conductor("W1", "p", "b"), conductor("W2", "b", "a"), conductor("W3", "b", "a"))
    assert sets(grouped(*parts, conductor("W9", "r", "m"))) == {("W1",), ("W2", "W3"), ("W9",)}


def test_cores_of_a_cable_and_wires_of_a_net_are_alike() -> None:
    feed, back = conductor("C1.1", "p", "a", cable="C1"), conductor("C1.2", "r", "m", cable="C1")
    assert sets(grouped(feed, back)) == {("C1.1", "C1.2")}
    ends = {"V#1": ("p", "b"), "V#2": ("b", "a")}
    of_net = [conductor(name, *both, kind=ConductorKind.NET) for name, both in ends.items()]
    assert sets(grouped(*of_net, conductor("W9", "r", "m"))) == {("V#1", "V#2"), ("W9",)}


def test_what_shares_a_field_of_the_drawing_is_alike_whatever_is_drawn() -> None:
    parts = (conductor("W1", "p", "a"), wire("W2", "r", "m", mm2=4.0, length_m=1.0, insulation="PVC 70 °C"))
    assert sets(grouped(*parts)) == {("W1",), ("W2",)}
    assert sets(grouped(*parts, together=(frozenset({"W1", "W2"}),))) == {("W1", "W2")}


def test_a_crimp_contact_takes_the_sizes_of_its_range() -> None:
    """0.75 to 2.5 mm² in the contact on W1; on W9 there is none."""
    crimped = replace(contact("X1.1", "p", "b"), resistance_ohm=None, contact_type="pin")
    found = {g.members: g for g in grouped(crimped, conductor("W1", "b", "a"), conductor("W9", "r", "m")).groups}
    inner, free = found["W1",], found["W9",]
    assert [size.size for size in inner.sizes] == ["0.75", "1", "1.5", "2.5"]
    assert (inner.below_by, inner.above_by) == ("X1.1", "X1.1")
    assert [f"{size.size} mm²" for size in free.sizes] == list(SIZES) and (free.below_by, free.above_by) == ("", "")


def test_a_group_of_several_says_how_many() -> None:
    ways = [conductor(f"W{k}", "p", "a") for k in (1, 2, 3)]
    names = {group.members: group.name for group in grouped(*ways, conductor("W9", "r", "m")).groups}
    assert names == {("W1", "W2", "W3"): "W1 and 2 more", ("W9",): "W9"}
