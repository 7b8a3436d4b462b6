"""Connectors: mates, contacts, lone terminals, repeated sheets, rows."""

import pytest
from drawings import build, net, rules, symbol

from loadloom.graph.model.elements import Band
from loadloom.graph.model.harness import Harness
from loadloom.plugin.building.connectors import read_rows
from loadloom.plugin.drawing import Symbol
from loadloom.plugin.values import UnreadableValue


def wire(reference: str) -> Symbol:
    return symbol(reference, "wire", Gauge="18 AWG", Length="1 m")


def plug(reference: str, pins: int | str = 2, **fields: str) -> Symbol:
    return symbol(reference, "connector", pins=pins, **fields)


def fuse(reference: str) -> Symbol:
    return symbol(reference, "fuse", Rating="5 A")


def contact_nodes(harness: Harness) -> dict[str, tuple[str, str]]:
    return {c.id: (c.node_a, c.node_b) for c in harness.contacts}


def mismatches(harness: Harness) -> list[str]:
    return [f.message for f in harness.findings if f.rule == "mate-mismatch"]


def test_a_mated_pair_is_named_by_the_half_that_names() -> None:
    harness = build(
        [
            plug(
                "P4",
                Mates="J1",
                Contact="a",
                Contact_rating="9 A",
                Contact_resistance="1.5…10 mΩ",
                Zone="BOX",
            ),
            plug("J1"),
            wire("W1"),
            fuse("F1"),
        ],
        [net("W1.2 P4.1"), net("J1.1 F1.1")],
    )
    assert contact_nodes(harness) == {"P4.1": ("@P4.1", "@F1.1"), "P4.2": ("@P4.2", "@J1.2")}
    contact = harness.contacts[0]
    assert (contact.connector, contact.pin, contact.contact_type) == ("P4", "1", "a")
    assert (contact.own_rating_a, contact.resistance_ohm) == (9.0, Band(5.75e-3, 1.5e-3, 10e-3))
    assert (contact.subject.reference, contact.subject.pin, contact.zone) == ("P4", "1", "BOX")
    body = harness.connectors[0]
    assert (body.id, body.contact_ids, body.rows, body.zone) == ("P4", ("P4.1", "P4.2"), (), "BOX")


def test_contacts_stand_in_natural_order_and_stacked_pins_are_three() -> None:
    pins = "1 10 2 8 9"
    harness = build([plug("P1", pins, Mates="J1"), plug("J1", pins)], [net("P1.8 P1.9 P1.10 F1.1")])
    assert [c.id for c in harness.contacts] == ["P1.1", "P1.2", "P1.8", "P1.9", "P1.10"]
    assert {c.node_a for c in harness.contacts[2:]} == {"@F1.1"}


def test_both_halves_may_name_each_other() -> None:
    harness = build([plug("P1", Mates="J1"), plug("J1", Mates="P1")], [])
    assert list(contact_nodes(harness)) == ["J1.1", "J1.2"]
    assert mismatches(harness) == []
    harness = build([plug("P10", Mates="P9"), plug("P9", Mates="P10")], [])
    assert list(contact_nodes(harness)) == ["P9.1", "P9.2"]


@pytest.mark.parametrize(
    ("symbols", "says"),
    [
        ([plug("P1", Mates="J9")], "J9, which is not drawn or has no role"),
        ([plug("P1", Mates="P1")], "itself"),
        ([plug("P1", Mates="F1"), fuse("F1")], "which is a fuse"),
        ([plug("P1", Mates="J1"), symbol("J1", "ignore")], "is not drawn or has no role"),
    ],
)
def test_a_mate_that_is_none(symbols: list[Symbol], says: str) -> None:
    harness = build(symbols, [net("W1.2 P1.1 F1.1")])
    assert says in mismatches(harness)[0]
    assert harness.contacts == ()
    finding = next(f for f in harness.findings if f.rule == "mate-mismatch")
    assert (finding.subject.reference, finding.subject.field) == ("P1", "Mates")


def test_a_mate_claimed_twice_is_no_mate() -> None:
    harness = build([plug("P1", Mates="J1"), plug("P2", Mates="J1"), plug("J1")], [])
    assert len(mismatches(harness)) == 2
    assert "P1 and P2" in mismatches(harness)[0]
    assert harness.contacts == ()
    chain = build([plug("P1", Mates="J1"), plug("J1", Mates="K1"), plug("K1")], [])
    assert len(mismatches(chain)) == 2
    assert chain.contacts == ()


def test_other_pins_are_a_mismatch_and_the_common_ones_are_joined() -> None:
    harness = build([plug("P1", "1 2 3", Mates="J1"), plug("J1", "1 2 4 5")], [])
    assert mismatches(harness) == [
        "P1 mates J1, but P1 has pin 3 that J1 lacks and J1 has pins 4 and 5 that P1 lacks; "
        "only the pins of both are joined."
    ]
    assert list(contact_nodes(harness)) == ["P1.1", "P1.2"]


def test_a_mate_on_a_repeated_sheet_is_the_one_on_the_same_sheet() -> None:
    """``Mates`` is one text for all instances of a sheet, whatever the references there."""

    def sheet(path: str, number: int) -> list[Symbol]:
        return [
            plug(f"P{number}", Mates="J11", sheet=path, uuid="uuid-of-P"),
            plug(f"J{number}", sheet=path, uuid="uuid-of-J"),
        ]

    harness = build([*sheet("/A/", 11), *sheet("/B/", 21), *sheet("/C/", 31)], [])
    assert mismatches(harness) == []
    assert contact_nodes(harness)["P11.1"] == ("@P11.1", "@J11.1")
    assert contact_nodes(harness)["P21.1"] == ("@P21.1", "@J21.1")
    assert contact_nodes(harness)["P31.2"] == ("@P31.2", "@J31.2")


def test_two_instances_that_name_one_mate_on_the_root_sheet() -> None:
    halves = [plug(f"P{n}", Mates="J1", sheet=f"/{n}/", uuid="uuid-of-P") for n in (1, 2)]
    harness = build([*halves, plug("J1")], [])
    assert len(mismatches(harness)) == 2


def test_a_two_sided_symbol() -> None:
    through = symbol("X1", "through", pins="1A 2A 1B 2B", fields={"Contact": "a", "Contact.2": "b", "Rows": "1"})
    harness = build([through, wire("W1"), wire("W2")], [net("W1.2 X1.1A"), net("X1.1B W2.1")])
    assert contact_nodes(harness) == {"X1.1": ("@W1.2", "@W2.1"), "X1.2": ("@X1.2A", "@X1.2B")}
    assert [c.contact_type for c in harness.contacts] == ["a", "b"]
    assert harness.connectors[0].rows == (("X1.1", "X1.2"),)


def test_a_lone_terminal_is_in_series_with_its_wire() -> None:
    harness = build(
        [plug("T1", 1, Contact_rating="9 A"), wire("W1"), wire("W2"), fuse("F1")],
        [net("W2.1 W1.1", "/A"), net("W1.2 T1.1 F1.1", "/B"), net("F1.2 W2.2")],
    )
    assert rules(harness) == []
    assert contact_nodes(harness) == {"T1.1": ("T1.1", "/B")}
    assert harness.conductors[0].node_b == "T1.1"
    assert harness.devices[0].node_a == "/B"
    assert harness.contacts[0].own_rating_a == 9.0
    assert harness.connectors[0].id == "T1"


@pytest.mark.parametrize(
    "pins", ["W1.2 W2.1 T1.1 F1.1", "W1.2 T1.1", "T1.1 F1.1", "W1.2 T1.1 T1.2 F1.1", "W1.2 W2.1 T1.1"]
)
def test_a_lone_contact_that_can_not_be_placed(pins: str) -> None:
    harness = build([plug("T1"), wire("W1"), wire("W2"), fuse("F1")], [net(pins)])
    assert harness.contacts == ()
    assert "contact-not-placed" in rules(harness)


def test_a_lone_connector_with_nothing_on_it_is_no_finding() -> None:
    assert rules(build([plug("T1", 6)], [net("T1.1"), net("T1.2")])) == []


def test_a_half_that_is_not_fitted_opens_its_contacts() -> None:
    harness = build([plug("P1", Mates="J1"), symbol("J1", "connector", pins=2, dnp=True)], [])
    assert [c.fitted for c in harness.contacts] == [False, False]


def test_fields_of_one_pin() -> None:
    harness = build(
        [
            plug("P1", 3, fields={"Mates": "J1", "Contact": "a", "Contact.2": "b", "Contact rating.3@hot": "4 A"}),
            plug("J1", 3, fields={"Contact rating.1": "7 A", "Contact resistance.1@hot": "9 mΩ"}),
        ],
        [],
    )
    assert [c.contact_type for c in harness.contacts] == ["a", "b", "a"]
    assert [c.own_rating_a for c in harness.contacts] == [7.0, None, None]
    assert [c.under("hot").own_rating_a for c in harness.contacts] == [7.0, None, 4.0]
    assert harness.contacts[0].under("hot").resistance_ohm == Band.exact(9e-3)
    assert harness.arrangements() == ("hot",)


def test_fields_of_a_pin_that_is_not_there() -> None:
    harness = build([plug("P1", 2, fields={"Mates": "J1", "Contact.7": "a", "Mates.1": "J2"}), plug("J1")], [])
    assert sorted(rules(harness)) == ["field-unknown", "field-unknown"]


def test_an_unreadable_contact_rating_marks_every_contact_once() -> None:
    harness = build([plug("P1", 3, Mates="J1", Contact_rating="9"), plug("J1", 3)], [])
    assert rules(harness) == ["field-unreadable"]
    assert [c.placeholders for c in harness.contacts] == [{"own_rating_a"}] * 3


def test_halves_that_contradict_each_other() -> None:
    harness = build(
        [
            plug("P1", 2, Mates="J1", Contact_rating="9 A", Contact="a", Voltage_rating="48 V"),
            plug("J1", 2, Contact_rating="7 A", Contact="a", Voltage_rating="48 V"),
        ],
        [],
    )
    assert [c.own_rating_a for c in harness.contacts] == [7.0, 7.0]
    assert rules(harness) == ["contact-clash", "contact-clash", "name-unknown"]
    assert "9 A and 7 A; 7 A counts" in harness.findings[0].message


@pytest.mark.parametrize(
    ("rating", "contradicts"), [("500 A", True), ("9.3 A", True), ("9.2 A", False), ("1 A", False)]
)
def test_a_contact_rating_above_its_family_contradicts_it(rating: str, contradicts: bool) -> None:
    """A shipped family of 9.2 A: a drawn rating counts as it stands, so one that the family lacks is told."""
    pair = [plug("P1", 1, Mates="J1", Contact_rating=rating, Contact="pitch-3.0-12"), plug("J1", 1)]
    assert ("fields-contradict" in rules(build(pair, []))) is contradicts


# rows


def test_rows_are_counted_off_or_written_out() -> None:
    six = tuple("123456")
    assert read_rows("2", six) == (("1", "2", "3"), ("4", "5", "6"))
    assert read_rows("1", six) == (six,)
    assert read_rows("1 3 5 / 2 4 6", six) == (("1", "3", "5"), ("2", "4", "6"))
    assert read_rows("1,3,5/2,4,6", six) == (("1", "3", "5"), ("2", "4", "6"))
    assert read_rows("A1 A2 / B1", ("A1", "A2", "B1")) == (("A1", "A2"), ("B1",))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("4", "evenly"),
        ("0", "evenly"),
        ("7", "evenly"),
        ("1 2 3 / 4 5 7", "names pin 7"),
        ("1 2 3 / 4 5", "leaves out pin 6"),
        ("1 2 3 / 4 5 6 6", "twice"),
        ("two", "names pin two"),
    ],
)
def test_rows_that_can_not_be_read(text: str, says: str) -> None:
    with pytest.raises(UnreadableValue, match=says):
        read_rows(text, tuple("123456"))


def test_rows_of_a_pair() -> None:
    harness = build([plug("P1", 4, Mates="J1", Rows="2"), plug("J1", 4, Rows="1 2 / 3 4")], [])
    assert harness.connectors[0].rows == (("P1.1", "P1.2"), ("P1.3", "P1.4"))
    assert rules(harness) == []
    harness = build([plug("P1", 4, Mates="J1", Rows="3"), plug("J1", 4)], [])
    assert harness.connectors[0].rows == ()
    assert rules(harness) == ["field-unreadable"]
