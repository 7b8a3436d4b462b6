"""Settings that fit real drawings: parts, rules with pins and fields, the class Default, patterns, joints,
guesses."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from drawings import build, drawing, net, rules, symbol

from loadloom.graph.model.harness import Harness
from loadloom.plugin.drawing import Symbol
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.settings_file import read_settings
from loadloom.plugin.what_if import try_changes


@pytest.fixture
def read(tmp_path: Path):  # type: ignore[no-untyped-def]
    def settings(text: str) -> DrawingSettings:
        (tmp_path / "loadloom.toml").write_text(text, encoding="utf-8")
        return read_settings(tmp_path / "loadloom.toml")[1]

    return settings


def messages(harness: Harness, rule: str) -> list[str]:
    return [finding.message for finding in harness.findings if finding.rule == rule]


PARTS = """
[part.BT1]
role = "output"
pins = { "+" = "2", "-" = "1" }
voltage = "24 V"
limit = "40 A"
trip = "none"
"""


def test_a_part_by_the_settings_alone(read) -> None:  # type: ignore[no-untyped-def]
    """The pins are those that the settings name, whatever they are called: here + stands on the pin named -."""
    battery = symbol("BT1", pins="1:+ 2:-", value="Cell")
    harness = build([battery], [net("BT1.1", "A"), net("BT1.2", "B")], drawing_settings=read(PARTS))
    (output,) = harness.outputs
    assert (output.node_plus, output.node_minus) == ("B", "A")
    assert (output.voltage_v, output.limit_a, output.never_trips) == (24.0, 40.0, True)
    assert "role-missing" not in rules(harness)


def test_settings_of_a_part_stand_before_its_fields_and_say_so(read) -> None:  # type: ignore[no-untyped-def]
    lamp = symbol("L1", "load", Load="5 A", value="lamp")
    harness = build([lamp], [], drawing_settings=read('[part.L1]\nload = "7 A"\n"Load@idle" = "1 A"'))
    (load,) = harness.loads
    assert load.demand == 7.0 and load.under("idle").demand == 1.0
    assert any("L1.Load is “7 A” by the settings" in text and "“5 A”" in text for text in harness.assumptions)


def test_a_role_of_a_part_stands_before_the_drawing(read) -> None:  # type: ignore[no-untyped-def]
    harness = build(
        [symbol("F1", "load", Load="5 A", Rating="10 A")], [], drawing_settings=read('[part.F1]\nrole = "fuse"')
    )
    assert [d.id for d in harness.devices] == ["F1"] and not harness.loads


def test_patterns_of_parts_the_longest_first(read) -> None:  # type: ignore[no-untyped-def]
    text = '[part."L*"]\nrole = "load"\nload = "1 A"\n[part."L1?"]\nload = "2 A"\nrole = "load"\n'
    text += '[part.L11]\nrole = "ignore"'
    harness = build([symbol(r, value="x") for r in ("L2", "L10", "L11", "L100")], [], drawing_settings=read(text))
    assert {load.id: load.demand for load in harness.loads} == {"L2": 1.0, "L10": 2.0, "L100": 1.0}


def test_what_if_stands_before_the_settings_of_a_part(read) -> None:  # type: ignore[no-untyped-def]
    settings = read('[part.L1]\nload = "7 A"')
    drawn = drawing([symbol("L1", "load", Load="5 A")], [])
    tried = try_changes(["L1.Load=9 A"], drawn, settings)
    (load,) = build(list(tried.drawing.symbols), [], drawing_settings=tried.settings).loads
    assert load.demand == 9.0 and tried.changes[0].drawn == "7 A"


CONTACTOR = "A1 A2 1 2 13 14"


def contactor(read, rule: str) -> Harness:  # type: ignore[no-untyped-def]
    symbols = [
        symbol("K1", pins=CONTACTOR, library_id="Own:Contactor", Rating="50 A"),
        symbol("F1", "fuse", Rating="10 A"),
        symbol("L1", "load", Load="1 A"),
    ]
    nets = [net("F1.2 K1.1 K1.A1", "A"), net("K1.2 L1.1", "B"), net("K1.14 L1.2 K1.A2", "C")]
    return build(symbols, nets, drawing_settings=read(f'[role.library]\n"Own:*" = {{ role = "switch", {rule} }}'))


def test_the_power_pins_of_a_part_with_many(read) -> None:  # type: ignore[no-untyped-def]
    harness = contactor(read, 'pins = { 1 = "1", 2 = "2" }')
    (switch,) = harness.switches
    assert (switch.node_a, switch.node_b) == ("A", "B")
    assert "pin-clash" not in rules(harness)
    assert "Of K1 only the pins 1 and 2 take part, as the settings say" in " ".join(harness.assumptions)
    other = contactor(read, 'pins = { 1 = "13", 2 = ["14"] }').switches[0]
    assert (other.node_a, other.node_b) == ("@K1.13", "C")


@pytest.mark.parametrize(
    ("pins", "why"),
    [
        ('{ 1 = "1", 3 = "2" }', "has no end 3, to which the settings give pins; the role switch has 1 and 2"),
        ('{ 1 = "1", 2 = "21" }', "has no pin 21, which the settings name; it has "),
    ],
)
def test_pins_that_are_not_there(read, pins: str, why: str) -> None:  # type: ignore[no-untyped-def]
    harness = contactor(read, f"pins = {pins}")
    assert not harness.switches
    assert why in messages(harness, "pin-clash")[0]


def test_pins_by_name(read) -> None:  # type: ignore[no-untyped-def]
    transistor = symbol("Q1", pins="1:G 2:D 3:S", library_id="Transistor_FET:X", Rating="5 A")
    settings = read('[role.library]\n"Transistor_FET:*" = { role = "switch", pins = { 1 = "D", 2 = "S" } }')
    (switch,) = build([transistor], [net("Q1.2", "A"), net("Q1.3", "B")], drawing_settings=settings).switches
    assert (switch.node_a, switch.node_b) == ("A", "B")


def test_cores_by_pins_of_the_settings(read) -> None:  # type: ignore[no-untyped-def]
    cable = symbol("C1", pins="1 2 3 4", Gauge="1.5 mm²", Length="2 m")
    settings = read('[part.C1]\nrole = "cable"\npins = { 1A = "1", 1B = "2", 2A = "3", 2B = "4" }')
    harness = build([cable], [net("C1.1", "A"), net("C1.2", "B"), net("C1.4", "D")], drawing_settings=settings)
    assert [(c.id, c.node_a, c.node_b) for c in harness.conductors] == [("C1.1", "A", "B"), ("C1.2", "@C1.3", "D")]


def test_fields_of_a_rule_stand_in_for_what_the_drawing_lacks(read) -> None:  # type: ignore[no-untyped-def]
    settings = read(
        '[role.library]\n"Device:Fuse*" = { role = "fuse", voltage_rating = "32 V", breaking_capacity = "1 kA" }'
    )
    fuses = [
        symbol("F1", library_id="Device:Fuse", value="10 A", fields={"Voltage rating": "58 V"}),
        symbol("F2", library_id="Device:Fuse", value="10 A", library_fields={"Voltage rating": ""}),
    ]
    harness = build(fuses, [], drawing_settings=settings)
    assert [(d.voltage_rating_v, d.breaking_capacity_a) for d in harness.devices] == [
        (58.0, 1000.0),
        (32.0, 1000.0),
    ]


def test_whole_references_and_letters(read) -> None:  # type: ignore[no-untyped-def]
    settings = read(
        '[role.reference]\nJ = "connector"\nJ7 = "load"\n"J1?" = "ignore"\n[role.library]\n"X:*" = "fuse"'
    )
    parts = [
        symbol(r, library_id=lib, value="1 A")
        for r, lib in (("J1", ""), ("J7", "X:a"), ("J12", "X:a"), ("F1", "X:a"))
    ]
    harness = build(parts, [], drawing_settings=settings)
    assert [c.id for c in harness.connectors] == []  # J1 has no mate and stands on no net.
    assert [load.id for load in harness.loads] == ["J7"] and [d.id for d in harness.devices] == ["F1"]
    assert "role-missing" not in rules(harness)


# Nets


def two(first: str, second: str) -> list[Symbol]:
    return [symbol(first, "fuse", Rating="10 A"), symbol(second, "load", Load="1 A")]


def test_the_class_default_as_a_wire_class(read) -> None:  # type: ignore[no-untyped-def]
    settings = read('[wire_class.Default]\ngauge = "2.5 mm²"\nlength = "3 m"')
    nets = [net("F1.2 L1.1", "FEED"), net("F1.1 L1.2", "OTHER", classes="Signal")]
    harness = build(two("F1", "L1"), nets, drawing_settings=settings)
    assert [(c.id, str(c.gauge), c.length_m) for c in harness.conductors] == [("FEED", "2.5 mm²", 3.0)]
    assert any("“Signal” is no wire class" in text for text in messages(harness, "name-unknown"))
    unused = build(two("F1", "L1"), [nets[1]], drawing_settings=settings)
    assert "the nearest is Signal" in messages(unused, "settings-unused")[0]


def test_patterns_of_nets(read) -> None:  # type: ignore[no-untyped-def]
    text = '[wire_class.Default]\ngauge = "1 mm²"\n[net."/LED?+"]\nlength = "2 m"\n'
    text += '[net."/*"]\nlength = "5 m"\n[net."/LED1+"]\nlength = "1 m"'
    names = ["/LED1+", "/LED2+", "/PUMP[1]"]
    symbols = [s for k in range(3) for s in two(f"F{k}", f"L{k}")]
    nets = [net(f"F{k}.2 L{k}.1", name) for k, name in enumerate(names)]
    harness = build(symbols, nets, drawing_settings=read(text))
    assert {c.id: c.length_m for c in harness.conductors} == {"/LED1+": 1.0, "/LED2+": 2.0, "/PUMP[1]": 5.0}
    assert "settings-unused" not in rules(harness)
    odd = build(symbols, nets, drawing_settings=read(text.replace('"/*"', '"/PUMP[2]"')))
    assert "the nearest is /PUMP[1]" in messages(odd, "settings-unused")[0]


def test_a_stated_joint_is_no_finding(read) -> None:  # type: ignore[no-untyped-def]
    symbols = [
        symbol("PS1", "output", Voltage="12 V", Limit="5 A"),
        symbol("L1", "load", Load="1 A"),
        symbol("L2", "load", Load="1 A"),
    ]
    nets = [net("PS1.1 L1.1 L2.1", "+12V", power_symbol=True), net("PS1.2 L1.2 L2.2", "GND", power_symbol=True)]
    assert len(messages(build(symbols, nets), "conductor-not-drawn")) == 2
    harness = build(symbols, nets, drawing_settings=read('[net."+12V"]\njoint = true\n[net.GND]\njoint = true'))
    assert messages(harness, "conductor-not-drawn") == []
    assert sum("is one joint, as is stated" in text for text in harness.assumptions) == 2
    connectors = [symbol(r, "connector", pins="1") for r in ("J1", "J2", "J3")]
    bare = [net("J1.1 J2.1 J3.1", "X", classes="Power")]
    assert "net-ambiguous" in rules(build(connectors, bare))
    told = build(connectors, bare, drawing_settings=read("[net.X]\njoint = true"))
    assert "net-ambiguous" not in rules(told) and not any("wire class" in text for text in told.assumptions)


# What matches nothing, and guesses


def test_a_rule_that_matches_nothing_is_told_with_the_nearest(read) -> None:  # type: ignore[no-untyped-def]
    fuse = symbol("F1", "fuse", library_id="Device:Fuse", Rating="10 A")
    settings = read('[part.F11]\nrole = "load"\n[role.library]\n"Device:Fuze" = "fuse"\n"Motor:*" = "load"')
    harness = build([fuse], [], drawing_settings=settings)
    told = {
        f.subject.id: (f.rule, f.message.rpartition("; ")[2]) for f in harness.findings if "rule for" in f.message
    }
    assert told == {
        "F11": ("settings-unused", "the nearest is F1."),
        "Device:Fuze": ("settings-unused", "the nearest is Device:Fuse."),
        "Motor:*": ("role-rule-unused", "the nearest is Device:Fuse."),
    }


def test_a_guess_is_an_assumption_and_told_by_group(read) -> None:  # type: ignore[no-untyped-def]
    settings = read('[role.library]\n"Device:R" = { role = "load", confirmed = false }')
    resistors = [symbol(f"R{k}", library_id="Device:R", Load="1 A") for k in range(1, 9)]
    harness = build(resistors, [], drawing_settings=settings)
    (message,) = messages(harness, "role-guessed")
    assert message == "R1 to R8 (Device:R) count as load by a guess that nobody has confirmed."
    assert message in harness.assumptions
    from loadloom.graph.verdict.registry import all_rules

    assert all_rules()["role-guessed"].rule.incomplete


def test_symbols_without_a_role_are_told_by_group(read) -> None:  # type: ignore[no-untyped-def]
    symbols = [replace(symbol(f"R{k}"), library_id="Device:R") for k in range(1, 119)] + [
        symbol("X1", library_id="Own:Odd")
    ]
    told = messages(build(symbols, []), "role-missing")
    assert told == [
        "118 × Device:R (R1, R2, R3, R4, R5 and 113 more) have no role and are left out. Most likely each is a "
        "resistor: the library symbol is R.",
        "X1 (Own:Odd) has no role and is left out. Most likely it is a connector: the reference begins with X.",
    ]


@pytest.mark.parametrize(
    ("text", "line", "why"),
    [
        ('[part.J1]\nratng = "9 A"', 2, "nearest known one is rating"),
        ('[part.J1]\nrole = "plug"', 2, "it is not known"),
        ('[part.J1]\nrole = "connector"\npins = { 1 = "2" }', 3, "a connector has no ends"),
        ('[role.library]\n"A:*" = { pins = { 1 = "2" } }', 2, "needs a role"),
        ('[part.J1]\nload = 5', 2, "unit"),
        ('[part.J1]\npins = { 1 = 2 }', 2, "in quotes|not a text"),
    ],
)  # fmt: skip
def test_what_is_no_setting_of_a_part(read, text: str, line: int, why: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(UnusableError, match=why) as caught:
        read(text)
    assert caught.value.line == line
