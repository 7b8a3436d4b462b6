"""Laws that the fault search obeys on any harness, whatever it answers.

* Currents and voltages written in other units are the same currents and voltages (``other_units``).
* A negative rail is a positive one: with plus and minus of everything exchanged and the chassis bond where it was,
  the reference is the plus side, and every current is the same one the other way round.
* Which end of a wire or contact was drawn first changes nothing.
* Two harnesses on one sheet are two harnesses.
* What satisfies the overload band of a conductor cuts it off (IEC 60364-4-43 433.1, from memory).

Source: Ohm's and Kirchhoff's laws are linear, and odd in all currents and voltages together.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from fault_bench import faults_of
from other_units import Units, differences, is_same
from radial_harnesses import random_radial
from random_drawings import drawing_of, harness_of

from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.model.elements import Band, Chassis, LoadKind
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness

KINDS = ("single", "ring", "joined", "diode-or", "series", "two voltages")
TREES: dict[str, dict[str, Any]] = {
    "ways in bundles": {"most_paths": 4},
    "thin trees on a chassis": {"most_paths": 1, "thin": 8.0, "chassis": True},
    "loads of all kinds": {"kinds": tuple(LoadKind)},
    "several outputs": {"most_paths": 2, "outputs": 2},
}


@pytest.fixture(params=["programmes", "closed form"])
def answered_by(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Both ways in which the search answers."""
    least = 0 if request.param == "closed form" else 10_000
    monkeypatch.setattr("loadloom.graph.faults.search.RADIAL_FROM", least)
    return request.param


def drawn_at_random(kind: str, seed: int) -> Harness:
    return random_radial(seed, **TREES[kind]) if kind in TREES else harness_of(drawing_of(kind, seed))


@pytest.mark.usefixtures("answered_by")
@pytest.mark.parametrize("kind", [*KINDS, *TREES])
@pytest.mark.parametrize("units", [Units(4.0, 2.0), Units(0.5, 0.125)])
def test_other_units_are_the_same_currents(kind: str, units: Units) -> None:
    """But for the classes of power and the heat of a wire, which are held against fixed watts nowhere here."""
    for seed in range(30, 32):
        drawn = drawn_at_random(kind, seed)
        was, now = faults_of(drawn), faults_of(units.of(drawn))
        assert list(differences(without_classes(was), without_classes(now), units)) == []


def without_classes(answer: FaultAnswer) -> FaultAnswer:
    """The classes of published standards are fixed numbers of watts."""
    return replace(answer, powers=tuple(replace(row, within=(), exceeds=()) for row in answer.powers))


def grounded(drawn: Harness) -> Harness:
    if drawn.chassis:
        return drawn
    return replace(drawn, chassis=(Chassis(id="G1", subject=Subject("G1"), node=drawn.outputs[0].node_minus),))


def turned(part: Any) -> Any:
    """The same part drawn from its other end, a load or an output upside down."""
    if hasattr(part, "node_a"):
        return replace(part, node_a=part.node_b, node_b=part.node_a)
    return replace(part, node_plus=part.node_minus, node_minus=part.node_plus)


def upside_down(drawn: Harness) -> Harness:
    kinds = ("outputs", "loads", "diodes", "devices")
    return replace(drawn, **{kind: tuple(turned(part) for part in getattr(drawn, kind)) for kind in kinds})


SAID = ("sustained_fault_a", "combined_overload_a", "protected", "in_band", "heat_w_per_m", "held_a")


@pytest.mark.parametrize("kind", KINDS)
def test_a_negative_rail_is_a_positive_one(kind: str) -> None:
    exact = 0
    for seed in range(40, 44):
        drawn = grounded(drawn_at_random(kind, seed))
        was, now = faults_of(drawn).parts, faults_of(upside_down(drawn)).parts
        assert was.keys() == now.keys()
        for name, part in was.items():
            if part.exact and now[name].exact:
                exact += 1
                for word in SAID:
                    assert is_same(getattr(part, word), getattr(now[name], word)), (seed, name, word)
    assert exact >= 15


@pytest.mark.usefixtures("answered_by")
@pytest.mark.parametrize("kind", [*KINDS, *TREES])
def test_which_end_was_drawn_first_changes_nothing(kind: str) -> None:
    for seed in range(50, 52):
        drawn = drawn_at_random(kind, seed)
        other = replace(
            drawn,
            conductors=tuple(turned(part) for part in drawn.conductors),
            contacts=tuple(turned(part) for part in drawn.contacts),
        )
        was, now = faults_of(drawn).parts, faults_of(other).parts
        for name, part in was.items():
            for word in (*SAID, "protected_by", "exact"):
                assert is_same(getattr(part, word), getattr(now[name], word)), (seed, name, word)


def beside(drawn: Harness, mark: str) -> Harness:
    """The harness with a mark before every name."""

    def marked(part: Any) -> Any:
        ends = ("node_a", "node_b", "node_plus", "node_minus", "node", "connector", "cable", "bundle")
        changes = {end: mark + getattr(part, end) for end in ends if getattr(part, end, None)}
        if hasattr(part, "contact_ids"):
            changes["contact_ids"] = tuple(mark + name for name in part.contact_ids)
        return replace(part, id=mark + part.id, **changes)

    kinds = ("conductors", "contacts", "devices", "diodes", "outputs", "loads", "connectors")
    return replace(drawn, **{kind: tuple(marked(part) for part in getattr(drawn, kind)) for kind in kinds})


@pytest.mark.usefixtures("answered_by")
@pytest.mark.parametrize("kind", [*KINDS, "ways in bundles", "several outputs"])
def test_two_harnesses_on_one_sheet_are_two(kind: str) -> None:
    for seed in range(60, 62):
        pair = [
            beside(replace(drawn_at_random(kind, seed + k), chassis=()), mark) for k, mark in ((0, "A"), (9, "B"))
        ]
        together = Harness(
            **{
                name: getattr(pair[0], name) + getattr(pair[1], name)
                for name in ("conductors", "contacts", "devices", "diodes", "outputs", "loads", "connectors")
            }
        )
        both = faults_of(together)
        alone = [faults_of(each) for each in pair]
        for name, part in (alone[0].parts | alone[1].parts).items():
            for word in (*SAID, "protected_by", "exact", "held_by", "at_rating_a"):
                assert is_same(getattr(part, word), getattr(both.parts[name], word)), (seed, name, word)
        powers = {row.at: row.power_w for row in both.powers}
        assert powers == pytest.approx({row.at: row.power_w for each in alone for row in each.powers}, rel=1e-6)


def opening_at(drawn: Harness, share: Mapping[str, float]) -> Harness:
    """Devices and outputs rated for their trip, that open for sure only at so many times of it."""

    def with_band(part: Any) -> Any:
        nominal_a = part.trip_a.nominal
        rated = {"limit_a": nominal_a} if hasattr(part, "limit_a") else {}
        return replace(part, trip_a=Band(nominal_a, nominal_a, nominal_a * share.get(part.id, 1.0)), **rated)

    return replace(
        drawn,
        devices=tuple(with_band(part) if part.trip_a else part for part in drawn.devices),
        outputs=tuple(with_band(part) if part.trip_a else part for part in drawn.outputs),
    )


@pytest.mark.parametrize("kind", ["ring", "two voltages", "several outputs"])
def test_what_satisfies_the_band_cuts_the_conductor_off(kind: str) -> None:
    """In <= Iz: were every device certain to open at its rating, no fault would bring more than Iz on it."""
    banded = 0
    for seed in (*range(4), 7):
        rng = random.Random(seed)
        plain = drawn_at_random(kind, seed)
        parts = [part for part in (*plain.devices, *plain.outputs) if part.trip_a]
        trips_a = [part.trip_a.nominal for part in parts]
        share = {part.id: rng.uniform(1.0, 1.4) for part in (*plain.devices, *plain.outputs)}
        wires = tuple(
            replace(w, own_rating_a=rng.choice(trips_a) * rng.uniform(1.0, 1.25)) for w in plain.conductors
        )
        drawn = replace(plain, conductors=wires)
        found = faults_of(opening_at(drawn, share)).parts
        at_rating = faults_of(opening_at(drawn, {})).parts
        for name, part in found.items():
            if part.in_band and at_rating[name].exact:
                banded += 1
                assert at_rating[name].sustained_fault_a <= part.allowed_a * (1.0 + 1e-6), (seed, name)
    assert banded > 3
