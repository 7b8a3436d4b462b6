"""What the symbols of an unprepared drawing are likely to be, group by group, each proposal with its reason.

Symbols are of one group if they share library symbol and letters of the reference, and connectors their value as
well, since it is the value that says what hangs on a connector. What the settings or the drawing already say is not
asked again.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from networkx.utils import UnionFind

from loadloom.graph.model.naming import natural_key, some_of
from loadloom.plugin import values
from loadloom.plugin.building.find_roles import find_roles, role_by_any
from loadloom.plugin.building.pins import COIL, path_ends
from loadloom.plugin.drawing import Drawing, Net, Symbol
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.fields import folded
from loadloom.plugin.notes import Notes
from loadloom.plugin.roles import FIELDS, SOURCES, Role, letters_of
from loadloom.plugin.setup.words import (
    BATTERY_WORDS,
    GROUND,
    INPUT_WORDS,
    LOAD_WORDS,
    POSITIVE,
    POWER_WORDS,
    SOLAR_WORDS,
    SOURCE_WORDS,
    by_characteristic,
    capacity_in,
    has_word,
    made_voltage,
    stated_in,
)
from loadloom.plugin.stock_roles import MINUS, PLUS, Pins, Stock, pin_named, stock_role, works_either_way


@dataclass(frozen=True, slots=True)
class PartSays:
    """What holds for one part of a group: fields read out of its value, and its own pins where the nets tell
    them."""

    fields: Mapping[str, str] = field(default_factory=dict)
    pins: Pins = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Group:
    """Symbols that are asked about together. ``role`` None: nothing can be proposed.

    ``pins`` and ``fields`` are those of a role rule; ``of_parts`` is what single parts say beside, by reference.
    """

    symbols: tuple[Symbol, ...]
    what: str
    role: Role | None
    reason: str
    pins: Pins = field(default_factory=dict)
    fields: Mapping[str, str] = field(default_factory=dict)
    of_parts: Mapping[str, PartSays] = field(default_factory=dict)
    by_value: bool = False
    sure: bool = True

    @property
    def by_own_pins(self) -> bool:
        """Whether its role and pins follow from what each symbol is joined to, not from its library symbol."""
        return self.by_value and self.role is not Role.CONNECTOR

    def with_fields(self, symbol: Symbol) -> Symbol:
        """One of its symbols with the fields that its rule gives where the symbol has none."""
        return replace(symbol, library_fields={**self.fields, **symbol.library_fields})

    @property
    def library_id(self) -> str:
        """Library symbol of all of them."""
        return self.symbols[0].library_id

    @property
    def title(self) -> str:
        """``118 × Device:R (R1, R2, R3 and 115 more)``, with the value where that tells the group."""
        value = f" “{self.symbols[0].value}”" if self.by_value and self.symbols[0].value else ""
        names = some_of([symbol.reference for symbol in self.symbols], 4)
        if not self.library_id:
            return f"{names}{value}"
        return f"{len(self.symbols)} × {self.library_id}{value} ({names})"


@dataclass(frozen=True, slots=True)
class Proposals:
    """All groups, those first whose role is surest to matter: sources, loads, then the rest."""

    groups: tuple[Group, ...]
    lines_are_wires: bool
    wire_classes: tuple[str, ...]


def propose(drawing: Drawing, settings: DrawingSettings) -> Proposals:
    """Proposals for everything that neither drawing nor settings give a role."""
    return _Proposer(drawing, settings).run()


_SERIES = (
    {Role.FUSE, Role.BREAKER, Role.RESETTABLE, Role.LIMITER, Role.SWITCH, Role.WIRE, Role.TRACK},
    {Role.CONTACTOR},
    {Role.DIODE},
)
"""Roles of parts in series, those first that are never put across feed and return."""
_ENDS = (("+", "1"), ("-", "2"))
_GIVEN_ENDS = (("OUT+", "3"), ("OUT-", "4"))


def source_by(word: str) -> Role:
    """The role of a source that a word tells: what hangs on a connector called ``BATT`` is a battery."""
    return Role.BATTERY if word in BATTERY_WORDS else Role.SOLAR if word in SOLAR_WORDS else Role.OUTPUT


class Rails:
    """Nets joined by parts in series, each on the feed (``+``), on the return (``-``) or neither."""

    def __init__(self) -> None:
        self._joined = UnionFind()
        self._sides: dict[str, str] = {}

    def mark(self, net: Net | None, side: str) -> None:
        """Say which side a net is on; what was said first counts."""
        if net is not None:
            self._sides.setdefault(self._joined[net.name], side)

    def join(self, one: Net | None, two: Net | None) -> None:
        """Take two nets for one rail, unless one is on the feed and the other on the return: a diode across a coil,
        or two transistors in a row, join nothing of that kind."""
        sides = {self.side(one), self.side(two)} - {""}
        if one is None or two is None or len(sides) > 1:
            return
        self._joined.union(one.name, two.name)  # type: ignore[no-untyped-call]
        if sides:
            self._sides[self._joined[one.name]] = sides.pop()

    def side(self, net: Net | None) -> str:
        """``+``, ``-``, or nothing where neither is reached."""
        return "" if net is None else self._sides.get(self._joined[net.name], "")


class _Proposer:
    def __init__(self, drawing: Drawing, settings: DrawingSettings) -> None:
        self.drawing = drawing
        self.settings = settings
        self._rails: Rails | None = None
        self.known = find_roles(drawing, settings, Notes())
        self.net_of: dict[tuple[str, str], Net] = {
            (pin.reference, pin.number): net for net in drawing.nets for pin in net.pins
        }

    def run(self) -> Proposals:
        groups = [self.group(symbols) for symbols in self.alike()]
        groups = self.with_connectors_placed(groups)
        groups = [self.with_parts(group, groups) for group in groups]
        order = {**dict.fromkeys(SOURCES, 0), Role.LOAD: 1}
        groups.sort(key=lambda g: (order.get(g.role, 2) if g.role else 3, natural_key(g.symbols[0].reference)))
        roles = {one.role for one in self.known.values()} | {group.role for group in groups}
        no_wires = not roles & {Role.WIRE, Role.CABLE}
        unstated = no_wires and not self.settings.wire_classes and bool(groups)
        used = {name for net in self.drawing.nets if len(net.pins) > 1 for name in net.classes or ("Default",)}
        classes = sorted(used, key=lambda name: (name == "Default", natural_key(name)))
        return Proposals(tuple(groups), unstated, tuple(classes) if unstated else ())

    def alike(self) -> Iterable[list[Symbol]]:
        """The symbols without a role, those of a group together."""
        found: dict[tuple[str, ...], list[Symbol]] = {}
        left = [left.symbol for left in self.drawing.left_out]
        for symbol in (*self.drawing.symbols, *left):
            if symbol.reference in self.known or symbol.reference.startswith("#") or not symbol.pins:
                continue
            stock = stock_role(symbol)
            if symbol in left and (
                stock is None or stock.role is not Role.IGNORE or role_by_any(symbol, self.settings)
            ):
                continue
            key: tuple[str, ...] = (symbol.library_id, letters_of(symbol.reference))
            if stock is None or stock.role in (Role.CONNECTOR, None):
                key += (symbol.value,)
            found.setdefault(key, []).append(symbol)
        return found.values()

    def group(self, symbols: list[Symbol]) -> Group:
        first = symbols[0]
        stock = stock_role(first)
        by_value = stock is None or stock.role in (Role.CONNECTOR, None)
        if stock is None or stock.role is None:
            stock = self.block(first, stock)
        return Group(
            tuple(symbols),
            stock.what,
            stock.role,
            stock.reason,
            stock.pins,
            stock.fields,
            by_value=by_value,
            sure=stock.sure,
        )

    def block(self, symbol: Symbol, stock: Stock | None) -> Stock:
        """A symbol of the user's own: by its words, with a plus and a minus found by pin names."""
        what = stock.what if stock else "a part of its own"
        words = f"{symbol.value} {symbol.library_id.rpartition(':')[2]} {letters_of(symbol.reference)}"
        # An amplifier has inputs + and - beside the pins that feed it.
        fed = {
            name
            for name in ("V+", "VCC", "VDD", "VS", "VM")
            if any(pin.name.upper() == name for pin in symbol.pins)
        }
        plus = pin_named(symbol, *(re.escape(name) for name in sorted(fed)), *PLUS[:-1])
        minus = pin_named(symbol, *((r"V[-–−]", "GND", "VEE", "VSS") if fed else ()), *MINUS[:-1])
        pins: Pins = {"+": (plus,), "-": (minus,)} if plus and minus and plus != minus else {}
        if not pins:
            pins = self.by_nets(symbol) or {}
        word = has_word(words, SOURCE_WORDS)
        if pins and word:
            return Stock(what, source_by(word), f"its name has the word {word}", pins, sure=False)
        if pins:
            return Stock(what, Role.LOAD, "it has a plus and a minus", pins, sure=False)
        if stock is not None:
            return stock
        return Stock(what, None, "neither its library symbol nor its reference tells")

    def by_nets(self, symbol: Symbol) -> Pins | None:
        """Plus and minus of a part with two pins in use, one of them on ground."""
        used = [pin.number for pin in symbol.pins if self.joined(symbol, pin.number)]
        ground = [number for number in used if GROUND.search(self.name(symbol, number))]
        if len(used) != 2 or len(ground) != 1:
            return None
        other = next(number for number in used if number not in ground)
        return {"+": (other,), "-": (ground[0],)}

    def joined(self, symbol: Symbol, number: str) -> bool:
        net = self.net_of.get((symbol.reference, number))
        return net is not None and (len(net.pins) > 1 or net.power_symbol)

    def name(self, symbol: Symbol, number: str) -> str:
        """The name of the net at a pin, without its sheet; empty where KiCad made it up."""
        net = self.net_of.get((symbol.reference, number))
        return net.name.rpartition("/")[2] if net is not None and net.named_by_user else ""

    def with_parts(self, group: Group, groups: list[Group]) -> Group:
        """The group with what its single parts say: a quantity in the value, and plus and minus where drawn
        reversed."""
        says = {}
        for symbol in group.symbols:
            fields = fields_from_value(symbol, group.role, resistor=group.what in ("a resistor", "a potentiometer"))
            pins: Pins = {}
            if group.role is Role.LOAD and group.what != "a converter":
                pins = self.turned(symbol, group, self.rails(groups))
            if fields or pins:
                says[symbol.reference] = PartSays(fields, pins)
        return replace(group, of_parts=says)

    def turned(self, symbol: Symbol, group: Group, rails: Rails) -> Pins:
        """Plus and minus of a load with two pins that is drawn with the pin taken as plus on the return."""
        named = {pin.name: pin.number for pin in symbol.pins}
        if len(symbol.pins) != 2 or (set(named) >= {"+", "-"} and not works_either_way(symbol)):
            return {}
        numbers = [pin.number for pin in symbol.pins]
        plus = group.pins.get("+", (named.get("+", "1"),))[0]
        if plus not in numbers:
            plus = named.get(plus, numbers[0])
        minus = next(number for number in numbers if number != plus)
        on = [rails.side(self.net_of.get((symbol.reference, number))) for number in (plus, minus)]
        if (on[0] == "-" and on[1] != "-") or (on[1] == "+" and on[0] != "+"):
            return {"+": (minus,), "-": (plus,)}
        return {}

    @cached_property
    def by_reference(self) -> Mapping[str, Symbol]:
        """All symbols by reference."""
        return {symbol.reference: symbol for symbol in self.drawing.symbols}

    def rails(self, groups: list[Group]) -> Rails:
        """Which nets are on the feed and which on the return: those that parts in series join count as one."""
        if self._rails is None:
            self._rails = Rails()
            placed = [(one.symbol, one.role, one.ends) for one in self.known.values()]
            placed += [(g.with_fields(symbol), g.role, g.pins) for g in groups if g.role for symbol in g.symbols]
            for symbol, role, pins in placed:
                if role in SOURCES or role is Role.CONVERTER:
                    given = _GIVEN_ENDS if role is Role.CONVERTER else _ENDS
                    for (end, number), side in zip(given, "+-", strict=True):
                        self._rails.mark(self.net_at(symbol, pins.get(end, (end, number))), side)
            for net in self.drawing.nets:
                if net.named_by_user and GROUND.search(net.name.rpartition("/")[2]):
                    self._rails.mark(net, "-")
            for roles in _SERIES:
                for symbol, role, pins in placed:
                    for one, two in self.ways(symbol, pins) if role in roles else ():
                        self._rails.join(self.net_at(symbol, one), self.net_at(symbol, two))
        return self._rails

    def ways(self, symbol: Symbol, pins: Pins) -> list[tuple[tuple[str, ...], tuple[str, ...]]]:
        """Pairs of pins that a part in series joins: its ends, those of its ``Path``, else its first two pins."""
        if pins.get("1") and pins.get("2"):
            return [(pins["1"], pins["2"])]
        path = path_ends(symbol)
        if path:
            return [((a,), (b,)) for a, b in zip(path[::2], path[1::2], strict=True)]
        beside = [pin.number for pin in symbol.pins if not {pin.number, pin.name} & set(COIL)]
        return [((beside[0],), (beside[1],))] if len(beside) == 2 else []

    def net_at(self, symbol: Symbol, texts: Iterable[str]) -> Net | None:
        """The net at the first pin that has one of these names or numbers."""
        for text in texts:
            for pin in symbol.pins:
                if text in (pin.name, pin.number):
                    return self.net_of.get((symbol.reference, pin.number))
        return None

    # Connectors

    def with_connectors_placed(self, groups: list[Group]) -> list[Group]:
        """Connectors that are the end of the drawing: a source or a load hangs on them, as their words say."""
        sources = (*SOURCE_WORDS, *(f"{word} in" for word in POWER_WORDS))
        placed = [self.by_words(group, sources) for group in groups]
        for words in (POWER_WORDS, INPUT_WORDS):
            if not any(group.role in SOURCES for group in placed):
                placed = [self.by_words(group, words) for group in placed]
        placed = [self.by_words(group, ()) for group in placed]
        has_source = any(one.role in SOURCES for one in self.known.values()) or any(
            group.role in SOURCES for group in placed
        )
        if not has_source:
            placed = self.with_a_source(placed)
            has_source = any(group.role in SOURCES for group in placed)
        return [self.as_load(group) if has_source else group for group in placed]

    def by_words(self, group: Group, sources: tuple[str, ...]) -> Group:
        """A connector with two pins in use as a source, if its words say so, or as a load where none are asked
        for."""
        if group.role is not Role.CONNECTOR:
            return group
        pins = self.terminals(group)
        words = " ".join(
            (
                group.symbols[0].value,
                *(text for name, text in group.symbols[0].fields.items() if "escription" in name),
            )
        )
        word = has_word(words, sources or LOAD_WORDS)
        role = source_by(word or "") if sources else Role.LOAD
        if word in (*POWER_WORDS, *INPUT_WORDS) and has_word(words, LOAD_WORDS):
            return group
        if word and pins is not None:
            reason = f"its value has the word {word}: the drawing ends at this connector"
            return replace(group, role=role, pins=pins, reason=reason, sure=False)
        return group

    def with_a_source(self, groups: list[Group]) -> list[Group]:
        """Without any source: the connector whose plus has the name of a supply, else a barrel jack, feeds it
        all."""
        for test in (self.is_feed, self.is_jack):
            for k, group in enumerate(groups):
                pins = self.terminals(group) if group.role is Role.CONNECTOR else None
                if pins is not None and test(group, pins):
                    reason = "nothing else feeds the drawing, and its plus has the name of a supply"
                    if test == self.is_jack:
                        reason = "nothing else feeds the drawing, and it is a power jack"
                    found = replace(group, role=Role.OUTPUT, pins=pins, reason=reason, sure=False)
                    return [*groups[:k], found, *groups[k + 1 :]]
        return groups

    def is_feed(self, group: Group, pins: Pins) -> bool:
        plus = pins.get("+", ("1",))[0]
        name = self.name(group.symbols[0], plus)
        return len(group.symbols) == 1 and POSITIVE.search(name) is not None

    def is_jack(self, group: Group, pins: Pins) -> bool:
        return len(group.symbols) == 1 and "jack" in group.library_id.casefold()

    def as_load(self, group: Group) -> Group:
        """A two-pin connector between a feed and ground, with nothing beyond it: a load hangs on it."""
        if group.role is not Role.CONNECTOR or any(self.is_mated(symbol) for symbol in group.symbols):
            return group
        pins = [self.by_nets(symbol) for symbol in group.symbols]
        if any(pair is None for pair in pins) or any(len(symbol.pins) > 2 for symbol in group.symbols):
            return group
        found = pins[0] or {}
        alike = all(pair == found for pair in pins)
        reason = "the drawing ends at this two-pin connector, which has one pin at ground"
        return replace(group, role=Role.LOAD, pins=found if alike else {}, reason=reason, sure=False)

    def terminals(self, group: Group) -> Pins | None:
        """Plus and minus of a connector with two pins in use; by its nets, else pin 1 is plus."""
        if any(self.is_mated(symbol) for symbol in group.symbols):
            return None
        found = self.by_nets(group.symbols[0])
        if found is not None:
            return found
        used = [pin.number for pin in group.symbols[0].pins if self.joined(group.symbols[0], pin.number)]
        return {"+": (used[0],), "-": (used[1],)} if len(used) == 2 else None

    def is_mated(self, symbol: Symbol) -> bool:
        return symbol.reference in self.mated

    @cached_property
    def mated(self) -> frozenset[str]:
        """References of connectors that name a mate or are named as one."""
        found: set[str] = set()
        for symbol in self.drawing.symbols:
            for name, text in symbol.fields.items():
                if name.strip().casefold() == "mates" and text.strip():
                    found |= {symbol.reference, text.strip()}
        return frozenset(found)


_READ_FROM_VALUE = {
    Role.FUSE: ("rating", values.current_a, "A"),
    Role.BREAKER: ("rating", values.current_a, "A"),
    Role.OUTPUT: ("voltage", values.voltage_band_v, "V"),
    Role.LOAD: ("load", values.demand, "WA"),
    Role.BATTERY: ("voltage", values.voltage_band_v, "V"),
    Role.CONVERTER: ("voltage", values.voltage_band_v, "V"),
}


def fields_from_value(symbol: Symbol, role: Role | None, *, resistor: bool = False) -> dict[str, str]:
    """The main field, read out of a value that says more than it (``Battery 12V 100Ah``), and a battery's capacity;
    empty where the value says the main field alone.

    A resistor's value may lack its unit, as in ``4k7``.
    """
    if role not in _READ_FROM_VALUE:
        return {}
    found: dict[str, str | None] = {}
    drawn = {folded(name) for name, text in symbol.fields.items() if text.strip()}
    key, parse, units = _READ_FROM_VALUE[role]
    if folded(FIELDS[role].names[0]) not in drawn:
        try:
            parse(symbol.value)
        except values.UnreadableValue:
            found[key] = stated_in(symbol.value, units, resistor=resistor)
            if role is Role.CONVERTER:
                found[key] = made_voltage(symbol.value)
            if role is Role.BREAKER and found[key] is None:
                found[key] = by_characteristic(symbol.value)
    if role is Role.BATTERY and "capacity" not in drawn:
        found["capacity"] = capacity_in(symbol.value)
    return {name: text for name, text in found.items() if text}
