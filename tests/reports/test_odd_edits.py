"""Edits that nobody should make: whatever is typed where, nothing that is no number any more counts as fine."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import openpyxl
import pytest
from observatory_sample import sample
from openpyxl.formula.translate import Translator
from openpyxl.utils import get_column_letter
from openpyxl.workbook import Workbook
from shared_results import once, shared_folder
from test_changed_by_hand import bare, conditions, recalculate, shown, titles

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


def sort(sheet: str, by: str) -> Callable[[Workbook], None]:
    """The rows of a table in another order, as the arrows of its head sort them: a formula goes with its row."""

    def edit(workbook: Workbook) -> None:
        table = workbook[sheet]
        rows = [r for r in range(FIRST_ROW, table.max_row + 1) if table.cell(r, 1).value is not None]
        column = titles(table)[by]
        held = {r: [cell.value for cell in table[r]] for r in rows}
        wanted = sorted(rows, key=lambda r: str(held[r][column - 1]), reverse=True)
        assert wanted != rows
        for row, was in zip(rows, wanted, strict=True):
            for number, value in enumerate(held[was], 1):
                if isinstance(value, str) and value.startswith("="):
                    letter = get_column_letter(number)
                    value = Translator(value, f"{letter}{was}").translate_formula(f"{letter}{row}")
                table.cell(row, number).value = value

    return edit


def swap(sheet: str, title: str) -> Callable[[Workbook], None]:
    """The least and the greatest number of one column change places, the rest of their rows does not."""

    def edit(workbook: Workbook) -> None:
        table = workbook[sheet]
        cells = [table.cell(r, titles(table)[title]) for r in range(FIRST_ROW, table.max_row + 1)]
        numbers = sorted((c for c in cells if isinstance(c.value, int | float)), key=lambda c: float(c.value))
        least, most = numbers[0], numbers[-1]
        assert least.value != most.value
        least.value, most.value = most.value, least.value

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
SORTED = {
    "ratings sorted": sort("Ratings used", "Part"),
    "conductors sorted": sort("Conductors", "Conductor"),
    "contacts sorted": sort("Contacts", "Contact"),
}
"""Rows in another order: everything said still has to be of the part that the row names."""
SWAPPED = {
    "bases swapped": swap("Ratings used", "Base current"),
    "loads swapped": swap("Conductors", "Load current"),
    "faults swapped": swap("Conductors", "Sustained fault current"),
}
"""Numbers of one column in other rows: the same sum, and the same sum of squares."""
TYPED = {
    "protection typed over": put("Conductors", "Protected", "yes", "W2"),
    "a remedy typed over": put("Findings", "Remedy", "Nothing.", None),
    "a size typed over": put("Conductors", "Size", "9 mm²"),
}
"""Edits that the banner alone tells of: no number hangs on them."""
FILLED = {
    "nothing": lambda workbook: None,
    "an owner filled in": put("Open points", "Owner", "N. N.", None),
    "a state filled in": put("Open points", "State", "in work", None),
}
"""What a reader is asked to fill in, which changes nothing."""
EDITS = {**OF_PART, **OF_ALL, **EVERYWHERE, **TYPED, **SWAPPED, **SORTED, **FILLED}


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Workbook]:
    folder = shared_folder(tmp_path_factory) / "odd_edits"

    def recalculated() -> dict[str, Workbook]:
        made: dict[str, bytes] = {}
        content = bare(book.render(sample()))
        for number, edit in enumerate(EDITS.values()):
            workbook = openpyxl.load_workbook(io.BytesIO(content))
            edit(workbook)
            stream = io.BytesIO()
            workbook.save(stream)
            made[f"e{number}"] = stream.getvalue()
        done = recalculate(made, folder)
        return {name: done[f"e{number}"] for number, name in enumerate(EDITS)}

    return once(folder, "books", recalculated)


def rows(workbook: Workbook) -> dict[str, dict[str, Any]]:
    return {part: cells for name in ("Conductors", "Contacts") for part, cells in shown(workbook[name])}


@pytest.mark.parametrize("name", FILLED)
def test_what_is_to_be_filled_in_leaves_the_banner(books: dict[str, Workbook], name: str) -> None:
    texts = [str(c.value) for row in books[name]["Summary"].iter_rows(max_row=4) for c in row[:6]]
    assert any(text.startswith(("PASS", "FAIL", "INCOMPLETE")) for text in texts)


@pytest.mark.parametrize("name", [name for name in EDITS if name not in {**SORTED, **FILLED}])
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


@pytest.mark.parametrize("name", SORTED)
def test_sorted_rows_say_nothing_of_another_part(books: dict[str, Workbook], name: str) -> None:
    """The tool's own results judge; a cell that looked at a row which is another part's by now says nothing."""
    judged = {r.id: r for r in (*sample().conductors, *sample().contacts)}
    for part, cells in rows(books[name]).items():
        allowed, mark = cells["Allowed"], cells["By load"]
        assert allowed == "–" or allowed == pytest.approx(judged[part].allowed_a), part
        assert mark not in FINE or (judged[part].utilisation or 2.0) <= 1.0 + 1e-9, part
        assert cells["Protected"] != "yes" or judged[part].protected is True, part
    for sheet in ("Conductors in full", "Contacts in full"):
        for part, cells in shown(books[name][sheet]):
            allowed_a, load_a = judged[part].allowed_a, judged[part].continuous_a
            if cells["Margin"] != "–":
                assert cells["Margin"] == pytest.approx((allowed_a or 0.0) - (load_a or 0.0)), part
    opened = {(row.opened, row.case): row.worst_allowed_a for row in sample().open_circuits}
    for part, cells in shown(books[name]["Open circuits"]):
        if cells["Its allowed current"] not in ("–", None):
            assert cells["Its allowed current"] == pytest.approx(opened[part, cells["Load case"]]), part
    used = {r.id: r.utilisation for r in judged.values()}
    for part, cells in shown(books[name]["Charts"]):
        if cells["Load over allowed"] != "–":
            assert cells["Load over allowed"] == pytest.approx(100.0 * (used[part] or 0.0)), part


@pytest.mark.parametrize("name", SWAPPED)
def test_numbers_in_other_rows_are_noticed(books: dict[str, Workbook], name: str) -> None:
    """Ratings answer from the numbers as they are now; of currents nothing is known any more."""
    for part, cells in rows(books[name]).items():
        if name == "bases swapped":
            continue
        assert cells["By load"] not in FINE, part
        assert cells["Protected"] != "yes", part
