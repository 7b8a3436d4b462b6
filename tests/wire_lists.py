"""Wire lists for several test modules: of every fixture, and one of 60 rows."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.settings_file import read_settings
from loadloom.plugin.wire_list.tables import csv_bytes, xlsx_bytes
from loadloom.plugin.wire_list.writing import files_of, wire_list

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
ROOTS = [
    p.with_suffix(".kicad_sch")
    for p in sorted(FIXTURES.rglob("*.kicad_pro"))
    if p.with_suffix(".kicad_sch").exists()
]
KINDS = ("conductors", "contacts", "devices", "switches", "diodes", "outputs", "loads", "splices", "chassis")


def settings_of(root: Path) -> tuple[AnalysisSettings, DrawingSettings]:
    beside = root.with_name("loadloom.toml")
    return read_settings(beside if beside.is_file() else None)


def through_a_list(root: Path, list_file: Path) -> Drawing:
    analysis, reading = settings_of(root)
    for file, content in files_of(wire_list(read_drawing(root), analysis, reading), list_file).items():
        file.write_bytes(content)
    return read_drawing(list_file)


def elements(harness: Harness) -> dict[str, dict[str, object]]:
    """Every element's values; joints by what meets there, since a list gives some of them other names."""
    meeting: dict[str, set[str]] = {}
    for kind in KINDS:
        for one in getattr(harness, kind):
            for name in one.__dataclass_fields__:
                if name.startswith("node") and getattr(one, name) is not None:
                    meeting.setdefault(getattr(one, name), set()).add(f"{one.id}.{name}")
    found: dict[str, dict[str, object]] = {}
    for kind in KINDS:
        for one in getattr(harness, kind):
            values = {
                f.name: getattr(one, f.name) for f in dataclasses.fields(one) if f.name not in ("subject", "kind")
            }
            values |= {n: sorted(meeting[v]) for n, v in values.items() if n.startswith("node") and v is not None}
            found[f"{kind} {one.id}"] = values
    return found


def sixty() -> tuple[list[list[str]], list[list[str]]]:
    """A cart of 60 wires: a battery, ten fused feeds through a connector pair to ten loads, and their returns."""
    wires = [["Label", "From", "To", "Size (mm²)", "Length (mm)", "Insulation", "Bundle", "Colour", "Part number"]]
    parts = [
        [
            "Part",
            "Role",
            "Voltage",
            "Limit",
            "Trip",
            "Resistance",
            "Rating",
            "Curve",
            "Mates",
            "Contact rating",
            "Load",
        ]
    ]
    part = dict.fromkeys(parts[0], "")

    def add(**values: str) -> None:
        parts.append(list({**part, **{k.replace("_", " "): v for k, v in values.items()}}.values()))

    add(Part="BT1", Role="output", Voltage="24 V", Limit="80 A", Trip="none", Resistance="10 mΩ")
    add(Part="BUS", Role="splice", Rating="80 A")
    add(Part="RET", Role="splice", Rating="80 A")
    add(Part="J1", Role="connector", Mates="J2", Contact_rating="10 A")
    add(Part="J2", Role="connector")
    for k in range(1, 11):
        add(Part=f"F{k}", Role="fuse", Rating="5 A", Curve="UL 248-14")
        add(Part=f"L{k}", Role="load", Load=f"{k / 4:g} A")
        row = ["1,5", "850", "PVC 70 °C", "", "red", "=2+3"]
        wires.append([f"W{k}01", "BUS", f"F{k}.1", *row])
        wires.append([f"W{k}02", f"F{k}.2", f"J1.{k}", *row])
        wires.append([f"W{k}03", f"J2.{k}", f"L{k}.+", *row])
        wires.append([f"W{k}04", f"L{k}.-", f"J2.{k + 10}", *row])
        wires.append([f"W{k}05", f"J1.{k + 10}", "RET", *row])
    for k in range(5):
        wires.append([f"W{k}91", "BT1.+", "BUS", "10", "300", "PVC 70 °C", "", "red", ""])
        wires.append([f"W{k}92", "RET", "BT1.-", "10", "300", "PVC 70 °C", "", "black", ""])
    assert len(wires) == 61
    return wires, parts


def write(folder: Path, name: str, wires: list[list[str]], parts: list[list[str]] | None = None) -> Path:
    path = folder / name
    if path.suffix == ".xlsx":
        path.write_bytes(xlsx_bytes([("List", wires), *([("Parts", parts)] if parts else [])]))
    else:
        path.write_bytes(csv_bytes(wires))
        if parts:
            path.with_name(f"{path.stem}.parts.csv").write_bytes(csv_bytes(parts))
    return path
