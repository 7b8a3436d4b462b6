"""What a drawing joins: the project's own connectivity, which needs no KiCad on the machine.

Points are shared by whatever ends there; only a junction, label, directive or sheet pin attaches in the middle of
a wire, by the rules at ``_Crowd``.
Names join what geometry does not: local names within one sheet path, global ones everywhere, sheet pins with the
hierarchical labels of their sheet. What can't be resolved is refused, never guessed.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import shown
from loadloom.plugin.reading.buses import Bus, BusNameError, parse_bus
from loadloom.plugin.reading.expansion import Expander, PlacedUnit
from loadloom.plugin.reading.hierarchy import SheetInstance
from loadloom.plugin.reading.pins import pin_numbers
from loadloom.plugin.reading.sheet import Field, Label, LibraryPin, Point, SheetFile, Wire
from loadloom.plugin.reading.text_variables import unescape, unresolved

# Which name a net takes when it has several: the first of these that stands on it.
GLOBAL, POWER, HIDDEN_POWER, LOCAL_POWER, LOCAL, HIERARCHICAL, SHEET_PIN = range(7)
_EVERYWHERE = (GLOBAL, POWER, HIDDEN_POWER)
_WIRES, _BUSES = False, True
_NETCLASS_FIELDS = ("netclass", "net class")


@dataclass(frozen=True, slots=True, order=True)
class NameOnNet:
    """A name that the user gave: strongest first, then nearest to the root, then by text."""

    strength: int
    depth: int
    text: str


@dataclass(frozen=True, slots=True)
class DrawnPin:
    """A pin on the drawing, stacks taken apart."""

    unit: PlacedUnit
    number: str
    name: str
    electrical_type: str


@dataclass(slots=True)
class DrawnNet:
    """Pins that the drawing joins, with the names, classes and power symbols that stand on them."""

    pins: list[DrawnPin] = field(default_factory=list)
    names: list[NameOnNet] = field(default_factory=list)
    classes: set[str] = field(default_factory=set)
    power_symbol: bool = False

    @property
    def user_name(self) -> str | None:
        """The name that the net takes from its labels, if there are any."""
        return min(self.names).text if self.names else None


class _Groups:
    """Disjoint sets of nodes, each node made from a key at first use."""

    def __init__(self) -> None:
        self._ids: dict[Hashable, int] = {}
        self._parents: list[int] = []

    def node(self, key: Hashable) -> int:
        found = self._ids.get(key)
        if found is None:
            found = self._ids[key] = self.fresh()
        return found

    def fresh(self) -> int:
        self._parents.append(len(self._parents))
        return len(self._parents) - 1

    def find(self, node: int) -> int:
        parents = self._parents
        while parents[node] != node:
            parents[node] = parents[parents[node]]
            node = parents[node]
        return node

    def join(self, a: int, b: int) -> None:
        self._parents[self.find(b)] = self.find(a)


class _WireIndex:
    """Finds the wires (or buses) of a sheet that run through a point."""

    def __init__(self, wires: list[Wire]) -> None:
        self.by_x: dict[int, list[Wire]] = defaultdict(list)
        self.by_y: dict[int, list[Wire]] = defaultdict(list)
        self.slanted: list[Wire] = []
        for wire in wires:
            if wire.start[0] == wire.end[0]:
                self.by_x[wire.start[0]].append(wire)
            elif wire.start[1] == wire.end[1]:
                self.by_y[wire.start[1]].append(wire)
            else:
                self.slanted.append(wire)

    def through(self, point: Point) -> Iterator[Wire]:
        for wires in (self.by_x.get(point[0], ()), self.by_y.get(point[1], ()), self.slanted):
            for wire in wires:
                if wire.holds(point):
                    yield wire

    def crosses(self, point: Point) -> bool:
        """Whether several lines run through a point, none of them ending there."""
        return sum(point not in (wire.start, wire.end) for wire in self.through(point)) > 1

    def ends_at(self, point: Point) -> int:
        """How many ends of lines meet at a point; a line that runs through counts as two."""
        return sum(1 if point in (wire.start, wire.end) else 2 for wire in self.through(point))


class _Crowd:
    """What stands at which point of a sheet, as far as it decides about lines that run through the point.

    KiCad 9, tried: a junction joins everything there with every line through it, and so does a label where at
    least three ends of lines meet (a line that runs through counts as two). A label, directive or sheet pin that
    stands by itself in the middle of a line joins it; beside a pin or another label it does not.
    """

    def __init__(self, file: SheetFile, lines: dict[bool, _WireIndex]) -> None:
        self._counts: Counter[Point] = Counter()
        self._counts.update(label.at for label in file.labels)
        self._counts.update(pin.at for sheet in file.sheets for pin in sheet.pins)
        self._counts.update(file.no_connects)
        self._counts.update(at for entry in file.bus_entries for at in entry)
        self._counts.update(at for wire in file.wires for at in {wire.start, wire.end})
        for symbol in file.symbols:
            library = file.library[symbol.library_name]
            units = {symbol.unit, *(instance.unit for instance in symbol.instances.values())}
            pins = {(pin.number, pin.at) for unit in units for pin in library.pins_of(unit, symbol.body)}
            self._counts.update(symbol.place(at) for _, at in pins)
        labels = {label.at for label in file.labels}
        self.joined: dict[bool, set[Point]] = {}
        for layer, index in lines.items():
            meeting = {at for at in labels if index.ends_at(at) >= 3}
            self.joined[layer] = meeting | {at for at in file.junctions if index.ends_at(at)}

    def count(self, at: Point) -> int:
        return self._counts[at]


@dataclass(frozen=True, slots=True)
class _BusOnLine:
    """A bus name that stands on a bus line, with a node for each member."""

    line_node: int
    name: NameOnNet
    bus: Bus
    members: tuple[int, ...]
    file: SheetFile
    line: int


@dataclass(frozen=True, slots=True)
class UnreadBus:
    """A label or sheet pin whose bus name can't be taken apart; it joins nothing."""

    text: str
    why: str
    sheet: SheetInstance
    line: int


def drawn_nets(expander: Expander) -> tuple[list[DrawnNet], tuple[UnreadBus, ...]]:
    """All nets of the drawing, in the order in which their pins are drawn, and the buses that could not be read.

    Raises UnusableError, with file and line, for a label or rule area that can't be resolved here.
    """
    connectivity = _Connectivity(expander)
    return connectivity.run(), tuple(connectivity.unread_buses)


class _Connectivity:
    def __init__(self, expander: Expander) -> None:
        self.expander = expander
        self.groups = _Groups()
        self.pins: list[tuple[int, DrawnPin]] = []
        self.names: list[tuple[int, NameOnNet]] = []
        self.classes: list[tuple[int, set[str]]] = []
        self.power_nodes: list[int] = []
        self.buses: list[_BusOnLine] = []
        self.unread_buses: list[UnreadBus] = []
        self.sheet_pins: list[tuple[int, SheetInstance, str, int]] = []
        self.later: list[tuple[int, int]] = []  # What names join; first comes what lines join.
        self.indexes: dict[int, dict[bool, _WireIndex]] = {}
        self.crowds: dict[int, _Crowd] = {}
        self.children: dict[int, list[SheetInstance]] = defaultdict(list)
        for sheet in expander.hierarchy.instances:
            if sheet.parent is not None:
                self.children[sheet.parent.number].append(sheet)
        # Up to KiCad 9 the aliases stand in the sheets, from 10 on in the project.
        in_files = [file.bus_aliases for file in expander.hierarchy.files]
        self.aliases = {
            unescape(name): tuple(map(unescape, members))
            for aliases in (*in_files, expander.project.bus_aliases)
            for name, members in aliases.items()
        }

    def run(self) -> list[DrawnNet]:
        units: dict[int, list[PlacedUnit]] = defaultdict(list)
        for unit in self.expander.units:
            units[unit.sheet.number].append(unit)
        for sheet in self.expander.hierarchy.instances:
            self.refuse_classes_by_area(sheet)
            self.draw_lines(sheet)
            for unit in units[sheet.number]:
                self.draw_symbol(unit)
            for label in sheet.file.labels:
                self.draw_label(sheet, label)
            self.draw_sheet_pins(sheet)
        self.refuse_doubtful_sheet_pins()
        for node, other in self.later:
            self.groups.join(node, other)
        self.join_buses()
        return self.collect()

    # Lines

    def index(self, file: SheetFile) -> dict[bool, _WireIndex]:
        found = self.indexes.get(id(file))
        if found is None:
            found = self.indexes[id(file)] = {
                layer: _WireIndex([wire for wire in file.wires if wire.is_bus is layer])
                for layer in (_WIRES, _BUSES)
            }
        return found

    def point(self, sheet: SheetInstance, layer: bool, at: Point) -> int:
        return self.groups.node((sheet.number, layer, at))

    def draw_lines(self, sheet: SheetInstance) -> None:
        for wire in sheet.file.wires:
            ends = (self.point(sheet, wire.is_bus, at) for at in (wire.start, wire.end))
            self.groups.join(*ends)
        for layer in (_WIRES, _BUSES):
            for at in self.crowd(sheet.file).joined[layer]:
                self.join_passing(sheet, layer, at)
        wire_ends = self.index(sheet.file)[_WIRES]
        for ends_of_entry in sheet.file.bus_entries:
            joined = [self.join_passing(sheet, _WIRES, at) for at in ends_of_entry if any(wire_ends.through(at))]
            if len(joined) == 2:
                self.groups.join(*joined)

    def join_passing(self, sheet: SheetInstance, layer: bool, at: Point) -> int:
        """Join everything at a point with all lines that run through it."""
        node = self.point(sheet, layer, at)
        for wire in self.index(sheet.file)[layer].through(at):
            self.groups.join(node, self.point(sheet, layer, wire.start))
        return node

    def crowd(self, file: SheetFile) -> _Crowd:
        found = self.crowds.get(id(file))
        if found is None:
            found = self.crowds[id(file)] = _Crowd(file, self.index(file))
        return found

    def attach(self, sheet: SheetInstance, layer: bool, at: Point) -> int:
        """Node of a label or sheet pin: to the middle of a line too, if nothing else is at that point."""
        node = self.point(sheet, layer, at)
        if self.crowd(sheet.file).count(at) == 1:
            self.join_passing(sheet, layer, at)
        return node

    # Symbols

    def draw_symbol(self, unit: PlacedUnit) -> None:
        library = unit.library
        nodes: dict[str, list[int]] = defaultdict(list)
        for pin in library.pins_of(unit.unit, unit.symbol.body):
            alternate = unit.symbol.alternates.get(pin.number)
            name = alternate or pin.name
            kind = pin.alternates.get(alternate, pin.electrical_type) if alternate else pin.electrical_type
            if kind == "no_connect":
                node = self.groups.fresh()  # KiCad never joins these, whatever they touch.
            else:
                node = self.point(unit.sheet, _WIRES, unit.symbol.place(pin.at))
            nodes[pin.number].append(node)
            self.draw_power(unit, pin, kind, node)
            if not unit.reference.startswith("#"):
                self.pins.extend((node, DrawnPin(unit, number, name, kind)) for number in pin_numbers(pin.number))

        groups = [[number] for number in nodes] if library.duplicates_joined else []
        for group in (*groups, *library.jumpers):
            together = [node for number in group for node in nodes.get(number, ())]
            for node, other in pairwise(together):
                self.groups.join(node, other)

    def draw_power(self, unit: PlacedUnit, pin: LibraryPin, kind: str, node: int) -> None:
        power = unit.library.power
        if kind != "power_in" or (power is None and not pin.hidden):
            return
        name = unescape(self.expander.value(unit) if power else pin.name)
        if not name:
            return
        if power:
            self.power_nodes.append(node)
        if power == "local":
            self.give_name(node, unit.sheet, name, LOCAL_POWER)
        else:
            self.give_name(node, unit.sheet, name, POWER if power else HIDDEN_POWER)

    # Names

    def name_node(self, sheet: SheetInstance, name: str, strength: int) -> int:
        """Node that stands for a name: one for each sheet path, and one for all if it is global."""
        local = self.groups.node(("name", sheet.number, name))
        if strength in _EVERYWHERE:
            self.groups.join(self.groups.node(("name", 0, name)), local)
        return local

    def named(self, sheet: SheetInstance, name: str, strength: int) -> NameOnNet:
        full = name if strength in _EVERYWHERE else sheet.path + name
        return NameOnNet(strength, sheet.full_path.count("/"), full)

    def give_name(self, node: int, sheet: SheetInstance, name: str, strength: int) -> None:
        self.later.append((node, self.name_node(sheet, name, strength)))
        self.names.append((node, self.named(sheet, name, strength)))

    def text(self, sheet: SheetInstance, text: str, line: int) -> str:
        expanded = unescape(self.expander.of_sheet(text, sheet))
        variable = unresolved(expanded)
        if variable:
            raise self.refuse(sheet, f"the label {text!r} holds {variable}, which has no value here", line)
        return expanded

    def is_unread_bus(self, sheet: SheetInstance, text: str, line: int) -> bool:
        """Whether a label names a bus that can't be taken apart, which is noted."""
        try:
            parse_bus(text, self.aliases)
        except BusNameError as error:
            self.unread_buses.append(UnreadBus(text, str(error), sheet, line))
            return True
        return False

    def bus_of(self, sheet: SheetInstance, text: str, at: Point, line: int) -> Bus | None:
        """The bus that a label names; refuses one on the wrong kind of line."""
        bus = parse_bus(text, self.aliases)
        layer = bus is not None
        lines = self.index(sheet.file)
        if any(lines[not layer].through(at)) and not any(lines[layer].through(at)):
            wrong = "names a bus but stands on a wire" if bus else "names a single net but stands on a bus"
            raise self.refuse(sheet, f"the label {text!r} {wrong}", line)
        return bus

    def draw_label(self, sheet: SheetInstance, label: Label) -> None:
        if label.kind == "directive":
            for layer in (_WIRES, _BUSES):
                self.give_classes(self.attach(sheet, layer, label.at), sheet, label.fields)
            return
        text = self.text(sheet, label.text, label.line)
        if not text or self.is_unread_bus(sheet, text, label.line):
            return
        bus = self.bus_of(sheet, text, label.at, label.line)
        strength = {"global": GLOBAL, "local": LOCAL, "hierarchical": HIERARCHICAL}[label.kind]
        node = self.attach(sheet, bus is not None, label.at)
        self.give_classes(node, sheet, label.fields)
        if bus is None:
            self.give_name(node, sheet, text, strength)
            if label.kind == "hierarchical":
                self.later.append((node, self.groups.node(("port", sheet.number, text))))
            return
        members = tuple(self.name_node(sheet, member, strength) for member in bus.members)
        for member_node, member in zip(members, bus.members, strict=True):
            name = self.named(sheet, member, strength)
            self.names.append((member_node, NameOnNet(max(strength, LOCAL), name.depth, name.text)))
        self.buses.append(_BusOnLine(node, self.named(sheet, text, strength), bus, members, sheet.file, label.line))
        if label.kind == "hierarchical":
            for member_node, port in zip(members, self.bus_ports(sheet, text, bus), strict=True):
                self.groups.join(member_node, port)

    def bus_ports(self, sheet: SheetInstance, text: str, bus: Bus) -> tuple[int, ...]:
        return tuple(self.groups.node(("port", sheet.number, text, key)) for key in bus.keys)

    def draw_sheet_pins(self, sheet: SheetInstance) -> None:
        for child in self.children[sheet.number]:
            assert child.symbol is not None
            for pin in child.symbol.pins:
                text = self.text(sheet, pin.name, pin.line)
                if self.is_unread_bus(sheet, text, pin.line):
                    continue
                bus = self.bus_of(sheet, text, pin.at, pin.line)
                layer = bus is not None
                if pin.at not in self.crowd(sheet.file).joined[layer] and self.index(sheet.file)[layer].crosses(
                    pin.at
                ):
                    cause = f"the sheet pin {pin.name!r} stands where lines cross, and may join either"
                    raise self.refuse(sheet, cause, pin.line)
                node = self.attach(sheet, layer, pin.at)
                self.give_classes(node, sheet, pin.fields)
                name = self.named(sheet, text, SHEET_PIN)
                if bus is None:
                    self.later.append((node, self.groups.node(("port", child.number, text))))
                    self.names.append((node, name))
                    self.sheet_pins.append((node, sheet, text, pin.line))
                else:
                    ports = self.bus_ports(child, text, bus)
                    self.buses.append(_BusOnLine(node, name, bus, ports, sheet.file, pin.line))

    def join_buses(self) -> None:
        """Join the members of all bus names that stand on one bus line."""
        by_line: dict[int, list[_BusOnLine]] = defaultdict(list)
        for bus in self.buses:
            by_line[self.groups.find(bus.line_node)].append(bus)
        classes: dict[int, set[str]] = defaultdict(set)
        for node, found in self.classes:
            classes[self.groups.find(node)] |= found
        for line_node, buses in by_line.items():
            first = min(buses, key=lambda bus: bus.name)
            for other in buses:
                if other.bus.is_vector is not first.bus.is_vector:
                    raise UnusableError(
                        f"the bus {other.name.text!r} is joined with {first.name.text!r}, of another kind",
                        shown(other.file.path),
                        other.line,
                        hint="name both as vectors or both as groups",
                    )
                here = dict(zip(first.bus.keys, first.members, strict=True))
                for key, member in zip(other.bus.keys, other.members, strict=True):
                    if key in here:
                        self.groups.join(here[key], member)
                if classes[line_node]:
                    self.classes.extend((member, classes[line_node]) for member in other.members)

    def refuse_doubtful_sheet_pins(self) -> None:
        """Refuse a sheet pin that has the name of a label it is not wired to, where that label comes second.

        KiCad 9, tried: the two are joined if lines join the label with a stronger name, else they are not.
        """
        on_line: dict[int, set[NameOnNet]] = defaultdict(set)
        for node, name in self.names:
            on_line[self.groups.find(node)].add(name)
        second = {
            (name.depth, name.text)
            for names in on_line.values()
            for name in names - {min(names)}
            if name.strength in (LOCAL, HIERARCHICAL)
        }
        for node, sheet, text, line in self.sheet_pins:
            name = self.named(sheet, text, SHEET_PIN)
            alone = all(other.strength == SHEET_PIN for other in on_line[self.groups.find(node)])
            if alone and (name.depth, name.text) in second:
                cause = f"the sheet pin {text!r} is named as a label on another line, one of two names there"
                raise self.refuse(sheet, cause, line)

    # Classes

    def give_classes(self, node: int, sheet: SheetInstance, fields: dict[str, Field]) -> None:
        found = {
            self.expander.of_sheet(item.text, sheet)
            for name, item in fields.items()
            if name.lower() in _NETCLASS_FIELDS
        }
        if found - {""}:
            self.classes.append((node, found - {""}))

    def refuse_classes_by_area(self, sheet: SheetInstance) -> None:
        for area in sheet.file.rule_areas:
            for label in sheet.file.labels:
                if label.kind == "directive" and any(side.holds(label.at) for side in area):
                    raise self.refuse(
                        sheet, "a rule area gives a net class, which is not read without kicad-cli", label.line
                    )

    # Result

    def collect(self) -> list[DrawnNet]:
        find = self.groups.find
        nets: dict[int, DrawnNet] = {}
        for node, pin in self.pins:
            nets.setdefault(find(node), DrawnNet()).pins.append(pin)
        for node, name in self.names:
            if (root := find(node)) in nets:
                nets[root].names.append(name)
        for node, classes in self.classes:
            if (root := find(node)) in nets:
                nets[root].classes |= classes
        for node in self.power_nodes:
            if (root := find(node)) in nets:
                nets[root].power_symbol = True
        return list(nets.values())

    def refuse(self, sheet: SheetInstance, cause: str, line: int) -> UnusableError:
        return UnusableError(cause, shown(sheet.file.path), line)
