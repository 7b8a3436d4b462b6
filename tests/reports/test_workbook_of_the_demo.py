"""The workbook of the demo project against the tool's own runs on it, with the settings as drawn and changed."""

import io
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from test_workbook import EQUAL, condition_cell, differences, load, recalculated

from loadloom.graph.model.results import Results
from loadloom.plugin.pipeline import analyse_file
from loadloom.reports.workbook import book
from loadloom.reports.workbook.table import FIRST_ROW, HEADER_ROW

DRAWING = Path(__file__).resolve().parents[2] / "fixtures" / "observatory" / "flawed" / "dome_power.kicad_sch"
DATE = "2026-03-01"


@pytest.fixture(scope="module")
def results(demo_results: Callable[[str], Results]) -> Results:
    return demo_results("flawed")


def test_every_formula_gives_the_tools_value(results: Results, tmp_path: Path) -> None:
    content = book.render(results)
    wrong, count = differences(content, recalculated(content, tmp_path), results)
    assert wrong == []
    assert count > 1000


def test_the_summary_names_the_rule_book(results: Results) -> None:
    """The settings of the demo choose ``continuous-125``."""
    rows = {row[0].value: row[1].value for row in load(book.render(results))["Summary"].iter_rows(max_col=2)}
    assert rows["Rule sets"] == "continuous-125"


def test_a_changed_ambient_moves_every_allowed_current_as_the_tools_own_run_does(
    results: Results, tmp_path: Path
) -> None:
    """Every zone is set 3 K warmer in the settings of a second run, and in the sheet to what that run has: a zone
    with an enclosure stands there with the temperature inside.
    """
    warmer = tmp_path / "warmer.toml"
    text = (DRAWING.parent / "loadloom.toml").read_text(encoding="utf-8")
    zones = {
        name: float(c)
        for name, c in re.findall(r"\[ambient\.\"?([\w -]+?)\"?\][^\[]*?max\s*=\s*\"?([0-9.]+)", text)
    }
    assert zones
    warm_text = re.sub(
        r"(\[ambient\.[^\]]+\][^\[]*?max\s*=\s*\"?)([0-9.]+)", lambda m: m[1] + str(float(m[2]) + 3.0), text
    )
    warmer.write_text(warm_text, encoding="utf-8")
    after = analyse_file(DRAWING, warmer, date=DATE)
    workbook, warmed = load(book.render(results)), load(book.render(after))
    for name, max_c in zones.items():
        cell, warm = (condition_cell(made, f"Greatest ambient, zone {name}") for made in (workbook, warmed))
        assert cell.value >= max_c and warm.value == pytest.approx(cell.value + 3.0, abs=0.5)
        cell.value = warm.value
    stream = io.BytesIO()
    workbook.save(stream)
    values = recalculated(stream.getvalue(), tmp_path)
    moved = 0
    for name, old, new in (
        ("Conductors", results.conductors, after.conductors),
        ("Contacts", results.contacts, after.contacts),
    ):
        sheet = values[name]
        titles = {str(c.value).split("\n")[0]: c.column for c in sheet[HEADER_ROW] if c.value}
        for number, (was, row) in enumerate(zip(old, new, strict=True)):
            shown = sheet.cell(FIRST_ROW + number, titles["Allowed"]).value
            # A factor that the tool gives no formula for holds for its own ambient alone: nothing is said then.
            blind = any(
                f.kind == "ambient" and f.formula is None for f in (was.rating.factors if was.rating else ())
            )
            known = row.allowed_a is not None and not blind
            assert shown == (pytest.approx(row.allowed_a, rel=EQUAL) if known else "–"), row.id
            moved += was.allowed_a != row.allowed_a
    assert moved > 20
