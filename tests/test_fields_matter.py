"""Every field of every role, left out and garbled in a harness that passes: silence is the exception, and listed.

The list of what may be left out in silence is read from the documentation, ``plugin/FIELDS.md``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pytest
from drawings import build, net
from test_variants import Sketch
from wired import analysed

from loadloom.graph.model.elements import Band
from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.settings import Ambient, AnalysisSettings, ContactType, Curve, CurvePoint
from loadloom.graph.verdict.registry import all_rules
from loadloom.plugin.roles import FIELDS, Role

PAGE = Path(__file__).resolve().parents[1] / "plugin" / "FIELDS.md"

ZONE = {"Zone": "box"}
WIRE = {
    **{"Gauge": "4 mm²", "Length": "0.5 m", "Insulation": "PVC 70 °C", "Bundle": "B", "Voltage rating": "300 V"},
    **{"Class": "5", "Tinned": "no"},
    **ZONE,
}
LIMIT = {"Behaviour": "latch-off", "Retry on": "1 s", "Retry off": "9 s", **ZONE}
BREAKS = {"Curve": "slow", "Voltage rating": "32 V", "Breaking capacity": "1 kA", "Resistance": "5 mΩ", **ZONE}

POINTS = (
    CurvePoint(1.1, 14_400.0, None),
    CurvePoint(1.35, None, 3600.0),
    CurvePoint(2.0, 1.0, 20.0),
    CurvePoint(10.0, 0.001, 0.1),
)
SETTINGS = AnalysisSettings(
    basis_stated=True,
    zones={"box": Ambient(10.0, 30.0)},
    default_ambient=Ambient(10.0, 30.0),
    contact_types={
        "pin": ContactType(
            "pin", rated_a=((8, 13.0),), resistance_ohm=Band(3e-3, 2e-3, 4e-3), wire_area_mm2=(0.5, 6.0)
        )
    },
    curves={"slow": Curve("slow", POINTS, False, "own", rerating=((10.0, 1.0), (60.0, 0.9)))},
)


OUTPUT = {"Voltage": "12 V", "Tolerance": "2 %", "Resistance": "5 mΩ", **LIMIT}
SMALL = {**OUTPUT, "Limit": "3 A", "Trip": "4 A ±5 %", "Delay": "1 ms"}
WANTS = {"Minimum voltage": "9 V", "Maximum voltage": "14 V"}
APART = {name: text for name, text in WIRE.items() if name != "Bundle"}


def unit() -> Sketch:
    """One unit with two outputs, and a pulsed load."""
    draw = Sketch()
    whole = {"Supply": "PSU", "Supply power": "300 W", "Power derating": "40 °C: 100 %; 60 °C: 80 %"}
    whole |= {"Mounting derating": "95 %", "Efficiency": "90 %", "Fanless below": "10 %"}
    large = {"Limit": "12 A", "Trip": "14 A ±5 %", "Delay": "10 ms", "Fast trip": "60 A", "Fast delay": "1 ms"}
    draw("PS1", "output", "p m", fields={**OUTPUT, **large, **whole})
    draw("W1", "wire", "p i", fields=WIRE)
    pulsed = {"Duration": "2 s", "Duty": "50 %", "Period": "4 s", "Heat share": "50 %", **ZONE}
    draw("L1", "load", "i g", fields={"Load": "4 A", **WANTS, **pulsed})
    draw("W9", "wire", "g m", fields=WIRE)
    draw("PS2", "output", "q m", fields={**SMALL, "Supply": "PSU"})
    draw("W3", "wire", "q z", fields=WIRE)
    draw("L2", "load", "z n", fields={"Load": "1 A", **WANTS})
    draw("W5", "wire", "n m", fields=WIRE)
    return draw


def limiter_to_fuse() -> Sketch:
    """A limiter, a cable, mated connectors and a fuse."""
    draw = Sketch()
    large = {"Limit": "12 A", "Trip": "14 A ±5 %", "Delay": "10 ms"}
    draw("PS1", "output", "p m", fields={**OUTPUT, **large})
    draw("W1", "wire", "p a", fields=WIRE)
    limiter = {"Trip": "8 A ±5 %", "Delay": "5 ms", "Resistance": "5 mΩ", "Voltage rating": "32 V", **LIMIT}
    limiter |= {"Fast trip": "40 A", "Fast delay": "1 ms", "Fuse": "10 A", "Fuse curve": "slow"}
    draw("CH1", "limiter", "a b", fields=limiter)
    draw("C1", "cable", "b c d e", pins="1A 1B 2A 2B", fields=WIRE)
    contact = {"Contact": "pin", "Rows": "1", "Voltage rating": "60 V", **ZONE}
    draw("J1", "connector", "c e", pins="1 2", fields={"Mates": "K1", **contact})
    draw("K1", "connector", "f g", pins="1 2")
    draw("F1", "fuse", "f h", fields={"Rating": "6 A", "Melting I2t": "30 A²s", **BREAKS})
    draw("W2", "wire", "h i", fields=WIRE)
    draw("L1", "load", "i g", fields={"Load": "4 A", **WANTS})
    draw("W9", "wire", "d m", fields=WIRE)
    return draw


def splice_to_through() -> Sketch:
    """A splice, a switch, a diode and one contact pair."""
    draw = Sketch()
    draw("PS2", "output", "q m", fields=SMALL)
    draw("W3", "wire", "q r", fields=WIRE)
    draw("S1", "splice", "r s", pins="1 2", fields={"Rating": "20 A"})
    switch = {"Rating": "10 A", "Voltage rating": "32 V", "Resistance": "5 mΩ", "State": "closed", **ZONE}
    draw("SW1", "switch", "s t", fields=switch)
    diode = {"Forward drop": "0.4 V", "Rating": "10 A", "Resistance": "5 mΩ", **ZONE}
    draw("D1", "diode", "v t", pins="1:K 2:A", fields=diode)
    through = {"Contact rating": "13 A", "Contact resistance": "2…4 mΩ", "Voltage rating": "60 V", **ZONE}
    draw("X1", "through", "v z", pins="1A 1B", fields={"Rows": "1", **through})
    draw("L2", "load", "z n", fields={"Load": "1 A", **WANTS})
    draw("W5", "wire", "n m", fields=WIRE)
    return draw


def breaker_to_track() -> Sketch:
    """A breaker, a resettable fuse and two tracks of a board."""
    draw = Sketch()
    draw("PS2", "output", "q m", fields=SMALL)
    draw("W3", "wire", "q w", fields={**WIRE, "Length": "1 m"})  # less than the breaker can interrupt
    breaker = {**BREAKS, "Magnetic trip": "10…20 ×", "Magnetic delay": "20 ms"}
    draw("Q1", "breaker", "w x", fields={"Rating": "2 A", **breaker})
    draw("R1", "resettable", "x y", fields={"Hold": "1.8 A", "Trip": "3 A ±10 %", "Delay": "100 ms", **BREAKS})
    draw("W4", "wire", "y z1", fields=WIRE)
    size = {"Width": "6 mm", "Copper": "60 µm", "Length": "80 mm", "Layer": "outer", "Board limit": "105 °C"}
    size |= {"Vias": "12 × 0.4 mm", "Via plating": "20 µm", "Bundle": "T", "Voltage rating": "60 V", **ZONE}
    draw("TR1", "track", "z1 z2", fields=size)
    draw("TR2", "track", "z2 z", fields=size)
    draw("L2", "load", "z n", fields={"Load": "1 A", **WANTS})
    draw("W5", "wire", "n m", fields=WIRE)
    return draw


def starting() -> Sketch:
    """A motor and a lamp with all that a start can be, small enough for what feeds them."""
    draw = Sketch()
    draw("PS2", "output", "q m", fields=SMALL)
    draw("W3", "wire", "q w", fields={**WIRE, "Length": "1 m"})
    draw("Q1", "breaker", "w z", fields={"Rating": "2 A", **BREAKS})
    motor = {"Starting current": "0.3 A", "Starting time": "1 s", "Start every": "10 min", "Start together": "both"}
    motor |= {"Stalled current": "4 A", "Stalled time": "2 h", "Inrush": "0.2 A", "Inrush time": "20 ms"}
    motor |= {"Stated at": "12 V", "Feed-back current": "0.1 A", "Feed-back time": "20 ms"}
    motor |= {"Capacitance": "10 µF", "Series resistance": "60 Ω"}
    motor |= {"Pre-charge": "100 Ω", "Pre-charge time": "1 ms", "Hold-up time": "20 ms"}
    draw("L3", "load", "z n", fields={"Load": "0.1 A", **WANTS, **motor})
    lamp = {"Inrush": "0.2 A", "Inrush time": "20 ms", "Stated at": "12 V"}
    lamp |= {"Start every": "1 h", "Start together": "both"}
    draw("L4", "load", "z n", fields={"Load": "0.1 A", **WANTS, **lamp})
    draw("W5", "wire", "n m", fields=WIRE)
    return draw


def converter_and_contactor() -> Sketch:
    """An output with a sense lead, a converter and a contactor behind it."""
    draw = Sketch()
    senses = {**OUTPUT, "Limit": "6 A", "Trip": "8 A ±5 %", "Delay": "1 ms", "Sense limit": "0.5 V"}
    draw("PS3", "output", "pp mm ss", pins="1:+ 2:- 3:S+", fields=senses)
    draw("W6", "wire", "pp in", fields=APART)
    draw("W15", "wire", "ss in", fields=APART)
    made = {"Voltage": "5 V", "Limit": "6 A", "Trip": "8 A ±5 %", "Delay": "1 ms", "Efficiency": "85 %"}
    made |= {"Tolerance": "2 %", "Resistance": "5 mΩ", "No-load power": "0.5 W", **LIMIT}
    made |= {"Input minimum": "9 V", "Input maximum": "15 V", "Input limit": "4 A", "Hold-up time": "5 ms"}
    made |= {"Fast trip": "40 A", "Fast delay": "0.1 ms"}
    draw("DC1", "converter", "in back out back", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields=made)
    draw("W7", "wire", "back mm", fields=APART)
    draw("W8", "wire", "out bb", fields=APART)
    draw("L9", "load", "bb cc", fields={"Load": "4 A", "Minimum voltage": "4 V", "Maximum voltage": "15 V"})
    draw("W10", "wire", "cc kk", fields=APART)
    poles = {"Path": "1-2", "Rating": "20 A", "Breaking capacity": "20 A", "Voltage rating": "60 V", **ZONE}
    poles |= {"Resistance": "1…3 mΩ", "State": "closed", "Body diode": "0.6 V"}
    poles |= {"Coil": "1 W", "Coil minimum": "4 V", "Hold-up time": "10 ms"}
    draw("W16", "wire", "ck back", fields=APART)
    draw("K9", "contactor", "kk back bb ck", pins="1 2 A1 A2", fields=poles)
    return draw


def battery() -> Sketch:
    """A battery and its load."""
    draw = Sketch()
    cells = {"Voltage": "5…7 V", "Resistance": "10…30 mΩ", "Prospective current": "600 A", "Limit": "6 A", **ZONE}
    cells |= {"Trip": "8 A ±5 %", "Delay": "1 ms", "Capacity": "10 Ah", "Usable": "80 %", "Charge limit": "5 A"}
    draw("BT1", "battery", "bp bm", pins="1:+ 2:-", fields={**cells, "Series": "2", "Parallel": "1"})
    draw("W11", "wire", "bp bl", fields=APART)
    draw("L8", "load", "bl bk", fields={"Load": "2 A", "Minimum voltage": "6 V", "Maximum voltage": "18 V"})
    draw("W12", "wire", "bk bm", fields=APART)
    return draw


def solar() -> Sketch:
    """A solar panel and its load."""
    draw = Sketch()
    sun = {"Open-circuit voltage": "22 V", "Short-circuit current": "5 A", "Working voltage": "18 V", **ZONE}
    sun |= {"Working current": "4.6 A", "Reverse current": "10 A", "Series": "1", "Parallel": "1"}
    draw("PV1", "solar", "sp sm", pins="1:+ 2:-", fields=sun)
    draw("W13", "wire", "sp sl", fields=APART)
    draw("L7", "load", "sl sk", fields={"Load": "2 A", "Minimum voltage": "15 V", "Maximum voltage": "30 V"})
    draw("W14", "wire", "sk sm", fields=APART)
    return draw


# Small drawings of few roles: a field is judged in the first one that has it, which takes a tenth of a second.
DRAWN: tuple[Callable[[], Sketch], ...] = (
    *(limiter_to_fuse, unit, splice_to_through, breaker_to_track, starting),
    *(converter_and_contactor, battery, solar),
)


@dataclass(frozen=True)
class Field:
    """A field as it stands in one of the drawings."""

    drawn: Callable[[], Sketch]
    reference: str
    role: str
    name: str
    text: str

    def __str__(self) -> str:
        return f"{self.reference}.{self.name}: {self.text}"


@cache
def makes_incomplete() -> frozenset[str]:
    return frozenset(name for name, known in all_rules().items() if known.rule.incomplete)


def judged(draw: Sketch) -> tuple[bool, frozenset[str]]:
    """Whether it passes, and every sentence that is said about it: assumptions and findings.

    A finding of reading that makes the verdict incomplete settles it, whatever the analysis finds.
    """
    nets = [net(" ".join(pins), name) for name, pins in draw.pins.items()]
    harness = build(draw.symbols, nets, SETTINGS)
    if {finding.rule for finding in harness.findings} & makes_incomplete():
        return False, frozenset()
    results = analysed(harness, SETTINGS)
    said = frozenset(results.assumptions) | {f"{f.rule} {f.subject.id} {f.message}" for f in results.findings}
    return results.verdict is Verdict.PASS, said


@cache
def as_drawn(drawn: Callable[[], Sketch]) -> tuple[bool, frozenset[str]]:
    return judged(drawn())


@cache
def changed(field: Field, name: str | None, text: str = "") -> tuple[bool, frozenset[str]]:
    """The verdict with a field renamed to ``name`` (None = left out) that reads ``text``."""
    draw = field.drawn()
    at = next(k for k, symbol in enumerate(draw.symbols) if symbol.reference == field.reference)
    fields = dict(draw.symbols[at].fields)
    del fields[field.name]
    if name is not None:
        fields[name] = text
    draw.symbols[at] = replace(draw.symbols[at], fields=fields)
    return judged(draw)


def every_field() -> Iterator[Field]:
    """Every field, each once for its role."""
    told: set[tuple[str, str]] = set()
    for drawn in DRAWN:
        for symbol in drawn().symbols:
            role = symbol.fields["Role"]
            for name, text in symbol.fields.items():
                if name != "Role" and (role, name) not in told:
                    told.add((role, name))
                    yield Field(drawn, symbol.reference, role, name, text)


FIELD = [pytest.param(each, id=f"{each.role}-{each.name}") for each in every_field()]


def may_be_silent() -> set[tuple[str, str]]:
    return set(
        re.findall(r"^\| `([a-z]+)` \| `([A-Z][A-Za-z0-9 -]+)` \|", PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    )


@pytest.mark.parametrize("drawn", DRAWN, ids=lambda drawn: drawn.__name__)
def test_the_harness_passes_as_drawn(drawn: Callable[[], Sketch]) -> None:
    passes, said = as_drawn(drawn)
    assert passes, sorted(said)


def test_the_drawings_have_every_field_of_every_role() -> None:
    written = {(each.role, each.name) for each in every_field()}
    left = {(role, name) for role, spec in FIELDS.items() for name in spec.names} - written
    # A wire's own rating and resistance replace what its other fields give; these have tests of their own.
    instead = {"Rating", "Resistance", "Layout", "Terminal", "Material", "Strands", "Wire class"}
    left -= {(role, name) for role in (Role.WIRE, Role.CABLE) for name in instead}
    left -= {(Role.CONNECTOR, "Contact rating"), (Role.CONNECTOR, "Contact resistance"), (Role.THROUGH, "Contact")}
    assert left == set()


@pytest.mark.parametrize("field", FIELD)
def test_a_field_left_out_is_no_silent_pass(field: Field) -> None:
    _, said_before = as_drawn(field.drawn)
    for name in (None, field.name):
        passes, said = changed(field, name, "")
        if passes and (field.role, field.name) not in may_be_silent():
            assert said - said_before, f"{field} left out passes, and nothing says so"


def test_the_documentation_lists_no_more_than_is_silent() -> None:
    """Each field on the list is read by its role, and leaving it out does pass."""
    assert may_be_silent() <= {(role, name) for role, spec in FIELDS.items() for name in spec.names}
    of = {(each.role, each.name): each for each in every_field()}
    louder = [each for each in sorted(may_be_silent()) if not changed(of[each], None)[0]]
    assert louder == []


@pytest.mark.parametrize("field", FIELD)
def test_a_garbled_name_never_passes(field: Field) -> None:
    swapped = field.name[:1] + field.name[2] + field.name[1] + field.name[3:]
    names = [field.name[:2] + field.name[3:], f"{field.name}s", f"{field.name}_1"]
    names += [f"{field.name} ({field.role})", f"{field.name}.9", "Xyzzy"]
    names += [swapped] if swapped != field.name else []
    for name in names:
        passes, said = changed(field, name, field.text)
        # What numbers or a yes or no alone say can't be told to be meant for loadloom (``Rows`` = ``1``,
        # ``Path`` = ``1-2``).
        says_nothing = re.fullmatch(r"[0-9-]+", field.text) is not None or field.text in ("yes", "no")
        assert not passes or says_nothing, (
            f"{field}, named {name}, passes: {sorted(said - as_drawn(field.drawn)[1])}"
        )


QUANTITY = re.compile(r"[0-9]")


@pytest.mark.parametrize("field", FIELD)
def test_a_garbled_text_never_passes(field: Field) -> None:
    texts = ["xyz", f"{field.text}?", "n/a", "TBD", "nan", "-5 A", "5 parsec", "5 %%", "\u202e"]
    if QUANTITY.search(field.text) and field.name not in ("Rows", "Insulation", "Class"):
        texts += ["5", field.text.partition(" ")[0], f"{field.text} {field.text}"]
    for garbled in texts:
        if (field.role, field.name) == ("load", "Zone") or garbled == field.text:
            continue  # a load's zone heats an enclosure, and there is none
        if field.name == "Trip" and garbled == "none":
            continue
        passes, said = changed(field, field.name, garbled)
        assert not passes, f"{field}, garbled to {garbled}, passes: {sorted(said - as_drawn(field.drawn)[1])}"


@pytest.mark.parametrize("field", FIELD)
def test_two_fields_that_differ_in_case_never_pass(field: Field) -> None:
    draw = field.drawn()
    at = next(k for k, symbol in enumerate(draw.symbols) if symbol.reference == field.reference)
    twice = {**draw.symbols[at].fields, field.name.upper(): field.text}
    draw.symbols[at] = replace(draw.symbols[at], fields=twice)
    assert not judged(draw)[0]


@pytest.mark.parametrize("role", [role for role in Role if role is not Role.IGNORE])
def test_a_field_of_another_role_never_passes(role: Role) -> None:
    """A limiter's ``Tolerance``, a fuse's ``Delay``: what they were to say does not count."""
    others = {each.name: each.text for each in every_field() if each.name not in FIELDS[role].names}
    draw = next((drawn() for drawn in DRAWN if any(s.fields["Role"] == role for s in drawn().symbols)), unit())
    if role is Role.CHASSIS:
        draw("GND1", "chassis", "m", pins="1")
    at = next(k for k, symbol in enumerate(draw.symbols) if symbol.fields["Role"] == role)
    whole = draw.symbols[at]
    for name, text in others.items():
        draw.symbols[at] = replace(whole, fields={**whole.fields, name: text})
        assert not judged(draw)[0], f"{whole.reference}: {name} = {text}"
