"""The wire list of any drawing: every wire, core and net that is a wire as a row, its ends as connector.pin.

What is read back from it gives the same results: roles, fields and pins are written out as the settings complete
them, and places where parts are joined without a wire have rows of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from loadloom.graph.model.elements import Band
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin import values
from loadloom.plugin.building.assemble import wires_of
from loadloom.plugin.building.connectors import MatedPairs
from loadloom.plugin.building.context import Context, Part, pin_key, pin_text
from loadloom.plugin.building.find_roles import report_left_out
from loadloom.plugin.building.joints import joint_name
from loadloom.plugin.building.nets_as_wires import Segment, net_values, wire_classes
from loadloom.plugin.building.pins import core_pins
from loadloom.plugin.building.wire_class import FIELD as CLASS_FIELD
from loadloom.plugin.building.wire_class import class_of, values_of
from loadloom.plugin.drawing import Drawing, Net, PinRef
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.fields import folded
from loadloom.plugin.notes import Notes
from loadloom.plugin.roles import FIELDS, Role
from loadloom.plugin.wire_list.columns import (
    ASSUMED,
    CABLE,
    FITTED,
    FROM,
    JOINED,
    JOINT,
    KIND,
    LABEL,
    LIBRARY,
    MESSAGE,
    NOT_DRAWN,
    NOTE_HEADS,
    PART,
    PART_HEADS,
    PINS,
    REMEDY,
    ROLE,
    RULE,
    SEVERITY,
    SUBJECT,
    TO,
    VALUE,
    WIRE_HEADS,
)
from loadloom.plugin.wire_list.tables import csv_bytes, xlsx_bytes

_CONDUCTORS = (Role.WIRE, Role.CABLE)
Record = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class WireList:
    """Rows by column name, of wires, of parts, and of what was found when the drawing was read."""

    wires: tuple[Record, ...]
    parts: tuple[Record, ...]
    notes: tuple[Record, ...] = ()

    def grids(self) -> dict[str, list[list[str]]]:
        """The tables with their heads: the usual columns first, then every field that any row has."""
        found = {"Wires": _grid(self.wires, WIRE_HEADS), "Parts": _grid(self.parts, PART_HEADS)}
        return found | ({"Notes": _grid(self.notes, NOTE_HEADS)} if self.notes else {})


def is_wire_list(path: Path) -> bool:
    """Whether an output is to be a wire list: ``wires.xlsx``, ``cart_wires.csv``, ``cart.wires.xlsx``."""
    stem, suffix = path.stem.casefold(), path.suffix.casefold()
    return suffix in (".xlsx", ".csv") and (
        stem == "wires" or stem.endswith((".wires", "_wires", "-wires", " wires"))
    )


def wire_list(drawing: Drawing, settings: AnalysisSettings, drawing_settings: DrawingSettings) -> WireList:
    """The wire list of a drawing."""
    return _Lister(*wires_of(drawing, settings, drawing_settings)).run()


def files_of(found: WireList, path: Path) -> dict[Path, bytes]:
    """The files to be written: one ``.xlsx`` of several sheets, or several ``.csv``."""
    grids = found.grids()
    if path.suffix.casefold() == ".xlsx":
        return {path: xlsx_bytes(list(grids.items()))}
    names = {title: path.with_name(f"{path.stem}.{title.casefold()}.csv") for title in grids} | {"Wires": path}
    return {names[title]: csv_bytes(rows) for title, rows in grids.items()}


class _Lister:
    def __init__(self, context: Context, pairs: MatedPairs, segments: tuple[Segment, ...]) -> None:
        self.context = context
        self.segments = segments
        self.mate_of = {pair.naming.reference: pair.mate.reference for pair in pairs.pairs}
        self.own_nets = {segment.net.name for segment in segments}
        self.anchors = {net.name: self.anchor(net) for net in context.nets if net.name not in self.own_nets}

    def run(self) -> WireList:
        wires = [*self.symbols(), *self.net_wires(), *self.joints()]
        wires.sort(
            key=lambda row: (row.get(KIND, "") != "", natural_key(row.get(LABEL, "")), natural_key(row[FROM]))
        )
        parts = (self.part(part) for part in self.context.parts.values() if part.role not in _CONDUCTORS)
        return WireList(tuple(wires), (*parts, *self.parts_without_role()), tuple(self.notes()))

    def notes(self) -> Iterator[Record]:
        """What reading found, and what was left out: in a list it would be a part like others, and not be told."""
        left_out = Notes()
        report_left_out(self.context.drawing, self.context.drawing_settings, left_out)
        for found in (*self.context.drawing.notices, *left_out.findings):
            yield {
                RULE: found.rule,
                SEVERITY: str(found.severity),
                SUBJECT: found.subject.id,
                MESSAGE: found.message,
                REMEDY: found.remedy,
            }

    def parts_without_role(self) -> Iterator[Record]:
        """Symbols that take no part in the harness but would, if it were known what they are."""
        drawing = self.context.drawing
        known = self.context.parts.keys() | self.context.ignored
        without = [
            s for s in drawing.symbols if s.reference not in known and s.pins and not s.reference.startswith("#")
        ]
        for symbol in without:
            pins = ", ".join(pin.number or "?" for pin in symbol.pins) or "?"
            row = {PART: symbol.reference, VALUE: symbol.value, LIBRARY: symbol.library_id, PINS: pins}
            yield {key: text for key, text in row.items() if text}

    def anchor(self, net: Net) -> PinRef:
        """The pin that stands for a net: a connector's first, else any part's, else a wire's own end."""
        pins = self.context.pins_of[net.name]
        order = {Role.CONNECTOR: 0, Role.THROUGH: 0, Role.SPLICE: 1, Role.WIRE: 3, Role.CABLE: 3}
        return min(pins, key=lambda pin: (order.get(self.context.role(pin) or Role.IGNORE, 2), pin_key(pin)))

    def end(self, pin: PinRef) -> str:
        """What a wire's end lands on; its own end where nothing is there."""
        net = self.context.net_of.get(pin)
        return pin_text(self.anchors.get(net.name, pin)) if net is not None else pin_text(pin)

    def symbols(self) -> Iterator[Record]:
        for part in self.context.parts.values():
            if part.role is Role.WIRE:
                one, two = (PinRef(part.reference, number) for number in ("1", "2"))
                yield self.row(part, None, part.reference, one, two)
            elif part.role is Role.CABLE:
                for core, (one, two) in core_pins(part, self.context).items():
                    yield self.row(part, core, f"{part.reference}.{core}", one, two)

    def row(self, part: Part, core: str | None, label: str, one: PinRef, two: PinRef) -> Record:
        fields = _fields_of_core(part, core)
        ends = (one, two) if core is not None else part.pins
        name_of_class = class_of(part.fields.view(core), ends, self.context)
        of_class = values_of(name_of_class, self.context)
        if name_of_class is not None:
            fields[CLASS_FIELD] = name_of_class
        own = part.fields.view(core).get("gauge", "Gauge", values.gauge) if "Gauge" in fields else None
        for attribute, (name, write) in _WIRE_COLUMNS.items():
            value = getattr(of_class if "Gauge" not in fields else of_class.beside(own), attribute)
            if value is not None and name not in fields:
                fields[name] = write(value)
        row = {LABEL: label, FROM: self.end(one), TO: self.end(two), **fields}
        if core is not None:
            row[CABLE] = part.reference
        if part.symbol.dnp:
            row[FITTED] = "no"
        return row

    def net_wires(self) -> Iterator[Record]:
        for segment in self.segments:
            own = segment.values.wire
            classes = [
                self.context.drawing_settings.wire_classes[n] for n in wire_classes(segment.net, self.context)
            ]
            if own.gauge is not None:
                classes = [each.beside(own.gauge) for each in classes]
            row = {LABEL: segment.id, FROM: pin_text(segment.pin_a), TO: pin_text(segment.pin_b)}
            if len(names := wire_classes(segment.net, self.context)) == 1:
                row[CLASS_FIELD] = names[0]
            if len(self.context.pins_of[segment.net.name]) > 2 and segment.values.star is None:
                row[KIND] = ASSUMED
            ends = (f"{row[FROM]}-{row[TO]}", f"{row[TO]}-{row[FROM]}")
            length_m = next((segment.values.lengths_m[e] for e in ends if e in segment.values.lengths_m), None)
            for attribute, (name, write) in _WIRE_COLUMNS.items():
                stated = [v for c in classes if (v := getattr(c, attribute)) is not None]
                value = getattr(own, attribute)
                if attribute == "length_m" and length_m is not None:
                    value = length_m
                if value is None and len(set(map(str, stated))) == 1:
                    value = stated[0]
                if value is not None:
                    row[name] = write(value)
            yield row

    def joints(self) -> Iterator[Record]:
        """Places where parts are joined without a wire between them."""
        for net in self.context.nets:
            if net.name in self.own_nets:
                continue
            anchor = self.anchors[net.name]
            others = [
                pin for pin in self.context.pins_of[net.name]
                if pin != anchor and self.context.role(pin) not in _CONDUCTORS
            ]  # fmt: skip
            kind = JOINT if net_values(net, self.context).joint else JOINED
            terminals = {pin.reference for pin in (anchor, *others)}
            sheets = {
                self.context.parts[name].symbol.sheet_path for name in terminals if name in self.context.parts
            }
            if kind != JOINT and (net.power_symbol or len(sheets) > 1):
                kind = NOT_DRAWN
            name = joint_name(net, self.context.pins_of[net.name])
            label = {LABEL: name} if net.named_by_user else {}
            if not others and label:
                yield {**label, KIND: kind, FROM: pin_text(anchor), TO: pin_text(anchor)}
            for other in others:
                yield {**label, KIND: kind, FROM: pin_text(anchor), TO: pin_text(other)}

    def part(self, part: Part) -> Record:
        fields = {name: text for name, text in part.symbol.library_fields.items() if text.strip() not in ("", "~")}
        fields |= {name: text for name, text in part.symbol.fields.items() if text.strip() not in ("", "~")}
        row = {
            PART: part.reference,
            ROLE: f"{part.role}?" if part.guessed else str(part.role),
            VALUE: part.symbol.value,
            LIBRARY: part.symbol.library_id,
        }
        row[PINS] = ", ".join(_pins(part, self.context))
        known = {folded(name): name for name in FIELDS[part.role].names}
        for name, text in fields.items():
            if folded(name) not in ("role", "mates"):
                row[known.get(folded(name), name)] = text
        if part.reference in self.mate_of:
            row["Mates"] = self.mate_of[part.reference]
        elif any(folded(name) == "mates" for name in fields):
            row["Mates"] = next(text for name, text in fields.items() if folded(name) == "mates")
        if part.symbol.dnp:
            row[FITTED] = "no"
        return {name: text for name, text in row.items() if text}


def _pins(part: Part, context: Context) -> Iterator[str]:
    if part.ends:
        named = [(end, text) for end, texts in part.ends.items() for text in texts]
        numbers = [pin.number for pin in part.symbol.pins]
        for pin in part.symbol.pins:
            if any(text == pin.number or (text not in numbers and text == pin.name) for _, text in named):
                yield pin.number
        for end, text in named:
            number = text if text in numbers else next(p.number for p in part.symbol.pins if p.name == text)
            yield f"@{end}={number}"
        return
    for pin in part.symbol.pins:
        yield f"{pin.number}={pin.name}" if pin.name and _is_plain(pin.name) else pin.number


def _is_plain(text: str) -> bool:
    return not any(c.isspace() or c in ",;=" for c in text)


def _fields_of_core(part: Part, core: str | None) -> dict[str, str]:
    """The fields that count for a wire or one core, by column."""
    known = {folded(name): name for name in FIELDS[part.role].names}
    names: dict[str, str] = {}
    words: dict[str, str] = {}
    for fields in (part.symbol.library_fields, part.symbol.fields):
        for name, text in fields.items():
            head, at, word = name.partition("@")
            plain, dot, k = head.partition(".")
            if text.strip() in ("", "~") or (dot and k.strip().casefold() != (core or "").casefold()):
                continue
            if folded(plain) in known:
                names[folded(plain)] = known[folded(plain)]
                if at:
                    words[word.strip()] = word.strip()
            elif folded(plain) != "role" and not dot:
                names[folded(name)] = name
    found: dict[str, str] = {}
    for key, name in names.items():
        if key not in known:
            found[name] = part.symbol.fields.get(name) or part.symbol.library_fields.get(name, "")
            continue
        usual = part.fields.written(name, core, None)
        if usual is not None:
            found[name] = usual.text
        for word in words:
            written = part.fields.written(name, core, word)
            if written is not None and written != usual:
                found[f"{name}@{word}"] = written.text
    main = FIELDS[part.role].main or ""
    if main not in found and (value := part.fields.main_text(main)) is not None:
        found[main] = value.text
    return found


def _band(band: Band) -> str:
    if band.lower == band.upper:
        return f"{band.nominal:.12g} Ω"
    return f"{band.lower:.12g}…{band.upper:.12g} Ω"


_WIRE_COLUMNS: Mapping[str, tuple[str, Callable[[Any], str]]] = {
    "gauge": ("Gauge", str),
    "length_m": ("Length", lambda v: f"{v:.12g} m"),
    "insulation": ("Insulation", str),
    "bundle": ("Bundle", str),
    "zone": ("Zone", str),
    "own_rating_a": ("Rating", lambda v: f"{v:.12g} A"),
    "voltage_rating_v": ("Voltage rating", lambda v: f"{v:.12g} V"),
    "resistance_ohm": ("Resistance", _band),
    "terminal_c": ("Terminal", lambda v: f"{v:.12g} °C"),
    "material": ("Material", str),
    "layout": ("Layout", str),
    "strands": ("Strands", str),
    "tinned": ("Tinned", lambda v: "yes" if v else "no"),
    "iec_class": ("Class", str),
}
"""What the settings say of a net that is a wire, as fields of a wire."""


def _grid(records: Iterable[Record], heads: tuple[str, ...]) -> list[list[str]]:
    listed = list(records)
    more = dict.fromkeys(name for record in listed for name in record if name not in heads)
    used = [name for name in heads if name in (LABEL, FROM, TO, PART, ROLE) or any(name in r for r in listed)]
    columns = [*used, *sorted(more, key=natural_key)]
    return [columns, *([record.get(name, "") for name in columns] for record in listed)]
