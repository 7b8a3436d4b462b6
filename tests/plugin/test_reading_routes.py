"""All ways of reading give the same Drawing, on our own fixtures and on the demo projects that come with KiCad."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from programs import need
from reading_samples import Project, schematic, symbol

from loadloom.plugin.drawing import Drawing
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import read_text
from loadloom.plugin.reading import read_drawing, sexpr, xml
from loadloom.plugin.reading.netlist import read_netlist

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
SAMPLES = Path(__file__).parent / "data" / "reading"
DEMOS = Path("/usr/share/kicad/demos")  # Where Debian's package kicad-demos installs them.
# Demos that a reading without kicad-cli refuses, each with the words of its reason.
REFUSED_DEMOS = {"RoyalBlue54L-Feather": "a rule area gives a net class"}
DEMO_COUNT = 36


def roots(folder: Path) -> list[Path]:
    """Root schematics: those with a project file beside them."""
    found = (project.with_suffix(".kicad_sch") for project in sorted(folder.rglob("*.kicad_pro")))
    return [path for path in found if path.exists()]


def comparable(drawing: Drawing) -> Drawing:
    """Without what may differ between routes: automatic net names, the name of the route, the notices."""
    nets = tuple(net if net.named_by_user else replace(net, name="") for net in drawing.nets)
    provenance = replace(drawing.provenance, route="")
    return replace(drawing, nets=nets, provenance=provenance, notices=(), route="")


def assert_same(drawing: Drawing, other: Drawing) -> None:
    for one, two in zip(comparable(drawing).symbols, comparable(other).symbols, strict=True):
        assert one == two
    for net, twin in zip(comparable(drawing).nets, comparable(other).nets, strict=True):
        assert net == twin
    assert comparable(drawing) == comparable(other)


def essence(drawing: Drawing) -> tuple[object, ...]:
    """What a bare netlist can tell as well as the drawing: parts, pins, fields and nets."""
    symbols = [(s.reference, s.value, s.pins, dict(s.fields), s.dnp, s.sheet_path) for s in drawing.symbols]
    nets: list[tuple[object, ...]] = [(n.pins, n.name, n.named_by_user) for n in drawing.nets]
    return symbols, nets


def export(cli: str, schematic: Path, output: Path, kind: str) -> Path:
    command = [cli, "sch", "export", "netlist", "--format", kind, "-o", str(output), str(schematic)]
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    return output


@pytest.mark.parametrize("path", roots(FIXTURES), ids=lambda path: str(path.relative_to(FIXTURES).parent))
def test_fixtures_read_the_same_by_every_route(path: Path, tmp_path: Path) -> None:
    cli = need("kicad-cli")
    by_cli = read_drawing(path, kicad_cli=Path(cli))
    own = read_drawing(path, kicad_cli="none")
    assert_same(by_cli, own)
    assert by_cli.notices == own.notices == ()
    by_net = read_drawing(export(cli, path, tmp_path / "n.net", "kicadsexpr"))
    assert essence(by_net) == essence(by_cli)


def test_there_are_fixtures() -> None:
    assert len(roots(FIXTURES)) >= 30


def demo_roots() -> list[Path]:
    return roots(DEMOS) if DEMOS.is_dir() else []


def test_the_demo_projects_are_there() -> None:
    if not DEMOS.is_dir():
        reason = "kicad-demos is not installed"
        if os.environ.get("CI") == "true":
            pytest.fail(f"{reason}, and CI must have it")
        pytest.skip(reason)
    assert len(demo_roots()) == DEMO_COUNT


@pytest.mark.parametrize("path", demo_roots(), ids=lambda path: path.stem)
def test_demo_projects_read_the_same_by_both_routes(path: Path) -> None:
    by_cli = read_drawing(path, kicad_cli=Path(need("kicad-cli")))
    if path.stem in REFUSED_DEMOS:
        with pytest.raises(UnusableError, match=REFUSED_DEMOS[path.stem]):
            read_drawing(path, kicad_cli="none")
        return
    own = read_drawing(path, kicad_cli="none")
    assert_same(by_cli, own)
    assert by_cli.notices == ()


@pytest.mark.parametrize("version", ["9", "10"])
def test_netlists_of_both_versions(version: str) -> None:
    drawing = read_drawing(SAMPLES / f"flat.v{version}.xml")
    assert [s.reference for s in drawing.symbols] == ["G1", "M2", "M3", "M4", "M5", "M6", "M7", "M8", "U1"]
    nets = {net.name: net for net in drawing.nets}
    assert nets["BUS_0"].classes == ("POWER28",)
    assert nets["GND"].classes == ()
    assert nets["BUS_0"].named_by_user
    assert not nets["unconnected-(U1A-AR-Pad2)"].named_by_user
    by_reference = {s.reference: s for s in drawing.symbols}
    assert [s.reference for s in drawing.symbols if s.dnp] == ["M3"]
    assert by_reference["M2"].fields == {"LoadW": "11", "DutyCycle": "0.5", "Phase": "cruise"}
    assert len(by_reference["U1"].uuids) == 2
    assert (drawing.provenance.title, drawing.provenance.revision) == ("h1 demo", "A")


def test_a_net_file_says_what_it_may_lack() -> None:
    by_xml = read_drawing(SAMPLES / "flat.v9.xml")
    by_net = read_drawing(SAMPLES / "flat.v9.net")
    assert by_xml.symbols == by_net.symbols
    assert by_xml.nets == by_net.nets
    assert [(f.rule, f.severity) for f in by_net.notices] == [("symbols-may-be-missing", "warning")]
    assert by_xml.notices == ()  # M4 is listed though excluded from the parts list: no parts-list XML.


def test_what_a_net_file_lacks(tmp_path: Path) -> None:
    kept, lost = symbol("T:ONE", "A1", 0, 0), symbol("T:ONE", "B1", 25.4, 0)
    text = schematic(kept, lost.replace("(on_board yes)", "(on_board no)"))
    path = Project(text).write(tmp_path)
    cli = need("kicad-cli")
    by_net = read_drawing(export(cli, path, tmp_path / "n.net", "kicadsexpr"))
    by_xml = read_drawing(export(cli, path, tmp_path / "n.xml", "kicadxml"))
    assert [s.reference for s in by_net.symbols] == ["A1"]
    assert [s.reference for s in by_xml.symbols] == ["A1", "B1"]


def test_an_xml_that_may_come_from_a_parts_list_says_so(tmp_path: Path) -> None:
    text = (SAMPLES / "flat.v9.xml").read_text(encoding="utf-8").replace('<property name="exclude_from_bom"/>', "")
    path = tmp_path / "parts.xml"
    path.write_text(text, encoding="utf-8")
    assert [(f.rule, f.severity) for f in read_drawing(path).notices] == [("symbols-may-be-missing", "note")]


def test_sheets_in_netlists() -> None:
    for version in ("9", "10"):
        drawing = read_drawing(SAMPLES / f"hier.v{version}.xml")
        paths = {s.reference: s.sheet_path for s in drawing.symbols}
        assert paths["M101"] == "/Left/"
        assert paths["M102"] == "/Right/"
        by_name = {net.name: net for net in drawing.nets}
        assert by_name["/Left/LOCAL"].sheets == ("/Left/",)


def test_the_two_netlist_formats_parse_to_one_shape() -> None:
    by_xml = read_netlist(xml.parse(read_text(SAMPLES / "flat.v9.xml")), Path("x"))
    by_net = read_netlist(sexpr.parse(read_text(SAMPLES / "flat.v9.net")), Path("n"))
    assert by_xml.title_block == by_net.title_block
    assert [replace(c, line=0) for c in by_xml.components] == [replace(c, line=0) for c in by_net.components]
    assert [net.name for net in by_xml.nets] == [net.name for net in by_net.nets]


def test_a_project_file_leads_to_its_schematic() -> None:
    project = roots(FIXTURES)[0].with_suffix(".kicad_pro")
    assert read_drawing(project, kicad_cli="none") == read_drawing(
        project.with_suffix(".kicad_sch"), kicad_cli="none"
    )


def test_the_environment_can_say_to_read_without_kicad_cli(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")
    assert read_drawing(roots(FIXTURES)[0]).route == "own connectivity, without kicad-cli"


def test_control_characters_that_xml_has_no_place_for(tmp_path: Path) -> None:
    """kicad-cli writes them into its netlist as they stand (XML 1.0, section 2.2, forbids them)."""
    drawn = schematic(symbol("T:ONE", "A1", 0, 0, value="a\x07b\x1fc"), symbol("T:ONE", "B1", 25.4, 0))
    found = read_drawing(Project(drawn).write(tmp_path), kicad_cli=Path(need("kicad-cli")))
    assert [s.reference for s in found.symbols] == ["A1", "B1"]
    assert found.symbols[0].value.replace("\x07", "").replace("\x1f", "") == "abc"


def test_progress_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    read_drawing(roots(FIXTURES)[0], kicad_cli="none", progress=said.append)
    assert said[-1] == "tracing the wires"


def test_importing_the_reading_loads_no_parser() -> None:
    code = (
        "import sys, loadloom.plugin.reading;"
        "print([name for name in ('sexpdata', 'skip', 'defusedxml') if name in sys.modules])"
    )

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
