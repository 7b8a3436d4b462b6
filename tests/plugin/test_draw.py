"""Wire lists laid out as schematics: read back equal by both ways of reading, without a complaint of KiCad."""

from __future__ import annotations

import itertools
import json
import re
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from habits import VAN
from programs import need
from wire_lists import ROOTS, elements, settings_of, sixty, through_a_list, write

from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin import cli
from loadloom.plugin.building import build_harness
from loadloom.plugin.draw.composing import compose
from loadloom.plugin.draw.schematic import draw_project
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import analyse_file
from loadloom.plugin.reading import read_drawing


def harness(drawing: Drawing) -> dict[str, dict[str, object]]:
    return elements(build_harness(drawing, AnalysisSettings(), DrawingSettings()))


def complaints(schematic: Path, folder: Path) -> list[str]:
    out = folder / "erc.json"
    command = [
        need("kicad-cli"),
        "sch",
        "erc",
        "--severity-all",
        "--format",
        "json",
        "-o",
        str(out),
        str(schematic),
    ]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    sheets = json.loads(out.read_text(encoding="utf-8"))["sheets"]
    return [found["type"] for sheet in sheets for found in sheet["violations"]]


def test_sixty_rows_become_a_drawing(tmp_path: Path) -> None:
    source = write(tmp_path, "cart.xlsx", *sixty())
    made = draw_project(source, tmp_path / "drawn.kicad_sch")
    assert made.symbols == 60 + 25 and made.left_out == ()
    drawn = tmp_path / "drawn.kicad_sch"
    by_cli = read_drawing(drawn, kicad_cli=Path(need("kicad-cli")))
    assert harness(by_cli) == harness(read_drawing(drawn, kicad_cli="none")) == harness(read_drawing(source))
    assert by_cli.notices == ()
    assert complaints(drawn, tmp_path) == []
    results = [analyse_file(path) for path in (source, drawn)]
    assert results[0].verdict is results[1].verdict
    for one, two in zip(results[0].conductors, results[1].conductors, strict=True):
        assert one.id == two.id and one.current_a == pytest.approx(two.current_a, rel=1e-9)
        assert one.sustained_fault_a == pytest.approx(two.sustained_fault_a, rel=1e-9)


def test_a_long_list_becomes_several_sheets(tmp_path: Path) -> None:
    """No sheet is larger than A2, whatever is joined across them is read back, and KiCad has no complaint."""
    write(tmp_path, "long.csv", *long_list())
    target = tmp_path / "drawn" / "long.kicad_sch"
    made = draw_project(tmp_path / "long.csv", target)
    sheets = [file for file in made.files if file.suffix == ".kicad_sch" and file != target]
    assert len(sheets) > 2
    papers = {re.search(r"\(paper ([^)]*)\)", file.read_text(encoding="utf-8"))[1] for file in sheets}  # type: ignore[index]
    assert papers <= {'"A4"', '"A3"', '"A2"'}
    by_cli = read_drawing(target, kicad_cli=Path(need("kicad-cli")))
    listed = harness(read_drawing(tmp_path / "long.csv"))
    assert harness(by_cli) == harness(read_drawing(target, kicad_cli="none")) == listed
    assert not [
        f for f in build_harness(by_cli, AnalysisSettings(), DrawingSettings()).findings if "sheet" in f.message
    ]
    assert complaints(target, tmp_path) == []


@pytest.mark.parametrize("root", ROOTS, ids=lambda path: path.parent.name)
def test_every_fixture_can_be_drawn_from_its_wire_list(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")
    listed = through_a_list(root, tmp_path / "wires.xlsx")
    draw_project(tmp_path / "wires.xlsx", tmp_path / "drawn.kicad_sch")
    assert harness(read_drawing(tmp_path / "drawn.kicad_sch")) == harness(listed)
    assert settings_of(root) is not None
    if root.parent.name in ("sound", "case_20_stacked_pin", "case_29_chassis_bond"):
        assert complaints(tmp_path / "drawn.kicad_sch", tmp_path) == []


def test_sources_stand_left_loads_right_and_no_lines_lie_on_each_other(tmp_path: Path) -> None:
    composed = compose(read_drawing(write(tmp_path, "cart.xlsx", *sixty())))
    sheets = composed.sheets
    places = {part.reference: (sheet.tile[0], part.x) for sheet in sheets for part in sheet.parts}
    loads = [at for reference, at in places.items() if reference.startswith("L")]
    assert max(loads) == min(loads) > max(at for r, at in places.items() if not r.startswith("L"))
    assert places["BT1"] == min(places.values())
    assert places["J1"] < places["J2"] < min(loads)
    for a, b in itertools.chain.from_iterable(itertools.combinations(sheet.lines, 2) for sheet in sheets):
        for here, along in ((0, 1), (1, 0)):
            if a[here] == a[here + 2] == b[here] == b[here + 2]:  # On one line: they may touch, but not cover.
                low = max(min(a[along], a[along + 2]), min(b[along], b[along + 2]))
                high = min(max(a[along], a[along + 2]), max(b[along], b[along + 2]))
                assert low >= high, (a, b)


def cart_without_source() -> tuple[list[list[str]], list[list[str]]]:
    """Sixty rows that nothing feeds, as long as nobody says what the battery is: much has to be labelled."""
    wires, parts = sixty()
    return wires, [[row[0], "", *row[2:]] if row[0] == "BT1" else row for row in parts]


def long_list() -> tuple[list[list[str]], list[list[str]]]:
    """A source, 45 fuses and loads on wires of their own, and one return."""
    rows = [["Label", "From", "To", "Size", "Length"]]
    parts = [["Part", "Role", "Voltage", "Rating", "Load"], ["PS1", "output", "24 V", "", ""]]
    parts.append(["BAR", "splice", "", "", ""])
    for k in range(1, 46):
        rows.append([f"A{k}", "PS1.1", f"F{k}.1", "1 mm²", "1 m"])
        rows.append([f"B{k}", f"F{k}.2", f"L{k}.1", "1 mm²", "2 m"])
        rows.append([f"C{k}", f"L{k}.2", "BAR.1", "1 mm²", "2 m"])
        parts += [[f"F{k}", "fuse", "", "5 A", ""], [f"L{k}", "load", "", "", f"{k / 10} A"]]
    return [*rows, ["R1", "BAR.2", "PS1.2", "25 mm²", "1 m"]], parts


@pytest.mark.parametrize("made", [sixty, cart_without_source, long_list])
def test_nothing_touches_what_it_does_not_join(
    made: Callable[[], tuple[list[list[str]], list[list[str]]]], tmp_path: Path
) -> None:
    """A label, pin or line's end in the middle of a line would join two nets."""
    source = write(tmp_path, "cart.csv", *made())
    for sheet in compose(read_drawing(source)).sheets:
        ends = {place for a, b, c, d in sheet.lines for place in ((a, b), (c, d))}
        ends |= {(x, y) for _, x, y, _ in sheet.labels}
        ends |= {part.pin(number) for part in sheet.parts for number in part.shape.pins}
        for (x0, y0, x1, y1), (x, y) in itertools.product(sheet.lines, ends - sheet.junctions):
            upright = x0 == x1 == x and min(y0, y1) < y < max(y0, y1)
            level = y0 == y1 == y and min(x0, x1) < x < max(x0, x1)
            assert not upright and not level, ((x0, y0, x1, y1), (x, y))
    draw_project(source, tmp_path / "d" / "d.kicad_sch")
    assert harness(read_drawing(tmp_path / "d" / "d.kicad_sch")) == harness(read_drawing(source))


@pytest.mark.parametrize("case", ["observatory/sound", "case_31_pairs_and_shield", "case_13_return_contacts"])
def test_symbols_keep_clear_of_each_other(case: str, tmp_path: Path) -> None:
    """Outlines with the texts that they show: none reaches into another one."""
    root = next(path for path in ROOTS if str(path.parent).endswith(case))
    for sheet in compose(through_a_list(root, tmp_path / "wires.xlsx")).sheets:
        boxes = [
            (
                part.reference,
                part.x - (part.shape.right if part.mirrored else -part.shape.left),
                part.x + (-part.shape.left if part.mirrored else part.shape.right),
                part.y - part.shape.above,
                part.y + part.shape.below,
            )
            for part in sheet.parts
        ]
        for one, two in itertools.combinations(boxes, 2):
            beside = one[2] <= two[1] + 0.01 or two[2] <= one[1] + 0.01
            above = one[4] <= two[3] + 0.01 or two[4] <= one[3] + 0.01
            assert beside or above, (one, two)


def test_any_drawing_by_way_of_its_wire_list(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")
    root = next(path for path in ROOTS if path.parent.name == "case_08_fuse_that_never_opens")
    draw_project(root, tmp_path / "again.kicad_sch")
    assert harness(read_drawing(tmp_path / "again.kicad_sch")) == harness(read_drawing(root))


def test_a_stated_joint_goes_into_the_settings(tmp_path: Path) -> None:
    text = "Label,Kind,From,To,Size\nBAR,joint,J1.1,J2.1,\nW1,,J2.2,J1.2,1 mm²\n"
    (tmp_path / "w.csv").write_text(text, encoding="utf-8")
    (tmp_path / "w.parts.csv").write_text("Part,Role\nJ1,connector\nJ2,connector\n", encoding="utf-8")
    draw_project(tmp_path / "w.csv", tmp_path / "d.kicad_sch")
    assert '[net."BAR"]\njoint = true' in (tmp_path / "loadloom.toml").read_text(encoding="utf-8")


def test_nothing_is_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = write(tmp_path, "cart.csv", *sixty())
    target = tmp_path / "d.kicad_sch"
    assert cli.main(["draw", str(source), "-o", str(target)]) == 0
    assert "Drawn: 85 symbols" in capsys.readouterr().out
    before = target.read_bytes()
    assert cli.main(["draw", str(source), "-o", str(target)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert target.read_bytes() == before
    assert cli.main(["draw", str(source), "-o", str(tmp_path / "d.pdf")]) == 2


def test_parts_joined_by_power_symbols_are_not_drawn_as_lines(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")
    with pytest.raises(UnusableError, match="by a power symbol"):
        draw_project(VAN.write(tmp_path / "p"), tmp_path / "d.kicad_sch")


def test_names_that_kicad_takes_for_something_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Names like buses, variables and paths are drawn under other names, each net's its own."""
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")
    rows = ["Label,Kind,From,To,Size,Length"]
    for k, name in enumerate(("D[0..3]", "D_0..3_", "{A B}", "${X}", "A/B", "A B")):
        rows.append(f"{name},joined,F{k}.2,L{k}.1,,")
    rows += [f"W{k},,PS1.1,F{k}.1,1 mm²,1 m" for k in range(6)]
    rows += [f"R{k},,L{k}.2,PS1.2,1 mm²,1 m" for k in range(6)]
    parts = ["Part,Role,Rating,Load,Voltage", *(f"F{k},fuse,5 A,," for k in range(6)), "PS1,output,,,12 V"]
    parts += [f"L{k},load,,{k + 1} A," for k in range(6)]
    (tmp_path / "w.csv").write_text("\n".join(rows), encoding="utf-8")
    (tmp_path / "w.parts.csv").write_text("\n".join(parts), encoding="utf-8")
    draw_project(tmp_path / "w.csv", tmp_path / "d.kicad_sch")
    drawn = read_drawing(tmp_path / "d.kicad_sch")
    assert harness(drawn) == harness(read_drawing(tmp_path / "w.csv"))
    assert complaints(tmp_path / "d.kicad_sch", tmp_path) == []


@pytest.mark.parametrize(
    "rows",
    [
        "W1,J1.1,J1.2,1 mm²",
        "W1,A,B,1 mm²\nW2,B,A,1 mm²",
        "W1,W2.1,W2.2,1 mm²\nW2,W1.1,W1.2,1 mm²",
        "W1,X,X,1 mm²",
        "W1,Ä Ö.ü,日本.1,1 mm²",
    ],
)
def test_odd_lists_are_drawn_as_well(rows: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")
    (tmp_path / "w.csv").write_text(f"Label,From,To,Size\n{rows}\n", encoding="utf-8")
    draw_project(tmp_path / "w.csv", tmp_path / "d.kicad_sch")
    assert harness(read_drawing(tmp_path / "d.kicad_sch")) == harness(read_drawing(tmp_path / "w.csv"))


def test_a_coil_leads_no_feed_into_the_return(tmp_path: Path) -> None:
    """Parts stand in the order of the feed: the connector behind the fuse, though the return reaches it sooner."""
    wires = [["Label", "From", "To", "Gauge"]]
    ends = "BT1.+ K1.1;K1.2 F1.1;F1.2 J1.1;J2.1 L1.+;L1.- J2.2;J1.2 RET;RET BT1.-;BT1.+ K1.A1;K1.A2 RET"
    wires += [[f"W{k}", *pair.split(), "1.5 mm²"] for k, pair in enumerate(ends.split(";"))]
    roles = "BT1 battery;K1 contactor;F1 fuse;J1 connector;J2 connector;L1 load;RET splice"
    parts = [["Part", "Role", "Path", "Mates"]]
    for one in roles.split(";"):
        reference, role = one.split()
        parts.append(
            [reference, role, "1-2" if role == "contactor" else "", {"J1": "J2", "J2": "J1"}.get(reference, "")]
        )
    drawn = compose(read_drawing(write(tmp_path, "w.csv", wires, parts)))
    at = {part.reference: part.x for sheet in drawn.sheets for part in sheet.parts}
    order = ["BT1", "K1", "F1", "J1", "L1"]
    assert sorted(order, key=at.__getitem__) == order
