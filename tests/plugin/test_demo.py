"""The demo command writes every version of the project and their reports, from whatever kind of install."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from shared_results import OBSERVATORY

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import Results
from loadloom.plugin.building import build_harness
from loadloom.plugin.cli import main
from loadloom.plugin.demo import DRAWING, DRAWINGS, VERSIONS, write_demo
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import Analysed, analyse_drawing, analyse_file
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.settings_file import read_settings

READ = (".kicad_sch", ".kicad_pro", ".toml")


def test_every_version_is_written_and_reported(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], demo_results: Callable[[str], Results]
) -> None:
    """The results are those of the repository's own drawings, and what is written are the same files."""
    verdicts: list[Verdict] = []

    def analyse(drawing: Path) -> Analysed:
        source = OBSERVATORY / drawing.parent.name
        files = [path.relative_to(source) for path in source.rglob("*") if path.suffix in READ]
        assert Path(drawing.name) in files and Path("loadloom.toml") in files
        assert all((drawing.parent / file).read_bytes() == (source / file).read_bytes() for file in files)
        results = demo_results(drawing.parent.name)
        verdicts.append(results.verdict)
        settings, drawn = read_settings(drawing.parent / "loadloom.toml")
        found = read_drawing(drawing, kicad_cli="none")
        return Analysed(found, build_harness(found, settings, drawn), settings, drawn, results)

    assert write_demo(tmp_path / "demo", analyse) == 0
    assert [(tmp_path / "demo" / name / DRAWING).is_file() for name in VERSIONS] == [True, True, True]
    assert all((tmp_path / "demo" / name / file).is_file() for name, file in DRAWINGS.items())
    assert (tmp_path / "demo" / "STORY.md").is_file()
    assert verdicts == [Verdict.PASS, Verdict.FAIL, Verdict.FAIL, Verdict.PASS, Verdict.FAIL]
    reports = {path.suffix for path in (tmp_path / "demo" / "sound").iterdir()}
    assert {".xlsx", ".json", ".html"} <= reports
    assert "sound" in capsys.readouterr().out


CART = OBSERVATORY / "cart_sound"


def test_the_wire_list_of_the_cart_is_that_of_its_drawing(
    tmp_path: Path, demo_results: Callable[[str], Results]
) -> None:
    """Written anew it is the same, and read back it says the same of every wire."""
    out = tmp_path / "cart_wires.csv"
    assert main(["report", str(CART / "cart.kicad_sch"), "-o", str(out), "--fail-on", "never"]) == 0
    for name in ("cart_wires.csv", "cart_wires.parts.csv"):
        assert (tmp_path / name).read_text(encoding="utf-8") == (CART / name).read_text(encoding="utf-8")
    drawn = {row.id: row.continuous_a for row in demo_results("cart_sound").conductors}
    listed = {row.id: row.continuous_a for row in analyse_file(CART / "cart_wires.csv").conductors}
    assert listed == pytest.approx(drawn)


def test_a_folder_that_is_something_else_is_left_alone(tmp_path: Path) -> None:
    mine = tmp_path / "sound"
    mine.mkdir()
    (mine / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(UnusableError, match="not the demo"):
        write_demo(tmp_path, analyse_drawing)
    assert [path.name for path in mine.iterdir()] == ["notes.txt"]
