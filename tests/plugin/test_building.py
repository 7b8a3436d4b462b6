"""From a drawing to a harness: roles, fields, words, pins, sources, loads and what is missing."""

import pytest
from drawings import build, drawing, net, rules, symbol

from loadloom.graph.model.elements import Band, Behaviour, DeviceKind, Gauge, GaugeSystem, LoadKind, Tolerance
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Ambient, AnalysisSettings, Case
from loadloom.graph.verdict.registry import all_rules
from loadloom.plugin.building import build_harness
from loadloom.plugin.drawing import Symbol
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.roles import Role, RoleRule, RoleRules

OUTPUT = symbol("PS1", "output", Voltage="12 V", Limit="10 A", Trip="11…14 A", Tolerance="5 %", Resistance="2 mΩ")


def wire(reference: str = "W1", **fields: str) -> Symbol:
    return symbol(reference, "wire", **{"Gauge": "18 AWG", "Length": "1 m", **fields})


def loop(*parts: Symbol, output: Symbol = OUTPUT, load: Symbol | None = None, **settings) -> Harness:
    """Output, the parts in series, a load, and a wire back; every part has pins 1 and 2."""
    load = load or symbol("LD1", "load", Load="3 A")
    ends = [f"{output.reference}.1"]
    nets = []
    for part in parts:
        nets.append(net(f"{ends[-1]} {part.reference}.1"))
        ends.append(f"{part.reference}.2")
    nets += [net(f"{ends[-1]} {load.reference}.1"), net(f"{load.reference}.2 WR.1")]
    nets.append(net(f"WR.2 {output.reference}.2"))
    return build([output, *parts, load, wire("WR")], nets, **settings)


def finding(harness: Harness, rule: str):
    return next(f for f in harness.findings if f.rule == rule)


def test_a_plain_loop() -> None:
    harness = loop(wire("W1"), symbol("F1", "fuse", Rating="5 A", Resistance="10 mΩ"))
    assert rules(harness) == []
    assert [c.id for c in harness.conductors] == ["W1", "WR"]
    w1 = harness.conductors[0]
    assert (w1.node_a, w1.node_b) == ("@PS1.1", "@F1.1")
    assert (w1.gauge, w1.length_m) == (Gauge(GaugeSystem.AWG, "18", pytest.approx(0.823, rel=1e-3)), 1.0)
    fuse = harness.devices[0]
    assert (fuse.kind, fuse.rating_a, fuse.node_a, fuse.node_b) == (DeviceKind.FUSE, 5.0, "@F1.1", "@F1.2")
    output = harness.outputs[0]
    assert (output.voltage_v, output.tolerance, output.limit_a) == (12.0, Tolerance.even(0.05), 10.0)
    assert (output.trip_a, output.resistance_ohm) == (Band(12.5, 11.0, 14.0), 2e-3)
    assert harness.loads[0].demand == 3.0
    assert harness.loads[0].node_plus == "@F1.2"
    assert harness.graph.number_of_edges() == 4


# roles


def test_roles_come_from_the_symbol_then_its_library_then_the_settings() -> None:
    rules_of_settings = DrawingSettings(
        roles=RoleRules(
            by_library={"Device:*": RoleRule(Role.SWITCH), "Device:Fuse": RoleRule(Role.FUSE)},
            by_reference={"K": RoleRule(Role.SWITCH)},
            by_value={"*lamp*": RoleRule(Role.LOAD)},
        )
    )
    symbols = [
        symbol("A1", "fuse", value="1 A", library_fields={"Role": "breaker"}),
        symbol("A2", value="1 A", library_fields={"role": " Breaker "}),
        symbol("A3", value="1 A", library_id="Device:Fuse"),
        symbol("A4", library_id="Device:Other"),
        symbol("K1"),
        symbol("KA1"),
        symbol("A5", value="red lamp 2"),
    ]
    harness = build(symbols, [], drawing_settings=rules_of_settings)
    assert [(d.id, d.kind.value) for d in harness.devices] == [("A1", "fuse"), ("A2", "breaker"), ("A3", "fuse")]
    assert [s.id for s in harness.switches] == ["A4", "K1"]
    assert [load.id for load in harness.loads] == ["A5"]
    assert finding(harness, "role-missing").subject.id == "KA1"


def test_what_the_library_symbol_alone_states_is_told() -> None:
    """A rating that stands on no sheet is not seen by who signs the drawing; one that is drawn empty is none."""
    told = "W1 and W2: Rating = “40 A” counts, which the library symbol test:part states and no drawn field."
    for drawn, counts in (({}, True), ({"Rating": ""}, False), ({"Rating": "9 A"}, False)):
        library = {"Role": "wire", "Rating": "40 A", "Colour": "red"}
        library = {name: text for name, text in library.items() if name not in drawn}  # as the readers give it
        wires = [
            symbol(name, value="1 mm²", library_fields=library, fields=drawn, Length="1 m") for name in ("W1", "W2")
        ]
        harness = build(wires, [])
        assert (told in harness.assumptions) is counts
        ratings = [c.own_rating_a for c in harness.conductors]
        assert ratings == [40.0 if counts else 9.0 if drawn["Rating"] else None] * 2


def test_a_symbol_without_a_role_is_a_finding_unless_it_has_no_pins() -> None:
    harness = build([symbol("X1", library_id="Device:R"), symbol("H1", pins=0), symbol("#FLG1", pins=1)], [])
    assert [f.subject.id for f in harness.findings] == ["X1"]
    assert "Device:R" in harness.findings[0].message


def test_an_unknown_role_names_the_nearest() -> None:
    harness = build([symbol("F1", "fues")], [])
    assert rules(harness) == ["role-missing"]
    assert "nearest is fuse" in harness.findings[0].message
    assert harness.findings[0].subject.field == "Role"


def test_ignored_symbols_are_no_part_of_the_harness() -> None:
    harness = build(
        [symbol("TP1", "ignore", pins=1), wire("W1"), wire("W2")], [net("TP1.1 W1.2 W2.1"), net("TP1.2")]
    )
    assert harness.conductors[0].node_b == "@W1.2"
    assert "role-missing" not in rules(harness)


# fields and values


@pytest.mark.parametrize(
    ("fields", "field", "text"),
    [
        ({"Gauge": "16"}, "Gauge", "“16”"),
        ({"Gauge": "1.5"}, "Gauge", "“1.5”"),
        ({"Length": "350"}, "Length", "“350”"),
        ({"Length": "1,000 m"}, "Length", "“1,000 m”"),
        ({"Resistance": "-2 mΩ"}, "Resistance", "“-2 mΩ”"),
        ({"Rating": "nan A"}, "Rating", "“nan A”"),
    ],
)
def test_an_unreadable_field_names_symbol_field_and_text(fields: dict[str, str], field: str, text: str) -> None:
    harness = loop(wire("W1", **fields))
    assert rules(harness) == ["field-unreadable"]
    found = harness.findings[0]
    assert (found.subject.reference, found.subject.field) == ("W1", field)
    assert text in found.message
    assert harness.conductors[0].placeholders


def test_an_unreadable_gauge_leaves_a_stated_placeholder() -> None:
    harness = loop(wire("W1", Gauge="16"))
    w1 = harness.conductors[0]
    assert (w1.gauge, w1.resistance_ohm) == (None, Band.exact(10e-3))
    assert w1.placeholders == {"gauge", "resistance_ohm"}
    assert "10 mΩ" in harness.findings[0].message
    assert any("W1" in sentence and "10 mΩ" in sentence for sentence in harness.assumptions)


def test_a_decimal_comma_is_read() -> None:
    assert loop(wire("W1", Gauge="1,5 mm²")).conductors[0].gauge == Gauge(GaugeSystem.MM2, "1.5", 1.5)


def test_an_unreadable_load_has_no_demand() -> None:
    harness = loop(wire(), load=symbol("LD1", "load", Load="5"))
    assert rules(harness) == ["field-unreadable"]
    assert harness.loads[0].demand is None
    assert harness.loads[0].placeholders == {"demand"}


def test_main_fields_fall_back_on_the_value() -> None:
    harness = build(
        [
            symbol("W1", "wire", value="18 AWG", Length="1 m"),
            symbol("F1", "fuse", value="5 A"),
            symbol("B1", "breaker", value="6 A"),
            symbol("CH1", "limiter", value="40 A ±10 %"),
            symbol("CH2", "limiter", value="none"),
            symbol("PS1", "output", value="12 V", Limit="1 A", Trip="2 A"),
            symbol("LD1", "load", value="60 W"),
            symbol("C1", "cable", value="0.75 mm²", Length="1 m", pins="1A 1B"),
        ],
        [],
    )
    assert [str(c.gauge) for c in harness.conductors] == ["0.75 mm²", "18 AWG"]
    assert [d.setting_a for d in harness.devices] == [6.0, 40.0, None, 5.0]
    assert [d.active for d in harness.devices if d.kind is DeviceKind.LIMITER] == [True, False]
    assert harness.outputs[0].voltage_v == 12.0
    assert (harness.loads[0].demand_kind, harness.loads[0].demand) == (LoadKind.POWER, 60.0)
    assert not {"field-unreadable", "rating-missing", "gauge-missing"} & set(rules(harness))


def test_a_label_in_the_value_is_not_a_value() -> None:
    harness = build(
        [symbol("F1", "fuse", value="Fuse"), symbol("F2", "fuse", value="F20", library_id="my:F20")], []
    )
    assert [f.rule for f in harness.findings if f.rule != "dead-end"] == ["rating-missing", "rating-missing"]
    harness = build([symbol("LD1", "load", value="Pump 2")], [])
    assert "“Pump 2”" in finding(harness, "field-unreadable").message


def test_a_wire_with_rating_and_resistance_needs_no_gauge_and_no_length() -> None:
    harness = loop(symbol("W1", "wire", value="W-17 red", Rating="9 A", Resistance="7.9 mΩ"))
    assert rules(harness) == []
    w1 = harness.conductors[0]
    assert (w1.own_rating_a, w1.resistance_ohm, w1.placeholders) == (9.0, Band.exact(7.9e-3), frozenset())


def test_a_missing_gauge_or_length_is_a_finding() -> None:
    harness = loop(symbol("W1", "wire", Length="1 m"))
    assert rules(harness) == ["gauge-missing"]
    assert "allowed current and resistance" in harness.findings[0].message
    harness = loop(symbol("W1", "wire", Length="1 m", Rating="9 A"))
    assert "its resistance" in harness.findings[0].message
    harness = loop(symbol("W1", "wire", Gauge="18 AWG"))
    assert rules(harness) == ["length-missing"]
    assert harness.conductors[0].resistance_ohm == Band.exact(10e-3)


def test_the_default_length_of_the_settings_is_reported() -> None:
    harness = loop(symbol("W1", "wire", Gauge="18 AWG"), drawing_settings=DrawingSettings(default_length_m=0.35))
    assert rules(harness) == ["length-assumed"]
    assert harness.findings[0].value == 0.35
    w1 = harness.conductors[0]
    assert (w1.length_m, w1.length_assumed, w1.resistance_ohm, w1.placeholders) == (0.35, True, None, frozenset())


def test_field_names_match_without_regard_to_case() -> None:
    harness = loop(symbol("W1", "wire", fields={"GAUGE": "18 AWG", "length ": "1 m", "insulation": "PVC"}))
    assert rules(harness) == []
    assert (harness.conductors[0].length_m, harness.conductors[0].insulation) == (1.0, "PVC")


def test_terminals_material_and_layout_are_read() -> None:
    fields = {
        "Gauge": "1.5 mm²",
        "Length": "1 m",
        "Terminal": "75 °C",
        "Material": "tinned copper",
        "Layout": "Ladder",
    }
    conductor = loop(symbol("W1", "wire", fields=fields)).conductors[0]
    assert (conductor.terminal_c, conductor.material, conductor.layout) == (75.0, "tinned copper", "ladder")
    odd = loop(symbol("W1", "wire", fields={**fields, "Terminal": "75", "Layout": "heap"}))
    assert [f.subject.field for f in odd.findings if f.rule == "field-unreadable"] == ["Terminal", "Layout"]


def test_two_fields_that_differ_only_in_case_are_unreadable() -> None:
    harness = loop(symbol("W1", "wire", fields={"Gauge": "18 AWG", "gauge": "20 AWG", "Length": "1 m"}))
    assert rules(harness) == ["field-unreadable"]
    assert "only in case" in harness.findings[0].message
    assert harness.findings[0].remedy == "Keep one of gauge and Gauge."
    assert harness.conductors[0].gauge is None


def test_an_empty_field_is_as_good_as_none() -> None:
    harness = loop(symbol("W1", "wire", value="18 AWG", Gauge=" ", Length="1 m", Rating="~"))
    assert rules(harness) == []
    assert harness.conductors[0].own_rating_a is None


@pytest.mark.parametrize(
    ("fields", "rule", "says"),
    [
        ({"Lenght": "1 m"}, "field-unknown", "nearest known one is Length"),
        ({"Guage@cold": "18 AWG"}, "field-unknown", "nearest known one is Gauge"),
        ({"Rating.4": "5 A"}, "field-unknown", "no part of that number"),
        ({"Role@cold": "fuse"}, "field-unknown", "whole wire"),
        ({"Trip": "5 A"}, "field-not-read", "does not read"),
        ({"Ampacity": "3"}, "field-unknown", "a word for what a role could state"),
        ({"Max current": "3"}, "field-unknown", "a word for what a role could state"),
        ({"Order note": "5 A"}, "field-unknown", "its text is a value"),
        ({"Wire gauge": "thin"}, "field-unknown", "nearest known one is Gauge"),
        ({"Tol": "ten"}, "field-for-people", "read by no role"),
    ],
)
def test_fields_that_nothing_reads(fields: dict[str, str], rule: str, says: str) -> None:
    harness = loop(symbol("W1", "wire", fields={"Gauge": "18 AWG", "Length": "1 m", **fields}))
    assert rules(harness) == [rule]
    assert says in harness.findings[0].message


def test_other_fields_are_the_users_own() -> None:
    fields = {"Manufacturer": "none", "Part number": "17", "Colour": "red", "Notes": "x@y.z"}
    harness = loop(wire("W1", fields=fields))
    assert rules(harness) == ["field-for-people"] * 4
    assert not any(all_rules()[name].rule.incomplete for name in rules(harness))
    known = DrawingSettings(fields_for_people=("manu*", "Part  NUMBER", "Colour", "notes"))
    assert rules(loop(wire("W1", fields=fields), drawing_settings=known)) == []


def test_hostile_texts_end_as_findings() -> None:
    for text in ("=1+1", "\x00\u202e", "9" * 40_000, "<b>18 AWG</b>", "1e999 A", "𝟏𝟖 AWG", "18 AWG; DROP"):
        harness = loop(wire("W1", Gauge=text))
        assert rules(harness) == ["field-unreadable"]
        assert all(c.isprintable() for c in harness.findings[0].message)
        assert len(harness.findings[0].message) < 300


# states and arrangements


def test_words_on_loads_are_states_and_on_others_arrangements() -> None:
    load = symbol(
        "LD1", "load", fields={"Load": "3 A", "Load@surge": "9 A", "Duration@surge": "80 ms", "Load@idle": "1 W"}
    )
    limiter = symbol("CH1", "limiter", fields={"Trip": "40 A", "Trip@pooled": "none", "Resistance": "1 mΩ"})
    harness = loop(wire(), limiter, load=load)
    assert harness.states() == ("surge", "idle")
    assert harness.arrangements() == ("pooled",)
    assert [case.id for case in harness.cases(AnalysisSettings())] == [
        "nominal",
        "surge",
        "idle",
        "nominal / pooled",
        "surge / pooled",
        "idle / pooled",
    ]
    there = harness.loads[0]
    assert (there.under("surge").demand, there.under("surge").duration_s, there.duration_s) == (9.0, 0.08, None)
    assert (there.under("idle").demand_kind, there.under("idle").demand) == (LoadKind.POWER, 1.0)
    assert harness.devices[0].active
    assert not harness.devices[0].under("pooled").active
    assert harness.devices[0].under("other") == harness.devices[0]


def test_a_word_is_one_word_whatever_its_case() -> None:
    harness = build(
        [
            symbol("LD1", "load", fields={"Load": "3 A", "Load@Surge": "9 A"}),
            symbol("LD2", "load", fields={"Load": "3 A", "Load@surge": "9 A", "load@ SURGE ": "1 A"}),
        ],
        [],
    )
    assert harness.states() == ("Surge",)
    assert rules(harness) == ["field-unreadable"]


def test_cases_of_the_settings_spell_the_words() -> None:
    settings = AnalysisSettings(cases=(Case("s", "SURGE"), Case("t", "slep"), Case("u", None, "split")))
    harness = loop(
        wire(), load=symbol("LD1", "load", fields={"Load": "3 A", "Load@surge": "9 A"}), settings=settings
    )
    assert harness.loads[0].under("SURGE").demand == 9.0
    assert [f.message for f in harness.findings if f.rule == "settings-unused"] == [
        "Case t names the state slep, which no load has; the nearest is SURGE.",
        "Case u names the arrangement split, which no part has.",
    ]


def test_an_unreadable_word_marks_that_state_only() -> None:
    harness = loop(wire(), load=symbol("LD1", "load", fields={"Load": "3 A", "Load@surge": "9"}))
    assert rules(harness) == ["field-unreadable"]
    assert harness.loads[0].demand == 3.0
    assert harness.loads[0].under("surge").demand is None
    assert harness.loads[0].under("surge").placeholders == {"demand"}
    assert harness.loads[0].placeholders == frozenset()


def test_fields_of_one_core_in_one_arrangement() -> None:
    cable = symbol(
        "C1",
        "cable",
        pins="1A 2A 3A 1B 2B 3B",
        fields={
            "Gauge": "18 AWG",
            "Gauge.2": "20 AWG",
            "Length": "2 m",
            "Rating.3@cold": "9 A",
            "Rating@cold": "5 A",
        },
    )
    harness = build([cable], [])
    cores = {c.id: c for c in harness.conductors}
    assert list(cores) == ["C1.1", "C1.2", "C1.3"]
    assert [str(c.gauge) for c in cores.values()] == ["18 AWG", "20 AWG", "18 AWG"]
    assert [c.under("cold").own_rating_a for c in cores.values()] == [5.0, 5.0, 9.0]
    assert {c.cable for c in cores.values()} == {"C1"}
    assert cores["C1.3"].subject.pin == "3"


def test_what_is_said_of_one_core_stands_before_what_is_said_of_all() -> None:
    cable = symbol(
        "C1",
        "cable",
        pins="1A 2A 1B 2B",
        fields={"Gauge": "18 AWG", "Length": "2 m", "Rating.1": "3 A", "Rating@cold": "9 A"},
    )
    harness = build([cable], [])
    assert [c.under("cold").own_rating_a for c in harness.conductors] == [3.0, 9.0]


def test_an_open_switch_and_one_that_opens_in_an_arrangement() -> None:
    harness = build(
        [
            symbol("K1", "switch", Rating="5 A", State="Open"),
            symbol("K2", "switch", fields={"Rating": "5 A", "State@off": "open"}),
            symbol("K3", "switch", Rating="5 A", State="ajar"),
        ],
        [],
    )
    assert [s.fitted for s in harness.switches] == [False, True, True]
    assert not harness.switches[1].under("off").fitted
    assert finding(harness, "field-unreadable").subject.id == "K3"


# devices, outputs and loads


def test_devices() -> None:
    harness = build(
        [
            symbol(
                "CH1",
                "limiter",
                Trip="40 A +20/-0 %",
                Delay="1 ms",
                Behaviour="hiccup",
                Retry_on="10 ms",
                Retry_off="1 s",
                Resistance="2 mΩ",
            ),
            symbol("F1", "fuse", Rating="10 A", Curve="ul248-14", Voltage_rating="32 V", Breaking_capacity="1 kA"),
            symbol("R1", "resettable", Hold="1 A", Trip="2 A", Resistance="50…100 mΩ"),
            symbol("D1", "diode", Forward_drop="0.4 V", Rating="20 A"),
        ],
        [net("D1.2 F1.1"), net("D1.1 F1.2")],
    )
    limiter, fuse, resettable = harness.devices
    assert (limiter.trip_a, limiter.delay_s, limiter.behaviour) == (Band(40, 40, 48), 1e-3, Behaviour.HICCUP)
    assert (limiter.retry_on_s, limiter.retry_off_s) == (0.01, 1.0)
    assert (fuse.rating_a, fuse.curve, fuse.voltage_rating_v, fuse.breaking_capacity_a) == (
        10,
        "ul248-14",
        32,
        1000,
    )
    assert (resettable.hold_a, resettable.trip_a, resettable.setting_a) == (1.0, Band.exact(2.0), 1.0)
    diode = harness.diodes[0]
    assert (diode.node_a, diode.node_b, diode.forward_drop_v) == ("@D1.2", "@D1.1", 0.4)  # pin 2 is named A


def test_missing_ratings_are_findings() -> None:
    harness = build(
        [
            symbol("CH1", "limiter"),
            symbol("D1", "diode"),
            symbol("F1", "fuse"),
            symbol("K1", "switch"),
            symbol("R1", "resettable", Trip="2 A"),
            symbol("SP1", "splice", pins=2),
        ],
        [],
    )
    missing = [f.subject.id for f in harness.findings if f.rule == "rating-missing"]
    assert sorted(missing) == ["CH1", "D1", "F1", "K1", "R1", "SP1"]


def test_a_trip_that_is_not_stated_is_assumed_and_said() -> None:
    harness = loop(wire(), output=symbol("PS1", "output", Voltage="12 V", Limit="10 A", Tolerance="1 %"))
    assert rules(harness) == ["trip-assumed"]
    assert harness.findings[0].value == pytest.approx(15.0)  # 150 % of the limit, a convention of this tool
    assert harness.outputs[0].trip_a is None
    assert not harness.outputs[0].never_trips


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"Limit": "10 A", "Behaviour": "constant-current"}, []),
        ({"Trip": "none", "Limit": "10 A"}, ["resistance-missing"]),
        ({"Trip": "none", "Limit": "10 A", "Resistance": "5 mΩ"}, []),
        ({"Trip": "12 A"}, ["rating-missing"]),
        ({"Limit": "10"}, ["field-unreadable"]),
        ({"Trip": "12", "Limit": "10 A"}, ["field-unreadable", "trip-assumed"]),
    ],
)
def test_what_an_output_leaves_open(fields: dict[str, str], expected: list[str]) -> None:
    harness = loop(wire(), output=symbol("PS1", "output", Voltage="12 V", fields=fields))
    assert rules(harness) == expected


def test_an_output_without_a_voltage() -> None:
    harness = loop(wire(), output=symbol("PS1", "output", value="PSU", Limit="10 A", Trip="12 A"))
    assert rules(harness) == ["voltage-missing"]
    assert harness.outputs[0].voltage_v is None


def test_a_voltage_with_its_tolerance() -> None:
    harness = loop(wire(), output=symbol("PS1", "output", Voltage="12 V +5/-3 %", Limit="10 A", Trip="12 A"))
    assert harness.outputs[0].voltage_v == 12.0
    tolerance = harness.outputs[0].tolerance
    assert tolerance is not None
    assert (tolerance.below, tolerance.above) == (pytest.approx(0.03), pytest.approx(0.05))


def test_outputs_of_one_unit() -> None:
    common = {"Limit": "10 A", "Trip": "12 A", "Supply": "PSU"}
    harness = build(
        [
            symbol(
                "PS1",
                "output",
                Voltage="12 V",
                fields=common
                | {
                    "Supply power": "500 W",
                    "Power derating": "40 °C: 100 %; 50 °C: 70 %",
                    "Efficiency": "92 %",
                    "Fanless below": "45 %",
                },
            ),
            symbol("PS2", "output", Voltage="5 V", fields=common | {"Supply power": "750 W", "Zone": "BOX"}),
            symbol("PS3", "output", Voltage="5 V", Limit="1 A", Trip="2 A"),
            symbol("PS4", "output", Voltage="5 V", Limit="1 A", Trip="2 A", Supply_power="10 W"),
        ],
        [],
    )
    own, unit = harness.supplies
    assert (unit.name, unit.output_ids, unit.power_w, unit.zone) == ("PSU", ("PS1", "PS2"), 500.0, "BOX")
    assert unit.power_derating == ((40.0, 1.0), (50.0, 0.7))
    assert (unit.efficiency, unit.fanless_below) == (((1.0, 0.92),), 0.45)
    assert (own.name, own.output_ids, own.power_w) == ("PS4", ("PS4",), 10.0)
    assert [o.supply for o in harness.outputs] == ["PSU", "PSU", None, "PS4"]
    assert "PS1 counts" in finding(harness, "supply-clash").message


def test_sense_pins_are_joints() -> None:
    output = symbol(
        "PS1", "output", pins="1:+ 2:- 3:S+ 4:S-", Voltage="12 V", Limit="1 A", Trip="2 A", Tolerance="1 %"
    )
    harness = build(
        [output, wire("W1"), wire("W2"), wire("W3"), symbol("LD1", "load", Load="1 A")],
        [net("PS1.1 W1.1"), net("PS1.3 W3.1"), net("W1.2 W3.2 LD1.1"), net("LD1.2 W2.1"), net("W2.2 PS1.2")],
    )
    assert rules(harness) == []
    assert (harness.outputs[0].sense_plus, harness.outputs[0].sense_minus) == ("@PS1.3", None)


def test_a_load_in_full() -> None:
    harness = loop(
        wire(),
        load=symbol(
            "LD1",
            "load",
            Load="2.4 Ω",
            Minimum_voltage="11 V",
            Maximum_voltage="13 V",
            Duty="25 %",
            Period="1 s",
            Zone="BOX",
            Heat_share="30 %",
        ),
    )
    load = harness.loads[0]
    assert (load.demand_kind, load.demand, load.minimum_v, load.maximum_v) == (LoadKind.RESISTANCE, 2.4, 11.0, 13.0)
    assert (load.duty, load.period_s) == (0.25, 1.0)
    assert (load.zone, load.heat_share) == ("BOX", 0.3)


def test_a_duty_without_a_period_is_said_to_count_as_on_for_good() -> None:
    alone = loop(wire(), load=symbol("LD1", "load", Load="3 A", Duty="50 %"))
    assert sum("Duty of LD1" in line and "continuously" in line for line in alone.assumptions) == 1
    told = loop(wire(), load=symbol("LD1", "load", Load="3 A", Duty="50 %", Period="1 s"))
    assert not any("Duty" in line for line in told.assumptions)


def test_a_load_whose_heat_share_cannot_be_read_gives_all_of_its_power() -> None:
    harness = loop(wire(), load=symbol("LD1", "load", Load="3 A", Zone="BOX", Heat_share="30"))
    assert harness.loads[0].heat_share == 1.0
    assert "field-unreadable" in rules(harness)


def test_a_load_that_says_nothing() -> None:
    harness = loop(wire(), load=symbol("LD1", "load", value="Camera", fields={"Load@idle": "1 W"}))
    assert rules(harness) == ["load-missing"]
    assert harness.loads[0].under("idle").demand == 1.0


@pytest.mark.parametrize(
    ("value", "fields", "function"),
    [
        ("Dew heater", {"Load": "3 A"}, "Dew heater"),
        ("Camera 2", {"Load": "3 A"}, "Camera 2"),
        ("3 A", {}, None),
        ("Load", {"Load": "3 A"}, None),
        ("~", {"Load": "3 A"}, None),
    ],
)
def test_what_a_load_is_called(value: str, fields: dict[str, str], function: str | None) -> None:
    load = symbol("LD1", "load", value=value, fields=fields, library_id="loadloom:Load")
    assert loop(wire(), load=load).loads[0].function == function


def test_parts_that_are_not_fitted_are_open_and_listed() -> None:
    harness = build(
        [wire("W1"), symbol("F1", "fuse", Rating="1 A", dnp=True), symbol("LD1", "load", Load="1 A", dnp=True)],
        [net("W1.2 F1.1"), net("F1.2 LD1.1")],
    )
    assert not harness.devices[0].fitted
    assert not harness.loads[0].fitted
    assert harness.conductors[0].fitted
    assert "Not fitted (DNP), taken as open: F1 and LD1." in harness.assumptions


@pytest.mark.parametrize(
    ("part", "says"),
    [
        (symbol("X1", "load", Load="1 A", Minimum_voltage="13 V", Maximum_voltage="11 V"), "Minimum voltage, 13 V"),
        (
            symbol("X1", "load", Load="1 A", fields={"Duration@a": "2 s", "Period@a": "1 s"}),
            "X1 (a): Duration, 2 s",
        ),
        (
            symbol("X1", "output", Voltage="12 V", Limit="12 A", Trip="8…10 A"),
            "Limit, 12 A, is more than Trip, 10 A",
        ),
        (symbol("X1", "resettable", Hold="2 A", Trip="1 A"), "Hold, 2 A"),
        (symbol("X1", "fuse", Rating="50 A", Breaking_capacity="35 A"), "Breaking capacity, 35 A"),
        (
            symbol("X1", "solar", fields={"Open-circuit voltage": "4.5 V", "Working voltage": "37 V"}),
            "Working voltage, 37 V, is more than Open-circuit voltage, 4.5 V",
        ),
        (
            symbol("X1", "solar", fields={"Short-circuit current": "9 A", "Working current": "9.4 A"}),
            "Working current, 9.4 A, is more than Short-circuit current, 9 A",
        ),
        (symbol("X1", "load", Load="5 A", Stalled_current="2 A"), "Load, 5 A, is more than Stalled current"),
        (symbol("X1", "load", Load="5 A", Inrush_time="9 s", Start_every="2 s"), "more than Start every"),
        (symbol("X1", "output", Voltage="10…30 V", Tolerance="2 %"), "tolerance twice"),
        (symbol("X1", "output", Voltage="24 V ±5 %", Tolerance="2 %"), "tolerance twice"),
        (symbol("X1", "converter", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", Voltage="5…6 V", Tolerance="2 %"), "twice"),
        (symbol("X1", "fuse", value="50 A", Rating="5 A"), "Value reads “50 A”, Rating reads “5 A”"),
        (symbol("X1", "limiter", value="20 A ±5 %", Trip="10 A ±5 %"), "Value reads"),
        (symbol("X1", "wire", value="0.5 mm²", Gauge="2.5 mm²"), "Value reads"),
        (symbol("X1", "load", value="60 W", Load="5 W"), "Value reads"),
        (symbol("X1", "output", value="48 V", Voltage="24 V"), "Value reads"),
        (symbol("X1", "battery", value="12 V", Voltage="21…29 V"), "Value reads"),
        (symbol("X1", "cable", value="0.5 mm²", pins="1A 1B 2A 2B", Gauge="2.5 mm²"), "Value reads"),
        (symbol("X1", "wire", Gauge="1 mm²", Length="10 m", Resistance="1 mΩ"), "least resistance of 10 m of 1"),
        # IEC 60949: k = 115 A·√s/mm² of PVC, so 172.5 A stand on 1.5 mm² for one second
        (symbol("X1", "wire", Gauge="1.5 mm²", Insulation="PVC 70 °C", Rating="180 A"), "more than the 172 A"),
        (symbol("X1", "load", Load="5 A", Duration="1 s", Duty="50 %", Period="10 s"), "Duty of Period, 5 s, is"),
        (symbol("X1", "load", Load="5 A", Duration="9 s", Duty="50 %", Period="10 s"), "Duration, 9 s, is"),
    ],
)
def test_fields_that_contradict_each_other(part: Symbol, says: str) -> None:
    assert says in finding(build([part], []), "fields-contradict").message


@pytest.mark.parametrize(
    "part",
    [
        symbol("X1", "output", Voltage="24 V ±2 %", Tolerance="2 %"),
        symbol("X1", "output", value="24 V", Voltage="24.5 V", Tolerance="2 %"),
        symbol("X1", "battery", value="24 V", Voltage="21…29.2 V"),
        symbol("X1", "limiter", value="10 A", Trip="9…11 A"),
        symbol("X1", "load", value="48 W", Load="2 A"),  # what it is called, and what it takes
        symbol("X1", "load", value="Pump 5 A", Load="2 A"),
        symbol("X1", "cable", value="0.5 mm²", pins="1A 1B 2A 2B", fields={"Gauge.2": "1 mm²"}),
        symbol("X1", "limiter", value="10 A", fields={"Trip@night": "5 A"}),
        symbol("X1", "wire", Gauge="1 mm²", Length="10 m", Resistance="90 mΩ…2 Ω"),
        symbol("X1", "wire", Gauge="1.5 mm²", Insulation="PVC 70 °C", Rating="170 A"),
        symbol("X1", "load", Load="5 A", Duration="5 s", Duty="50 %", Period="10 s"),
        symbol("X1", "load", Load="5 A", Duration="33 ms", Duty="33 %", Period="0.1 s"),
    ],
)
def test_fields_that_do_not_contradict_each_other(part: Symbol) -> None:
    assert "fields-contradict" not in {found.rule for found in build([part], []).findings}


@pytest.mark.parametrize(
    ("voltage", "tolerance", "below", "above"),
    [
        ("10…30 V", "2 %", 0.5, 0.5),
        ("24 V ±1 %", "5 %", 0.05, 0.05),
        ("24 V +10/-1 %", "+2/-5 %", 0.05, 0.1),
        ("22…26 V", None, 2 / 24, 2 / 24),
    ],
)
def test_the_wider_of_two_tolerances_counts(
    voltage: str, tolerance: str | None, below: float, above: float
) -> None:
    fields = {"Voltage": voltage, **({} if tolerance is None else {"Tolerance": tolerance})}
    harness = build([symbol("PS1", "output", fields=fields)], [net("PS1.1 W9.1"), net("PS1.2 W9.2")])
    (output,) = harness.outputs
    assert output.tolerance is not None
    assert (output.tolerance.below, output.tolerance.above) == (pytest.approx(below), pytest.approx(above))


# pins


def test_pins_match_by_name_before_number() -> None:
    harness = build(
        [symbol("LD1", "load", pins="1:- 2:+", Load="1 A")], [net("LD1.1 W9.1", "A"), net("LD1.2 W9.2", "B")]
    )
    assert (harness.loads[0].node_plus, harness.loads[0].node_minus) == ("B", "A")


@pytest.mark.parametrize(
    ("role", "pins", "says"),
    [
        ("load", "1 2:+", "as + by name and as - by number"),
        ("load", "1:+ 3", "no pin -"),
        ("load", "1:+ 2:- 3:+", "several pins +"),
        ("fuse", "1 3", "no pin 2"),
        ("diode", "1 2", "no pin A"),
        ("fuse", "1 2 3", "no such pin"),
        ("cable", "1A 1B 2A", "without a partner"),
        ("through", "1A 1B x", "without a partner"),
    ],
)
def test_pins_that_can_not_be_told(role: str, pins: str, says: str) -> None:
    numbers = [pin.split(":")[0] for pin in pins.split()]
    nets = [net(f"X1.{number} Y{k}.1") for k, number in enumerate(numbers)]
    harness = build([symbol("X1", role, pins=pins, value="5 A", Length="1 m")], nets)
    assert says in finding(harness, "pin-clash").message


def test_several_plus_pins_on_one_joint_are_one() -> None:
    harness = build([symbol("LD1", "load", pins="1:+ 2:- 3:+", Load="1 A")], [net("LD1.1 LD1.3 W1.1")])
    assert "pin-clash" not in rules(harness)
    assert harness.loads[0].node_plus == "@LD1.1"


# joints, splices, chassis


def test_joints_are_called_by_their_net_or_first_pin() -> None:
    harness = build([wire("W10"), wire("W9")], [net("W10.1 W9.2"), net("W10.2 W9.1", "/Dome/FEED")])
    assert {c.id: (c.node_a, c.node_b) for c in harness.conductors} == {
        "W9": ("/Dome/FEED", "@W9.2"),
        "W10": ("@W9.2", "/Dome/FEED"),
    }


def test_a_splice_makes_its_nets_one_joint() -> None:
    splice = symbol("SP1", "splice", pins=3, Rating="20 A")
    nets = [net("W1.2 SP1.1"), net("W2.1 SP1.2", "/B"), net("W3.1 SP1.3", "/A")]
    harness = build([splice, wire("W1"), wire("W2"), wire("W3")], nets)
    assert [c.node_b for c in harness.conductors][:1] == ["/A"]
    assert [c.node_a for c in harness.conductors][1:] == ["/A", "/A"]
    assert (harness.splices[0].node, harness.splices[0].rating_a) == ("/A", 20.0)


def test_a_splice_that_is_not_fitted_joins_nothing() -> None:
    splice = symbol("SP1", "splice", pins=2, Rating="20 A", dnp=True)
    harness = build([splice, wire("W1"), wire("W2")], [net("W1.2 SP1.1"), net("W2.1 SP1.2")])
    assert harness.conductors[0].node_b != harness.conductors[1].node_a
    assert harness.splices == ()


def test_chassis_symbols_bond_their_joints() -> None:
    harness = build(
        [wire("W1"), symbol("G1", "chassis"), symbol("G2", "chassis")], [net("W1.1 G1.1"), net("W1.2 G2.1")]
    )
    assert [(bond.id, bond.node) for bond in harness.chassis] == [("G1", "@G1.1"), ("G2", "@G2.1")]


# structure


def test_an_output_and_a_load_on_one_joint() -> None:
    harness = build(
        [OUTPUT, symbol("LD1", "load", Load="3 A")], [net("PS1.1 LD1.1", "P"), net("PS1.2 LD1.2", "GND")]
    )
    assert rules(harness) == ["conductor-not-drawn"] * 2
    assert [f.subject.id for f in harness.findings] == ["P", "GND"]


def test_a_return_drawn_as_ground_must_not_pass_for_a_wire() -> None:
    harness = build(
        [OUTPUT, wire("W1"), symbol("LD1", "load", Load="3 A")],
        [net("PS1.1 W1.1"), net("W1.2 LD1.1"), net("PS1.2 LD1.2", "GND", power_symbol=True)],
    )
    assert rules(harness) == ["conductor-not-drawn"]
    assert harness.findings[0].subject.id == "GND"


def test_terminals_joined_by_a_power_symbol() -> None:
    parts = [symbol("F1", "fuse", Rating="5 A"), symbol("F2", "fuse", Rating="5 A"), wire("W1"), wire("W2")]
    joined = [net("F1.2 F2.1 W1.1", "VCC", power_symbol=True)]
    assert (
        "F1.2 and F2.1 are joined by a power symbol" in finding(build(parts, joined), "conductor-not-drawn").message
    )
    wires_at_one_terminal = [net("F1.2 W2.1 W1.1", "VCC", power_symbol=True)]
    assert "conductor-not-drawn" not in rules(build(parts, wires_at_one_terminal))


def test_terminals_joined_across_sheets() -> None:
    def parts(sheet: str) -> list[Symbol]:
        return [symbol("F1", "fuse", Rating="5 A"), symbol("F2", "fuse", Rating="5 A", sheet=sheet), wire("W1")]

    joined = [net("F1.2 F2.1 W1.1", "VCC")]
    assert "across sheets" in finding(build(parts("/Dome/"), joined), "conductor-not-drawn").message
    assert "conductor-not-drawn" not in rules(build(parts("/"), joined))


def test_a_wire_end_may_cross_a_sheet_border() -> None:
    parts = [symbol("F1", "fuse", Rating="5 A", sheet="/Dome/"), wire("W1")]
    assert "conductor-not-drawn" not in rules(build(parts, [net("F1.2 W1.1", "VCC")]))


def test_dead_ends_and_spare_cores() -> None:
    cable = symbol("C1", "cable", pins="1A 1B 2A 2B", Gauge="18 AWG", Length="1 m")
    harness = build([cable, wire("W1"), wire("W2")], [net("W1.2 C1.1A"), net("C1.1B W2.1")])
    assert [(f.rule, f.subject.id) for f in harness.findings] == [("dead-end", "W1"), ("dead-end", "W2")]


def test_bridged_parts() -> None:
    harness = build(
        [symbol("F1", "fuse", Rating="5 A"), OUTPUT, symbol("LD1", "load", Load="1 A")],
        [net("F1.1 F1.2", "A"), net("PS1.1 PS1.2", "B"), net("LD1.1 LD1.2", "C")],
    )
    # A bridged load is one finding of the analysis, ``load-unfed``.
    assert sorted(rules(harness)) == ["output-shorted", "part-bypassed"]
    assert not harness.outputs[0].fitted


# assumptions


def test_what_is_taken_for_granted_is_said() -> None:
    harness = loop(
        wire("W1", Zone="DOME"),
        symbol("F1", "fuse", Rating="5 A"),
        output=symbol("PS1", "output", Voltage="12 V", Limit="10 A", Trip="12 A"),
    )
    assert harness.assumptions == (
        "The rating basis is not stated: general-equipment is assumed.",
        "The ambient is not stated: 20 to 40 °C is assumed.",
        "The settings state no ambient for zone DOME: 20 to 40 °C is assumed.",
        "No resistance is stated for F1 and PS1: 0 Ω is assumed.",
        "No Behaviour is stated for PS1: latch-off is assumed.",
        "No voltage tolerance is stated for PS1: none is assumed.",
    )


def test_a_zone_that_a_part_is_in_by_arrangement_alone_is_used() -> None:
    settings = AnalysisSettings(zones={"hot": Ambient(0.0, 65.0), "cold": Ambient(-20.0, 5.0)})
    wire = symbol("W1", "wire", value="1 mm²", fields={"Length": "1 m", "Zone@summer": "hot"})
    unused = [f.subject.id for f in build([wire], [], settings).findings if f.rule == "settings-unused"]
    assert unused == ["cold"]


def test_a_stated_basis_and_stated_ambients_are_no_assumption_and_unused_zones_a_finding() -> None:
    settings = AnalysisSettings(
        basis_stated=True,
        zones={"DOME": Ambient(-20, 50), "DMOE": Ambient(0, 1)},
        default_ambient=Ambient(0.0, 30.0),
    )
    harness = loop(wire("W1", Zone="DOME"), settings=settings)
    assert harness.assumptions == ("No Behaviour is stated for PS1: latch-off is assumed.",)
    assert [(f.rule, f.subject.id) for f in harness.findings] == [("settings-unused", "DMOE")]


def test_the_drawing_may_come_in_any_order() -> None:
    symbols = [OUTPUT, wire("W1"), wire("W2"), symbol("LD1", "load", Load="3 A")]
    nets = [net("PS1.1 W1.1"), net("W1.2 LD1.1"), net("LD1.2 W2.1"), net("W2.2 PS1.2")]
    settings = AnalysisSettings(), DrawingSettings()
    there = build_harness(drawing(symbols, nets), *settings)
    back = build_harness(drawing(symbols[::-1], nets[::-1]), *settings)
    assert there == back


def test_notices_of_reading_are_kept() -> None:
    from dataclasses import replace

    first = build([symbol("F1", "fuse")], []).findings
    again = build_harness(replace(drawing([], []), notices=first), AnalysisSettings(), DrawingSettings())
    assert again.findings == first
