"""What KiCad's own library symbols are taken for: their pins are those of KiCad 9's libraries."""

from __future__ import annotations

from pathlib import Path

import pytest
from habits import Habit, part

from loadloom.plugin.drawing import Pin, Symbol
from loadloom.plugin.pipeline import analyse_file
from loadloom.plugin.setup.run import prepare
from loadloom.plugin.setup.words import by_characteristic, capacity_in
from loadloom.plugin.stock_roles import Stock, stock_role


def stock(library_id: str, pins: str, reference: str = "U1", value: str = "") -> Stock:
    drawn = tuple(Pin(*pin.partition(":")[::2]) for pin in pins.split())
    found = stock_role(Symbol(reference, value, library_id, drawn))
    assert found is not None
    return found


COIL = {"A1": ("A1",), "A2": ("A2",)}


@pytest.mark.parametrize(
    ("library_id", "pins", "ends", "path"),
    [
        ("Relay:Relay_SPST-NO", "A1 A2 13 14", {"1": ("13",), "2": ("14",), **COIL}, None),
        ("Relay:Relay_SPDT", "A1 A2 12 11 14", {"1": ("11",), "2": ("14",), **COIL}, None),
        ("Relay:Relay_SPST-NC", "A1 A2 12 11", {"1": ("11",), "2": ("12",), **COIL}, None),
        ("Relay:Relay_DPDT", "A1 A2 12 11 14 22 21 24", COIL, "11-14; 21-24"),
        ("Relay:COTO_3660_Split", "A1 A2 13 14 23 24 33 34", COIL, "13-14; 23-24; 33-34"),
        ("Relay:RAYEX-L90", "A1 A2 12 11A 11B 14", {"1": ("11A", "11B"), "2": ("14",), **COIL}, None),
        # Numbers of a board's pins say nothing, not even where they look like standard ones.
        ("Relay:G5LE-1", "5 2 4 1 3", {}, None),
        ("Relay:DIPxx-1Axx-12x", "6 13 2 7 8 1 14", {}, None),
        ("Relay_SolidState:CPC1002N", "1 2 4 3", {}, None),
        ("Relay_SolidState:34.81-8240", "A1 A2 11 14", {"1": ("11",), "2": ("14",), **COIL}, None),
        (
            "Own:Relay_Automotive",
            "30 85 86 87 87a",
            {"1": ("30",), "2": ("87",), "A1": ("85",), "A2": ("86",)},
            None,
        ),
        ("Own:Contactor_3P", "A1 A2 1:1/L1 2:2/T1 3:3/L2 4:4/T2 5:5/L3 6:6/T3", COIL, "1-2; 3-4; 5-6"),
        ("Own:Contactor_3P", "A1 A2 1 2 3 4 5 6", COIL, "1-2; 3-4; 5-6"),
        (
            "Own:Relay",
            "1:COIL+ 2:COIL- 3:COM 4:NO 5:NC",
            {"1": ("3",), "2": ("4",), "A1": ("1",), "A2": ("2",)},
            None,
        ),
        ("Device:Q_NMOS", "D:D G:G S:S", {"1": ("D",), "2": ("S",)}, None),
        ("Device:Q_PMOS", "D:D G:G S:S", {"1": ("S",), "2": ("D",)}, None),
        ("Transistor_FET:IRF7404", "5:D 6:D 7:D 8:D 4:G 1:S 2:S 3:S", {"1": ("D",), "2": ("S",)}, None),
        ("Switch:SW_DPST", "3:3 1:1 4:4 2:2", {}, "1-2; 3-4"),
        ("Switch:SW_DPDT_x2", "2:B 1:A 3:C 5:B 4:A 6:C", {}, "2-1; 5-4"),
        ("Switch:SW_DIP_x02", "1 2 4 3", {}, "1-4; 2-3"),
    ],
)
def test_contacts_and_coils(library_id: str, pins: str, ends: dict[str, tuple[str, ...]], path: str | None) -> None:
    """Ends by EN 50005 (11-14, 13-14, 1-2, A1-A2), DIN 72552 (30, 87, 85, 86) and names."""
    found = stock(library_id, pins)
    assert (found.role, dict(found.pins), found.fields.get("Path")) == ("contactor", ends, path)
    assert ("Body diode" in found.fields) == ("MOS" in library_id)


@pytest.mark.parametrize(
    ("library_id", "pins", "role", "ends"),
    [
        ("Jumper:Jumper_3_Bridged12", "1:A 2:C 3:B", "switch", {"1": ("2",), "2": ("1",)}),
        ("Jumper:SolderJumper_3_Bridged123", "1:A 2:C 3:B", "splice", {}),
        ("Switch:SW_SPDT", "2:B 1:A 3:C", "switch", {"1": ("2",), "2": ("1",)}),
        ("Switch:SW_Push_LED", "1:1 3:K 2:2 4:A", "switch", {"1": ("1",), "2": ("2",)}),
        ("Switch:SW_Push_Shielded", "1:1 2:2 SH:B", "switch", {"1": ("1",), "2": ("2",)}),
        ("Switch:SW_Rotary_1x12", "13 1 2 3 4 5 6 7 8 9 10 11 12", None, {}),
        ("Device:CircuitBreaker_2P", "1 2 3 4", None, {}),
        ("Device:R_Network04", "1:common 2:R1 3:R2 4:R3 5:R4", None, {}),
        ("Device:ElectromagneticActor", "1:- 2:+", "load", {}),
        ("Device:Battery_Cell", "1:+ 2:-", "battery", {}),
        ("Device:Solar_Cells", "1:+ 2:-", "solar", {}),
        ("Sensor_Current:HX02-P", "1:VCC 2:GND 3:OUT 4:VREF", None, {}),
        ("Sensor_Current:ACS712", "1:IP+ 2:IP+ 3:IP- 4:IP- 5:GND", "switch", {"1": ("IP+",), "2": ("IP-",)}),
        ("Diode:BAT54S", "1:A 3:COM 2:K", None, {}),
        ("Diode:SMAJ5.0A", "1:A1 2:A2", "ignore", {}),
        ("Converter_DCDC:TMA-0505D", "1:+Vin 2:-Vin 6:+Vout 5:Com 4:-Vout", None, {}),
        ("Transformer:TRANSF1", "1 2 3 4", None, {}),
    ],
)  # fmt: skip
def test_no_end_is_guessed_by_a_number_that_says_nothing(
    library_id: str, pins: str, role: str | None, ends: dict[str, tuple[str, ...]]
) -> None:
    found = stock(library_id, pins, "T1" if library_id.startswith("Transformer") else "U1")
    assert (found.role, dict(found.pins)) == (role, ends)


@pytest.mark.parametrize(
    ("text", "found"), [("12V 7Ah", "7 Ah"), ("3.7V 2600mAh", "2.6 Ah"), ("12V", None), ("5Ah or 7Ah", None)]
)
def test_capacities(text: str, found: str | None) -> None:
    assert capacity_in(text) == found


@pytest.mark.parametrize(
    ("text", "found"), [("C6", "6 A"), ("MCB B10", "10 A"), ("C6 230V", "6 A"), ("D 12V", None), ("2P", None)]
)
def test_breakers_by_their_characteristic(text: str, found: str | None) -> None:
    """IEC 60898-1: the characteristic's letter stands before the rated current."""
    assert by_characteristic(text) == found


def test_a_type_is_no_quantity(tmp_path: Path) -> None:
    """``DRV8871`` as a load's value is its name; ``12 V, 5A`` is meant as something."""
    habit = Habit(
        "types",
        (
            part("BT1 Device:Battery [12 V] B+ GND", "battery"),
            part("U1 Own:Camera [CAM8871] B+ GND", "load"),
            part("U2 Own:Camera [CAM ca. 5 A] B+ GND", "load"),
        ),
        "",
    )
    root = habit.write(tmp_path)
    prepare(root, ask=lambda _: "")
    results = analyse_file(root)
    missing = {f.subject.reference for f in results.findings if f.rule == "load-missing"}
    assert missing == {"U1"}


def test_a_relay_is_its_contact_and_its_coil(tmp_path: Path) -> None:
    """The power goes through the contact; the coil takes what it says; the spare contact takes no part."""
    habit = Habit(
        "relay",
        (
            part("BT1 Device:Battery [12 V] B+ GND", "battery"),
            part("K1 Relay:Relay_SPDT [Relay] B+ GND B+ - OUT", "contactor"),
            part("R1 Device:R [2.4 Ω] OUT GND", "load"),
        ),
        "",
    )
    root = habit.write(tmp_path)
    prepare(root, ask=lambda question: "5 W" if question.startswith("What is taken by the coil") else "")
    results = analyse_file(root)
    assert {load.id: load.demand for load in results.loads if load.id.startswith("K1")} == {"K1.COIL": "5 W"}
    assert all(load.current_a is not None and load.current_a > 4 for load in results.loads if load.id == "R1")
    assert not [f for f in results.findings if f.rule in ("pin-clash", "load-unfed", "dead-end")]
