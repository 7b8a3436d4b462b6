"""Nets as wires: which nets are wires, what they are called, and what can't be told."""

import pytest
from drawings import build, net, rules, symbol

from loadloom.graph.model.elements import Band, ConductorKind
from loadloom.graph.model.harness import Harness
from loadloom.plugin.drawing import Net, Symbol
from loadloom.plugin.drawing_settings import DrawingSettings, NetValues, WireValues
from loadloom.plugin.values import gauge

FEED = WireValues(gauge=gauge("2.5 mm²"), length_m=2.0, insulation="PVC", bundle="A", zone="DOME")
SENSE = WireValues(gauge=gauge("22 AWG"))
CLASSES = {"Feed": FEED, "Sense": SENSE}


def boards(*numbers: int) -> list[Symbol]:
    """Mated pairs J<n> (cable side) and B<n> (board side), two pins each."""
    made = []
    for n in numbers:
        made += [symbol(f"J{n}", "connector", pins=2, Mates=f"B{n}", Contact_rating="9 A")]
        made += [symbol(f"B{n}", "connector", pins=2)]
    return made


def read(symbols: list[Symbol], nets: list[Net], /, **settings) -> Harness:
    unused = [net("U1.1", classes=name) for name in settings.get("wire_classes", CLASSES)]
    return build(
        symbols, [*nets, *unused], drawing_settings=DrawingSettings(**{"wire_classes": CLASSES, **settings})
    )


def nodes(harness: Harness) -> dict[str, tuple[str, str]]:
    return {c.id: (c.node_a, c.node_b) for c in harness.conductors}


def found(harness: Harness, *left_out: str) -> list[str]:
    """Rules of the findings, without those on the names in ``FEED``, which have a test of their own."""
    left = ("dead-end", "name-used-once", "name-unknown", *left_out)
    return [name for name in rules(harness) if name not in left]


def test_a_line_between_two_connector_pins_is_a_wire() -> None:
    harness = read(boards(1, 2), [net("J2.1 J1.1", classes="Feed"), net("J1.2 J2.2", "/RETURN", "Feed")])
    assert found(harness) == []
    assert nodes(harness) == {"J1.1-J2.1": ("J1.1", "J2.1"), "/RETURN": ("J1.2", "J2.2")}
    wire = harness.conductors[1]
    assert wire.kind is ConductorKind.NET
    assert (str(wire.gauge), wire.length_m, wire.length_assumed) == ("2.5 mm²", 2.0, False)
    assert (wire.insulation, wire.bundle, wire.zone) == ("PVC", "A", "DOME")
    assert {c.id: c.node_a for c in harness.contacts}["J1.2"] == "J1.2"


def test_without_a_class_it_is_a_wire_of_unknown_gauge() -> None:
    harness = read(boards(1, 2), [net("J1.1 J2.1")])
    assert found(harness) == ["length-assumed", "length-missing", "gauge-missing"]
    wire = harness.conductors[0]
    assert (wire.gauge, wire.resistance_ohm) == (None, Band.exact(10e-3))
    assert wire.placeholders == {"gauge", "length_m", "resistance_ohm"}


def test_the_default_length_is_reported_as_assumed() -> None:
    harness = read(boards(1, 2), [net("J1.1 J2.1", classes="Sense")], default_length_m=0.4)
    assert found(harness) == ["length-assumed"]
    wire = harness.conductors[0]
    assert (wire.length_m, wire.length_assumed, wire.placeholders) == (0.4, True, frozenset())
    built_in = read(boards(1, 2), [net("J1.1 J2.1", classes="Sense")]).conductors[0]
    assert (built_in.length_m, built_in.length_assumed, built_in.placeholders) == (1.0, True, {"length_m"})


def test_a_net_of_a_wire_class_is_a_wire_between_any_two_pins() -> None:
    fuse = symbol("F1", "fuse", Rating="5 A")
    assert list(nodes(read([*boards(1), fuse], [net("J1.1 F1.1", classes="Feed")]))) == ["F1.1-J1.1"]
    assert list(nodes(read([*boards(1), fuse], [net("J1.1 F1.1", classes="Other")]))) == []


def test_a_net_that_holds_a_drawn_wire_is_a_joint() -> None:
    wire = symbol("W1", "wire", Gauge="18 AWG", Length="1 m")
    harness = read([*boards(1), wire], [net("J1.1 W1.1", "/A", classes="Feed")])
    assert nodes(harness) == {"W1": ("/A", "@W1.2")}
    assert {c.id: c.node_a for c in harness.contacts}["J1.1"] == "/A"


def test_ignored_pins_do_not_count() -> None:
    harness = read([*boards(1, 2), symbol("TP1", "ignore", pins=1)], [net("J1.1 TP1.1 J2.1", classes="Feed")])
    assert list(nodes(harness)) == ["J1.1-J2.1"]


def test_the_settings_of_a_net_stand_before_its_class() -> None:
    own = NetValues(WireValues(gauge=gauge("16 AWG"), own_rating_a=12.0), lengths_m={"J2.1-J1.1": 0.7})
    for name in ("/X", "X", "J1.1-J2.1"):
        harness = read(boards(1, 2), [net("J1.1 J2.1", "/X", "Feed")], nets={name: own})
        wire = harness.conductors[0]
        assert (str(wire.gauge), wire.own_rating_a, wire.length_m, wire.bundle) == ("16 AWG", 12.0, 0.7, "A")
        assert found(harness) == []


def test_settings_of_a_net_that_is_not_drawn() -> None:
    harness = read(boards(1, 2), [net("J1.1 J2.1", "/X", "Feed")], nets={"/Y": NetValues()})
    assert found(harness) == ["settings-unused"]


def test_a_net_can_be_declared_a_joint() -> None:
    harness = read(boards(1, 2), [net("J1.1 J2.1", "/X")], nets={"/X": NetValues(joint=True)})
    assert nodes(harness) == {}
    assert {c.node_a for c in harness.contacts if c.pin == "1"} == {"/X"}


def test_classes_that_give_different_gauges() -> None:
    harness = read(boards(1, 2), [net("J1.1 J2.1", "/X", "Feed Sense Other")])
    assert found(harness) == ["net-class-clash"]
    assert "2.5 mm² and 22 AWG" in harness.findings[0].message
    wire = harness.conductors[0]
    assert (wire.gauge, wire.placeholders) == (None, {"gauge", "resistance_ohm"})
    settled = read(
        boards(1, 2), [net("J1.1 J2.1", "/X", "Feed Sense")], nets={"/X": NetValues(WireValues(gauge("18 AWG")))}
    )
    assert found(settled) == []


def test_two_wires_of_one_class_each() -> None:
    same = {"Feed": FEED, "Also": WireValues(gauge=FEED.gauge)}
    harness = read(boards(1, 2), [net("J1.1 J2.1", "/X", "Feed Also")], wire_classes=same)
    assert found(harness) == []


@pytest.mark.parametrize(
    ("star", "expected"),
    [
        (True, {"/BUS#J1.1-J2.1": ("J1.1", "J2.1"), "/BUS#J1.1-J10.1": ("J1.1", "J10.1")}),
        (False, {"/BUS#J1.1-J2.1": ("J1.1", "J2.1"), "/BUS#J2.1-J10.1": ("J2.1", "J10.1")}),
    ],
)
def test_more_than_two_pins_of_a_wire_class(star: bool, expected: dict[str, tuple[str, str]]) -> None:
    nets = [net("J10.1 J2.1 J1.1", "/BUS", "Feed")]
    harness = read(boards(1, 2, 10), nets, star=star)
    assert nodes(harness) == expected
    assert found(harness) == ["net-ambiguous"]
    assert ("star around J1.1" if star else "chain J1.1 - J2.1 - J10.1") in harness.findings[0].message
    stated = read(boards(1, 2, 10), nets, nets={"/BUS": NetValues(star=star)})
    assert nodes(stated) == expected
    assert found(stated) == []
    assert any("/BUS is a" in sentence for sentence in stated.assumptions)


def test_the_order_of_a_chain_and_the_lengths_of_its_segments() -> None:
    own = NetValues(star=False, pins=("J2.1", "J1.1"), lengths_m={"J1.1-J2.1": 0.3})
    harness = read(boards(1, 2, 3), [net("J1.1 J2.1 J3.1", "/BUS", "Feed")], nets={"/BUS": own})
    assert {c.id: c.length_m for c in harness.conductors} == {"/BUS#J1.1-J3.1": 2.0, "/BUS#J2.1-J1.1": 0.3}
    wrong = NetValues(star=False, pins=("J7.1",))
    harness = read(boards(1, 2, 3), [net("J1.1 J2.1 J3.1", "/BUS", "Feed")], nets={"/BUS": wrong})
    assert found(harness) == ["settings-unused"]


def test_a_net_without_a_users_name_takes_its_ids_from_its_pins() -> None:
    harness = read(boards(1, 2, 3), [net("J3.1 J2.1 J1.1", classes="Feed")])
    assert sorted(nodes(harness)) == ["@J1.1#J1.1-J2.1", "@J1.1#J1.1-J3.1"]


def test_four_connectors_on_one_bare_net() -> None:
    harness = read(boards(1, 2, 3, 4), [net("J1.1 J2.1 J3.1 J4.1", "/BUS"), net("J1.2 J2.2 J3.2 J4.2")])
    assert found(harness) == ["net-ambiguous", "net-ambiguous"]
    assert [f.subject.id for f in harness.findings[:2]] == ["/BUS", "@J1.2"]
    assert len(harness.contacts) == 8  # contact currents can still be given: the net is read as one joint
    assert {c.node_a for c in harness.contacts if c.pin == "1"} == {"/BUS"}


def test_a_bare_joint_of_connectors_that_is_no_riddle() -> None:
    with_splice = [*boards(1, 2, 3), symbol("SP1", "splice", pins=1, Rating="20 A")]
    assert "net-ambiguous" not in rules(read(with_splice, [net("J1.1 J2.1 J3.1 SP1.1", "/BUS")]))
    one_connector = symbol("B9", "connector", pins=3)
    assert "net-ambiguous" not in rules(read([one_connector], [net("B9.1 B9.2 B9.3", "/BUS")]))


def test_a_wire_class_on_a_joint_with_drawn_wires() -> None:
    wire = symbol("W1", "wire", Gauge="18 AWG", Length="1 m")
    harness = read([*boards(1, 2), wire], [net("J1.1 J2.1 W1.1", "/BUS", "Feed")])
    assert found(harness) == ["net-ambiguous"]
    assert list(nodes(harness)) == ["W1"]


def test_a_line_between_mated_pins_is_no_conductor() -> None:
    harness = read(boards(1), [net("J1.1 B1.1")])
    assert found(harness) == ["net-ambiguous"]
    assert harness.conductors == ()
    assert {c.id: (c.node_a, c.node_b) for c in harness.contacts}["J1.1"] == ("J1.1", "B1.1")


def test_a_net_called_like_a_symbol_gets_an_id_of_its_own() -> None:
    harness = read(boards(1, 2), [net("J1.1 J2.1", "B1", "Feed")])
    assert list(nodes(harness)) == ["B1#J1.1-J2.1"]
    assert len(harness.by_id) == len(harness.conductors) + len(harness.contacts)


def test_a_wire_net_that_ends_at_a_splice() -> None:
    splice = symbol("SP1", "splice", pins=2, Rating="20 A")
    harness = read([*boards(1, 2), splice], [net("J1.1 SP1.1", classes="Feed"), net("SP1.2 J2.1", classes="Feed")])
    first, second = harness.conductors
    assert first.node_b == second.node_b == harness.splices[0].node


def test_both_styles_on_one_drawing() -> None:
    parts = [
        *boards(1, 2),
        symbol("PS1", "output", Voltage="12 V", Limit="10 A", Trip="12 A", Tolerance="1 %"),
        symbol("LD1", "load", Load="3 A"),
        symbol("W1", "wire", Gauge="18 AWG", Length="1 m"),
    ]
    nets = [
        net("PS1.1 B1.1"),
        net("PS1.2 B1.2"),
        net("J1.1 J2.1", classes="Feed"),
        net("J1.2 J2.2", classes="Feed"),
        net("B2.1 LD1.1"),
        net("B2.2 W1.1"),
        net("W1.2 LD1.2"),
    ]
    harness = read(parts, nets)
    assert found(harness) == []
    assert sorted(nodes(harness)) == ["J1.1-J2.1", "J1.2-J2.2", "W1"]
    assert len(harness.contacts) == 4


def test_wire_classes_that_no_net_has_and_classes_that_are_not_described() -> None:
    fuse = symbol("F1", "fuse", Rating="5 A")
    harness = build(
        [*boards(1), fuse],
        [net("J1.1 F1.1", classes="Feeed")],
        drawing_settings=DrawingSettings(wire_classes={"Feed": FEED}),
    )
    assert found(harness) == ["settings-unused"]
    (unknown,) = (f for f in harness.findings if f.rule == "name-unknown")
    assert unknown.subject.id == "@F1.1"
    assert "net class “Feeed” is no wire class of the settings" in unknown.message
    assert "the nearest is Feed." in unknown.message
