"""Edits that nobody should make: whatever is typed where, nothing that is no number any more counts as fine."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from observatory_sample import sample
from openpyxl.workbook import Workbook
from test_changed_by_hand import conditions, recalculate, shown, titles

from loadloom.reports.workbook import book
from loadloom.reports.workbook.table import CHANGED_BY_HAND, FIRST_ROW

PART = "W1"
FINE = ("ok", "● high")


def put(sheet: str, title: str, value: Any, part: str | None = PART) -> Callable[[Workbook], None]:
    def edit(workbook: Workbook) -> None:
        table = workbook[sheet]
        rows = range(FIRST_ROW, table.max_row + 1)
        row = FIRST_ROW if part is None else next(r for r in rows if table.cell(r, 1).value == part)
        table.cell(row, titles(table)[title]).value = value

    return edit


def condition(start: str, value: Any) -> Callable[[Workbook], None]:
    def edit(workbook: Workbook) -> None:
        for name, cell in conditions(workbook).items():
            if name.startswith(start):
                cell.value = value

    return edit


OF_PART = {
    "a text for a factor": put("Ratings used", "Bundle or position factor", "none"),
    "no base": put("Ratings used", "Base current", None),
    "a base in words": put("Ratings used", "Base current", "9 A"),
    "no loaded positions": put("Ratings used", "Loaded together", 0),
    "no count": put("Ratings used", "Loaded together", None),
    "an error for an ambient": put("Ratings used", "Ambient", "#N/A"),
}
"""Edits after which nothing can be said of the one part."""
OF_ALL = {
    "a fault typed over": put("Conductors", "Sustained fault current", 0.1),
    "a load typed over": put("Conductors", "Load current", 0.1),
    "a resistance typed over": put("Conductors in full", "R", 0.0),
    "a voltage typed over": put("Loads", "Least voltage", 12.0, None),
    "a utilisation typed over": put("Conductors", "Utilisation", 0.1),
}
"""Edits of what was solved: nothing can be said of any part."""
EVERYWHERE = {
    "no ambient": condition("Greatest ambient", None),
    "an ambient beyond every limit": condition("Greatest ambient", 500.0),
    "a margin of more than all": condition("Margin", 1.5),
    "a margin below none": condition("Margin", -0.5),
}
"""Edits after which no part is fine any more."""
TYPED = {"protection typed over": put("Conductors", "Protected", "yes", "W2")}
EDITS = {**OF_PART, **OF_ALL, **EVERYWHERE, **TYPED}


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Workbook]:
    made: dict[str, bytes] = {}
    content = book.render(sample())
    for number, edit in enumerate(EDITS.values()):
        workbook = openpyxl.load_workbook(io.BytesIO(content))
        edit(workbook)
        stream = io.BytesIO()
        workbook.save(stream)
        made[f"e{number}"] = stream.getvalue()
    folder: Path = tmp_path_factory.mktemp("odd")
    done = recalculate(made, folder)
    return {name: done[f"e{number}"] for number, name in enumerate(EDITS)}


def rows(workbook: Workbook) -> dict[str, dict[str, Any]]:
    return {part: cells for name in ("Conductors", "Contacts") for part, cells in shown(workbook[name])}


@pytest.mark.parametrize("name", EDITS)
def test_the_banner_turns(books: dict[str, Workbook], name: str) -> None:
    texts = [str(c.value) for row in books[name]["Summary"].iter_rows(max_row=4) for c in row[:6]]
    assert any(text.casefold() == CHANGED_BY_HAND for text in texts)
    assert not any(text.startswith(("PASS", "FAIL", "INCOMPLETE")) for text in texts)


@pytest.mark.parametrize("name", OF_PART)
def test_a_part_without_its_numbers_is_not_fine(books: dict[str, Workbook], name: str) -> None:
    cells = rows(books[name])[PART]
    assert cells["Allowed"] == "–" and cells["By load"] == "? not rated" and cells["Protected"] != "yes"


@pytest.mark.parametrize("name", OF_ALL)
def test_nothing_is_said_once_what_was_solved_is_typed_over(books: dict[str, Workbook], name: str) -> None:
    for part, cells in rows(books[name]).items():
        assert cells["By load"] not in FINE, part
        assert cells["Protected"] != "yes", part
        assert cells["Within band"] in (None, ""), part


@pytest.mark.parametrize("name", EVERYWHERE)
def test_conditions_that_no_table_has_leave_no_part_fine(books: dict[str, Workbook], name: str) -> None:
    touched = "ambient" if "ambient" in name else "margin"
    for part, cells in rows(books[name]).items():
        rating = next(r.rating for r in (*sample().conductors, *sample().contacts) if r.id == part)
        if rating is not None and any(f.kind == touched for f in rating.factors):
            assert cells["By load"] not in FINE, part
            assert cells["Protected"] != "yes", part
