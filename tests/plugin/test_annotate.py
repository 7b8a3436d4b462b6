"""An annotated copy differs from the drawing in the new fields only, and KiCad takes it for the same drawing."""

from __future__ import annotations

import difflib
import json
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from programs import need
from small_project import write_twice_used_sheet

from loadloom.graph.model.results import Results
from loadloom.plugin.annotate import FIELDS, NOT_SET, SIZE_MM, annotate, notes_by_reference
from loadloom.plugin.cli import main
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import Analysed, analyse_drawing
from loadloom.plugin.placing import Box, SheetSpace, text_width_mm
from loadloom.plugin.splicing import SchematicText

ADDED_LINE = re.compile(
    r'\t+\(property "Solved (current|utilisation|verdict)" "[^"]*"|\t+\(at [\d.]+ [\d.]+ (0|90)\)|\t+\(effects|'
    r"\t+\(font|\t+\(size 1\.27 1\.27\)|\t+\(color 0 90 160 1\)|\t+\)"
)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Analysed]:
    """The drawing with one sheet used twice, analysed."""
    source = write_twice_used_sheet(tmp_path_factory.mktemp("twice"))
    return source, analyse_drawing(source)


def solved(file: Path) -> dict[str, tuple[str, ...]]:
    """The new fields' texts by the drawn reference of the symbol."""
    text = SchematicText(file)
    found = {}
    for symbol in text.symbols():
        texts = {name: text.text(span.items[2]) for name, span in text.properties(symbol).items()}
        if FIELDS[0] in texts:
            found[texts["Reference"]] = tuple(texts[name] for name in FIELDS)
    return found


def netlist(file: Path, out: Path) -> tuple[object, object]:
    """Parts (without the new fields) and nets as kicad-cli writes them."""
    command = [need("kicad-cli"), "sch", "export", "netlist", "--format", "kicadxml", "-o", str(out), str(file)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    root = ET.parse(out).getroot()
    parts = {
        comp.get("ref"): (
            comp.findtext("value"),
            sorted((f.get("name"), f.text) for f in comp.iter("field") if f.get("name") not in FIELDS),
        )
        for comp in root.iter("comp")
    }
    nets = {
        net.get("name"): sorted((node.get("ref"), node.get("pin")) for node in net.iter("node"))
        for net in root.iter("net")
    }
    return parts, nets


def test_only_field_lines_are_added(drawn: tuple[Path, Analysed], tmp_path: Path) -> None:
    source, analysed = drawn
    written = annotate(analysed.drawing, analysed.results, source, tmp_path)
    assert [file.name for file in written.files] == ["branch.kicad_sch", "twice.kicad_sch"]
    assert written.symbols == 7  # six wires drawn, and the fuse
    for copy in written.files:
        before = (source.parent / copy.name).read_text(encoding="utf-8").splitlines()
        after = copy.read_text(encoding="utf-8").splitlines()
        changed = [line for line in difflib.ndiff(before, after) if line[:2] in ("+ ", "- ")]
        assert changed
        assert all(line.startswith("+ ") and ADDED_LINE.fullmatch(line[2:]) for line in changed), changed
        assert len(changed) == 27 * len(solved(copy))  # nine lines a field


def test_values_are_those_of_the_results(drawn: tuple[Path, Analysed], tmp_path: Path) -> None:
    source, analysed = drawn
    annotate(analysed.drawing, analysed.results, source, tmp_path)
    rows = {row.id: row for row in analysed.results.conductors}
    for reference in ("W1", "W2", "W3", "W4"):
        current, use, _ = solved(tmp_path / "twice.kicad_sch")[reference]
        row = rows[reference]
        assert row.current_a is not None and row.utilisation is not None
        assert float(current.rpartition(": ")[2].removesuffix(" A")) == pytest.approx(row.current_a, rel=5e-3)
        assert float(use.removesuffix(" %")) == pytest.approx(100 * row.utilisation, abs=0.5)


def test_a_sheet_used_twice_shows_the_worst_and_says_so(drawn: tuple[Path, Analysed], tmp_path: Path) -> None:
    """The load of constant power behind the longer wire draws the greater current: branch A, numbers from 100."""
    source, analysed = drawn
    annotate(analysed.drawing, analysed.results, source, tmp_path)
    rows = {row.id: row for row in analysed.results.conductors}
    far, near = rows["W101"].current_a, rows["W201"].current_a
    assert far is not None and near is not None and far > near
    current, _, verdict = solved(tmp_path / "branch.kicad_sch")["W101"]
    assert float(current.rpartition(": ")[2].removesuffix(" A")) == pytest.approx(far, rel=5e-3)
    assert verdict.endswith(", worst of 2")
    # Where the text stands nearer to another part it names its own, by both numbers of the sheet.
    named = [current for current, _, _ in solved(tmp_path / "branch.kicad_sch").values() if ": " in current]
    assert all(re.fullmatch(r"\w+, \w+: .*", current) for current in named), named


def test_a_share_stands_beside_the_current_that_it_is_of(demo_results: Callable[[str], Results]) -> None:
    """W1 carries 11.4 A for a start, and 9.4 A lasting, which is 101 % of its 9.3 A: not "11.4 A 101 %"."""
    results = demo_results("flawed")
    notes = notes_by_reference(results)
    (w1,) = notes["W1"]
    assert w1.current_a == pytest.approx(9.4, abs=0.05) and w1.utilisation == pytest.approx(1.01, abs=0.005)
    for row in results.conductors:
        if not row.cable and row.allowed_a is not None and row.id in notes:
            (note,) = notes[row.id]
            assert note.current_a == pytest.approx((note.utilisation or 0.0) * row.allowed_a, rel=1e-9), row.id


def test_a_contactor_says_that_nothing_protects_it(demo_results: Callable[[str], Results]) -> None:
    """The cart's contactor is allowed 50 A and a fault holds 51 A on it; a pole of several is named."""
    results = demo_results("cart_flawed")
    (note,) = notes_by_reference(results)["KM1"]
    assert note.verdict.startswith("FAIL switch-unprotected") and note.verdict.endswith("fault 51 A")
    (row,) = [row for row in results.switches if row.id == "KM1"]
    poles = replace(results, switches=(replace(row, id="KM1.1"), replace(row, id="KM1.2")))
    assert [note.part for note in notes_by_reference(poles)["KM1"]] == ["pole 1", "pole 2"]


def test_a_channel_that_is_not_active_says_so(demo_results: Callable[[str], Results]) -> None:
    """CH4 of the flawed demo was left off: neither a share nor "not determined" would say that."""
    (note,) = notes_by_reference(demo_results("flawed"))["CH4"]
    assert note.verdict == NOT_SET and note.gravity == 2
    (note,) = notes_by_reference(demo_results("sound"))["CH4"]
    assert note.verdict == "ok"


def test_kicad_sees_the_same_drawing(drawn: tuple[Path, Analysed], tmp_path: Path) -> None:
    source, analysed = drawn
    for copy in (tmp_path / "folder", tmp_path / "named" / "other.kicad_sch"):
        root = next(
            file
            for file in annotate(analysed.drawing, analysed.results, source, copy).files
            if file.name != "branch.kicad_sch"
        )
        assert netlist(root, tmp_path / "copy.xml") == netlist(source, tmp_path / "source.xml")
        report = tmp_path / "erc.json"
        command = [
            need("kicad-cli"),
            "sch",
            "erc",
            "--severity-all",
            "--format",
            "json",
            "-o",
            str(report),
            str(root),
        ]
        subprocess.run(command, check=True, capture_output=True, timeout=120)
        sheets = json.loads(report.read_text(encoding="utf-8"))["sheets"]
        assert len(sheets) == 3
        assert [found for sheet in sheets for found in sheet["violations"]] == []
        assert root.with_suffix(".kicad_pro").is_file()
        assert (root.parent / "sym-lib-table").is_file() and (root.parent / "loadloom.kicad_sym").is_file()


def test_a_second_run_changes_values_only(drawn: tuple[Path, Analysed], tmp_path: Path) -> None:
    source, analysed = drawn
    copy = annotate(analysed.drawing, analysed.results, source, tmp_path / "once").files[-1]
    again = analyse_drawing(copy)
    annotate(again.drawing, again.results, copy, tmp_path / "same")
    assert (tmp_path / "same" / copy.name).read_bytes() == copy.read_bytes()

    branch = copy.parent / "branch.kicad_sch"
    branch.write_text(branch.read_text(encoding="utf-8").replace('"48 W"', '"72 W"'), encoding="utf-8")
    changed = analyse_drawing(copy)
    before = {name: (copy.parent / name).read_text(encoding="utf-8") for name in (copy.name, branch.name)}
    annotate(changed.drawing, changed.results, copy, None)
    for name, text in before.items():
        lines = list(zip(text.splitlines(), (copy.parent / name).read_text("utf-8").splitlines(), strict=True))
        different = [(old, new) for old, new in lines if old != new]
        assert different
        assert all(old.split('"')[:2] == new.split('"')[:2] and '"Solved ' in new for old, new in different)


def test_new_texts_cover_nothing(drawn: tuple[Path, Analysed], tmp_path: Path) -> None:
    """Boxes of the texts, from their letters, against everything drawn before and against one another."""
    source, analysed = drawn
    for copy in annotate(analysed.drawing, analysed.results, source, tmp_path).files:
        space = SheetSpace(SchematicText(source.parent / copy.name))
        text = SchematicText(copy)
        for symbol in text.symbols():
            for name, span in text.properties(symbol).items():
                if name in FIELDS:
                    x, y = text.numbers(text.child(span, "at"))[:2]
                    width = text_width_mm(text.text(span.items[2]), SIZE_MM)
                    box = Box.of(x, y, width, SIZE_MM)
                    assert space.cost_mm2(box) == 0.0, (copy.name, name)
                    space.take(box)


def test_the_drawing_is_not_written_over(drawn: tuple[Path, Analysed], tmp_path: Path) -> None:
    source, analysed = drawn
    for copy in (source, source.parent, source.with_suffix(".kicad_pro")):
        with pytest.raises(UnusableError, match="would be written over"):
            annotate(analysed.drawing, analysed.results, source, copy)
    other = tmp_path / "other.kicad_sch"
    other.write_text('(kicad_sch\n\t(version 20250114)\n\t(uuid "00000000-0000-4000-8000-000000000000")\n)\n')
    with pytest.raises(UnusableError, match="is another drawing"):
        annotate(analysed.drawing, analysed.results, source, other)
    assert "Solved" not in other.read_text()


def test_an_open_drawing_is_left_alone(drawn: tuple[Path, Analysed], tmp_path: Path) -> None:
    source, analysed = drawn
    folder = tmp_path / "open"
    shutil.copytree(source.parent, folder)
    (folder / "~twice.kicad_sch.lck").write_text("{}")
    with pytest.raises(UnusableError, match="is open in KiCad"):
        annotate(analysed.drawing, analysed.results, folder / source.name, None)


def test_command_line(drawn: tuple[Path, Analysed], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source, _ = drawn
    assert main(["annotate", str(source), "-o", str(tmp_path / "copy")]) == 0
    assert "7 symbols" in capsys.readouterr().out
    assert solved(tmp_path / "copy" / "twice.kicad_sch")
    assert main(["annotate", str(source), "-o", str(source)]) == 2
    assert "would be written over" in capsys.readouterr().err
    assert main(["annotate", str(tmp_path / "a.xml"), "-o", str(tmp_path / "b")]) == 2
    assert "not a netlist" in capsys.readouterr().err


def test_turned_and_mirrored_symbols_have_their_pins_inside_their_box(tmp_path: Path) -> None:
    """Rules of placement as tried against kicad-cli: turn counter-clockwise, then mirror."""
    file = tmp_path / "turned.kicad_sch"
    line = "(polyline (pts (xy 0 0) (xy 4 1))) (pin passive line (at 6 0 180) (length 2))"
    part = f'(symbol "t:p" (symbol "p_1_1" {line}))'
    placed = " ".join(
        f'(symbol (lib_id "t:p") (at 50 50 {angle}) {mirror} (property "Reference" "{angle}{mirror}" (at 50 50 0)))'
        for angle in (0, 90, 180, 270)
        for mirror in ("", "(mirror x)", "(mirror y)")
    )
    file.write_text(f"(kicad_sch (lib_symbols {part}) {placed})")
    text = SchematicText(file)
    space = SheetSpace(text)
    expected = {  # centre of the box, right and down of the origin; the part lies right of and above its origin
        "0": (3, -1), "0(mirror x)": (3, 1), "0(mirror y)": (-3, -1),
        "90": (-1, -3), "90(mirror x)": (-1, 3), "90(mirror y)": (1, -3),
        "180": (-3, 1), "180(mirror x)": (-3, -1), "180(mirror y)": (3, 1),
        "270": (1, 3), "270(mirror x)": (1, -3), "270(mirror y)": (-1, 3),
    }  # fmt: skip
    for symbol in text.symbols():
        box = space.body(symbol)
        x, y = (box.left + box.right) / 2 - 50, (box.top + box.bottom) / 2 - 50
        signs = expected[text.text(text.properties(symbol)["Reference"].items[2])]
        assert x * signs[0] > 0 and y * signs[1] > 0
        assert (abs(x) > abs(y)) == (abs(signs[0]) > abs(signs[1]))


@pytest.mark.parametrize(
    ("mark", "is_hidden"),
    [
        ("(effects (font (size 1 1)) hide)", True),
        ("(effects (font (size 1 1)) (hide yes))", True),
        ("(effects (font (size 1 1)) (hide no))", False),
        ("(hide yes) (effects (font (size 1 1)))", True),
        ("(effects (font (size 1 1)))", False),
    ],
)
def test_hidden_fields_of_every_version(tmp_path: Path, mark: str, is_hidden: bool) -> None:
    """The ways in which KiCad 6 to 10 mark a field as hidden."""
    file = tmp_path / "hidden.kicad_sch"
    file.write_text(f'(kicad_sch (symbol (at 0 0 0) (property "hide" "hide" (at 0 0 0) {mark})))')
    text = SchematicText(file)
    (symbol,) = text.symbols()
    assert text.hidden(text.properties(symbol)["hide"]) is is_hidden


def test_a_file_cut_off_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "cut.kicad_sch"
    file.write_text("(kicad_sch\n(symbol")
    with pytest.raises(UnusableError, match=r"cut\.kicad_sch:2: a bracket is never closed"):
        SchematicText(file)
