"""What a netlist says, from the XML and the s-expression format alike.

KiCad 10 writes a pin's name with its number behind it: ``+_1`` for the pin 1 named ``+``, ``OUT_2_2`` for the pin 2
named ``OUT_2``, and the bare number for a pin without a name in a stack. KiCad 9 and older write the name alone.
Source: KiCad's netlist_exporter_xml.cpp, and netlists of 9.0.8 and 10.0.7 of the same drawings.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.reading.node import Node
from loadloom.plugin.reading.pins import pin_numbers
from loadloom.plugin.reading.project import clean
from loadloom.plugin.reading.sheet import no_tilde

_STANDARD_FIELDS = frozenset({"Reference", "Value", "Footprint", "Datasheet", "Description"})
_AUTOMATIC = re.compile(r"(Net-\(|unconnected-\(|N\$\d)")


@dataclass(frozen=True, slots=True)
class Component:
    """A ``comp`` of a netlist."""

    reference: str
    value: str
    library_part: tuple[str, str]
    fields: dict[str, str]
    library_fields: dict[str, str]
    dnp: bool
    excluded_from_bom: bool
    sheet_path: str
    instance_path: str
    uuids: tuple[str, ...]
    line: int

    @property
    def library_id(self) -> str:
        """Library and part as KiCad shows them, ``Device:R``."""
        return ":".join(text for text in self.library_part if text)


@dataclass(frozen=True, slots=True)
class NetNode:
    """A pin on a net, stacks taken apart."""

    reference: str
    number: str
    name: str
    electrical_type: str
    line: int


@dataclass(frozen=True, slots=True)
class _PinNames:
    """How to find the true name of a pin.

    ``appended`` says whether this netlist writes numbers behind names; ``library`` holds the pins' names by library
    part, which every KiCad writes bare.
    """

    appended: bool
    library: dict[tuple[str, str], dict[str, str]]

    def true_name(self, written: str, number: str, part: tuple[str, str]) -> str:
        """The name that the pin has in its library symbol, or that of the alternate function chosen for it."""
        if not self.appended or written == self.library.get(part, {}).get(number):
            return written
        return "" if written == number else written.removesuffix(f"_{number}")


@dataclass(frozen=True, slots=True)
class NetEntry:
    """A ``net`` of a netlist."""

    name: str
    classes: frozenset[str]
    nodes: tuple[NetNode, ...]

    @property
    def looks_automatic(self) -> bool:
        """Whether the name is of the kind that KiCad makes up."""
        return _AUTOMATIC.match(self.name) is not None


@dataclass(frozen=True, slots=True)
class LeftComponent:
    """A ``comp`` that takes no part: why, and what mends it; its pins are those that the nets name."""

    component: Component
    pins: tuple[NetNode, ...]
    cause: str
    remedy: str
    unnumbered: bool = False


@dataclass(frozen=True, slots=True)
class Netlist:
    """A whole netlist. No net has pins of what is ``left_out``."""

    tool: str
    title_block: dict[str, str]
    components: tuple[Component, ...]
    nets: tuple[NetEntry, ...]
    left_out: tuple[LeftComponent, ...] = ()


NO_NUMBER = "Number the symbols in KiCad (Tools > Annotate Schematic)."
"""What mends a reference without a number."""

_OWN_REFERENCE = "Annotate the drawing in KiCad, so that each has its own reference."


def read_netlist(root: Node, where: Path) -> Netlist:
    """Read the root node of a netlist.

    A part without a number, with the reference of another, or with a pin on two nets is left out. Raises
    UnusableError for a netlist without nets, and one that names a pin of a part that it does not list.
    """
    if root.name != "export":
        raise UnusableError(f"is not a KiCad netlist: it holds {root.name[:40]!r}", where, root.line)
    nets = root.child("nets")
    if nets is None:
        raise UnusableError(
            "lists parts but no nets", where, root.line, hint="export a netlist, or give the schematic itself"
        )
    design = root.child("design")
    components = tuple(_components(root))
    tool = design.value("tool") if design else ""
    library = dict(_library_pins(root))
    part_of = {component.reference: component.library_part for component in components}
    names = _PinNames(_numbers_appended(tool, nets, library, part_of), library)
    entries = tuple(_net(node, names, part_of) for node in nets.children("net"))
    left_out = tuple(_left_out(components, entries, where))
    gone = {left.component.reference for left in left_out}
    kept = (
        replace(entry, nodes=tuple(node for node in entry.nodes if node.reference not in gone)) for entry in entries
    )
    return Netlist(
        tool=tool,
        title_block=_title_block(design),
        components=tuple(component for component in components if component.reference not in gone),
        nets=tuple(entry for entry in kept if entry.nodes),
        left_out=left_out,
    )


def is_unnumbered(reference: str) -> bool:
    """Whether KiCad has not numbered a reference yet: all symbols with it would be taken for one part."""
    return not reference or reference.endswith("?")


def _title_block(design: Node | None) -> dict[str, str]:
    for sheet in design.children("sheet") if design else ():
        block = sheet.child("title_block")
        if block is not None and (sheet.value("name", "/") == "/" or sheet.value("number") == "1"):
            return {item.name: item.content for item in block if isinstance(item, Node)}
    return {}


def _components(root: Node) -> Iterator[Component]:
    library = dict(_library_fields(root))
    for block in root.children("components"):
        for node in block.children("comp"):
            yield _component(node, node.value("ref"), library)


def _component(node: Node, reference: str, library: dict[tuple[str, str], dict[str, str]]) -> Component:
    source = node.child("libsource")
    part = (source.value("lib"), source.value("part")) if source else ("", "")
    fields = {
        item.value("name"): item.content
        for block in node.children("fields")
        for item in block.children("field")
        if item.value("name") not in _STANDARD_FIELDS
    }
    flags = {item.value("name") for item in node.children("property")}
    path = node.child("sheetpath")
    stamps = node.child("tstamps", "tstamp")
    return Component(
        reference=reference,
        value=no_tilde(node.value("value")),
        library_part=part,
        fields=fields,
        library_fields={name: text for name, text in library.get(part, {}).items() if name not in fields},
        dnp="dnp" in flags,
        excluded_from_bom="exclude_from_bom" in flags,
        sheet_path=path.value("names", "/") if path else "/",
        instance_path=path.value("tstamps", "/") if path else "/",
        uuids=tuple(word for item in stamps[1:] if isinstance(item, str) for word in item.split())
        if stamps
        else (),
        line=node.line,
    )


def _library_fields(root: Node) -> Iterator[tuple[tuple[str, str], dict[str, str]]]:
    for block in root.children("libparts"):
        for part in block.children("libpart"):
            fields = {
                item.value("name"): item.content
                for inner in part.children("fields")
                for item in inner.children("field")
                if item.value("name") not in _STANDARD_FIELDS
            }
            yield (part.value("lib"), part.value("part")), fields


def _library_pins(root: Node) -> Iterator[tuple[tuple[str, str], dict[str, str]]]:
    for block in root.children("libparts"):
        for part in block.children("libpart"):
            names = {
                number: no_tilde(pin.value("name"))
                for inner in part.children("pins")
                for pin in inner.children("pin")
                for number in pin_numbers(no_tilde(pin.value("num")))
            }
            yield (part.value("lib"), part.value("part")), names


def _numbers_appended(
    tool: str,
    nets: Node,
    library: dict[tuple[str, str], dict[str, str]],
    part_of: dict[str, tuple[str, str]],
) -> bool:
    """Whether names of pins carry their number: told by the version, else by the library parts, else by all names.

    9.99 is what the versions before 10.0 called themselves; some of them wrote names the one way, some the other.
    """
    version = re.search(r"(\d+)\.(\d+)", tool)
    if version and (int(version[1]), int(version[2])) != (9, 99):
        return int(version[1]) >= 10
    named = [
        (written, number, library.get(part_of.get(item.value("ref"), ("", "")), {}).get(number))
        for net in nets.children("net")
        for item in net.children("node")
        for written in (no_tilde(item.value("pinfunction")),)
        for number in (no_tilde(item.value("pin")),)
        if written
    ]
    for written, number, name in named:
        if name and written in (name, f"{name}_{number}"):
            return written != name
    return bool(named) and all(written == number or written.endswith(f"_{number}") for written, number, _ in named)


def _net(node: Node, names: _PinNames, part_of: dict[str, tuple[str, str]]) -> NetEntry:
    nodes: dict[tuple[str, str], NetNode] = {}
    for item in node.children("node"):
        reference = item.value("ref")
        kind = item.value("pintype", "passive").removesuffix("+no_connect")
        written = no_tilde(item.value("pinfunction"))
        for number in pin_numbers(no_tilde(item.value("pin"))):
            name = no_tilde(names.true_name(written, number, part_of.get(reference, ("", ""))))
            nodes.setdefault((reference, number), NetNode(reference, number, name, kind, item.line))
    classes = frozenset(clean(name.strip() for name in node.value("class").split(",")))
    return NetEntry(node.value("name"), classes, tuple(nodes.values()))


def _left_out(
    components: tuple[Component, ...], nets: tuple[NetEntry, ...], where: Path
) -> Iterator[LeftComponent]:
    by_reference: dict[str, list[Component]] = {}
    for component in components:
        by_reference.setdefault(component.reference, []).append(component)
    pins: dict[str, dict[str, list[tuple[NetNode, str]]]] = {reference: {} for reference in by_reference}
    for net in nets:
        for node in net.nodes:
            if node.reference not in pins:
                cause = f"the net {net.name!r} names a pin of {node.reference}, which is not among the parts"
                raise UnusableError(cause, where, node.line, hint="export the netlist again, with all parts")
            pins[node.reference].setdefault(node.number, []).append((node, net.name))
    for reference, listed in by_reference.items():
        at = pins[reference]
        own = tuple(nodes[0][0] for nodes in at.values())
        if is_unnumbered(reference):
            for component in listed:
                yield LeftComponent(component, own, "has no number yet", NO_NUMBER, unnumbered=True)
        elif len(listed) > 1:
            cause = f"is listed twice, in lines {listed[0].line} and {listed[1].line} of {where.name}"
            yield LeftComponent(listed[0], own, cause, _OWN_REFERENCE)
        else:
            found = pin_fault({number: [name for _, name in nodes] for number, nodes in at.items()})
            if found is not None:
                yield LeftComponent(listed[0], own, *found)


def pin_fault(nets_by_pin: Mapping[str, Iterable[str]]) -> tuple[str, str] | None:
    """Why a part's pins can't be told apart, and what mends it; None where they can.

    ``nets_by_pin``: the name of each net that a pin number stands on; two nets may have one name.
    """
    if "" in nets_by_pin:
        return "has a pin without a number", "Give every pin of the library symbol a number."
    for number, names in nets_by_pin.items():
        nets = sorted(names)
        if len(nets) > 1:
            which = f", {nets[0]!r} and {nets[1]!r}" if nets[0] != nets[1] else ""
            return (
                f"has its pin {number} on two nets{which}",
                f"Give each of the pins {number} of the library symbol a number of its own, or join them.",
            )
    return None
