"""The drawings of the fixtures: made again byte by byte, clean for KiCad, and joined as their writer meant."""

from __future__ import annotations

import json
import subprocess
import sys
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import pytest
from programs import need

ROOT = Path(__file__).resolve().parents[1]
FIXTURES = ROOT / "fixtures"
sys.path.insert(0, str(FIXTURES))

import cases  # noqa: E402
import regenerate  # noqa: E402
import symbols  # noqa: E402
from draw import Project, Sheet, numbered  # noqa: E402
from sexpr import Text, number, write  # noqa: E402

FOLDERS = sorted(regenerate.projects())


@cache
def again(folder: str) -> dict[str, str]:
    return regenerate.projects()[folder].files()


@pytest.mark.parametrize("folder", FOLDERS)
def test_drawing_is_what_its_writer_writes(folder: str) -> None:
    for name, text in again(folder).items():
        assert (FIXTURES / folder / name).read_text(encoding="utf-8") == text, f"{folder}/{name}"


def test_no_drawing_is_left_behind() -> None:
    written = {FIXTURES / folder / name for folder in FOLDERS for name in again(folder)}
    for kind in ("case_*/*.kicad_*", "case_*/sym-lib-table", "observatory/*/*.kicad_*"):
        for file in FIXTURES.glob(kind):
            if not file.name.startswith("~"):  # a lock of a kicad-cli that another test runs just now
                assert file in written or file.suffix in (".kicad_prl", ".kicad_jobset", ".kicad_pcb"), file


def erc(drawing: Path, out: Path) -> list[tuple[str, str, str]]:
    subprocess.run(
        [need("kicad-cli"), "sch", "erc", "--severity-all", "--format", "json", "-o", str(out), str(drawing)],
        capture_output=True,
        timeout=120,
        check=True,
    )
    report = json.loads(out.read_text(encoding="utf-8"))
    return [
        (found["severity"], found["type"], found["description"])
        for sheet in report["sheets"]
        for found in sheet["violations"]
    ]


@pytest.mark.parametrize("folder", FOLDERS)
def test_kicad_has_no_complaint(folder: str, tmp_path: Path) -> None:
    (drawing,) = [file for file in again(folder) if file.endswith(".kicad_pro")]
    path = (FIXTURES / folder / drawing).with_suffix(".kicad_sch")
    assert erc(path, tmp_path / "erc.json") == []


def test_erc_sees_a_loose_pin(tmp_path: Path) -> None:
    """The check above can fail: a drawing with a pin that nothing joins is reported."""
    project = Project(tmp_path, "loose", "A loose pin", library_inside=True)
    project.root.place("Load", "L1", 40, 40, "load", Load="1 A")
    for name, text in project.files().items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    found = erc(tmp_path / "loose.kicad_sch", tmp_path / "erc.json")
    assert [kind for _, kind, _ in found] == ["pin_not_connected", "pin_not_connected"]


def nets_of(drawing: Path, out: Path) -> list[set[str]]:
    subprocess.run(
        [need("kicad-cli"), "sch", "export", "netlist", "--format", "kicadxml", "-o", str(out), str(drawing)],
        capture_output=True,
        timeout=120,
        check=True,
    )
    nets = ET.parse(out).getroot().find("nets")
    assert nets is not None
    return [{f"{node.get('ref')}.{node.get('pin')}" for node in net.findall("node")} for net in nets]


def test_nets_of_a_case_are_those_meant(tmp_path: Path) -> None:
    """Written down by hand from the sketch of case 03."""
    nets = nets_of(FIXTURES / "case_03_unequal_lengths" / "harness.kicad_sch", tmp_path / "n.xml")
    assert {frozenset(net) for net in nets} == {
        frozenset({"PS1.1", "W1.1", "W2.1"}),
        frozenset({"W1.2", "W2.2", "L1.1"}),
        frozenset({"PS1.2", "W3.1"}),
        frozenset({"W3.2", "L1.2"}),
    }


@pytest.mark.parametrize("version", ["sound", "flawed", "misdrawn"])
def test_the_demo_is_what_it_claims(version: str, tmp_path: Path) -> None:
    nets = nets_of(FIXTURES / "observatory" / version / "dome_power.kicad_sch", tmp_path / "n.xml")
    pins = {pin for net in nets for pin in net}
    references = {pin.split(".")[0] for pin in pins}
    loads = {ref for ref in references if ref.startswith("L") and ref[1:].isdigit()}
    assert len(loads) >= 15
    assert {"L101", "L201", "PS1", "PS2", "PS3", "CH1", "CH2", "CH3", "CH4", "S1", "C1"} <= references
    assert {"W109.2", "P106.1"} in nets
    assert {"J3.1", "P11.1"} in nets, "a wire drawn as a net between two connectors"
    from_pier = next(net for net in nets if "P101.1" in net)
    assert from_pier == {"C1.1B", "P101.1", "P101.2"}


def test_a_feed_on_a_return_is_refused() -> None:
    project, sheet = cases.project("x", "x")
    sheet.wire((10, 10), (20, 10), kind="feed")
    sheet.wire((20, 10), (20, 20), kind="return")
    with pytest.raises(ValueError, match="meet"):
        project.files()


def test_a_slanted_wire_is_refused() -> None:
    _, sheet = cases.project("x", "x")
    with pytest.raises(ValueError, match="slanted"):
        sheet.wire((10, 10), (20, 11))


def legs(sheet: Sheet) -> tuple[int, list[tuple[int, int]]]:
    wires, junctions = sheet._legs()
    return len(wires), junctions


def test_junctions_stand_where_ends_meet_and_not_where_lines_cross() -> None:
    _, sheet = cases.project("x", "x")
    sheet.wire((0, 10), (20, 10))
    sheet.wire((10, 0), (10, 20))
    assert legs(sheet) == (2, [])
    sheet.wire((15, 10), (15, 20))
    assert legs(sheet) == (4, [(15, 10)])


def test_numbers_of_a_repeated_sheet() -> None:
    assert numbered("W3", 100) == "W103"
    assert numbered("W3", 0) == "W3"


def test_what_kicad_escapes_is_escaped() -> None:
    assert write(["a", Text('say "x" \\ y\nz')]) == '(a "say \\"x\\" \\\\ y\\nz")'
    assert [number(value) for value in (1.0, 2.54, -0.0, 40 * symbols.G)] == ["1", "2.54", "0", "50.8"]
