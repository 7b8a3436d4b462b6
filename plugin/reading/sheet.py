"""What one ``.kicad_sch`` file draws, as plain records with integer coordinates of 0.1 µm and line numbers."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import read_text, shown
from loadloom.plugin.reading.node import Node
from loadloom.plugin.reading.sexpr import parse

OLDEST_VERSION = 20211123  # KiCad 6.0
NEWEST_KNOWN_VERSION = 20260306  # KiCad 10.0
# File formats by KiCad release; a file may be dated between two of them by a development version.
RELEASES = ((20211123, 6), (20230121, 7), (20231120, 8), (20250114, 9), (20250115, 10), (20260307, 11))

SAVE_ANEW = "open it in KiCad 7 or newer, save it there, and give the .kicad_sch that this writes"
"""What to do with a schematic that is too old."""

Point = tuple[int, int]
_UNITS_PER_MM = 10_000
_FARTHEST_MM = 100_000.0
_LABELS = {"label": "local", "global_label": "global", "hierarchical_label": "hierarchical"}
_DIRECTIVES = ("netclass_flag", "directive_label")
_UNIT_NAME = re.compile(r"_(\d+)_(\d+)$")


@dataclass(frozen=True, slots=True)
class LibraryPin:
    """A pin of a library symbol; ``at`` is where it connects, Y upwards."""

    number: str
    name: str
    electrical_type: str
    hidden: bool
    at: Point
    alternates: dict[str, str]


@dataclass(frozen=True, slots=True)
class LibrarySymbol:
    """A library symbol as embedded in a sheet; pins by (unit, body style), 0 meaning all of them.

    ``jumpers`` are groups of pin numbers that KiCad 10 joins within the symbol; ``duplicates_joined`` says that
    pins of one number are so joined. ``missing``: the sheet does not hold it, so that nobody knows its pins.
    """

    name: str
    power: str | None
    pins: dict[tuple[int, int], tuple[LibraryPin, ...]]
    fields: dict[str, str]
    jumpers: tuple[tuple[str, ...], ...] = ()
    duplicates_joined: bool = False
    missing: bool = False

    def pins_of(self, unit: int, body: int) -> Iterator[LibraryPin]:
        """Pins of one unit in one body style, with those common to all."""
        for (pin_unit, pin_body), pins in self.pins.items():
            if pin_unit in (0, unit) and pin_body in (0, body):
                yield from pins


@dataclass(frozen=True, slots=True)
class Field:
    """A field as written, its text with variables unexpanded."""

    text: str
    line: int
    private: bool = False


@dataclass(frozen=True, slots=True)
class Instance:
    """Reference and unit that a symbol has on one sheet path."""

    reference: str
    unit: int
    line: int


@dataclass(frozen=True, slots=True)
class PlacedSymbol:
    """One placed unit: ``angle`` counter-clockwise in quarter turns, then ``mirror``: ``x``, ``y`` or none."""

    uuid: str
    library_id: str
    library_name: str
    at: Point
    angle: int
    mirror: str
    unit: int
    body: int
    dnp: bool
    fields: dict[str, Field]
    instances: dict[str, Instance]
    alternates: dict[str, str]
    line: int

    def place(self, point: Point) -> Point:
        """Where a point of the library symbol lies on the sheet: turned, then mirrored, Y downwards."""
        x, y = point
        for _ in range(self.angle):
            x, y = -y, x
        if self.mirror == "x":
            y = -y
        elif self.mirror == "y":
            x = -x
        return self.at[0] + x, self.at[1] - y


@dataclass(frozen=True, slots=True)
class SheetPin:
    """A pin of a sheet symbol."""

    name: str
    at: Point
    line: int
    fields: dict[str, Field]


@dataclass(frozen=True, slots=True)
class SheetSymbol:
    """A sheet placed on another one."""

    uuid: str
    name: str
    file: str
    dnp: bool
    fields: dict[str, Field]
    pins: tuple[SheetPin, ...]
    line: int


@dataclass(frozen=True, slots=True)
class Label:
    """A label. ``kind`` is ``local``, ``global``, ``hierarchical`` or ``directive``."""

    kind: str
    text: str
    at: Point
    line: int
    fields: dict[str, Field]


@dataclass(frozen=True, slots=True)
class Wire:
    """A straight wire, or bus."""

    start: Point
    end: Point
    is_bus: bool
    line: int

    def holds(self, point: Point) -> bool:
        """Whether the point lies on it, ends included."""
        (x1, y1), (x2, y2), (x, y) = self.start, self.end, point
        if not (min(x1, x2) <= x <= max(x1, x2) and min(y1, y2) <= y <= max(y1, y2)):
            return False
        return (x2 - x1) * (y - y1) == (y2 - y1) * (x - x1)


@dataclass(frozen=True, slots=True)
class SheetFile:
    """Everything of one file that this reading looks at."""

    path: Path
    sha256: str
    version: int
    uuid: str
    title_block: dict[str, str]
    library: dict[str, LibrarySymbol]
    symbols: tuple[PlacedSymbol, ...]
    sheets: tuple[SheetSymbol, ...]
    labels: tuple[Label, ...]
    wires: tuple[Wire, ...]
    junctions: tuple[Point, ...]
    no_connects: tuple[Point, ...]
    bus_entries: tuple[tuple[Point, Point], ...]
    bus_aliases: dict[str, tuple[str, ...]]
    rule_areas: tuple[tuple[Wire, ...], ...]
    instances: dict[str, Instance]

    @property
    def lacks_references(self) -> bool:
        """Whether this is a sheet of KiCad 6 that is no root: there the root alone says what symbols are called."""
        nowhere = not self.instances and not any(symbol.instances for symbol in self.symbols)
        return self.version < 20230121 and bool(self.symbols) and nowhere


def read_sheet(path: Path) -> SheetFile:
    """Read one sheet.

    Raises UnusableError for a file that is no schematic of KiCad 6 or newer, or that holds coordinates
    or angles that can't be used.
    """
    file = read_text(path)
    root = parse(file)
    where = shown(path)
    if root.name != "kicad_sch":
        raise UnusableError(_not_a_schematic(root), where, root.line)
    version = _version(root, where)
    reader = _SheetReader(where)
    library = {
        symbol.name: symbol
        for block in root.children("lib_symbols")
        for symbol in map(reader.library_symbol, block.children("symbol"))
    }
    symbols = tuple(map(reader.placed_symbol, root.children("symbol")))
    for name in dict.fromkeys(symbol.library_name for symbol in symbols):
        library.setdefault(name, LibrarySymbol(name, None, {}, {}, missing=True))
    return SheetFile(
        path=path,
        sha256=file.sha256,
        version=version,
        uuid=root.value("uuid"),
        title_block=_title_block(root),
        library=library,
        symbols=symbols,
        sheets=tuple(map(reader.sheet_symbol, root.children("sheet"))),
        labels=tuple(map(reader.label, root.children(*_LABELS, *_DIRECTIVES))),
        wires=tuple(wire for node in root.children("wire", "bus") for wire in reader.wires(node)),
        junctions=tuple(reader.at(node)[0] for node in root.children("junction")),
        no_connects=tuple(reader.at(node)[0] for node in root.children("no_connect")),
        bus_entries=tuple(map(reader.bus_entry, root.children("bus_entry"))),
        bus_aliases=dict(map(_bus_alias, root.children("bus_alias"))),
        rule_areas=tuple(tuple(reader.outline(area)) for area in root.children("rule_area")),
        instances={
            path.text(1): reader.instance(path)
            for block in root.children("symbol_instances")
            for path in block.children("path")
        },
    )


def release(version: int) -> int:
    """The KiCad release whose file format this is at least, 0 if before 7."""
    return max((number for dated, number in RELEASES if version >= dated), default=0)


def _not_a_schematic(root: Node) -> str:
    kinds = {
        "kicad_pcb": "a circuit board",
        "kicad_symbol_lib": "a symbol library",
        "kicad_wks": "a drawing frame",
        "footprint": "a footprint",
        "export": "a netlist",
    }
    return f"is {kinds.get(root.name, 'something else')}, not a schematic"


def _version(root: Node, where: Path) -> int:
    node = root.child("version")
    text = node.content if node else ""
    line = node.line if node else root.line
    if not re.fullmatch(r"\d{1,9}", text, re.ASCII):
        raise UnusableError("has no file version that can be read", where, line)
    version = int(text)
    if version < OLDEST_VERSION:
        raise UnusableError(f"has file version {version}, older than KiCad 6", where, line, hint=SAVE_ANEW)
    return version


def _title_block(root: Node) -> dict[str, str]:
    block = root.child("title_block")
    if block is None:
        return {}
    texts = {item.name: item.content for item in block if isinstance(item, Node) and item.name != "comment"}
    texts.update({f"comment{item.text(1)}": item.text(2) for item in block.children("comment")})
    return texts


def _bus_alias(node: Node) -> tuple[str, tuple[str, ...]]:
    members = node.child("members")
    return node.text(1), tuple(item for item in (members or [])[1:] if isinstance(item, str))


class _SheetReader:
    """Turns nodes of one file into records; knows the file for its refusals."""

    def __init__(self, where: Path) -> None:
        self.where = where

    def refuse(self, cause: str, line: int) -> UnusableError:
        return UnusableError(cause, self.where, line)

    def number(self, text: str, line: int) -> float:
        try:
            number = float(text)
        except ValueError:
            raise self.refuse(f"has {text[:40] or 'nothing'!r} where a number belongs", line) from None
        if not math.isfinite(number):
            raise self.refuse(f"has the coordinate {text}, which is no place", line)
        return number

    def coordinate(self, text: str, line: int) -> int:
        number_mm = self.number(text, line)
        if abs(number_mm) > _FARTHEST_MM:
            raise self.refuse(f"has the coordinate {text} mm, far off any sheet", line)
        return round(number_mm * _UNITS_PER_MM)

    def integer(self, text: str, line: int) -> int:
        if not re.fullmatch(r"\d{1,6}", text, re.ASCII):
            raise self.refuse(f"has {text[:40]!r} where a unit or body style belongs", line)
        return int(text)

    def at(self, node: Node) -> tuple[Point, str]:
        """Place and angle, as written, of anything with an ``at``."""
        found = node.child("at")
        if found is None:
            raise self.refuse(f"has a {node.name} without a place", node.line)
        point = (self.coordinate(found.text(1), found.line), self.coordinate(found.text(2), found.line))
        return point, found.text(3, "0")

    def quarter_turns(self, text: str, line: int) -> int:
        angle_deg = self.number(text, line)
        if angle_deg % 90:
            raise self.refuse(f"has a symbol turned by {text}°, which is no right angle", line)
        return int(angle_deg // 90) % 4

    def fields(self, node: Node) -> dict[str, Field]:
        fields: dict[str, Field] = {}
        for item in node.children("property"):
            private = item.text(1) == "private" and isinstance(item[3] if len(item) > 3 else None, str)
            shift = int(private)
            fields.setdefault(item.text(1 + shift), Field(item.text(2 + shift), item.line, private))
        return fields

    def library_symbol(self, node: Node) -> LibrarySymbol:
        pins: dict[tuple[int, int], tuple[LibraryPin, ...]] = {}
        if any(node.children("pin")):
            pins[0, 0] = tuple(map(self.library_pin, node.children("pin")))
        for part in node.children("symbol"):
            match = _UNIT_NAME.search(part.text(1))
            if match is None:
                raise self.refuse(f"has a library unit named {part.text(1)!r}, without its numbers", part.line)
            key = (int(match[1]), int(match[2]))
            pins[key] = pins.get(key, ()) + tuple(map(self.library_pin, part.children("pin")))
        power = node.child("power")
        jumpers = node.child("jumper_pin_groups")
        return LibrarySymbol(
            name=node.text(1),
            power=None if power is None else power.text(1, "global"),
            pins=pins,
            fields={name: found.text for name, found in self.fields(node).items() if not found.private},
            jumpers=tuple(
                tuple(number for number in group if isinstance(number, str))
                for group in (jumpers or [])[1:]
                if isinstance(group, Node)
            ),
            duplicates_joined=node.says("duplicate_pin_numbers_are_jumpers"),
        )

    def library_pin(self, node: Node) -> LibraryPin:
        return LibraryPin(
            number=no_tilde(node.value("number")),
            name=no_tilde(node.value("name")),
            electrical_type=node.text(1),
            hidden=node.says("hide"),
            at=self.at(node)[0],
            alternates={item.text(1): item.text(2) for item in node.children("alternate")},
        )

    def placed_symbol(self, node: Node) -> PlacedSymbol:
        point, angle = self.at(node)
        mirror = node.value("mirror")
        library_id = node.value("lib_id")
        body = node.child("body_style", "convert")
        return PlacedSymbol(
            uuid=node.value("uuid"),
            library_id=library_id,
            library_name=node.value("lib_name") or library_id,
            at=point,
            angle=self.quarter_turns(angle, node.line),
            mirror=mirror,
            unit=self.integer(node.value("unit", "1"), node.line),
            body=self.integer(body.content, body.line) if body else 1,
            dnp=node.says("dnp"),
            fields=self.fields(node),
            instances=self.instances(node),
            alternates={
                pin.text(1): pin.value("alternate") for pin in node.children("pin") if pin.value("alternate")
            },
            line=node.line,
        )

    def instances(self, node: Node) -> dict[str, Instance]:
        found: dict[str, Instance] = {}
        for block in node.children("instances"):
            for project in block.children("project"):
                found.update({path.text(1): self.instance(path) for path in project.children("path")})
        return found

    def instance(self, path: Node) -> Instance:
        unit = self.integer(path.value("unit", "1"), path.line)
        return Instance(path.value("reference"), unit, path.line)

    def sheet_symbol(self, node: Node) -> SheetSymbol:
        fields = self.fields(node)
        name = fields.get("Sheetname") or fields.get("Sheet name")
        file = fields.get("Sheetfile") or fields.get("Sheet file")
        if file is None or not file.text:
            raise self.refuse("has a sheet that names no file", node.line)
        pins = tuple(
            SheetPin(pin.text(1), self.at(pin)[0], pin.line, self.fields(pin)) for pin in node.children("pin")
        )
        corner, _ = self.at(node)
        opposite = self.away(node, corner)
        for pin in pins:
            if pin.at[0] not in (corner[0], opposite[0]) and pin.at[1] not in (corner[1], opposite[1]):
                raise self.refuse(f"has the sheet pin {pin.name!r} off the edge of its sheet", pin.line)
        return SheetSymbol(
            uuid=node.value("uuid"),
            name=name.text if name else "",
            file=file.text,
            dnp=node.says("dnp"),
            fields=fields,
            pins=pins,
            line=node.line,
        )

    def label(self, node: Node) -> Label:
        kind = _LABELS.get(node.name, "directive")
        return Label(kind, node.text(1), self.at(node)[0], node.line, self.fields(node))

    def points(self, node: Node) -> list[Point]:
        return [
            (self.coordinate(xy.text(1), xy.line), self.coordinate(xy.text(2), xy.line))
            for pts in node.children("pts")
            for xy in pts.children("xy")
        ]

    def wires(self, node: Node) -> Iterator[Wire]:
        points = self.points(node)
        if len(points) < 2:
            raise self.refuse(f"has a {node.name} without two ends", node.line)
        for start, end in pairwise(points):
            yield Wire(start, end, node.name == "bus", node.line)

    def outline(self, area: Node) -> Iterator[Wire]:
        for shape in area.children("polyline"):
            points = self.points(shape)
            for start, end in zip(points, points[1:] + points[:1], strict=True):
                yield Wire(start, end, False, area.line)

    def bus_entry(self, node: Node) -> tuple[Point, Point]:
        point, _ = self.at(node)
        return point, self.away(node, point)

    def away(self, node: Node, point: Point) -> Point:
        """The other end of something that has a place and a size."""
        size = node.child("size")
        if size is None:
            raise self.refuse(f"has a {node.name} without a size", node.line)
        dx, dy = (self.coordinate(size.text(k), size.line) for k in (1, 2))
        return point[0] + dx, point[1] + dy


def no_tilde(text: str) -> str:
    """KiCad shows an empty pin name or number as ``~``."""
    return "" if text == "~" else text
