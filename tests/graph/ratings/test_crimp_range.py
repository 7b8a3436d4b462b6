"""Wires and the contacts they are crimped into; areas by ASTM B258 (24 AWG 0.205 mm², 20 AWG 0.519 mm²)."""

from dataclasses import replace

import pytest
from wired import analysed, contact, found, harness, load, output, splice, wire

from loadloom.graph.model.elements import Conductor, ConductorKind, Gauge, GaugeSystem
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, ContactType

SETTINGS = AnalysisSettings(
    conductor_temperature_c=20.0,
    resistance_table="copper",
    contact_types={"pin": ContactType("pin", wire_area_mm2=(0.5, 1.5))},
)


def drawn(awg: int, connector: str = "P1") -> Harness:
    return harness(
        output("PS1", "p", "m"),
        contact("P1.1", "p", "a", contact_type="pin"),
        contact(f"{connector}.2", "a", "b", contact_type="pin"),
        wire("W1", "a", "lp", awg=awg, length_m=1.0),
        wire("W2", "lm", "m", awg=awg, length_m=1.0),
        load("L1", "lp", "lm", 1.0),
    )


@pytest.mark.parametrize(("awg", "fits"), [(24, False), (20, True), (16, True), (14, False)])
def test_a_wire_outside_the_range_does_not_fit(awg: int, fits: bool) -> None:
    """0.205, 0.519, 1.31 and 2.08 mm² in a contact for 0.5 to 1.5 mm²; the return is in no contact."""
    got = found("crimp-range", drawn(awg), SETTINGS)
    assert [f.subject.id for f in got] == ([] if fits else ["W1"])
    assert all(f.value is not None and f.limit == (0.5 if f.value < 0.5 else 1.5) for f in got)


def test_a_joint_of_two_connectors_is_a_bus() -> None:
    assert found("crimp-range", drawn(24, connector="P2"), SETTINGS) == []


def test_that_a_joint_is_taken_for_a_bus_is_an_assumption() -> None:
    """A thin wire that could be crimped there passes unchecked, so it is said, and ``strict`` is incomplete."""
    said = [a for a in analysed(drawn(24, connector="P2"), SETTINGS).assumptions if "taken for a bus" in a]
    assert said == [
        "P1.1 and P2.2 are joined with the end of W1: the joint is taken for a bus on which the wire ends, and "
        "whether a contact there takes it is not checked."
    ]
    strict = analysed(drawn(24, connector="P2"), replace(SETTINGS, strict=True))
    assert any(f.rule == "assumed" and "taken for a bus" in f.message for f in strict.findings)
    assert not any("taken for a bus" in a for a in analysed(drawn(24), SETTINGS).assumptions)


def test_a_bus_of_one_arrangement_alone_is_an_assumption_too() -> None:
    joined = drawn(24, connector="P2")
    first, second = joined.contacts
    there = replace(second, fitted=False, by_word={"bench": {"fitted": True}})
    said = analysed(replace(joined, contacts=(first, there)), SETTINGS).assumptions
    assert any(a.startswith("P1.1 and P2.2 are joined with the end of W1") for a in said)


def test_a_family_without_a_range_takes_what_there_is() -> None:
    assert found("crimp-range", drawn(24), AnalysisSettings(contact_types={"pin": ContactType("pin")})) == []


def several(*wires: Conductor, contacts: int = 1, kinds: tuple[str, ...] = ("pin",)) -> Harness:
    """One connector with its contacts on one joint, from which several wires go to one load."""
    rows = [
        contact(f"P1.{k}", f"f{k}", "a", contact_type=kinds[(k - 1) % len(kinds)]) for k in range(1, contacts + 1)
    ]
    feeds = [wire(f"WF{k}", "p", f"f{k}", mm2=1.0, length_m=1.0) for k in range(1, contacts + 1)]
    return harness(
        output("PS1", "p", "m"),
        *rows,
        *feeds,
        *wires,
        wire("WR", "lm", "m", mm2=10.0, length_m=1.0),
        load("L1", "lp", "lm", 1.0),
    )


def leads(*sizes: float | int, awg: tuple[int, ...] = ()) -> list[Conductor]:
    found = [wire(f"W{k}", "a", "lp", mm2=size, length_m=1.0) for k, size in enumerate(sizes, start=1)]
    return [*found, *(wire(f"A{n}", "a", "lp", awg=size, length_m=1.0) for n, size in enumerate(awg, start=1))]


@pytest.mark.parametrize(
    ("wires", "fits"),
    [
        (leads(1.5), True),
        (leads(1.5, 1.5, 1.5), False),  # 4.5 mm²
        (leads(0.75, 0.75), True),  # 1.5 mm²
        (leads(0.75, 0.76), False),
        (leads(0.25, 0.25), True),  # each is thinner than the range, both together are within it
        (leads(0.25), False),
        (leads(1.0, awg=(18,)), False),  # 1 + 0.823 mm²
        (leads(0.5, awg=(18,)), True),  # 1.323 mm²
        (leads(awg=(20, 20)), True),  # 1.038 mm²
        (leads(awg=(20, 20, 20)), False),  # 1.557 mm²
    ],
)
def test_several_wires_in_one_contact_count_by_their_sum(wires: list[Conductor], fits: bool) -> None:
    """A contact for 0.5 to 1.5 mm²; areas of AWG by ASTM B258 (18 AWG 0.823, 20 AWG 0.519 mm²)."""
    got = found("crimp-range", several(*wires), SETTINGS)
    assert [f.subject.id for f in got] == ([] if fits else ["P1.1" if len(wires) > 1 else "W1"])
    total = sum(w.gauge.area_mm2 for w in wires if w.gauge is not None)
    assert all(f.value == pytest.approx(total) and f.unit == "mm²" for f in got)


@pytest.mark.parametrize(
    ("sizes", "contacts", "fits"),
    [
        ((1.5, 1.5), 2, True),
        ((1.5, 1.5, 1.5), 2, False),
        ((1.5, 0.75, 0.75), 2, True),
        ((1.0, 1.0, 0.75), 2, False),  # 2.75 of 3 mm², and yet no way to share them out
        ((0.9, 0.6, 0.6, 0.5, 0.4), 2, True),  # 0.9 + 0.6 and 0.6 + 0.5 + 0.4: the most even way does not fit
        ((0.2,) * 20, 2, False),
        ((0.1,) * 20, 2, True),
    ],
)
def test_wires_are_shared_out_over_contacts(sizes: tuple[float, ...], contacts: int, fits: bool) -> None:
    got = found("crimp-range", several(*leads(*sizes), contacts=contacts), SETTINGS)
    assert (not got) is fits


def test_a_contact_of_its_own_has_its_own_range() -> None:
    """``Contact.2`` = big: 4.5 mm² fits there, though not into pin 1."""
    settings = AnalysisSettings(
        conductor_temperature_c=20.0,
        contact_types={
            "pin": ContactType("pin", wire_area_mm2=(0.5, 1.5)),
            "big": ContactType("big", wire_area_mm2=(2.5, 6.0)),
        },
    )
    four = leads(1.5, 1.5, 1.5, 1.0)

    def contacts_over(harness: Harness) -> list[str]:
        return [f.subject.id for f in found("crimp-range", harness, settings) if f.subject.id.startswith("P1")]

    assert contacts_over(several(*four, contacts=2, kinds=("pin", "big"))) == []
    assert contacts_over(several(*four, contacts=2)) == ["P1.1"]
    assert contacts_over(several(*leads(1.5, 1.5, 1.5), kinds=("big",))) == []
    assert contacts_over(several(*leads(1.0, 1.0), kinds=("big",))) == ["P1.1"]


def test_cores_of_a_cable_and_wires_that_are_nets_count_too() -> None:
    cores = [
        replace(each, kind=kind)
        for each, kind in zip(leads(1.0, 1.0), (ConductorKind.CORE, ConductorKind.NET), strict=True)
    ]
    assert [f.subject.id for f in found("crimp-range", several(*cores), SETTINGS)] == ["P1.1"]


def test_a_wire_that_is_not_fitted_is_in_no_crimp() -> None:
    first, second = leads(1.0, 1.0)
    assert found("crimp-range", several(first, replace(second, fitted=False)), SETTINGS) == []


def test_a_size_of_one_arrangement_is_held_there() -> None:
    thick = Gauge(GaugeSystem.MM2, "1", 1.0)
    first, second = leads(0.5, 0.5)
    second = replace(second, by_word={"pooled": {"gauge": thick}})
    assert found("crimp-range", several(first, second), SETTINGS) == []
    second = replace(second, by_word={"pooled": {"gauge": replace(thick, size="1.5", area_mm2=1.5)}})
    assert len(found("crimp-range", several(first, second), SETTINGS)) == 1


def test_wires_at_a_splice_end_in_the_splice() -> None:
    spliced = several(*leads(1.0, 1.0, 1.0))
    assert len(found("crimp-range", spliced, SETTINGS)) == 1
    assert found("crimp-range", replace(spliced, splices=(splice("S1", "a", 20.0),)), SETTINGS) == []


def test_a_wire_of_unknown_size_does_not_pass_in_silence() -> None:
    bare = wire("W1", "a", "lp", ohm=5e-3, rated=10.0)
    (got,) = found("crimp-not-determined", several(bare), SETTINGS)
    assert got.subject.id == "W1"
    no_range = AnalysisSettings(contact_types={"pin": ContactType("pin")})
    assert found("crimp-not-determined", several(bare), no_range) == []
