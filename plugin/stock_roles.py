"""What symbols of KiCad's own libraries are, and which role each is likely to play: proposals, never used unasked.

A proposal looks at the library symbol's name, then at the letters of the reference, which are those of IEC 81346-2
and ASME Y14.44 as KiCad's libraries use them. Pins are those of KiCad 9's libraries.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from loadloom.plugin.drawing import Symbol
from loadloom.plugin.roles import Role, letters_of

Pins = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Stock:
    """What a symbol is, as ``a fuse``, and the role proposed for it, None where none can be; with the reason.

    ``pins`` and ``fields`` are those of a role rule. ``sure`` is false where the role depends on what is meant.
    """

    what: str
    role: Role | None
    reason: str
    pins: Pins = field(default_factory=dict)
    fields: Mapping[str, str] = field(default_factory=dict)
    sure: bool = True


@dataclass(frozen=True, slots=True)
class _Kind:
    """A kind of symbol: the words that its library name begins or goes with, the letters of its references."""

    names: str
    letters: tuple[str, ...]
    what: str
    role: Role | None
    pins: Callable[[Symbol], Pins | None] = lambda symbol: {}
    fields: Mapping[str, str] = field(default_factory=dict)
    sure: bool = True
    note: str = ""


def stock_role(symbol: Symbol) -> Stock | None:
    """What a symbol is, by its library symbol's name, else by the letters of its reference; else None."""
    library, _, name = symbol.library_id.rpartition(":")
    for kind in _KINDS:
        if re.match(kind.names, f"{library}:{name}", re.IGNORECASE) or re.match(
            kind.names, f":{name}", re.IGNORECASE
        ):
            return _stock(kind, symbol, f"the library symbol is {name}")
    letters = letters_of(symbol.reference)
    for kind in _KINDS:
        if letters.upper() in kind.letters:
            return _stock(kind, symbol, f"the reference begins with {letters}")
    return None


def _stock(kind: _Kind, symbol: Symbol, reason: str) -> Stock:
    pins = kind.pins(symbol)
    role = kind.role if pins is not None else None
    note = f"; {kind.note}" if kind.note else ""
    return Stock(kind.what, role, f"{reason}{note}", pins or {}, kind.fields if role else {}, kind.sure)


def pin_named(symbol: Symbol, *patterns: str) -> str | None:
    """Number of the first pin whose name, else whose number, is of the first of these patterns that any is of."""
    for pattern in patterns:
        for text in ("name", "number"):
            for pin in symbol.pins:
                if re.fullmatch(pattern, getattr(pin, text), re.IGNORECASE):
                    return pin.number
    return None


PLUS = (r"\+", r"(VIN|IN|VCC|VDD|VBAT|VS|V|BAT|DC|\+?\d+V\d*|PV|L)\+", r"\+(VIN|IN|V|VDC|DC|\d+V)", r"V_?IN", r"IN",
        r"VCC|VDD|VBAT|VS|V|PWR|POS|PLUS|P\+|\+?\d+V\d*|RED", r"1", )  # fmt: skip
MINUS = (r"-|–|−", r"(VIN|IN|V|BAT|DC|PV)[-–−]", r"[-–−](VIN|IN|V|VDC|DC)",
r"GND|0V|COM|VSS|RTN|NEG|MINUS|BLACK|B-",
         r"2")  # fmt: skip
OUT_PLUS = (r"\+V?O(UT)?", r"V?OUT\+", r"V_?OUT|OUT|VO", r"\+V(DC)?|V\+|DC\+", *PLUS)
OUT_MINUS = (r"[-–−]V?O(UT)?", r"V?OUT[-–−]", r"[-–−]V(DC)?|V[-–−]|DC[-–−]", *MINUS)


def two_terminals(symbol: Symbol, plus: Iterable[str] = PLUS, minus: Iterable[str] = MINUS) -> Pins | None:
    """The pins of a source or load by their names; None where they can't be told, empty where the role can tell."""
    if {pin.name for pin in symbol.pins} >= {"+", "-"}:
        more = [pin.number for pin in symbol.pins if pin.name not in ("+", "-", "S+", "S-")]
        return {"+": ("+",), "-": ("-",)} if more else {}
    if len(symbol.pins) == 2 and {pin.number for pin in symbol.pins} == {"1", "2"}:
        unnamed = all(pin.name in ("", pin.number) or re.fullmatch(r"Pin_\d+", pin.name) for pin in symbol.pins)
        if unnamed:
            return {}
    plus_pin, minus_pin = pin_named(symbol, *plus), pin_named(symbol, *minus)
    if plus_pin is None or minus_pin is None or plus_pin == minus_pin:
        return None
    return {"+": (plus_pin,), "-": (minus_pin,)}


def _source(symbol: Symbol) -> Pins | None:
    return two_terminals(symbol, OUT_PLUS, OUT_MINUS)


IN_PLUS = (r"\+?V?IN\+?|\+V_?IN|V_?IN\+?|VI|PVIN", )  # fmt: skip
IN_MINUS = (r"-V?IN|V?IN[-–−]|V_?IN[-–−]", r"GND|0V|COM|VSS|AGND|PGND|ADJ/GND")
GIVES_PLUS = (r"\+V?O(UT)?|V?O(UT)?\+|V_?OUT\+?|OUT|VO", )  # fmt: skip
GIVES_MINUS = (r"[-–−]V?O(UT)?|V?O(UT)?[-–−]|V_?OUT[-–−]", r"GND|0V|COM|VSS|AGND|PGND|ADJ/GND")


def _converter(symbol: Symbol) -> Pins | None:
    """The four ends of a converter by the names of its pins; one ground pin is the minus of both sides."""
    if {pin.name for pin in symbol.pins} >= {"IN+", "IN-", "OUT+", "OUT-"}:
        return {}
    ends = {"IN+": IN_PLUS, "IN-": IN_MINUS, "OUT+": GIVES_PLUS, "OUT-": GIVES_MINUS}
    found = {end: pin_named(symbol, *patterns) for end, patterns in ends.items()}
    if None in found.values() or found["IN+"] == found["OUT+"]:
        return None
    return {end: (number,) for end, number in found.items() if number is not None}


def _two_ends(symbol: Symbol) -> Pins | None:
    numbers = [pin.number for pin in symbol.pins]
    if {"1", "2"} <= set(numbers) and len(numbers) == 2:
        return {}
    return {"1": (numbers[0],), "2": (numbers[1],)} if len(numbers) == 2 else None


_CONTACTS = (("11", "14"), ("13", "14"), ("30", "87"), ("11", "12"), ("1", "2"), ("L1", "T1"), ("C", "NO"), ("COM",
"NO"),
             ("3", "4"), ("IN", "OUT"), ("A", "B"))  # fmt: skip
"""Pairs of pins of a normally open contact, else a normally closed one: IEC 60947-1 (EN 50005) and DIN 72552."""


def _contact(symbol: Symbol) -> Pins | None:
    for a, b in _CONTACTS:
        one, two = pin_named(symbol, re.escape(a)), pin_named(symbol, re.escape(b))
        if one is not None and two is not None:
            return {"1": (one,), "2": (two,)}
    return _two_ends(symbol)


def _switch(symbol: Symbol) -> Pins | None:
    common = pin_named(symbol, "B", "C|COM|COMMON")
    if len(symbol.pins) == 3 and common is not None:
        other = next((pin.number for pin in symbol.pins if pin.name == "A"), None)
        other = other or next(pin.number for pin in symbol.pins if pin.number != common)
        return {"1": (common,), "2": (other,)}
    return _two_ends(symbol) if len(symbol.pins) == 2 else _contact(symbol)


def _channel(symbol: Symbol) -> Pins | None:
    for a, b in (("D", "S"), ("C", "E"), ("VCC|VIN|IN", "OUT|VOUT")):
        one, two = pin_named(symbol, a), pin_named(symbol, b)
        if one is not None and two is not None:
            return {"1": (one,), "2": (two,)}
    return None


def _diode(symbol: Symbol) -> Pins | None:
    names = {pin.name for pin in symbol.pins}
    return (
        {}
        if {"A", "K"} <= names and len(symbol.pins) == 2
        else ({"A": ("A",), "K": ("K",)} if {"A", "K"} <= names else None)
    )


def _track(symbol: Symbol) -> Pins | None:
    """The ends of a potentiometer's track: pins 1 and 3 of three."""
    numbers = {pin.number for pin in symbol.pins}
    if numbers == {"1", "2", "3"}:
        return {"+": ("1",), "-": ("3",)}
    return two_terminals(symbol)


def _lamp_diode(symbol: Symbol) -> Pins | None:
    return {"+": ("A",), "-": ("K",)} if {"A", "K"} <= {pin.name for pin in symbol.pins} else None


def _sensed(symbol: Symbol) -> Pins | None:
    one, two = (
        pin_named(symbol, r"IP\+", r"I\+", "1"),
        pin_named(symbol, "IP-", "I-", "4" if len(symbol.pins) == 4 else "2"),
    )
    if one is None or two is None:
        return None
    names = {pin.number: pin.name for pin in symbol.pins}
    return {"1": (names[one] or one,), "2": (names[two] or two,)} if len(symbol.pins) > 2 else {}


_NO_CURRENT = "no continuous current goes through it"
_SERIES = "a part in series counts as a closed switch with its own rating and resistance"

_KINDS: tuple[_Kind, ...] = (
    # Whatever the library is called, a more particular name stands before a more general one.
    _Kind(r"power:|.*:PWR_FLAG", (), "a power symbol", Role.IGNORE),
    _Kind(r"Connector:TestPoint|.*:TestPoint|.*:TP(_|$)", ("TP",), "a test point", Role.IGNORE, note=_NO_CURRENT),
    _Kind(
        r".*:MountingHole_Pad",
        (),
        "a plated mounting hole",
        Role.CHASSIS,
        lambda s: {} if len(s.pins) == 1 else None,
    ),
    _Kind(
        r"Mechanical:|Graphic:|.*:(MountingHole|Fiducial|Logo|Heatsink)",
        ("H", "MH", "FID", "HS", "LOGO", "MK"),
        "a mechanical part",
        Role.IGNORE,
    ),
    _Kind(r".*:(Net_?Tie)", ("NT",), "a net tie", Role.SPLICE, note="its pins are one joint"),
    _Kind(r".*:(Solder)?Jumper_2.*Open", (), "an open jumper", Role.SWITCH, _two_ends, {"State": "open"}),
    _Kind(r".*:(Solder)?Jumper", ("JP", "SJ"), "a jumper", Role.SWITCH, _switch),
    _Kind(r".*:(Polyfuse|PTC|Resettable)", ("PTC",), "a resettable fuse", Role.RESETTABLE, _two_ends),
    _Kind(r".*:(Circuit_?Breaker|MCB|Breaker)", ("CB", "MCB"), "a circuit breaker", Role.BREAKER, _contact),
    _Kind(r".*:Fuse_?Holder|.*:Fuse|.*_Fuse", ("F", "FU", "FH", "XF"), "a fuse", Role.FUSE, _two_ends),
    _Kind(
        r".*:(Battery|Accu|Akku|.*LiFePO|.*Lead_?Acid)",
        ("BT", "BAT", "B"),
        "a battery",
        Role.OUTPUT,
        _source,
        {"Trip": "none"},
        note="it never shuts down by itself",
    ),
    _Kind(r".*:Solar|.*:PV_", ("PV",), "a solar panel", Role.OUTPUT, _source),
    _Kind(
        r"Converter_DCDC:|Regulator_(Switching|Linear):|.*:(DC_?DC|Buck|Boost|.*Converter|Step_?Down|Step_?Up|(LM)?78\d\d)",
        ("DCDC", "CV"),
        "a converter",
        Role.CONVERTER,
        _converter,
        note="its input draws what its output gives",
    ),
    _Kind(
        r"Converter_ACDC:|.*:(Power_?Supply|PSU|AC_?DC|Mains_?Supply|SMPS)|Simulation_SPICE:VDC",
        ("PS", "PSU", "G"),
        "a power supply",
        Role.OUTPUT,
        _source,
    ),
    _Kind(r"Sensor_Current:|.*:R_Shunt|.*:Shunt", ("RSH", "SH"), "a shunt", Role.SWITCH, _sensed, note=_SERIES),
    _Kind(r".*:(Ferrite|L_Ferrite$)", ("FB", "FL"), "a ferrite bead", Role.SWITCH, _two_ends, note=_SERIES),
    _Kind(r".*:(L|L_.*|Inductor.*|Choke.*)$", ("L",), "an inductor", Role.SWITCH, _two_ends, note=_SERIES),
    _Kind(r"Relay_SolidState:", (), "a solid-state relay", None),
    _Kind(
        r"Relay:|.*:(Relay|Contactor)|.*_Relay|.*_Contactor",
        ("K", "KM", "RL", "RLY", "KA"),
        "a relay",
        Role.SWITCH,
        _contact,
        note="its main contact; the coil takes no part",
    ),
    _Kind(r"Switch:|.*:(SW_|Switch|Push_?button|E_?Stop|Isolator)", ("SW", "S"), "a switch", Role.SWITCH, _switch),
    _Kind(
        r"Transistor|.*:(Q_|MOSFET|NMOS|PMOS|IRF|IGBT)",
        ("Q", "T"),
        "a transistor",
        Role.SWITCH,
        _channel,
        note="its channel counts as a closed switch; the gate takes no part",
    ),
    _Kind(r"LED:|.*:LED", (), "a light-emitting diode", Role.LOAD, _lamp_diode),
    _Kind(
        r".*:(R_Pot|POT|Trim|R_Trim|Potentiometer)",
        ("VR",),
        "a potentiometer",
        Role.LOAD,
        _track,
        note="its track counts as a resistor; the wiper takes no part",
    ),
    _Kind(r".*:(Crystal|Resonator|Xtal|Oscillator)", ("XTAL",), "a crystal", Role.IGNORE, note=_NO_CURRENT),
    _Kind(
        r".*:(D_TVS|TVS|D_Zener|Varistor|MOV|SPD|Surge)",
        ("MOV",),
        "a surge protector",
        Role.IGNORE,
        note="it conducts in a surge only",
    ),
    _Kind(r"Diode:|.*:(D|D_.*|Diode.*)$", ("D",), "a diode", Role.DIODE, _diode),
    _Kind(
        r".*:(Motor|Fan|Pump|Actuator|Servo|Winch)|Motor:|.*_(Motor|Fan|Pump)",
        ("M", "MOT", "FAN"),
        "a motor",
        Role.LOAD,
        two_terminals,
    ),
    _Kind(r".*:(Lamp|Light|Bulb|Beacon)", ("LA", "DS", "E", "H"), "a lamp", Role.LOAD, two_terminals),
    _Kind(r".*:(Heater|Heating)", ("HT", "EH"), "a heater", Role.LOAD, two_terminals),
    _Kind(
        r".*:(Buzzer|Horn|Siren|Speaker|Solenoid|Valve|Camera|Radio|Load)",
        ("BZ", "LS", "Y"),
        "a load",
        Role.LOAD,
        two_terminals,
    ),
    _Kind(r".*:(R|R_.*|Resistor.*)$", ("R",), "a resistor", Role.LOAD, two_terminals),
    _Kind(r".*:(C|C_.*|CP.*|Capacitor.*)$", ("C",), "a capacitor", Role.IGNORE, note=_NO_CURRENT),
    _Kind(r".*:(Wire|Cable)$", ("W",), "a wire", Role.WIRE, _two_ends),
    _Kind(
        r".*:(Splice|Busbar|Bus_?bar|Terminal_?Block)",
        ("TB", "BB", "SP"),
        "a busbar",
        Role.SPLICE,
        note="its pins are one joint",
    ),
    _Kind(
        r"Connector|.*:(Conn|Connector|Plug|Socket|Header|Screw_Terminal|Barrel_Jack|Deutsch|DSUB|DB\d|XT\d)",
        ("J", "P", "X", "XP", "XS", "CN", "CON", "JST", "PL", "SK"),
        "a connector",
        Role.CONNECTOR,
    ),
    _Kind(r"(?!)", ("U", "IC", "A", "MOD"), "a circuit", None),
)
