"""A trial or a proposal says so in every format, and bears no signatures of the drawing."""

from __future__ import annotations

import csv
import io
import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from observatory_sample import sample

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import About, AboutKind, ChangeRow
from loadloom.reports import annotations, csv_table, junit, page, results_json, sarif, terminal
from loadloom.reports.about_words import NAMED, banner
from loadloom.reports.workbook.book import render

CHANGES = (ChangeRow("W7", "Gauge", "18 AWG", "14 AWG"), ChangeRow("CH1", "Delay", None, "5 ms"))
TRIALS = {
    "WHAT IF": replace(sample(), about=About(AboutKind.WHAT_IF, CHANGES, Verdict.FAIL)),
    "AS PROPOSED": replace(sample(), about=About(AboutKind.AS_PROPOSED, CHANGES, Verdict.PASS)),
}
WORDS = "W7.Gauge is “14 AWG”, instead of “18 AWG”; CH1.Delay is “5 ms”, which the drawing does not state."


@pytest.fixture(params=TRIALS)
def mark(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def texts(workbook: openpyxl.Workbook) -> list[str]:
    return [str(cell.value) for row in workbook["Summary"].iter_rows() for cell in row if cell.value is not None]


def opened(results: object, tmp_path: Path) -> openpyxl.Workbook:
    (tmp_path / "x.xlsx").write_bytes(render(results))  # type: ignore[arg-type]
    return openpyxl.load_workbook(tmp_path / "x.xlsx")


def test_the_banner_names_what_was_changed_and_the_drawings_own_verdict(mark: str) -> None:
    said = banner(TRIALS[mark])
    assert said.startswith(f"{mark}, not the drawing as it stands: {WORDS}")
    verdict = TRIALS[mark].about.verdict_as_drawn
    assert verdict is not None and said.endswith(f"The drawing as it stands: {verdict.upper()}.")


def test_many_changes_are_counted() -> None:
    many = tuple(replace(CHANGES[0], part=f"W{k}") for k in range(NAMED + 3))
    assert "; and 3 more." in banner(replace(sample(), about=About(AboutKind.WHAT_IF, many)))


def test_every_text_format_says_so(mark: str) -> None:
    results = TRIALS[mark]
    said = banner(results)
    shown = terminal.text(results, 400)
    assert shown.startswith(f"{mark}: {results.verdict.upper()}") and said in shown
    assert said in annotations.render(results)
    assert said in str(ET.fromstring(junit.render(results)).get("name"))
    run = json.loads(sarif.render(results))["runs"][0]
    assert run["properties"]["about"] == said
    assert run["automationDetails"]["id"] == f"loadloom/{mark.lower().replace(' ', '-')}/"
    assert run["properties"]["verdict_as_drawn"] == str(results.about.verdict_as_drawn)
    for table in (csv_table.load_table(results), csv_table.table(results, "findings")):
        rows = list(csv.DictReader(io.StringIO(table.decode())))
        assert rows and {row["about"] for row in rows} == {said}


def test_the_results_file_says_so_and_is_read_again(mark: str, tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    path.write_bytes(results_json.render(TRIALS[mark]))
    about = json.loads(path.read_text(encoding="utf-8"))["about"]
    assert about["kind"] == mark.lower() and about["changes"][0]["now"] == "14 AWG"
    assert results_json.read_results(path).about == TRIALS[mark].about


def test_the_page_says_so_at_its_head_and_foot(mark: str) -> None:
    text = page.render(TRIALS[mark]).decode()
    assert text.count('<p class="about" role="note">') == 2 and f"<title>{mark} – " in text
    assert text.index('class="about"') < text.index('<header id="head">')
    assert text.rindex('<p class="about"') > text.index("<footer>")


def test_the_workbook_says_so_on_every_sheet_and_bears_no_signatures(mark: str, tmp_path: Path) -> None:
    workbook = opened(TRIALS[mark], tmp_path)
    cells = texts(workbook)
    assert banner(TRIALS[mark]) in cells
    assert not {"Signatures", "Prepared", "Checked", "Approved"} & set(cells)
    assert any(text.startswith("No signatures here") for text in cells)
    for sheet in workbook.worksheets:
        assert mark in str(sheet.oddHeader.center.text)
        assert mark in str(sheet.oddFooter.center.text)
    assert str(workbook.properties.title).startswith(mark)


def test_the_drawing_itself_is_marked_nowhere(tmp_path: Path) -> None:
    results = sample()
    workbook = opened(results, tmp_path)
    assert {"Signatures", "Prepared", "Checked", "Approved"} <= set(texts(workbook))
    assert all(sheet.oddHeader.center.text is None for sheet in workbook.worksheets)
    written = (
        terminal.text(results, 400),
        annotations.render(results),
        junit.render(results).decode(),
        sarif.render(results).decode(),
        csv_table.load_table(results).decode(),
    )
    assert not any(mark in text for text in written for mark in TRIALS)
    assert '<p class="about"' not in page.render(results).decode()
