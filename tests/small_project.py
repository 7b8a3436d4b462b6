"""A KiCad project of a few symbols with one sheet used twice, for tests that need files and a quick analysis."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fixtures"))

from draw import Project

WIRE = {"Rating": "10 A", "Insulation": "PVC 70 °C", "Voltage_rating": "300 V"}


def write_twice_used_sheet(folder: Path) -> Path:
    """Write the project; gives the root schematic.

    Branch A hangs on 20 m of wire, branch B on 1 m. Both hold the same load of constant power, so that the
    wires of branch A carry more: 24 V less the greater drop.
    """
    project = Project(folder, "twice", "One sheet, used twice", library_inside=True)
    root, branch = project.root, project.sheet("branch.kicad_sch", "Branch")
    unit = root.place("Output", "PS1", 30, 40, "24 V", Limit="10 A", Trip="12 A", Resistance="1 mOhm")
    fused = root.row(unit.pin(1), [("Fuse", "FU1", "8 A", {})], "feed")
    root.wire(fused, (50, 40), kind="feed")
    root.wire(unit.pin(2), (46, 48), kind="return")
    for k, (name, y, length, offset) in enumerate((("A", 40, "20 m", 100), ("B", 70, "1 m", 200))):
        for row, reference, kind in ((y, f"W{2 * k + 1}", "feed"), (y + 8, f"W{2 * k + 2}", "return")):
            start = (50 if kind == "feed" else 46, row)
            end = root.row(start, [("Wire", reference, "1 mm²", {"Length": length, **WIRE})], kind)
            root.wire(end, (90, row), kind=kind)
        root.subsheet(branch, name, 90, y - 4, 30, 16, {"IN+": (90, y), "IN-": (90, y + 8)}, number_offset=offset)
    root.wire((50, 40), (50, 70), kind="feed")
    root.wire((46, 48), (46, 78), kind="return")
    branch.label("IN+", (20, 40), kind="hierarchical_label", angle=180)
    branch.label("IN-", (20, 44), kind="hierarchical_label", angle=180)
    load = branch.place("Load", "L1", 90, 40, "Heater", Load="48 W", Minimum_voltage="18 V", Maximum_voltage="26 V")
    feed = branch.row((20, 40), [("Wire", "W1", "1 mm²", {"Length": "1 m", **WIRE})], "feed", first_gap=10)
    back = branch.row((20, 44), [("Wire", "W2", "1 mm²", {"Length": "1 m", **WIRE})], "return", first_gap=10)
    branch.wire(feed, load.pin(1), kind="feed")
    branch.wire(back, load.pin(2), kind="return")
    for name, text in project.files().items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder / "twice.kicad_sch"
