"""Drawings and netlists of KiCad 6 and 10 say the same as those of KiCad 9."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest
from kicad_versions import (
    TEN,
    as_sexpr,
    netlist_of_ten,
    project_of_six,
    project_of_ten,
    rewritten,
    schematic_of_ten,
)
from programs import need
from reading_samples import (
    LIBRARY,
    Project,
    label,
    library_pin,
    library_symbol,
    line,
    schematic,
    sheet,
    sheet_path,
    symbol,
)

from loadloom.plugin.drawing import Drawing
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import analyse_file
from loadloom.plugin.reading import kicad_cli, read_drawing
from loadloom.reports.results_json import render

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
ROOTS = [
    path.with_suffix(".kicad_sch")
    for path in sorted(FIXTURES.rglob("*.kicad_pro"))
    if path.with_suffix(".kicad_sch").exists()
]
SOME = ROOTS[::4]
"""kicad-cli takes a second and more for a drawing: it reads these as well, a quarter of all (15 of 58)."""
EACH = pytest.mark.parametrize("root", ROOTS, ids=lambda path: str(path.relative_to(FIXTURES).parent))


def exported(root: Path, output: Path) -> str:
    with kicad_cli.NetlistExport(Path(need("kicad-cli")), root) as export:
        written = export.result()
    assert written is not None
    return written.text


def essence(drawing: Drawing) -> Drawing:
    """Without file hash, route and names of nets that KiCad made up, which differ by route."""
    nets = tuple(net if net.named_by_user else replace(net, name="") for net in drawing.nets)
    symbols = tuple(replace(s, file=None, line=None, field_lines={}) for s in drawing.symbols)
    provenance = replace(drawing.provenance, file="", sha256="", route="", files=())
    return replace(drawing, symbols=symbols, nets=nets, provenance=provenance, route="", notices=())


def drawn(text: str, path: Path) -> Drawing:
    path.write_text(text, encoding="utf-8")
    return read_drawing(path)


@EACH
def test_netlists_of_ten_say_what_those_of_nine_say(root: Path, tmp_path: Path) -> None:
    nine = exported(root, tmp_path)
    before = essence(drawn(nine, tmp_path / "n9.xml"))
    ten = netlist_of_ten(nine)
    assert essence(drawn(ten, tmp_path / "n10.xml")) == before
    assert essence(drawn(as_sexpr(ten), tmp_path / "n10.net")) == before
    assert essence(drawn(netlist_of_ten(nine, tool="Eeschema"), tmp_path / "unsaid.xml")) == before
    bare = essence(drawn(netlist_of_ten(nine, library=False), tmp_path / "bare.xml"))
    assert [s.pins for s in bare.symbols] == [s.pins for s in before.symbols]
    assert bare.nets == before.nets


@pytest.mark.parametrize(
    "case", ["stock_symbols", "case_12_back_feed", "case_20_stacked_pin", "case_22_swapped_load"]
)
def test_results_from_ten_are_those_from_nine(case: str, tmp_path: Path) -> None:
    """The drawings above are all that the analysis sees; here the whole way is gone for some."""
    (root,) = (FIXTURES / case).glob("*.kicad_sch")
    nine, ten = tmp_path / "9" / "n.xml", tmp_path / "10" / "n.xml"
    for path in (nine, ten):
        path.parent.mkdir()
    nine.write_text(exported(root, tmp_path), encoding="utf-8")
    ten.write_text(netlist_of_ten(nine.read_text(encoding="utf-8")), encoding="utf-8")
    settings = FIXTURES / case / "loadloom.toml"
    found = [json.loads(render(analyse_file(path, settings, date="2026-01-31"))) for path in (nine, ten)]
    for results in found:
        del results["input"]
    assert found[0] == found[1]


NAMES = {"1": "OUT_1", "2": "OUT_2_2", "3": "~", "4": "_4", "5": "+", "[6,7]": "S", "[8,9]": "~", "10": "A_1"}


def test_names_that_look_as_if_a_number_were_appended(tmp_path: Path) -> None:
    """Every name survives, by both versions, with and without the library parts that KiCad writes beside."""
    library_id = "T:NAMES"
    pins = [library_pin(number, 0, 2.54 * k, name) for k, (number, name) in enumerate(NAMES.items())]
    LIBRARY[library_id] = library_symbol(library_id, {(1, 1): pins})
    try:
        root = Project(schematic(symbol(library_id, "U1", 0, 0), symbol("T:TWO", "R1", 25.4, 0))).write(tmp_path)
    finally:
        del LIBRARY[library_id]
    nine = exported(root, tmp_path)
    true = {"1": "OUT_1", "2": "OUT_2_2", "3": "", "4": "_4", "5": "+", "10": "A_1"}
    true |= {"6": "S", "7": "S", "8": "", "9": ""}
    ten = netlist_of_ten(nine)
    texts = [nine, ten, as_sexpr(ten), netlist_of_ten(nine, library=False), netlist_of_ten(nine, tool="Eeschema")]
    texts += [netlist_of_ten(nine, tool="Eeschema 9.99.0"), nine.replace("Eeschema 9.0", "Eeschema 9.99")]
    for k, text in enumerate(texts):
        drawing = drawn(text, tmp_path / f"{k}.{'net' if text.startswith('(') else 'xml'}")
        (part,) = [s for s in drawing.symbols if s.reference == "U1"]
        assert {pin.number: pin.name for pin in part.pins} == true, k
    own = read_drawing(root, kicad_cli="none")
    assert {pin.number: pin.name for s in own.symbols if s.reference == "U1" for pin in s.pins} == true


def test_alternate_function_of_a_pin(tmp_path: Path) -> None:
    """KiCad writes the function chosen on the drawing, not the library's name of the pin."""
    item = symbol("T:ALT", "U1", 0, 0, extra='(pin "1" (uuid "a") (alternate "TX"))')
    nine = exported(Project(schematic(item)).write(tmp_path), tmp_path)
    assert "TX" in nine
    for text in (nine, netlist_of_ten(nine)):
        assert drawn(text, tmp_path / "n.xml").symbols[0].pins[0].name == "TX"


@EACH
def test_schematics_of_ten(root: Path, tmp_path: Path) -> None:
    """Read without kicad-cli, and where the kicad-cli at hand is the older one, which can't load them."""
    sheets = {f.name: schematic_of_ten(f.read_text(encoding="utf-8")) for f in root.parent.glob("*.kicad_sch")}
    assert all("20260306" in text for text in sheets.values())
    project = project_of_ten(root.with_suffix(".kicad_pro").read_text(encoding="utf-8"), root.stem)
    new = rewritten(root.parent, tmp_path / "p", root.stem, sheets, project)
    nine = essence(read_drawing(root, kicad_cli="none"))
    own = read_drawing(new, kicad_cli="none")
    assert essence(own) == nine
    assert own.notices == ()
    if root not in SOME:
        return
    program = Path(need("kicad-cli"))
    by_older = read_drawing(new, kicad_cli=program)
    assert essence(by_older) == nine
    assert by_older.notices == ()
    assert "too old for file version 20260306" in by_older.route


def test_what_is_newer_than_all_known_is_told(tmp_path: Path) -> None:
    text = schematic_of_ten(schematic(symbol("T:ONE", "A1", 0, 0))).replace("20260306", "20271231")
    for cli in ("none", need("kicad-cli")):
        drawing = read_drawing(Project(text).write(tmp_path), kicad_cli="none" if cli == "none" else Path(cli))
        assert [finding.rule for finding in drawing.notices] == ["file-version-untested"]


ALIASED = (
    line("bus", 0, 0, 10.16, 0),
    label("label", "{FEED}", 0, 0),
    label("label", "PLUS", 25.4, 0),
    label("label", "PLUS", 50.8, 0),
    symbol("T:ONE", "A1", 25.4, 0),
    symbol("T:ONE", "B1", 50.8, 0),
)


def test_bus_aliases_stand_in_the_project(tmp_path: Path) -> None:
    """An alias in the sheet (KiCad 9) and in the project (KiCad 10) joins the same pins across a sheet border."""
    inner = schematic(
        line("bus", 0, 0, 10.16, 0),
        label("hierarchical_label", "{FEED}", 0, 0),
        line("wire", 25.4, 0, 30.48, 0),
        label("label", "PLUS", 25.4, 0),
        symbol("T:ONE", "C1", 30.48, 0, paths={sheet_path("In"): "C1"}),
        uuid_="20000000-0000-4000-8000-000000000002",
    )
    placed = sheet("In", "in.kicad_sch", 10.16, -5.08, [("{FEED}", 10.16, 0)])
    alias = '(bus_alias "FEED" (members "PLUS" "MINUS"))'
    nine = Project(schematic(*ALIASED, placed, alias), {"in.kicad_sch": inner}, "{}").write(tmp_path / "9")
    ten = Project(
        schematic_of_ten(schematic(*ALIASED, placed, alias)),
        {"in.kicad_sch": schematic_of_ten(inner)},
        project_of_ten("{}", "p", {"FEED": ["PLUS", "MINUS"]}),
    ).write(tmp_path / "10")
    by_cli = read_drawing(nine, kicad_cli=Path(need("kicad-cli")))
    sets = [{net.pins for net in read_drawing(path, kicad_cli="none").nets} for path in (nine, ten)]
    assert sets[0] == sets[1] == {net.pins for net in by_cli.nets}
    assert max(map(len, sets[1])) == 3


def test_one_of_several_top_level_sheets_is_no_whole_drawing(tmp_path: Path) -> None:
    project = json.dumps(
        {"schematic": {"top_level_sheets": [{"filename": "p.kicad_sch"}, {"filename": "q.kicad_sch"}]}}
    )
    root = Project(schematic(symbol("T:ONE", "A1", 0, 0)), project=project).write(tmp_path)
    with pytest.raises(UnusableError, match=r"one of 2 top-level sheets .* beside q\.kicad_sch"):
        read_drawing(root, kicad_cli="none")


@EACH
def test_schematics_of_six(root: Path, tmp_path: Path) -> None:
    """KiCad 6 kept all references in the root, and knew no parts that are not fitted."""
    sheets = {file.name: file.read_text(encoding="utf-8") for file in root.parent.glob("*.kicad_sch")}
    fitted = {name: text.replace("(dnp yes)", "(dnp no)") for name, text in sheets.items()}
    nine = rewritten(root.parent, tmp_path / "9", root.stem, fitted, None)
    six = rewritten(root.parent, tmp_path / "6", root.stem, project_of_six(fitted, root.name), None)
    assert "symbol_instances" in six.read_text(encoding="utf-8")
    wanted = essence(read_drawing(nine, kicad_cli="none"))
    assert essence(read_drawing(six, kicad_cli="none")) == wanted
    if root not in SOME:
        return
    by_cli = read_drawing(six, kicad_cli=Path(need("kicad-cli")))
    assert essence(by_cli) == wanted
    assert by_cli.notices == ()


def test_some_are_enough() -> None:
    assert len(SOME) >= 15 and any(len(list(root.parent.glob("*.kicad_sch"))) > 1 for root in SOME)


def test_a_sheet_of_six_by_itself_is_no_drawing(tmp_path: Path) -> None:
    text = project_of_six({"p.kicad_sch": schematic(symbol("T:ONE", "A1", 0, 0))}, "other.kicad_sch")["p.kicad_sch"]
    with pytest.raises(UnusableError, match="is a sheet of another drawing"):
        read_drawing(Project(text).write(tmp_path), kicad_cli="none")


@pytest.mark.parametrize("name", ["p.sch", "p.kicad_sch"])
def test_old_schematics_are_told_how_to_save_them_anew(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text("EESchema Schematic File Version 4\n", encoding="utf-8")
    with pytest.raises(
        UnusableError, match=r"KiCad 5 or older.*open its project in KiCad 7 or newer, save it"
    ) as caught:
        read_drawing(path)
    assert "\n" not in str(caught.value)


def test_the_sample_is_not_what_it_was() -> None:
    """The rewriting above changes something: it can fail."""
    root = ET.fromstring(
        "<export><design><tool>Eeschema 9.0.8</tool></design><libparts/>"
        '<nets><net><node ref="A" pin="1" pinfunction="+"/></net></nets></export>'
    )
    text = netlist_of_ten(ET.tostring(root, encoding="unicode"))
    assert 'pinfunction="+_1"' in text and TEN in text
