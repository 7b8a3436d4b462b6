"""Wires and the contacts they are crimped into; areas by ASTM B258 (24 AWG 0.205 mm², 20 AWG 0.519 mm²)."""

import pytest
from wired import contact, found, harness, load, output, wire

from loadloom.graph.harness import Harness
from loadloom.graph.settings import AnalysisSettings, ContactType

SETTINGS = AnalysisSettings(
    conductor_temperature_c=20.0, contact_types={"pin": ContactType("pin", wire_area_mm2=(0.5, 1.5))}
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


def test_a_family_without_a_range_takes_what_there_is() -> None:
    assert found("crimp-range", drawn(24), AnalysisSettings(contact_types={"pin": ContactType("pin")})) == []
