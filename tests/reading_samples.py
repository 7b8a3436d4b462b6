"""Writes small schematics for the tests of reading, item by item, in KiCad 9's format; lengths in mm."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

ROOT_UUID = "10000000-0000-4000-8000-000000000001"


def quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


def uid(name: str) -> str:
    return str(uuid.uuid5(uuid.NAMESPACE_OID, name))


def library_pin(number: str, x: float, y: float, name: str = "~", kind: str = "passive", extra: str = "") -> str:
    return (
        f"(pin {kind} line (at {x} {y} 0) (length 0) {extra} (name {quoted(name)} (effects (font (size 1 1))))"
        f" (number {quoted(number)} (effects (font (size 1 1)))))"
    )


def library_symbol(
    name: str, units: Mapping[tuple[int, int], Iterable[str]], head: str = "", reference: str = "X"
) -> str:
    short = name.rpartition(":")[2]
    parts = " ".join(
        f"(symbol {quoted(f'{short}_{unit}_{body}')} {' '.join(pins)})" for (unit, body), pins in units.items()
    )
    return (
        f"(symbol {quoted(name)} {head} (exclude_from_sim no) (in_bom yes) (on_board yes)"
        f' (property "Reference" {quoted(reference)} (at 0 0 0)) (property "Value" {quoted(short)} (at 0 0 0))'
        f' (property "Footprint" "" (at 0 0 0)) (property "Datasheet" "" (at 0 0 0))'
        f' (property "Description" "" (at 0 0 0)) {parts})'
    )


LIBRARY = {
    "T:TWO": library_symbol("T:TWO", {(1, 1): [library_pin("1", 0, 2.54, "A"), library_pin("2", 0, -2.54, "K")]}),
    "T:ONE": library_symbol("T:ONE", {(1, 1): [library_pin("1", 0, 0)]}),
    "T:QUAD": library_symbol(
        "T:QUAD",
        {
            (0, 0): [library_pin("9", 0, 5.08, "COM")],
            (1, 1): [library_pin("1", -2.54, 0, "P"), library_pin("2", 5.08, 0, "Q")],
            (1, 2): [library_pin("1", 2.54, 2.54, "P"), library_pin("2", 0, -2.54, "Q")],
            (2, 0): [library_pin("3", 2.54, -5.08, "P")],
        },
    ),
    "T:NC": library_symbol(
        "T:NC",
        {(1, 1): [library_pin("1", 0, 0, "N", "no_connect"), library_pin("2", 2.54, 0, "M")]},
    ),
    "T:HID": library_symbol(
        "T:HID",
        {(1, 1): [library_pin("1", 0, 0), library_pin("2", 0, 2.54, "VH", "power_in", "(hide yes)")]},
    ),
    "T:STACK": library_symbol(
        "T:STACK", {(1, 1): [library_pin("[8,9,10]", 0, 0, "S"), library_pin("[A1-A3]", 2.54, 0, "T")]}
    ),
    "T:ALT": library_symbol(
        "T:ALT",
        {(1, 1): [library_pin("1", 0, 0, "IO", "bidirectional", '(alternate "TX" output line)')]},
    ),
    "power:VP": library_symbol("power:VP", {(1, 1): [library_pin("1", 0, 0, "~", "power_in")]}, "(power)", "#PWR"),
    "power:FLAG": library_symbol(
        "power:FLAG", {(1, 1): [library_pin("1", 0, 0, "~", "power_out")]}, "(power)", "#FLG"
    ),
}


def symbol(
    library_id: str,
    reference: str,
    x: float,
    y: float,
    angle: int = 0,
    mirror: str = "",
    unit: int = 1,
    body: int = 1,
    value: str = "",
    fields: Mapping[str, str] | None = None,
    paths: Mapping[str, str] | None = None,
    dnp: bool = False,
    extra: str = "",
    name: str = "",
) -> str:
    """A placed symbol; ``paths`` gives the reference on each sheet path, by default the root's."""
    properties = {
        "Reference": reference,
        "Value": value or library_id.rpartition(":")[2],
        "Footprint": "",
        "Datasheet": "",
        "Description": "",
        **(fields or {}),
    }
    instances = " ".join(
        f"(path {quoted(path)} (reference {quoted(other)}) (unit {unit}))"
        for path, other in (paths or {f"/{ROOT_UUID}": reference}).items()
    )
    return (
        f"(symbol (lib_id {quoted(library_id)}) (at {x} {y} {angle}) {f'(mirror {mirror})' if mirror else ''}"
        f" (unit {unit}) (convert {body}) (exclude_from_sim no) (in_bom yes) (on_board yes)"
        f" (dnp {'yes' if dnp else 'no'}) (uuid {quoted(uid(name or f'{reference}.{unit}'))}) {extra}\n"
        + "".join(f"(property {quoted(key)} {quoted(text)} (at {x} {y} 0))\n" for key, text in properties.items())
        + f'(instances (project "p" {instances})))'
    )


def line(kind: str, x1: float, y1: float, x2: float, y2: float) -> str:
    return f"({kind} (pts (xy {x1} {y1}) (xy {x2} {y2})) (uuid {quoted(uid(f'{kind}{x1}{y1}{x2}{y2}'))}))"


def label(kind: str, text: str, x: float, y: float, extra: str = "") -> str:
    shape = {
        "global_label": "(shape input)",
        "hierarchical_label": "(shape input)",
        "netclass_flag": "(length 2.54) (shape dot)",
    }
    name = quoted(uid(f"{kind}{text}{x}{y}"))
    return f"({kind} {quoted(text)} {shape.get(kind, '')} (at {x} {y} 0) (uuid {name}) {extra})"


def directive(netclass: str, x: float, y: float) -> str:
    return label("netclass_flag", "", x, y, f'(property "Netclass" {quoted(netclass)} (at {x} {y} 0))')


def junction(x: float, y: float) -> str:
    return f"(junction (at {x} {y}) (diameter 0) (uuid {quoted(uid(f'j{x}{y}'))}))"


def bus_entry(x: float, y: float, dx: float, dy: float) -> str:
    return f"(bus_entry (at {x} {y}) (size {dx} {dy}) (uuid {quoted(uid(f'be{x}{y}{dx}{dy}'))}))"


def sheet(
    name: str,
    file: str,
    x: float,
    y: float,
    pins: Iterable[tuple[str, float, float]] = (),
    extra: str = "",
    more: str = "",
    size: float = 20,
) -> str:
    drawn = " ".join(
        f"(pin {quoted(text)} input (at {px} {py} 180) (uuid {quoted(uid(f'{name}{text}{px}{py}'))}))"
        for text, px, py in pins
    )
    return (
        f"(sheet (at {x} {y}) (size {size} {size}) (exclude_from_sim no) (in_bom yes) (on_board yes)"
        f" {extra or '(dnp no)'}"
        f' (uuid {quoted(uid(f"sheet {name}"))}) (property "Sheetname" {quoted(name)} (at {x} {y} 0))'
        f' (property "Sheetfile" {quoted(file)} (at {x} {y} 0)) {more} {drawn}'
        f' (instances (project "p" (path "/{ROOT_UUID}" (page "2")))))'
    )


def sheet_path(*names: str) -> str:
    return "/".join(["", ROOT_UUID, *(uid(f"sheet {name}") for name in names)])


def schematic(*items: str, uuid_: str = ROOT_UUID, version: int = 20250114, title: str = "") -> str:
    used = [text for name, text in LIBRARY.items() if any(f'(lib_id "{name}")' in item for item in items)]
    return "\n".join(
        [
            f'(kicad_sch (version {version}) (generator "eeschema") (generator_version "9.0")',
            f'(uuid "{uuid_}") (paper "A4") {title}',
            "(lib_symbols",
            *used,
            ")",
            *items,
            '(sheet_instances (path "/" (page "1"))))',
            "",
        ]
    )


@dataclass
class Project:
    """Files of a project, by name; ``write`` puts them into a folder and gives the root schematic."""

    root: str
    sheets: dict[str, str] = field(default_factory=dict)
    project: str | None = None

    def write(self, folder: Path, name: str = "p") -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        for file, text in self.sheets.items():
            (folder / file).parent.mkdir(parents=True, exist_ok=True)
            (folder / file).write_text(text, encoding="utf-8")
        if self.project is not None:
            (folder / f"{name}.kicad_pro").write_text(self.project, encoding="utf-8")
        path = folder / f"{name}.kicad_sch"
        path.write_text(self.root, encoding="utf-8")
        return path
