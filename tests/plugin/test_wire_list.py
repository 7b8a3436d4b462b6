"""Wire lists: read as a harness, written from any drawing, and read back equal."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from habits import UNNUMBERED, VAN
from wire_lists import FIXTURES, ROOTS, elements, settings_of, sixty, through_a_list, write

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin import cli
from loadloom.plugin.building import build_harness
from loadloom.plugin.drawing import PinRef
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import analyse_file
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.setup.run import prepare
from loadloom.plugin.wire_list.writing import files_of, is_wire_list, wire_list


@pytest.fixture(autouse=True)
def _without_kicad_cli(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")


@pytest.mark.parametrize("suffix", ["xlsx", "csv"])
@pytest.mark.parametrize("root", ROOTS, ids=lambda path: str(path.relative_to(FIXTURES).parent))
def test_every_fixture_comes_back_from_its_wire_list(root: Path, suffix: str, tmp_path: Path) -> None:
    """With the same settings: the same elements with the same values, and no finding of reading is lost."""
    analysis, reading = settings_of(root)
    drawn = build_harness(read_drawing(root), analysis, reading)
    listed = build_harness(through_a_list(root, tmp_path / f"wires.{suffix}"), analysis, reading)
    assert elements(listed) == elements(drawn)
    lost = {f.rule for f in drawn.findings} - {f.rule for f in listed.findings}
    assert lost <= {"settings-unused"}  # What a net is called in the settings is no matter of a list.
    new = {f.rule for f in listed.findings} - {f.rule for f in drawn.findings}
    assert not new - ({"role-rule-unused"} if "settings-unused" in lost else set())


@pytest.mark.parametrize("case", ["stock_symbols", "case_12_back_feed", "case_18_derated_supply"])
def test_reports_from_drawing_and_list_agree(case: str, tmp_path: Path) -> None:
    root = FIXTURES / case / "harness.kicad_sch"
    (tmp_path / "loadloom.toml").write_bytes((FIXTURES / case / "loadloom.toml").read_bytes())
    through_a_list(root, tmp_path / "wires.xlsx")
    drawn, listed = analyse_file(root), analyse_file(tmp_path / "wires.xlsx")
    assert listed.verdict is drawn.verdict
    for kind in ("conductors", "contacts", "devices", "outputs", "loads"):
        for one, other in zip(getattr(drawn, kind), getattr(listed, kind), strict=True):
            assert one.id == other.id
            for name in ("current_a", "allowed_a", "utilisation", "sustained_fault_a", "protected", "voltage_v"):
                if hasattr(one, name):
                    assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-9), (one.id, name)


@pytest.mark.parametrize("name", ["cart.xlsx", "cart.csv"])
def test_sixty_rows(name: str, tmp_path: Path) -> None:
    """Currents by hand: load k takes k/4 A; the five wires beside each other share all 13.75 A equally."""
    path = write(tmp_path, name, *sixty())
    results = analyse_file(path)
    rows = {row.id: row for row in results.conductors}
    assert len(rows) == 60 and rows["W101"].gauge == "1.5 mm²" and rows["W101"].length_m == 0.85
    for k in range(1, 11):
        assert rows[f"W{k}03"].current_a == pytest.approx(k / 4, rel=1e-6)
    assert rows["W291"].current_a == pytest.approx(13.75 / 5, rel=1e-6)
    assert not {f.rule for f in results.findings} & {
        "role-missing",
        "field-unreadable",
        "mate-mismatch",
        "pin-clash",
    }
    again = tmp_path / "again_wires.xlsx"
    listed = through_a_list(path, again)
    first = build_harness(read_drawing(path), AnalysisSettings(), DrawingSettings())
    assert elements(build_harness(listed, AnalysisSettings(), DrawingSettings())) == elements(first)
    assert files_of(wire_list(listed, AnalysisSettings(), DrawingSettings()), again)[again] == again.read_bytes()
    colours = {s.fields.get("Colour") for s in listed.symbols if s.fields["Role"] == "wire"}
    assert colours == {"red", "black"}


def test_what_people_write(tmp_path: Path) -> None:
    """Semicolons, decimal commas, units in the heads, ends written in several ways, a title above the heads."""
    text = (
        "Harness of the dome;;;;;\n\nWire;From;To;AWG;Length [m];Colour\n"
        "1;Battery +;F1:1;12;0,5;red\n2;F1.2;Lamp-1;14;2;red\n3;Lamp-2;Battery -;14;2;black\n"
    )
    (tmp_path / "list.csv").write_text(text, encoding="utf-8-sig")
    parts = "Part;Role;Voltage;Load;Rating\nBattery;output;12 V;;\nF1;fuse;;;10 A\nLamp;load;;3 A;\n"
    (tmp_path / "list.parts.csv").write_text(parts, encoding="utf-8")
    harness = build_harness(read_drawing(tmp_path / "list.csv"), AnalysisSettings(), DrawingSettings())
    assert [(c.id, str(c.gauge), c.length_m) for c in harness.conductors] == [
        ("1", "12 AWG", 0.5),
        ("2", "14 AWG", 2.0),
        ("3", "14 AWG", 2.0),
    ]
    ends = {c.id: (c.node_a, c.node_b) for c in harness.conductors}
    assert harness.outputs[0].node_plus == ends["1"][0] and harness.loads[0].node_plus == ends["2"][1]
    assert harness.loads[0].node_minus == ends["3"][0]


BAD: dict[str, tuple[str, str]] = {
    "no far end": ("Label,From,To\nW1,J1.1,\n", r"W1 names no end in the column To \(line 2\); it takes no part"),
    "label twice": (
        "Label,From,To\nW1,A.1,B.1\nW1,A.2,B.2\n",
        "W1 is the label of two wires, one in line 3, the other",
    ),
    "name of a part": (
        "Label,From,To\nJ1,A.1,B.1\nW2,J1.1,B.2\n",
        r"J1 is the name of a part \(line 2\) and of a wire",
    ),
    "unknown kind": ("Label,Kind,From,To\nW1,rope,A.1,B.1\n", "W1 is of the kind 'rope'"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_row_stops_nothing(name: str, tmp_path: Path) -> None:
    text, message = BAD[name]
    (tmp_path / "w.csv").write_text(text + ",,\n", encoding="utf-8")
    (tmp_path / "w.parts.csv").write_text("Part,Role\nJ1,connector\n", encoding="utf-8")
    harness = build_harness(read_drawing(tmp_path / "w.csv"), AnalysisSettings(), DrawingSettings())
    import re

    told = [f.message for f in harness.findings if f.rule == "symbol-left-out"]
    assert any(re.match(message, text) for text in told), told
    assert analyse_file(tmp_path / "w.csv").verdict is not Verdict.PASS


def test_parts_that_are_not_listed_are_asked_for(tmp_path: Path) -> None:
    (tmp_path / "w.csv").write_text("From,To,Size\nJ1.1,GND,1.5 mm²\nJ1.2,PS1.+,1.5 mm²\n", encoding="utf-8")
    results = analyse_file(tmp_path / "w.csv")
    assert results.verdict is Verdict.INCOMPLETE
    assert "role-missing" in {f.rule for f in results.findings}


@pytest.mark.parametrize(
    ("name", "content", "why"),
    [
        ("w.csv", b"a,b\n1,2\n", "no table in it has the columns From and To"),
        ("w.csv", b'From,To\n"A.1,B.1\n', "not a sound CSV"),
        ("w.csv", b"", "is empty"),
        ("w.xlsx", b"PK\x03\x04nothing", "not a sound spreadsheet"),
        ("w.xlsx", b"", "not a sound spreadsheet"),
        ("w.xlsx", None, "no such file"),
    ],
)
def test_what_is_no_wire_list(name: str, content: bytes | None, why: str, tmp_path: Path) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(UnusableError, match=why) as caught:
        read_drawing(tmp_path / name)
    assert "\n" not in str(caught.value)


def test_a_guess_stays_a_guess_and_a_symbol_without_role_is_not_lost(tmp_path: Path) -> None:
    root = VAN.write(tmp_path / "p")
    before = through_a_list(root, tmp_path / "wires.csv")
    assert {s.reference for s in before.symbols} == {d.reference for d in VAN.symbols}
    harness = build_harness(before, AnalysisSettings(), DrawingSettings())
    assert "role-missing" in {f.rule for f in harness.findings}
    prepare(root)
    after = through_a_list(root, tmp_path / "wires.csv")
    found = {f.rule for f in build_harness(after, AnalysisSettings(), DrawingSettings()).findings}
    assert "role-guessed" in found and "role-missing" not in found


def test_what_is_left_out_of_a_drawing_stays_left_out(tmp_path: Path) -> None:
    """An unnumbered fuse must not come back from the list as a fuse of its own that nothing is said of."""
    root = UNNUMBERED.write(tmp_path / "p")
    prepare(root)
    listed = through_a_list(root, tmp_path / "wires.xlsx")
    assert not [s.reference for s in listed.symbols if "?" in s.reference]
    found = build_harness(listed, *settings_of(root)).findings
    assert "1 symbol has no number yet" in next(f.message for f in found if f.rule == "symbol-left-out")


def test_what_reading_found_goes_with_the_list(tmp_path: Path) -> None:
    """A netlist for circuit boards may lack symbols; a list made from it says so as well."""
    net = FIXTURES.parent / "tests/plugin/data/reading/flat.v9.net"
    notices = {f.rule for f in read_drawing(net).notices}
    assert notices
    for name in ("wires.xlsx", "wires.csv"):
        assert {f.rule for f in through_a_list(net, tmp_path / name).notices} >= notices


@pytest.mark.parametrize(
    ("name", "is_one"),
    [
        ("wires.xlsx", True),
        ("Wires.CSV", True),
        ("cart_wires.xlsx", True),
        ("cart.wires.csv", True),
        ("load.xlsx", False),
        ("wires.html", False),
        ("spares.xlsx", False),
    ],
)
def test_which_outputs_are_wire_lists(name: str, is_one: bool) -> None:
    assert is_wire_list(Path(name)) is is_one


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = FIXTURES / "case_08_fuse_that_never_opens/harness.kicad_sch"
    outputs = [tmp_path / "wires.xlsx", tmp_path / "wires.csv", tmp_path / "r.json"]
    arguments = [part for output in outputs for part in ("-o", str(output))]
    assert cli.main(["report", str(root), "--fail-on", "never", *arguments]) == 0
    assert all(output.is_file() for output in outputs) and (tmp_path / "wires.parts.csv").is_file()
    settings = ["--settings", str(root.with_name("loadloom.toml"))]
    again = tmp_path / "again.json"
    assert cli.main(["report", str(outputs[0]), "--fail-on", "never", "-o", str(again), *settings]) == 0
    first, second = (json.loads(file.read_text(encoding="utf-8")) for file in (outputs[2], again))
    assert first["verdict"] == second["verdict"]
    assert [c["current_a"] for c in first["conductors"]] == pytest.approx(
        [c["current_a"] for c in second["conductors"]]
    )
    capsys.readouterr()
    assert cli.main(["annotate", str(outputs[0]), "-o", str(tmp_path / "copy")]) == 2
    assert "no drawing to write into" in capsys.readouterr().err
    assert cli.main(["size", str(outputs[0]), "--fail-on", "never", *settings]) == 0


def test_rows_of_one_name_are_one_net(tmp_path: Path) -> None:
    """A busbar's name on two rows joins all four pins; no pin is lost."""
    text = "Label,Kind,From,To\nBAR,joint,J1.1,J2.1\nBAR,joint,J3.1,J4.1\n"
    (tmp_path / "w.csv").write_text(text, encoding="utf-8")
    (net,) = read_drawing(tmp_path / "w.csv").nets
    assert [pin.reference for pin in net.pins] == ["J1", "J2", "J3", "J4"] and net.joint


def test_a_core_that_is_not_fitted(tmp_path: Path) -> None:
    """It is told and carries nothing, whichever core of its cable it is."""
    text = "Label,Cable,From,To,Size,Fitted\nC1.1,C1,A.1,B.1,1 mm²,\nC1.2,C1,A.2,B.2,1 mm²,no\n"
    (tmp_path / "w.csv").write_text(text, encoding="utf-8")
    harness = build_harness(read_drawing(tmp_path / "w.csv"), AnalysisSettings(), DrawingSettings())
    assert [c.id for c in harness.conductors] == ["C1.1"] and harness.conductors[0].fitted
    assert any("C1.2 is a core that is marked as not fitted" in f.message for f in harness.findings)


def test_the_input_is_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path, "wires.xlsx", *sixty())
    before = path.read_bytes()
    assert cli.main(["report", str(path), "-o", str(path)]) == 2
    assert "is read by this very run" in capsys.readouterr().err and path.read_bytes() == before


def _apart(end: str) -> tuple[str, str]:
    part, _, pin = end.partition(".")
    return part, pin


HEADS: dict[str, list[list[str | None]]] = {
    "a pin beside each end": [["Wire no.", "From", "Pin", "To", "Pin", "mm2", "Length in mm"]],
    "ends by name": [["ID", "From Connector", "From Pin", "To Connector", "To Pin", "Wire size mm²", "Length, mm"]],
    "heads over two": [
        ["No.", "FROM", None, "TO", None, "Size", "Length"],
        [None, "Conn", "Pin", "Conn", "Pin", "mm²", "[mm]"],
    ],
    "line ends": [["Wire\nNo.", "End A", "End A pin", "End B", "End B pin", "Section\n(mm²)", "Length\n[mm]"]],
}


@pytest.mark.parametrize("style", HEADS)
@pytest.mark.parametrize("merged", [False, True], ids=["plain", "merged"])
def test_columns_as_people_have_them(style: str, merged: bool, tmp_path: Path) -> None:
    """Part and pin in columns of their own, heads in two rows, cells merged over rows that share a text."""
    from openpyxl import Workbook

    wires, parts = sixty()
    expected = build_harness(
        read_drawing(write(tmp_path, "plain.xlsx", wires, parts)), AnalysisSettings(), DrawingSettings()
    )
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Harness of the cart"])
    sheet.append([])
    for heads in HEADS[style]:
        sheet.append([*heads, *([None] * 4 if heads[0] is None else wires[0][5:])])
    if len(HEADS[style]) == 2:
        sheet.merge_cells("B3:C3")
        sheet.merge_cells("D3:E3")
    first = sheet.max_row + 1
    rows = sorted(wires[1:], key=lambda row: _apart(row[1])[0])
    for row in rows:
        size, length = float(row[3].replace(",", ".")), int(row[4])
        sheet.append([row[0], *_apart(row[1]), *_apart(row[2]), size, length, *row[5:]])
    if merged:
        at = first
        while at < first + len(rows):
            last = at
            while last + 1 < first + len(rows) and sheet.cell(last + 1, 2).value == sheet.cell(at, 2).value:
                last += 1
            if last > at:
                sheet.merge_cells(start_row=at, end_row=last, start_column=2, end_column=2)
            at = last + 1
    other = book.create_sheet("Parts")
    for row in parts:
        other.append([text or None for text in row])
    book.save(tmp_path / "w.xlsx")
    found = build_harness(read_drawing(tmp_path / "w.xlsx"), AnalysisSettings(), DrawingSettings())
    assert elements(found) == elements(expected)
    assert {finding.rule for finding in found.findings} == {finding.rule for finding in expected.findings}


@pytest.mark.parametrize(
    ("heads", "cells", "read"),
    [
        # decimal commas elsewhere make a point before three digits one of thousands, or not
        (("Size (mm²)", "Length (mm)"), ("2,5", "2.000"), (None, None)),
        (("Size (mm²)", "Length (mm)"), ("2,5", "200.5"), (2.5, 0.2005)),
        (("Size (mm²)", "Length (mm)"), ("2,5", "0.500"), (2.5, 0.0005)),
        (("Size (mm²)", "Length (m)"), ("2.5", "2.000"), (2.5, 2.0)),
        # two columns that are one quantity
        (("Size (mm²)", "Gauge"), ("2.5", "14 AWG"), ("gauge", None)),
        (("Size (mm²)", "Gauge"), ("2.5", "2.5 mm²"), (2.5, None)),
    ],
)
def test_what_a_cell_or_two_can_mean(
    heads: tuple[str, str], cells: tuple[str, str], read: tuple[object, object], tmp_path: Path
) -> None:
    table = [["Label", "From", "To", *heads], ["W1", "PS1.+", "L1.+", *cells], ["W2", "L1.-", "PS1.-", *cells]]
    rows = "\n".join(";".join(row) for row in table)
    (tmp_path / "list.csv").write_text(rows, encoding="utf-8")
    harness = build_harness(read_drawing(tmp_path / "list.csv"), AnalysisSettings(), DrawingSettings())
    (wire, _) = harness.conductors
    unread = {f.subject.field for f in harness.findings if f.rule == "field-unreadable" and f.subject.id == "W1"}
    if "Length" in " ".join(heads):
        assert wire.length_m == (pytest.approx(read[1]) if read[1] is not None else None)
        assert unread == (set() if read[1] is not None else {"Length"})
    else:
        assert unread == ({"Gauge"} if read[0] == "gauge" else set())


def test_an_end_at_a_part_without_its_pin_is_told(tmp_path: Path) -> None:
    """All wires of a connector on its first pin would be a harness that nobody drew; a splice has one joint."""
    text = "Label,From,To\nW1,BT1.+,J1\nW2,J1.2,BUS\nW3,BUS,J1.3\n"
    (tmp_path / "w.csv").write_text(text, encoding="utf-8")
    parts = "Part,Role\nBT1,battery\nJ1,connector\nBUS,splice\n"
    (tmp_path / "w.parts.csv").write_text(parts, encoding="utf-8")
    drawing = read_drawing(tmp_path / "w.csv")
    assert [(left.symbol.reference, left.cause) for left in drawing.left_out] == [
        ("W1", "ends at J1, a connector, and names no pin of it (line 2)")
    ]
    assert {s.reference for s in drawing.symbols} == {"BT1", "BUS", "J1", "W2", "W3"}
    (j1,) = [s for s in drawing.symbols if s.reference == "J1"]
    assert [pin.number for pin in j1.pins] == ["2", "3"]


def test_an_end_without_its_part_is_told(tmp_path: Path) -> None:
    """A blank cell is not taken for the one above, and a pin alone is no end."""
    (tmp_path / "w.csv").write_text("Label,From,Pin,To,Pin\nW1,J1,1,J2,1\nW2,,2,J2,2\n", encoding="utf-8")
    drawing = read_drawing(tmp_path / "w.csv")
    assert [left.symbol.reference for left in drawing.left_out] == ["W2"]
    assert {pin for net in drawing.nets for pin in net.pins if pin.reference == "J1"} == {PinRef("J1", "1")}
