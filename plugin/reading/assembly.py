"""A Drawing from parts and nets, whichever way these were read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from loadloom.graph.model.findings import Finding, Subject
from loadloom.graph.model.harness import Provenance
from loadloom.graph.model.naming import natural_key
from loadloom.graph.rules import bus_unreadable
from loadloom.plugin.drawing import Drawing, LeftOut, Net, Pin, PinRef, Symbol
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.reading.connectivity import SHEET_PIN, DrawnNet, DrawnPin, UnreadBus, drawn_nets
from loadloom.plugin.reading.expansion import Expander
from loadloom.plugin.reading.hierarchy import Hierarchy
from loadloom.plugin.reading.netlist import Component, NetEntry, Netlist, NetNode, pin_fault
from loadloom.plugin.reading.parts import LeftPart, Part, read_parts
from loadloom.plugin.reading.pins import pin_numbers
from loadloom.plugin.reading.project import Project


@dataclass(frozen=True, slots=True)
class OwnReading:
    """What this program reads of a schematic by itself.

    ``nets`` is None where the drawing holds something that only kicad-cli can resolve; ``obstacle`` says what.
    ``unread_buses`` join nothing in these nets.
    """

    hierarchy: Hierarchy
    project: Project
    expander: Expander
    parts: dict[str, Part]
    left: tuple[LeftPart, ...]
    nets: list[DrawnNet] | None
    obstacle: UnusableError | None
    unread_buses: tuple[UnreadBus, ...] = ()


def read_own(hierarchy: Hierarchy, project: Project) -> OwnReading:
    """Read parts and nets.

    Raises UnusableError for faults of the drawing itself; what only this route can't resolve is kept as obstacle.
    """
    expander = Expander(hierarchy, project)
    parts, left = read_parts(expander)
    try:
        nets, unread = drawn_nets(expander)
    except UnusableError as error:
        return OwnReading(hierarchy, project, expander, parts, left, None, error)
    return OwnReading(hierarchy, project, expander, parts, left, nets, None, unread)


def from_own(own: OwnReading, provenance: Provenance, notices: Iterable[Finding], route: str) -> Drawing:
    """The Drawing by this program's own reading alone.

    Raises UnusableError if there is an obstacle.
    """
    if own.nets is None:
        raise own.obstacle or UnusableError("can't be read without kicad-cli")
    faults = _pin_faults(own.nets)
    taken = own.parts.keys() - faults.keys()
    pins: dict[str, dict[str, Pin]] = defaultdict(dict)
    nets = []
    # The strongest names first, so that it is the weaker ones that get a number.
    for drawn in sorted(own.nets, key=lambda net: min(net.names).strength if net.names else SHEET_PIN + 1):
        references = {}
        for pin in drawn.pins:
            pins[pin.unit.reference].setdefault(pin.number, Pin(pin.number, pin.name, pin.electrical_type))
            if pin.unit.reference in taken:
                references[PinRef(pin.unit.reference, pin.number)] = pin.unit.sheet.path
        if not references:
            continue
        name = drawn.user_name or automatic_name(drawn.pins)
        nets.append(
            Net(
                name=name,
                pins=tuple(references),
                named_by_user=bool(drawn.names),
                classes=tuple(drawn.classes - {"Default"} | own.project.classes_of(name)),
                power_symbol=drawn.power_symbol,
                sheets=tuple(references.values()),
            )
        )
    nets = _with_unique_names(nets)
    drawn_symbols = {
        reference: _own_symbol(part, own.hierarchy, pins[reference].values())
        for reference, part in own.parts.items()
    }
    left_out = [
        LeftOut(drawn_symbols[reference], *faults[reference]) for reference in own.parts if reference in faults
    ]
    left_out += [_left_out(left, own) for left in own.left]
    symbols = [symbol for reference, symbol in drawn_symbols.items() if reference in taken]
    notices = (*notices, *(_bus_notice(bus, own) for bus in own.unread_buses))
    return _ordered(symbols, nets, provenance, notices, route, left_out)


def _bus_notice(bus: UnreadBus, own: OwnReading) -> Finding:
    file = own.hierarchy.file_name(bus.sheet.file)
    subject = Subject(id=bus.text, sheet_path=bus.sheet.path, file=file, line=bus.line)
    return bus_unreadable.RULE.finding(
        subject,
        f"The bus name {bus.text} in {file}, line {bus.line}, was not read ({bus.why}): "
        "what the bus joins is not joined.",
        "Write the members out, or read the drawing with kicad-cli.",
    )


def _pin_faults(nets: Iterable[DrawnNet]) -> dict[str, tuple[str, str]]:
    """Of the parts whose pins can't be told apart: why, and what mends it."""
    on: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for net in nets:
        name = net.user_name or (automatic_name(net.pins) if net.pins else "")
        for reference, number in dict.fromkeys((pin.unit.reference, pin.number) for pin in net.pins):
            on[reference][number].append(name)
    found = {reference: pin_fault(pins) for reference, pins in on.items()}
    return {reference: fault for reference, fault in found.items() if fault is not None}


def _left_out(left: LeftPart, own: OwnReading) -> LeftOut:
    """With its pins as its library symbol has them: a netlist lists all symbols without a number as one part."""
    pins = {
        number: Pin(number, pin.name, pin.electrical_type)
        for unit in left.part.units
        for pin in unit.library.pins_of(unit.unit, unit.symbol.body)
        for number in pin_numbers(pin.number)
    }
    return LeftOut(_own_symbol(left.part, own.hierarchy, pins.values()), left.cause, left.remedy, left.unnumbered)


def from_netlist(
    netlist: Netlist, own: OwnReading | None, provenance: Provenance, notices: Iterable[Finding], route: str
) -> Drawing:
    """The Drawing by a netlist, with what the own reading of the same schematic adds: lines, uuids, names, classes.

    Without it a net counts as standing on a power symbol where its name is global (no ``/``), since a netlist
    does not tell power symbols from global labels: the safe side, as a power symbol has no conductor drawn.
    """
    pins: dict[str, dict[str, Pin]] = defaultdict(dict)
    for entry in netlist.nets:
        for node in entry.nodes:
            pins[node.reference].setdefault(node.number, Pin(node.number, node.name, node.electrical_type))
    left_by_own = {left.part.reference for left in own.left} if own is not None else set()
    symbols = [
        _listed(component, pins[component.reference].values())
        for component in netlist.components
        if component.reference not in left_by_own
    ]
    left_out = [
        LeftOut(_listed(left.component, _pins_of(left.pins)), left.cause, left.remedy, left.unnumbered)
        for left in netlist.left_out
        if left.component.reference not in left_by_own
    ]
    if own is not None:
        symbols = [_located(symbol, own) for symbol in symbols]
        left_out = [replace(left, symbol=_located(left.symbol, own)) for left in left_out]
        left_out += [_left_out(left, own) for left in own.left]
    sheet_of = {symbol.reference: symbol.sheet_path for symbol in symbols}
    on_net = _nets_by_pin(own)
    entries = (
        replace(entry, nodes=tuple(node for node in entry.nodes if node.reference in sheet_of))
        for entry in netlist.nets
    )
    nets = [_net(entry, on_net, own, sheet_of) for entry in entries if entry.nodes]
    return _ordered(symbols, nets, provenance, notices, route, left_out)


def _listed(component: Component, pins: Iterable[Pin]) -> Symbol:
    return Symbol(
        reference=component.reference,
        value=component.value,
        library_id=component.library_id,
        pins=tuple(pins),
        fields=component.fields,
        library_fields=component.library_fields,
        dnp=component.dnp,
        sheet_path=component.sheet_path,
        instance_path=component.instance_path,
        uuids=component.uuids,
    )


def _pins_of(nodes: Iterable[NetNode]) -> list[Pin]:
    return [Pin(node.number, node.name, node.electrical_type) for node in nodes]


def automatic_name(pins: Iterable[DrawnPin]) -> str:
    """A name as KiCad makes one up for a net without labels; no key, since it differs between versions."""
    pins = list(pins)
    head = "Net" if len({(pin.unit.reference, pin.number) for pin in pins}) > 1 else "unconnected"
    names = []
    for pin in pins:
        named = pin.name and pin.name != pin.number
        tail = f"-{pin.name}" if named else ""
        if not named or head == "unconnected":
            tail += f"-Pad{pin.number}"
        names.append(f"{head}-({pin.unit.reference}{tail})")
    return min(names, key=lambda name: ("-Pad" in name, natural_key(name)))


def _with_unique_names(nets: Iterable[Net]) -> list[Net]:
    """Tell nets of one name apart by a number, as KiCad does: a sheet pin can have the name of another net."""
    taken: set[str] = set()
    unique = []
    for net in nets:
        name, number = net.name, 0
        while name in taken:
            number += 1
            name = f"{net.name}_{number}"
        taken.add(name)
        unique.append(replace(net, name=name))
    return unique


def _own_symbol(part: Part, hierarchy: Hierarchy, pins: Iterable[Pin]) -> Symbol:
    first = part.first
    return Symbol(
        reference=part.reference,
        value=part.value,
        library_id=first.symbol.library_id,
        pins=tuple(pins),
        fields=part.fields,
        library_fields=part.library_fields,
        dnp=part.dnp,
        sheet_path=first.sheet.path,
        instance_path=first.sheet.uuid_path,
        uuids=tuple(unit.symbol.uuid for unit in part.units),
        file=hierarchy.file_name(first.sheet.file),
        line=first.symbol.line,
        field_lines=part.field_lines,
    )


def _located(symbol: Symbol, own: OwnReading) -> Symbol:
    part = own.parts.get(symbol.reference)
    if part is None:
        return symbol
    drawn = _own_symbol(part, own.hierarchy, symbol.pins)
    return replace(
        symbol,
        library_id=drawn.library_id,  # A netlist names the copy inside the drawing, as R_1, where it was changed.
        library_fields=drawn.library_fields,
        sheet_path=drawn.sheet_path,
        instance_path=drawn.instance_path,
        uuids=drawn.uuids,
        file=drawn.file,
        line=drawn.line,
        field_lines=drawn.field_lines,
    )


def _nets_by_pin(own: OwnReading | None) -> dict[PinRef, DrawnNet]:
    if own is None or own.nets is None:
        return {}
    return {PinRef(pin.unit.reference, pin.number): net for net in own.nets for pin in net.pins}


def _net(entry: NetEntry, on_net: dict[PinRef, DrawnNet], own: OwnReading | None, sheet_of: dict[str, str]) -> Net:
    pins = tuple(PinRef(node.reference, node.number) for node in entry.nodes)
    drawn = [on_net[pin] for pin in pins if pin in on_net]
    if drawn:
        named = any(net.names for net in drawn)
        power = any(net.power_symbol for net in drawn)
    else:
        named = not entry.looks_automatic
        power = named and "/" not in entry.name
    # kicad-cli 9.0.8 writes Default where a directive label stands on a net that is local to a sub-sheet (10.0.7
    # does not), and for some nets whose name a class pattern of the project matches. The own reading of labels
    # and project puts the class back.
    classes = set(entry.classes).union(*(net.classes - {"Default"} for net in drawn))
    if own is not None:
        classes |= own.project.classes_of(entry.name)
    sheets = {
        next(
            p.unit.sheet.path
            for p in on_net[pin].pins
            if (p.unit.reference, p.number) == (pin.reference, pin.number)
        )
        if pin in on_net
        else sheet_of.get(pin.reference, "/")
        for pin in pins
    }
    return Net(entry.name, pins, named, tuple(classes), power, tuple(sheets))


def _ordered(
    symbols: Iterable[Symbol],
    nets: Iterable[Net],
    provenance: Provenance,
    notices: Iterable[Finding],
    route: str,
    left_out: Iterable[LeftOut],
) -> Drawing:
    """Everything in natural order, so that the same drawing gives the same Drawing by any route."""

    def pin_key(pin: PinRef) -> tuple[object, object]:
        return natural_key(pin.reference), natural_key(pin.number)

    ordered = [
        replace(
            net,
            pins=tuple(sorted(net.pins, key=pin_key)),
            classes=tuple(sorted(set(net.classes), key=natural_key)),
            sheets=tuple(sorted(set(net.sheets), key=natural_key)),
        )
        for net in nets
    ]

    def with_pins_ordered(symbol: Symbol) -> Symbol:
        return replace(symbol, pins=tuple(sorted(symbol.pins, key=lambda pin: natural_key(pin.number))))

    return Drawing(
        symbols=tuple(map(with_pins_ordered, sorted(symbols, key=lambda symbol: natural_key(symbol.reference)))),
        nets=tuple(sorted(ordered, key=lambda net: pin_key(net.pins[0]))),
        provenance=replace(provenance, route=route),
        notices=tuple(notices),
        route=route,
        left_out=tuple(
            replace(left, symbol=with_pins_ordered(left.symbol))
            for left in sorted(
                left_out,
                key=lambda left: (natural_key(left.symbol.reference), left.symbol.sheet_path, left.symbol.uuids),
            )
        ),
    )
