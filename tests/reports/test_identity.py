"""A report says which files it rests on: each with its own SHA-256, as ``sha256sum`` prints it, and one path."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import openpyxl
import pytest
from jsonschema import Draft202012Validator

from loadloom.graph.model.results import Results
from loadloom.plugin.advise import advise_drawing
from loadloom.plugin.pipeline import analyse_file
from loadloom.reports import annotations, junit, sarif
from loadloom.reports.comparison import schema
from loadloom.reports.comparison.changes import compare
from loadloom.reports.comparison.writers import document, rendered
from loadloom.reports.file_paths import input_files, path_of

ROOT = Path(__file__).resolve().parents[2]
FLAWED = ROOT / "fixtures" / "observatory" / "flawed"
SMALL = ROOT / "fixtures" / "case_02_uneven_contacts"
TABLE = "size,allowed_a,ambient_c\n18 AWG,9,30\n"


@pytest.fixture(scope="module")
def flawed(demo_results: Callable[[str], Results]) -> Results:
    return demo_results("flawed")


@pytest.fixture(scope="module")
def sound(demo_results: Callable[[str], Results]) -> Results:
    return demo_results("sound")


def test_the_manifest_has_every_file_with_the_hash_of_its_bytes(flawed: Results) -> None:
    listed = {file.file: file for file in flawed.provenance.files}
    assert set(listed) == {"dome_power.kicad_sch", "pier.kicad_sch", "dome_power.kicad_pro", "loadloom.toml"}
    for name, file in listed.items():
        assert file.sha256 == hashlib.sha256((FLAWED / name).read_bytes()).hexdigest()
        assert re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d[+-]\d\d:\d\d", file.saved)
    assert flawed.provenance.sha256 == listed["dome_power.kicad_sch"].sha256
    assert re.match(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d", flawed.provenance.made)


def test_settings_elsewhere_and_own_tables_are_in_it(tmp_path: Path) -> None:
    drawing = next(SMALL.glob("*.kicad_sch"))
    shutil.copytree(SMALL, tmp_path / "drawing")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "table.csv").write_text(TABLE)
    (tmp_path / "mine" / "own.toml").write_text('ampacity_table = "table.csv"\n')
    copy, own = tmp_path / "drawing" / drawing.name, tmp_path / "mine" / "own.toml"
    results = analyse_file(copy, own)
    listed = {file.file: (file.kind, file.sha256) for file in results.provenance.files}
    assert listed["../mine/own.toml"] == ("settings", hashlib.sha256(own.read_bytes()).hexdigest())
    assert listed["../mine/table.csv"] == ("own table", hashlib.sha256(TABLE.encode()).hexdigest())
    # Its path in reports leads from the drawing's own folder to the file itself.
    assert (copy.parent / path_of("../mine/own.toml", results)).resolve() == own.resolve()


def test_a_date_handed_in_stands_in_the_place_of_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    drawing = next(SMALL.glob("*.kicad_sch"))
    assert analyse_file(drawing, date="2026-03-01").provenance.made == ""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772323200")
    where = analyse_file(drawing).provenance
    assert where.made == "" and {file.saved for file in where.files} == {""}


def test_a_proposal_names_the_files_that_it_rests_on() -> None:
    advised = advise_drawing(next(SMALL.glob("*.kicad_sch")), date="2026-03-01").advised
    assert advised.results.provenance.files


def test_one_file_has_one_path_in_every_format(flawed: Results) -> None:
    named = {file.file for file in input_files(flawed)}
    assert "fixtures/observatory/flawed/pier.kicad_sch" in named
    run = json.loads(sarif.render(flawed))["runs"][0]
    assert {entry["location"]["uri"] for entry in run["artifacts"]} == named
    found = {
        where["physicalLocation"]["artifactLocation"]["uri"]
        for entry in run["results"]
        for where in entry["locations"]
        if "physicalLocation" in where
    }
    assert found and found <= named
    in_junit = set(re.findall(r"(?:^|\n|>)(\S+\.kicad_sch):", junit.render(flawed).decode()))
    assert in_junit == found
    in_lines = set(re.findall(r"file=([^,:]+)", annotations.render(flawed)))
    assert in_lines == found


def test_the_comparison_keeps_its_schema(sound: Results, flawed: Results) -> None:
    published = files("loadloom.reports").joinpath("loadloom-comparison.schema.json").read_text(encoding="utf-8")
    assert published == schema.text(), "run python -m loadloom.reports.comparison.schema and publish what it prints"
    found = document(compare(sound, flawed))
    validator = Draft202012Validator(json.loads(published))
    assert not list(validator.iter_errors(json.loads(json.dumps(found))))
    assert list(validator.iter_errors({**found, "changes": [{"effect": "worse"}]}))
    numbers = [c for c in found["changes"] if c["old_value"] is not None and c["new_value"] is not None]
    assert len(numbers) > 50


def test_the_comparisons_workbook_has_numbers_and_says_which_files(
    sound: Results, flawed: Results, tmp_path: Path
) -> None:
    comparison = compare(sound, flawed)
    (tmp_path / "c.xlsx").write_bytes(rendered(comparison, Path("c.xlsx")))
    workbook = openpyxl.load_workbook(tmp_path / "c.xlsx")
    assert workbook.properties.creator.startswith("loadloom ")
    text = "\n".join(str(c.value) for row in workbook["Comparison"].iter_rows() for c in row if c.value)
    for results in (sound, flawed):
        assert all(file.sha256 in text for file in results.provenance.files)
    sheet = workbook["Changes"]
    heads = {str(c.value).split("\n")[0]: c.column for c in sheet[4]}
    before = [sheet.cell(row, heads["Before"]).value for row in range(5, sheet.max_row + 1)]
    expected = [change.old_value for change in comparison.changes]
    assert before == pytest.approx(expected) if None not in expected else len(before) == len(expected)
    shown = [(a, b) for a, b in zip(before, expected, strict=True) if b is not None]
    assert len(shown) > 50 and all(isinstance(a, int | float) and a == pytest.approx(b) for a, b in shown)
