"""What symbols of KiCad's own libraries are, and which role each is likely to play: proposals, never used unasked.

A proposal looks at the library symbol's name, then at the letters of the reference, which are those of IEC 81346-2
and ASME Y14.44 as KiCad's libraries use them. Pins are those of KiCad 9's libraries.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from loadloom.graph.model.naming import natural_key
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
class _As:
    """What one symbol of a kind is, where that hangs on its pins: another role than the kind's, and its fields."""

    role: Role | None = None
    pins: Pins = field(default_factory=dict)
    fields: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Kind:
    """A kind of symbol: the words that its library name begins or goes with, the letters of its references.

    ``pins`` gives None where the symbol's pins do not tell its ends: then no role is proposed.
    """

    names: str
    letters: tuple[str, ...]
    what: str
    role: Role | None
    pins: Callable[[Symbol], Pins | _As | None] = lambda symbol: {}
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
    found = kind.pins(symbol)
    note = f"; {kind.note}" if kind.note else ""
    if isinstance(found, _As):
        fields = {**kind.fields, **found.fields}
        return Stock(kind.what, found.role or kind.role, f"{reason}{note}", found.pins, fields, kind.sure)
    role = kind.role if found is not None else None
    return Stock(kind.what, role, f"{reason}{note}", found or {}, kind.fields if role else {}, kind.sure)


def pin_named(symbol: Symbol, *patterns: str) -> str | None:
    """Number of the first pin whose name, else whose number, is of the first of these patterns that any is of."""
    for pattern in patterns:
        for text in ("name", "number"):
            for pin in symbol.pins:
                if re.fullmatch(pattern, getattr(pin, text), re.IGNORECASE):
                    return pin.number
    return None


PLUS = (r"\+", r"(VIN|IN|VCC|VDD|VBAT|VS|V|BAT|DC|\+?\d+V\d*|PV|L)\+", r"\+(VIN|IN|V|VDC|DC|\d+V)", r"V_?IN", r"IN",
        r"VCC|VDD|VBAT|VS|VM|VMOT|V|PWR|POS|PLUS|P\+|\+?\d+V\d*|RED", r"1", )  # fmt: skip
MINUS = (r"-|–|−", r"(VIN|IN|V|BAT|DC|PV)[-–−]", r"[-–−](VIN|IN|V|VDC|DC)",
r"GND|0V|COM|VSS|RTN|NEG|MINUS|BLACK|B-",
         r"2")  # fmt: skip
OUT_PLUS = (r"\+V?O(UT)?", r"V?OUT\+", r"V_?OUT|OUT|VO", r"\+V(DC)?|V\+|DC\+", *PLUS)
OUT_MINUS = (r"[-–−]V?O(UT)?", r"V?OUT[-–−]", r"[-–−]V(DC)?|V[-–−]|DC[-–−]", *MINUS)


_EITHER_WAY = re.compile(
    r".*:(Lamp|Light|Bulb|Heater|Heating|Motor_(DC|AC)|Speaker|Solenoid|Electromagnet|Peltier|R(_.*)?$)",
    re.IGNORECASE,
)


def works_either_way(symbol: Symbol) -> bool:
    """Whether a load takes current in both directions, though its symbol may call its pins plus and minus."""
    return _EITHER_WAY.match(symbol.library_id) is not None


def two_terminals(symbol: Symbol, plus: Iterable[str] = PLUS, minus: Iterable[str] = MINUS) -> Pins | None:
    """The pins of a source or load by their names; None where they can't be told, empty where the role can tell."""
    if {pin.name for pin in symbol.pins} >= {"+", "-"}:
        more = [pin.number for pin in symbol.pins if pin.name not in ("+", "-", "S+", "S-")]
        return {"+": ("+",), "-": ("-",)} if more else {}
    if len(symbol.pins) == 2 and {pin.number for pin in symbol.pins} == {"1", "2"}:
        unnamed = all(pin.name in ("", pin.number) or re.fullmatch(r"Pin_\d+", pin.name) for pin in symbol.pins)
        if unnamed:
            return {}
    if len(symbol.pins) > 2:  # The numbers of many pins say nothing of which is plus.
        plus, minus = [p for p in plus if p != "1"], [m for m in minus if m != "2"]
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
    middle = pin_named(symbol, "COM|COMMON|CM|0V")
    if middle is not None and middle not in found.values():
        return None  # A plus and a minus output about a common one are two outputs.
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


def _breaker(symbol: Symbol) -> Pins | None:
    """A breaker of one pole; none of a breaker's several poles may be left out."""
    return _two_ends(symbol) if len(symbol.pins) == 2 else None


_COILS = (("A1", "A2"), ("85", "86"), (r"COIL ?[+1A]", r"COIL ?[-–−2B]"), (r"C\+", r"C[-–−]"), (r"\+", r"[-–−]"))
"""Ends of a coil: EN 50005, DIN 72552, then names."""
_ASIDE = re.compile(r"B[12]|A3|SH|SHIELD|PE|EARTH|N\.?C\.?|MP\d*|TAB|87A", re.IGNORECASE)
"""Pins of a relay that are neither its coil nor a contact that is looked for: a second coil, a shield, a spare."""
_POLES = (
    *((f"{k}[13][AB]?", f"{k}4[AB]?") for k in range(1, 9)),
    *((f"{k}1[AB]?", f"{k}2[AB]?") for k in range(1, 9)),
    ("30", "87"),
    *((f"(COM|C|CO){k}", f"NO{k}") for k in ("", *map(str, range(1, 9)))),
    *((f"({2 * k - 1}/)?L{k}", f"({2 * k}/)?T{k}") for k in range(1, 5)),
)
"""Ends of a contact, a normally open one before a normally closed one of the same set."""


def _relay(symbol: Symbol) -> _As:
    """The coil and every pole of a relay, where its pins' names or standard numbers tell them.

    Pins numbered as they stand on a board (``1`` to ``8``) tell nothing: then the user has to say which they are.
    """
    coil: Pins = {}
    for a, b in _COILS:
        one, two = pin_named(symbol, a), pin_named(symbol, b)
        if one is not None and two is not None and one != two:
            coil = {"A1": (one,), "A2": (two,)}
            break
    numbers = {pin.number for pin in symbol.pins} - {number for at in coil.values() for number in at}
    rest = sorted(
        (
            pin.number
            for pin in symbol.pins
            if pin.number in numbers and not _ASIDE.fullmatch(pin.name or pin.number)
        ),
        key=natural_key,
    )
    by_names = any(re.fullmatch(r"(COM|CO|C|NO)\d?", pin.name, re.IGNORECASE) for pin in symbol.pins)
    poles: list[tuple[tuple[str, ...], tuple[str, ...]]] = []
    for a, b in _POLES if coil or by_names else ():
        sides = [_all_named(symbol, rest, end) for end in (a, b)]
        if all(sides) and not {n for pole in poles for side in pole for n in side} & set(sides[0] + sides[1]):
            poles.append((sides[0], sides[1]))
    if not poles and len(rest) == 2 and (coil or len(symbol.pins) == 2):
        poles.append(((rest[0],), (rest[1],)))
    plain = {str(k) for k in range(1, 2 * len(rest) + 1)}
    if not poles and coil and len(rest) % 2 == 0 and set(rest) <= plain:  # 1-2, 3-4, 5-6: main poles (EN 50005)
        poles += [((a,), (b,)) for a, b in pairwise(rest) if int(a) % 2 == 1 and int(b) == int(a) + 1]
    return _poles(poles, coil)


def _all_named(symbol: Symbol, among: Iterable[str], pattern: str) -> tuple[str, ...]:
    """Numbers of the pins whose name, else whose number, is of a pattern."""
    for text in ("name", "number"):
        found = [
            pin.number
            for pin in symbol.pins
            if pin.number in among and re.fullmatch(pattern, getattr(pin, text), re.IGNORECASE)
        ]
        if found:
            return tuple(found)
    return ()


def _poles(poles: Sequence[tuple[tuple[str, ...], tuple[str, ...]]], more: Pins) -> _As:
    """One pole by its pins, several by ``Path``; without any, the settings have to name them."""
    if len(poles) == 1:
        return _As(Role.CONTACTOR, {"1": poles[0][0], "2": poles[0][1], **more})
    path = "; ".join(f"{a[0]}-{b[0]}" for a, b in poles)
    return _As(Role.CONTACTOR, more, {"Path": path} if path else {})


_SWITCH_POLES = (
    (r"SW_(DPST|Push_Dual|Push_Open_Dual)(_Temperature|_x2)?", ("1-2", "3-4")),
    (r"SW_(Slide_|Push_)?DPDT(_x2)?", ("2-1", "5-4")),
)
"""Poles of KiCad's own switches with several; of a changeover the way that is drawn first."""


def _switch(symbol: Symbol) -> Pins | _As | None:
    """A switch of one pole, or one of several as a contactor without coil: a switch is one pole only."""
    library, _, name = symbol.library_id.rpartition(":")
    numbers = {pin.number for pin in symbol.pins}
    if len(symbol.pins) == 2:
        return _two_ends(symbol)
    for pattern, paths in _SWITCH_POLES:
        if re.fullmatch(pattern, name) and {n for path in paths for n in path.split("-")} <= numbers:
            return _poles([((a,), (b,)) for a, b in (path.split("-") for path in paths)], {})
    if re.fullmatch(r"SW_DIP_x\d+", name) and numbers == {str(k) for k in range(1, len(numbers) + 1)}:
        count = len(numbers)
        return _poles([((str(k),), (str(count + 1 - k),)) for k in range(1, count // 2 + 1)], {})
    lit = [pin for pin in symbol.pins if not {pin.name, pin.number} & {"L", "K", "SH", "MP"}]
    if len(lit) < len(symbol.pins):  # A shield, a lamp: what is left are the contacts, its anode apart.
        lit = [pin for pin in lit if pin.name != "A"]
        return {"1": (lit[0].number,), "2": (lit[1].number,)} if len(lit) == 2 else None
    common = pin_named(symbol, "B", "C|COM|COMMON")
    if len(symbol.pins) == 3 and common is not None:
        other = next((pin.number for pin in symbol.pins if pin.name == "A"), None)
        other = other or next(pin.number for pin in symbol.pins if pin.number != common)
        return {"1": (common,), "2": (other,)}
    return _contact(symbol) if library != "Switch" else None


def _jumper(symbol: Symbol) -> Pins | _As | None:
    """A jumper of two or three pads: the middle one, ``C``, stands open, or is bridged to ``A`` or to both."""
    if len(symbol.pins) == 2:
        return _two_ends(symbol)
    pads = [pin_named(symbol, name) for name in ("A", "C", "B")]
    if len(symbol.pins) != 3 or None in pads:
        return None
    name = symbol.library_id.rpartition(":")[2]
    if "Bridged123" in name:
        return _As(Role.SPLICE)
    state = {} if "Bridged12" in name else {"State": "open"}
    return _As(pins={"1": (pads[1] or "",), "2": (pads[0] or "",)}, fields=state)


def _channel(symbol: Symbol) -> Pins | _As | None:
    """Drain and source, or collector and emitter: all pins of each name, since a package has several.

    The end at the cathode of a MOSFET's body diode comes first, since it conducts backwards, from the second to the
    first.
    """
    kind = re.search(r"([NP])MOS", symbol.library_id.rpartition(":")[2])
    drop = {"Body diode": _BODY_DIODE} if kind else {}
    pairs = (("S", "D"),) if kind and kind[1] == "P" else (("D", "S"),)
    for a, b in (*pairs, ("C", "E"), ("VCC|VIN|VBB|VS", "OUT|VOUT"), ("IN", "OUT")):
        one, two = pin_named(symbol, a), pin_named(symbol, b)
        if one is not None and two is not None:
            names = {pin.number: pin.name or pin.number for pin in symbol.pins}
            fields = drop if (a, b) in pairs else {}
            return _As(pins={"1": (names[one],), "2": (names[two],)}, fields=fields)
    return None


_BODY_DIODE = "0.7 V"
"""A low forward drop of a silicon MOSFET's body diode, so that it conducts early: common practice, no published
source."""


def _diode(symbol: Symbol) -> Pins | _As | None:
    """A diode by A and K; one of two anodes is a suppressor for both directions; of several diodes none is told."""
    names = {pin.name for pin in symbol.pins}
    if names == {"A1", "A2"}:
        return _As(Role.IGNORE)
    if names - {"A", "K", "NC"} or not {"A", "K"} <= names:
        return None
    return {} if len(symbol.pins) == 2 else {"A": ("A",), "K": ("K",)}


def _track(symbol: Symbol) -> Pins | None:
    """The ends of a potentiometer's track: pins 1 and 3 of three."""
    numbers = {pin.number for pin in symbol.pins} - {"MP"}
    if numbers == {"1", "2", "3"}:
        return {"+": ("1",), "-": ("3",)}
    return two_terminals(symbol)


def _lamp_diode(symbol: Symbol) -> Pins | None:
    names = [pin.name for pin in symbol.pins]
    return {"+": ("A",), "-": ("K",)} if names.count("A") == names.count("K") == 1 else None


def _sensed(symbol: Symbol) -> Pins | None:
    """The power ends of a shunt (two pins, or 1 and 4 of four), or of a sensor that names them."""
    names = {pin.number: pin.name for pin in symbol.pins}
    one, two = pin_named(symbol, r"IP\+", r"I\+"), pin_named(symbol, "IP[-–−]", "I[-–−]")
    if one is not None and two is not None:
        return {"1": (names[one],), "2": (names[two],)}
    if set(names) == {"1", "2", "3", "4"} and not any(names.values()):
        return {"1": ("1",), "2": ("4",)}
    return _two_ends(symbol) if len(names) == 2 else None


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
        r"Mechanical:|Graphic:|.*:(MountingHole|Fiducial|Logo|Heatsink|RFShield)",
        ("H", "MH", "FID", "HS", "LOGO", "MK"),
        "a mechanical part",
        Role.IGNORE,
    ),
    _Kind(r"Simulation_SPICE:(?!VDC$|D$|[NP](MOS|PN|JFET))", (), "a part of a simulation", None),
    _Kind(r".*:Ammeter", (), "an ammeter", Role.SWITCH, _two_ends, note=_SERIES),
    _Kind(r".*:(Volt|Ohm|Watt)meter|.*:Oscilloscope", (), "a measuring instrument", Role.IGNORE, note=_NO_CURRENT),
    _Kind(r".*:(Net_?Tie)", ("NT",), "a net tie", Role.SPLICE, note="its pins are one joint"),
    _Kind(r".*:(Solder)?Jumper_2.*Open", (), "an open jumper", Role.SWITCH, _two_ends, {"State": "open"}),
    _Kind(r".*:(Solder)?Jumper", ("JP", "SJ"), "a jumper", Role.SWITCH, _jumper),
    _Kind(r".*:(Polyfuse|PTC|Resettable)", ("PTC",), "a resettable fuse", Role.RESETTABLE, _two_ends),
    _Kind(r".*:(Circuit_?Breaker|MCB|Breaker)", ("CB", "MCB"), "a circuit breaker", Role.BREAKER, _breaker),
    _Kind(r".*:Fuse_?Holder|.*:Fuse|.*_Fuse", ("F", "FU", "FH", "XF"), "a fuse", Role.FUSE, _two_ends),
    _Kind(
        r".*:(Battery|Accu|Akku|.*LiFePO|.*Lead_?Acid)",
        ("BT", "BAT", "B"),
        "a battery",
        Role.BATTERY,
        _source,
        note="it never shuts down by itself",
    ),
    _Kind(r".*:Solar|.*:PV_", ("PV",), "a solar panel", Role.SOLAR, _source),
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
    _Kind(r"Relay_SolidState:", (), "a solid-state relay", Role.CONTACTOR, _relay),
    _Kind(
        r"Relay:|.*:(Relay|Contactor)|.*_Relay|.*_Contactor",
        ("K", "KM", "RL", "RLY", "KA"),
        "a relay",
        Role.CONTACTOR,
        _relay,
        note="its coil is a load",
    ),
    _Kind(r".*:Rotary_?Encoder", ("ENC",), "an encoder", Role.IGNORE, note=_NO_CURRENT),
    _Kind(r"Switch:|.*:(SW_|Switch|Push_?button|E_?Stop|Isolator)", ("SW", "S"), "a switch", Role.SWITCH, _switch),
    _Kind(r"Transformer:|.*:Transformer", ("TR",), "a transformer", None, note="no direct current goes through it"),
    _Kind(r"Triac_Thyristor:|.*:Q_(SCR|Triac)", (), "a thyristor", None),
    _Kind(
        r"Transistor|.*:(Q_|MOSFET|NMOS|PMOS|IRF|IGBT)",
        ("Q", "T"),
        "a transistor",
        Role.CONTACTOR,
        _channel,
        note="its channel counts as closed; the gate takes no part",
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
        r".*:(D_TVS|TVS|D_Zener|Varistor|MOV|SPD|Surge|Spark_?Gap|GDT)",
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
        r".*:(Buzzer|Horn|Siren|Speaker|Solenoid|Valve|Camera|Radio|Load|Electromagnet|Peltier)",
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
