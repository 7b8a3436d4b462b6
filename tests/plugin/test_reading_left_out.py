"""One bad symbol never stops a drawing: it takes no part, is told at its place, and the verdict is incomplete."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from kicad_versions import netlist_of_ten
from programs import need
from reading_samples import LIBRARY, Project, label, library_pin, library_symbol, line, schematic, symbol

from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin.building import build_harness
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.reading import kicad_cli, read_drawing
from loadloom.plugin.roles import Role, RoleRule, RoleRules

DUPLICATE = library_symbol(
    "T:DUP", {(1, 1): [library_pin("1", 0, 0), library_pin("1", 0, 2.54), library_pin("2", 0, 5.08)]}
)
NUMBERLESS = library_symbol("T:BARE", {(1, 1): [library_pin("~", 0, 0, "A"), library_pin("~", 0, 2.54, "B")]})
JUMPER = library_symbol(
    "T:JUMP",
    {(1, 1): [library_pin(str(k), 0, 2.54 * k) for k in range(1, 5)]},
    '(jumper_pin_groups ("1" "2") ("3" "4"))',
)
TWIN = library_symbol("T:TWIN", {(1, 1): [library_pin("1", 0, 0), library_pin("1", 0, 2.54)]}, "@")


@pytest.fixture(autouse=True)
def _more_symbols(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, text in {"T:DUP": DUPLICATE, "T:BARE": NUMBERLESS, "T:JUMP": JUMPER, "T:TWIN": TWIN}.items():
        monkeypatch.setitem(LIBRARY, name, text)


LOAD = RoleRule(Role.LOAD)
SOUND = (symbol("T:TWO", "A1", 0, 0), symbol("T:TWO", "B1", 25.4, 0), line("wire", 0, -2.54, 25.4, -2.54))


def joined_to(x: float, *, y: float = -2.54) -> str:
    return line("wire", 25.4, -2.54, x, y)


CASES: dict[str, tuple[tuple[str, ...], list[str], str]] = {
    "unnumbered": (
        (symbol("T:TWO", "R?", 50.8, 0, name="a"), symbol("T:TWO", "R?", 76.2, 0, name="b")),
        ["R?", "R?"],
        r"2 symbols have no number yet and take no part: 2 × R\? \(T:TWO\)",
    ),
    "reference twice": (
        (symbol("T:TWO", "C1", 50.8, 0, name="a"), symbol("T:TWO", "C1", 76.2, 0, name="b")),
        ["C1"],
        r"C1 is the reference of two symbols, in p\.kicad_sch:\d+ and p\.kicad_sch:\d+; it takes no part",
    ),
    "pin number twice": ((symbol("T:DUP", "C1", 50.8, 0),), ["C1"], r"C1 has its pin 1 on two nets.*takes no part"),
    "no pin numbers": (
        (symbol("T:BARE", "C1", 50.8, 0),),
        ["C1"],
        "C1 has a pin without a number; it takes no part",
    ),
}


def items(name: str) -> tuple[str, ...]:
    return (*SOUND, *CASES[name][0], joined_to(50.8))


def harness(drawing: Drawing, settings: DrawingSettings | None = None):  # type: ignore[no-untyped-def]
    return build_harness(
        drawing, AnalysisSettings(), settings or DrawingSettings(roles=RoleRules(by_library={"T:TWO": LOAD}))
    )


def routes(root: Path, tmp_path: Path) -> dict[str, Drawing]:
    program = Path(need("kicad-cli"))
    with kicad_cli.NetlistExport(program, root) as export:
        written = export.result()
    assert written is not None
    found = {"none": read_drawing(root, kicad_cli="none"), "kicad-cli": read_drawing(root, kicad_cli=program)}
    change: dict[str, Callable[[str], str]] = {"9": str, "10": netlist_of_ten}
    for version, rewritten in change.items():
        file = tmp_path / f"{version}.xml"
        file.write_text(rewritten(written.text), encoding="utf-8")
        found[version] = read_drawing(file)
    return found


@pytest.mark.parametrize("name", CASES)
def test_it_takes_no_part_by_any_route(name: str, tmp_path: Path) -> None:
    _, references, message = CASES[name]
    root = Project(schematic(*items(name))).write(tmp_path)
    for route, drawing in routes(root, tmp_path).items():
        assert [s.reference for s in drawing.symbols] == ["A1", "B1"], route
        assert {pin.reference for net in drawing.nets for pin in net.pins} == {"A1", "B1"}, route
        if route in ("9", "10") and name in ("unnumbered", "reference twice"):
            # KiCad merges them in its netlist, so that only their reference is known.
            assert {left.symbol.reference for left in drawing.left_out} == set(references), route
            continue
        assert [left.symbol.reference for left in drawing.left_out] == references, route
        (found,) = [f for f in harness(drawing).findings if f.rule == "symbol-left-out"]
        assert re.match(message, found.message), (route, found.message)
        if route in ("none", "kicad-cli"):
            assert found.subject.line is not None and found.subject.file == "p.kicad_sch"


@pytest.mark.parametrize("name", CASES)
def test_what_is_ignored_blocks_nothing(name: str, tmp_path: Path) -> None:
    drawing = read_drawing(Project(schematic(*items(name))).write(tmp_path), kicad_cli="none")
    settings = DrawingSettings(
        roles=RoleRules(by_library={"T:*": RoleRule(Role.IGNORE)}, by_reference={"A1": LOAD, "B1": LOAD})
    )
    assert drawing.left_out
    assert not [f for f in harness(drawing, settings).findings if f.rule == "symbol-left-out"]


def test_two_of_a_netlist_with_one_reference(tmp_path: Path) -> None:
    text = (
        '<export version="E"><design><tool>Eeschema 9.0.8</tool></design><components>'
        '<comp ref="F1"><value>1</value></comp>\n<comp ref="F1"><value>2</value></comp>'
        '<comp ref="L1"><value>3</value></comp></components><nets><net code="1" name="A">'
        '<node ref="F1" pin="1"/><node ref="L1" pin="1"/></net></nets></export>'
    )
    (tmp_path / "n.xml").write_text(text, encoding="utf-8")
    drawing = read_drawing(tmp_path / "n.xml")
    assert [s.reference for s in drawing.symbols] == ["L1"]
    (found,) = [f for f in harness(drawing).findings if f.rule == "symbol-left-out"]
    assert found.message == "F1 is listed twice, in lines 1 and 2 of n.xml; it takes no part."


def test_a_library_symbol_that_is_missing(tmp_path: Path) -> None:
    """Of a power symbol too: then nobody knows what it joins."""
    text = schematic(*SOUND, symbol("T:ONE", "C1", 50.8, 0), symbol("power:VP", "#PWR01", 76.2, 0))
    for name in ("T:ONE", "power:VP"):
        text = text.replace(LIBRARY[name], "")
    root = Project(text).write(tmp_path)
    for program in ("none", need("kicad-cli")):
        drawing = read_drawing(root, kicad_cli="none" if program == "none" else Path(program))
        assert [s.reference for s in drawing.symbols] == ["A1", "B1"]
        told = [f.message for f in harness(drawing).findings if f.rule == "symbol-left-out"]
        assert [message.split(",")[0] for message in told] == [
            "#PWR01 has the library symbol power:VP",
            "C1 has the library symbol T:ONE",
        ]


def test_a_bus_name_that_can_not_be_taken_apart(tmp_path: Path) -> None:
    text = schematic(*SOUND, line("bus", 0, 50.8, 10.16, 50.8), label("label", "A{B{C}}", 0, 50.8))
    root = Project(text).write(tmp_path)
    own = read_drawing(root, kicad_cli="none")
    (notice,) = own.notices
    assert notice.rule == "bus-unreadable" and notice.subject.line is not None
    assert len(own.symbols) == 2
    by_cli = read_drawing(root, kicad_cli=Path(need("kicad-cli")))
    assert by_cli.notices == () and {n.pins for n in by_cli.nets} == {n.pins for n in own.nets}


def test_pins_joined_inside_a_symbol(tmp_path: Path) -> None:
    """KiCad 10 joins the pins of each group, and, where the symbol says so, those of one number.

    Source: KiCad's connection_graph.cpp, ``updateSymbolConnectivity``.
    """
    text = schematic(symbol("T:JUMP", "C1", 50.8, 0))
    drawing = read_drawing(Project(text).write(tmp_path), kicad_cli="none")
    assert [[pin.number for pin in net.pins] for net in drawing.nets] == [["1", "2"], ["3", "4"]]
    for answer, count in (("yes", 1), ("no", 2)):
        twin = TWIN.replace("@", f"(duplicate_pin_numbers_are_jumpers {answer})")
        item = symbol("T:TWIN", "C1", 50.8, 0)
        text = schematic(item, symbol("T:ONE", "D1", 50.8, 0), symbol("T:ONE", "E1", 50.8, -2.54)).replace(
            TWIN, twin
        )
        drawing = read_drawing(Project(text).write(tmp_path), kicad_cli="none")
        assert len(drawing.nets) == count
        assert [left.symbol.reference for left in drawing.left_out] == (["C1"] if answer == "no" else [])


def test_nothing_left_out_is_nothing_told(tmp_path: Path) -> None:
    drawing = read_drawing(Project(schematic(*SOUND)).write(tmp_path), kicad_cli="none")
    assert drawing.left_out == ()
    assert "symbol-left-out" not in {f.rule for f in harness(drawing).findings}
