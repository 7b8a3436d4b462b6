"""The review workbook: LibreOffice recalculates it, and every formula must give the tool's own value."""

import io
import re
import subprocess
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from observatory_sample import AMBIENTS, HOSTILE, hostile, sample
from openpyxl.utils import get_column_letter
from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet
from programs import need

from loadloom.graph.model.findings import Finding, Severity, Subject
from loadloom.graph.model.results import CurrentRow, Rating, Results
from loadloom.reports.workbook import book, chains, style
from loadloom.reports.workbook.book import MOST_PRINTED
from loadloom.reports.workbook.places import IN_FULL as SECOND_TABLES
from loadloom.reports.workbook.places import PURPOSE
from loadloom.reports.workbook.table import FIRST_ROW, HEADER_ROW

EQUAL = 1e-9
"""Relative; what is asked of the workbook."""


def load(content: bytes, *, values: bool = False) -> Workbook:
    return openpyxl.load_workbook(io.BytesIO(content), data_only=values)


def recalculated(content: bytes, folder: Path) -> Workbook:
    """The workbook after LibreOffice has opened, recalculated and saved it: values instead of formulas."""
    return load(converted(without_stored_values(content), folder, "xlsx").read_bytes(), values=True)


def without_stored_values(content: bytes) -> bytes:
    """The workbook with the formulas alone, so that every value read afterwards was calculated by LibreOffice."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            target.writestr(name, re.sub(rb"</f><v>[^<]*</v>", b"</f><v></v>", source.read(name)))
    return out.getvalue()


def converted(content: bytes, folder: Path, suffix: str) -> Path:
    """The workbook as LibreOffice writes it in another format, or in its own words in the same."""
    source, out = folder / "book.xlsx", folder / "out"
    source.write_bytes(content)
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = [need("soffice"), profile, "--headless", "--convert-to", suffix, "--outdir", str(out), str(source)]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    return out / f"book.{suffix}"


def header(sheet: Worksheet, column: int, row: int) -> str:
    """The header above a cell: the nearest bold cell of the header fill."""
    for above in range(row - 1, 0, -1):
        cell = sheet.cell(above, column)
        if cell.fill.fgColor.rgb == "FFE3E8EE" and cell.value is not None:
            return str(cell.value).split("\n")[0]
    raise AssertionError(f"no header above {sheet.title}!{column},{row}")


def formula_cells(workbook: Workbook) -> Iterator[tuple[Worksheet, Any]]:
    for sheet in workbook.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    yield sheet, cell


def over(top: float | None, bottom: float | None) -> float | str:
    return "–" if top is None or not bottom else top / bottom


def known(value: float | None) -> float | str:
    return "–" if value is None else value


def percent(value: float | str) -> float | str:
    return value if isinstance(value, str) else 100.0 * value


def cut(value: float | str) -> float | str:
    return value if isinstance(value, str) else min(value, 200.0)


def factor(rating: Rating | None, *kinds: str) -> Any:
    assert rating is not None
    return next(f for f in rating.factors if f.kind in kinds)


def mark(row: CurrentRow) -> str:
    if row.utilisation is None:
        return "? not rated"
    return "▲ OVER" if row.utilisation > 1 else "● high" if row.utilisation >= 0.8 else "ok"


CURRENT: dict[str, Callable[[Any], Any]] = {
    "Allowed": lambda r: known(r.allowed_a),
    "Utilisation": lambda r: known(r.utilisation),
    "By load": mark,
    "Fault over allowed": lambda r: over(r.sustained_fault_a, r.allowed_a),
    "Protected": lambda r: {True: "yes", False: "NO", None: "not determined"}[r.protected],
    "Within band": lambda r: "in band" if r.protected and r.sustained_fault_a > r.allowed_a else None,
}
IN_FULL: dict[str, Callable[[Any], Any]] = {
    "Margin": lambda r: "–" if r.utilisation is None else r.allowed_a - r.continuous_a,
    "Changed": lambda r: None,
}
EXPECTED: dict[str, dict[str, Callable[[Any], Any]]] = {
    "Conductors": CURRENT,
    "Contacts": CURRENT,
    "Conductors in full": IN_FULL,
    "Contacts in full": IN_FULL,
    "Ratings used": {
        "Allowed": lambda r: known(r.allowed_a),
        "Ambient": lambda r: factor(r.rating, "ambient").input_value,
        "Ambient factor": lambda r: factor(r.rating, "ambient").factor,
        "Bundle or position factor": lambda r: factor(r.rating, "bundle", "positions").factor,
        "Altitude factor": lambda r: factor(r.rating, "altitude").factor,
        "Margin factor": lambda r: factor(r.rating, "margin").factor,
    },
    "Outputs & supplies": {"Utilisation": lambda r: known(r.utilisation), "Allowed power": lambda r: r.allowed_w},
    "Splices & switches": {
        "Utilisation": lambda r: known(r.utilisation),
        "Sustained fault current over rating": lambda r: over(r.sustained_fault_a, r.allowed_a),
        "Protected": lambda r: {True: "yes", False: "NO", None: "not determined"}[r.protected],
    },
    "Devices": {
        "Utilisation": lambda r: known(r.utilisation),
        "Setting range from": lambda r: r.setting_low_a,
        "Setting range to": lambda r: r.setting_high_a,
    },
    "Devices in full": {},
    "Loads": {
        "Margin": lambda r: "–" if None in (r.voltage_v, r.minimum_v) else r.voltage_v - r.minimum_v,
    },
    "Charts": {
        "Load over allowed": lambda r: percent(known(r.utilisation)),
        "Fault over allowed": lambda r: percent(over(r.sustained_fault_a, r.allowed_a)),
        # Bars end at 200 %, so that those of a few percent are seen beside them.
        "Load, bar": lambda r: cut(percent(known(r.utilisation))),
        "Fault, bar": lambda r: cut(percent(over(r.sustained_fault_a, r.allowed_a))),
        "Current": lambda r: known(r.current_a),
        "Limit": lambda r: known(r.limit_a),
    },
}
"""What every formula must give, from the results themselves: by sheet and header."""


def row_of(results: Results, row_id: str, *, unit: bool) -> Any:
    """The row of a part; a unit of supplies may have the name of one of its outputs."""
    parts = (*results.conductors, *results.contacts, *results.outputs, *results.splices, *results.switches)
    rows = results.supplies if unit else (*parts, *results.loads, *results.devices)
    return next(row for row in rows if row.id == row_id)


COUNTED: dict[str, Callable[[CurrentRow], bool]] = {
    "over allowed": lambda r: r.utilisation is not None and r.utilisation > 1,
    "NOT protected": lambda r: r.protected is False,
    "not rated": lambda r: r.utilisation is None,
    "undetermined": lambda r: r.protected is None,
}


def wanted(sheet: Worksheet, cell: Any, results: Results, stored: Any) -> Any:
    """What the results say that a formula cell must show; ``stored`` where only the tool's own word is known."""
    if sheet.title == "Summary" and cell.column == 3:
        kind, _, what = sheet.cell(cell.row, 1).value.partition(" ")
        return sum(map(COUNTED[what], results.conductors if kind == "Conductors" else results.contacts))
    if cell.row < HEADER_ROW or sheet.title in ("Summary", "Changed by hand", "Conditions", "Open circuits"):
        return stored
    title = header(sheet, cell.column, cell.row)
    row_id = sheet.cell(cell.row, 7 if sheet.title == "Charts" and cell.column > 6 else 1).value
    unit = sheet.title == "Outputs & supplies" and cell.row > FIRST_ROW + len(results.outputs)
    if title == "Setting range":
        return stored
    return EXPECTED[sheet.title][title](row_of(results, row_id, unit=unit))


def differences(content: bytes, values: Workbook, results: Results) -> tuple[list[str], int]:
    """Formulas of a workbook whose values are not those of the results, and how many formulas there are."""
    formulas, stored = load(content), load(content, values=True)
    wrong, count = [], 0
    for sheet, cell in formula_cells(formulas):
        count += 1
        expected = wanted(sheet, cell, results, stored[sheet.title][cell.coordinate].value)
        shown = values[sheet.title][cell.coordinate].value
        if isinstance(expected, float):
            equal = isinstance(shown, int | float) and abs(shown - expected) <= EQUAL * abs(expected)
        else:
            equal = shown == expected or (expected is None and shown == "")
        if not equal:
            wrong.append(f"{sheet.title}!{cell.coordinate}: {shown!r}, not {expected!r}")
    return wrong, count


def test_every_formula_gives_the_tools_value(tmp_path: Path) -> None:
    results = sample()
    content = book.render(results)
    wrong, count = differences(content, recalculated(content, tmp_path), results)
    assert wrong == []
    assert count > 700


def test_the_tools_values_are_stored_with_the_formulas() -> None:
    """For programs that show a workbook and don't calculate."""
    results = sample()
    content = book.render(results)
    wrong, count = differences(content, load(content, values=True), results)
    assert wrong == []
    assert count > 700


def test_a_wrong_number_in_the_workbook_would_be_seen(tmp_path: Path) -> None:
    results = sample()
    changed = replace(results, conductors=(replace(results.conductors[0], allowed_a=1.0), *results.conductors[1:]))
    content = book.render(results)
    wrong, _ = differences(content, recalculated(content, tmp_path), changed)
    assert any(text.startswith("Conductors!") for text in wrong)


def condition_cell(workbook: Workbook, name: str) -> Any:
    sheet = workbook["Conditions"]
    return next(sheet.cell(r, 2) for r in range(FIRST_ROW, sheet.max_row + 1) if sheet.cell(r, 1).value == name)


def changed_rating(rating: Rating | None, dome_c: float, margin: float, altitude_m: float) -> float | None:
    """The allowed current after a change of conditions, from the definitions of the factors."""
    if rating is None or rating.base_a is None:
        return None
    allowed = rating.base_a
    for link in rating.factors:
        at = {"ambient": link.input_value, "altitude": altitude_m}.get(link.kind, link.input_value)
        if link.kind == "ambient" and link.input_value == AMBIENTS["dome"]:
            at = dome_c
        if link.kind == "margin":
            allowed *= 1.0 - margin
        elif link.formula is not None and at is not None:
            value = link.formula.at(at)
            assert value is not None
            allowed *= value
        else:
            allowed *= link.factor
    return min([allowed, *(cap.limit_a for cap in rating.caps)])


def test_changed_conditions_move_every_allowed_current_and_utilisation(tmp_path: Path) -> None:
    results = sample()
    workbook = load(book.render(results))
    condition_cell(workbook, "Greatest ambient, zone dome").value = 61.5
    condition_cell(workbook, "Margin kept free by policy").value = 0.25
    condition_cell(workbook, "Altitude").value = 3100.0
    stream = io.BytesIO()
    workbook.save(stream)
    values = recalculated(stream.getvalue(), tmp_path)
    checked = moved = 0
    for name, rows in (("Conductors", results.conductors), ("Contacts", results.contacts)):
        sheet = values[name]
        titles = {str(c.value).split("\n")[0]: c.column for c in sheet[HEADER_ROW] if c.value}
        for number, row in enumerate(rows):
            at = FIRST_ROW + number
            expected = changed_rating(row.rating, 61.5, 0.25, 3100.0)
            shown = sheet.cell(at, titles["Allowed"]).value
            if expected is None:
                assert shown == "–"
                continue
            assert shown == pytest.approx(expected, rel=EQUAL)
            if row.continuous_a is not None:
                assert sheet.cell(at, titles["Utilisation"]).value == pytest.approx(
                    row.continuous_a / expected, rel=EQUAL
                )
            differs = abs(expected - row.allowed_a) > EQUAL * row.allowed_a
            full = values[f"{name} in full"]
            changed = next(c.column for c in full[HEADER_ROW] if str(c.value) == "Changed")
            assert full.cell(at, changed).value == ("≠ tool" if differs else None)
            checked += 1
            moved += differs
    assert checked >= 55
    assert moved >= 50


def test_every_rating_of_the_sample_is_a_live_formula() -> None:
    sheet = load(book.render(sample()))["Ratings used"]
    titles = {str(c.value).split("\n")[0]: c.column for c in sheet[HEADER_ROW] if c.value}
    kinds = {sheet.cell(r, titles["Allowed"]).data_type for r in range(FIRST_ROW, FIRST_ROW + 60)}
    assert kinds == {"f"}
    assert str(sheet.cell(FIRST_ROW, titles["Ambient factor"]).value).startswith("=IF(")


def test_a_chain_that_does_not_give_the_tools_value_is_not_passed_off_as_a_formula() -> None:
    results = sample()
    first = results.conductors[0]
    assert first.rating is not None
    odd = replace(first, allowed_a=5.0, rating=replace(first.rating, allowed_a=5.0))
    workbook = load(book.render(replace(results, conductors=(odd, *results.conductors[1:]))))
    titles = {str(c.value).split("\n")[0]: c.column for c in workbook["Ratings used"][HEADER_ROW] if c.value}
    cell = workbook["Ratings used"].cell(FIRST_ROW, titles["Allowed"])
    assert cell.value == '=IF(Conditions!$B$3=0,5.0,"–")'  # it holds for the tool's own ambients, and no others


@pytest.mark.parametrize("x", [-10.0, 24.9, 25.0, 30.0, 33.3, 40.0, 59.0, 60.0, 75.0])
def test_spreadsheet_formulas_are_the_definitions(x: float) -> None:
    """Evaluated here by reading the expression as Python; the recalculation does it again in LibreOffice."""
    from loadloom.graph.model.results import FactorFormula

    for formula in (
        FactorFormula("temperature", limit=60.0, base=30.0),
        FactorFormula("temperature", limit=60.0, base=30.0, greatest=1.0),
        FactorFormula("steps", points=((25.0, 1.08), (30.0, 1.0), (60.0, 0.71))),
        FactorFormula("linear", points=((25.0, 1.0), (40.0, 0.9), (60.0, 0.5))),
    ):
        names = {
            "IF": lambda condition, a, b: a() if condition() else b(),
            "SQRT": lambda a: a() ** 0.5,
            "MIN": lambda a, b: None if b() is None else min(a(), b()),
            "NA": lambda: None,
            "ISNUMBER": lambda a: isinstance(a(), float),
        }
        text = lazily(chains.factor_formula(formula, "x"))
        assert eval(text, {**names, "x": x}) == pytest.approx(formula.at(x))


def lazily(text: str) -> str:
    """A spreadsheet expression with every argument of a function made a lambda, as IF takes only one branch."""
    out = ""
    stack: list[bool] = []
    for n, character in enumerate(text):
        if character == "(":
            is_call = n > 0 and text[n - 1].isalpha()
            stack.append(is_call)
            empty = text[n + 1] == ")"
            out += "(lambda: " if is_call and not empty else "("
        elif character == ")":
            stack.pop()
            out += ")"
        elif character == "," and stack[-1]:
            out += ", lambda: "
        else:
            out += character
    return out


def test_same_results_same_bytes_and_no_clock() -> None:
    first = book.render(sample())
    assert first == book.render(sample())
    with zipfile.ZipFile(io.BytesIO(first)) as archive:
        assert {info.date_time for info in archive.infolist()} == {(2026, 3, 1, 0, 0, 0)}
        assert archive.read("docProps/core.xml").count(b"2026-03-01T00:00:00Z") == 2


def test_sheets_are_there_in_order_with_page_set_up() -> None:
    workbook = load(book.render(sample()))
    assert workbook.sheetnames == list(PURPOSE)
    for sheet in workbook.worksheets:
        assert "&P" in str(sheet.oddFooter.right.text)
        assert sheet.page_setup.orientation == ("portrait" if sheet.title == "Charts" else "landscape")
    for name in set(PURPOSE) - {"Summary", "Charts"}:
        sheet = workbook[name]
        assert sheet.freeze_panes == f"B{FIRST_ROW}"
        assert sheet.auto_filter.ref.startswith(f"A{HEADER_ROW}:")
        assert sheet.print_title_rows == f"${HEADER_ROW}:${HEADER_ROW}"


A4_LONG_MM = 297.0
"""ISO 216."""
DIGIT_PT = 5.562
"""Width of a digit of the workbook's typeface at ten points, the unit of a column's width."""


def pages_across(sheet: Worksheet) -> list[float]:
    """The widths of the pages that a sheet is printed on side by side, in mm at full size."""
    count = len([c for c in sheet[HEADER_ROW] if c.value]) if sheet.title != "Summary" else 8
    mm = [sheet.column_dimensions[get_column_letter(n)].width * DIGIT_PT * 25.4 / 72 for n in range(1, count + 1)]
    ends = [b.id for b in sheet.col_breaks.brk]
    starts = [0, *ends]
    return [sum(mm[a:b]) + (mm[0] if a else 0.0) for a, b in zip(starts, [*ends, count], strict=True)]


@pytest.mark.parametrize("made", ["sample", "hostile"])
def test_sheets_fit_a4_landscape_in_full_size(made: str) -> None:
    """At full size letters are 9 points; what is shrunk to one page keeps at least nine tenths of that."""
    results = sample() if made == "sample" else hostile("A long name of no sense that a person gave")
    workbook = load(book.render(results))
    across = 0
    for sheet in workbook.worksheets:
        if sheet.title == "Charts":
            continue
        margins = sheet.page_margins
        room = A4_LONG_MM - 25.4 * (margins.left + margins.right)
        pages = pages_across(sheet)
        assert sheet.page_setup.paperSize == "9" or sheet.page_setup.paperSize == 9
        if sheet.sheet_properties.pageSetUpPr.fitToPage:
            assert len(pages) == 1 and pages[0] * 0.9 <= room, (sheet.title, pages)
        elif sheet.title == "Summary":
            # Page breaks before the heads of its sections hold only where nothing is fitted.
            across_mm = sum(sheet.column_dimensions[letter].width for letter in "ABCDEF") * 5.562 / 72 * 25.4
            assert sheet.print_area.startswith("'Summary'!$A$1:$F$")
            assert sheet.page_setup.scale == 100 and across_mm <= room
        else:
            assert sheet.page_setup.scale == 100 and sheet.print_title_cols == "$A:$A"
            assert all(page <= room for page in pages), (sheet.title, pages)
            assert len(pages) > 1
            across += 1
    if made == "sample":
        assert across < 6
        for name in ("Conductors", "Contacts", "Devices", "Loads", "Outputs & supplies", "Findings"):
            assert workbook[name].sheet_properties.pageSetUpPr.fitToPage, name
            assert len([c for c in workbook[name][HEADER_ROW] if c.value]) <= 14, name


def test_the_unit_of_width_is_a_digit_of_a_typeface_that_every_computer_has() -> None:
    """The unit is a digit of the font of the style Normal (ECMA-376 part 1, 18.3.1.13)."""
    for content in (book.render(sample()),):
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            styles = archive.read("xl/styles.xml").decode()
        first = re.search(r"<fonts[^>]*><font>(.*?)</font>", styles)
        assert first is not None and '"Arial"' in first[1] and '<sz val="10"' in first[1]
        assert "Calibri" not in styles


def test_a_part_leads_to_all_else_about_it_and_back() -> None:
    workbook = load(book.render(sample()))
    for name in ("Conductors", "Contacts", "Devices", "Loads", "Outputs & supplies", "Findings", "Ratings used"):
        sheet = workbook[name]
        led = 0
        for row in range(FIRST_ROW, sheet.max_row + 1):
            link = sheet.cell(row, 1).hyperlink
            if link is None:
                continue
            there, cell = link.location.split("!")
            target = workbook[there.strip("'")][cell]
            assert there.strip("'").endswith("in full") and target.value == sheet.cell(row, 1).value
            back = target.hyperlink.location
            if name != "Ratings used":  # from there a part leads to its row in the load table
                assert back == f"'{name}'!A{row}"
            led += 1
        assert led > 2, name


def test_page_one_says_what_a_reviewer_asks_for() -> None:
    sheet = load(book.render(sample()))["Summary"]
    text = "\n".join(str(c.value) for row in sheet.iter_rows() for c in row if c.value is not None)
    said_of_drawing = ("FAIL", "Observatory dome, power harness (invented)", "ab" * 32)
    said_of_analysis = ("loadloom 0.1.0", "invented-table", "edition 1", "not re-solved")
    to_sign = ("Prepared", "Checked", "Approved", "Change record")
    cautions = ("not a certification", "licensed practice", "Measure", "bad crimp")
    for said in (*said_of_drawing, *said_of_analysis, *to_sign, *cautions):
        assert said in text, said


def test_findings_lead_to_rows_and_back() -> None:
    workbook = load(book.render(sample()))
    findings = workbook["Findings"]
    forward = 0
    for number, finding in enumerate(sample().findings):
        cell = findings.cell(FIRST_ROW + number, 3)
        assert cell.value == finding.subject.id
        name, place = cell.hyperlink.location.split("!")
        target = workbook[name.strip("'")][place]
        assert target.value == finding.subject.id
        back = next(
            c for c in workbook[name.strip("'")][target.row] if c.hyperlink and "Findings" in c.hyperlink.location
        )
        assert findings[back.hyperlink.location.split("!")[1]].row == FIRST_ROW + number
        assert finding.rule in back.value
        forward += 1
    assert forward == len(sample().findings)


def test_an_accepted_finding_stays_and_says_by_whom() -> None:
    sheet = load(book.render(sample()))["Findings"]
    assert "A. Example" in str(sheet.cell(FIRST_ROW + len(sample().findings) - 1, 8).value)


def test_what_is_not_known_is_shown_as_such() -> None:
    sheet = load(book.render(sample()))["Conductors"]
    titles = {str(c.value).split("\n")[0]: c.column for c in sheet[HEADER_ROW] if c.value}
    row = next(r for r in range(FIRST_ROW, FIRST_ROW + 40) if sheet.cell(r, 1).value == "W13")
    assert sheet.cell(row, titles["Load current"]).value == "–"
    assert sheet.cell(row, titles["Protected"]).value == "not determined"


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stays_text(text: str) -> None:
    content = book.render(hostile(text))
    workbook = load(content)
    ours = {cell.value for _, cell in formula_cells(load(book.render(sample())))}
    for sheet, cell in formula_cells(workbook):
        assert text not in str(cell.value) or cell.value in ours, f"{sheet.title}!{cell.coordinate}"
        assert str(cell.value).startswith(("=IF(", "='", "=Conditions!", "=COUNTIF(", "=MIN(", "=MAX(", "=SUM("))
    for sheet in workbook.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, str) and cell.data_type == "s":
                    assert len(cell.value) <= 32_767
                    if cell.value.startswith(("=", "+", "-", "@")):
                        assert cell.quotePrefix
                if cell.hyperlink is not None:
                    assert cell.hyperlink.target is None
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert not [name for name in archive.namelist() if "externalLink" in name or "vba" in name.lower()]


def test_hostile_workbook_opens_in_libreoffice(tmp_path: Path) -> None:
    for number, text in enumerate((HOSTILE[0], HOSTILE[7])):
        folder = tmp_path / str(number)
        folder.mkdir()
        values = recalculated(book.render(hostile(text)), folder)
        assert values["Conductors"].cell(FIRST_ROW, 1).value is not None
        assert "Err:" not in str(values["Findings"].cell(FIRST_ROW, 5).value)


def test_printed_pages_cut_no_column_off(tmp_path: Path) -> None:
    """Every column's header is on some page of its sheet, and on every page where the sheet is one page wide."""
    content = book.render(sample())
    printed = converted(content, tmp_path, "pdf")
    command = [need("pdftotext"), "-layout", str(printed), "-"]
    text = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    pages = text.split("\f")[:-1]
    workbook = load(content)
    # Of the sheet of edits only the statement is printed: its columns are for the formulas.
    assert len([page for page in pages if "Changed by hand: tool's run FAIL" in page]) == 1
    for name in set(PURPOSE) - {"Summary", "Charts", "Conditions", "Changed by hand"}:
        sheet = workbook[name]
        of_sheet = [page for page in pages if f"{name}: tool's run FAIL" in page]
        assert of_sheet, name
        if name in SECOND_TABLES and sheet.max_row > HEADER_ROW + MOST_PRINTED:
            # Of a long second table the head alone, which says how to get the rows.
            assert len(of_sheet) == 1 and "where the print area is cleared" in of_sheet[0], name
            continue
        across = 1 + len(sheet.col_breaks.brk)
        heads = [re.split(r"[\n -]", str(c.value))[0] for c in sheet[HEADER_ROW] if c.value]
        assert len(of_sheet) % across == 0, (name, len(of_sheet))
        for first in range(0, len(of_sheet), across):
            side_by_side = of_sheet[first : first + across]
            assert all(any(head in page for page in side_by_side) for head in heads), name


def test_no_page_is_printed_of_a_sheet_without_a_row() -> None:
    """A sheet without a row is hidden, page one says which, and no link leads there."""
    results = replace(sample(), contacts=(), splices=(), switches=(), open_circuits=())
    workbook = load(book.render(results))
    hidden = {sheet.title for sheet in workbook.worksheets if sheet.sheet_state == "hidden"}
    assert {"Contacts", "Contacts in full", "Splices & switches", "Open circuits"} <= hidden
    assert "Conductors" not in hidden and "Charts" not in hidden
    page = workbook["Summary"]
    cells = {str(row[0].value): row[1].value for row in page.iter_rows(max_col=2)}
    assert all(name in cells["Hidden"] for name in hidden)
    leads = {
        str(cell.hyperlink.location).split("!")[0].strip("'") for row in page for cell in row if cell.hyperlink
    }
    assert not leads & hidden and "Conductors" in leads
    contents = next(cell for row in page for cell in row if str(cell.value).startswith("Contents: row"))
    at = int(str(contents.value).rsplit(" ", 1)[1])
    assert str(page.cell(at, 1).value).startswith("Contents: sheets") and contents.row < 10
    by_hand = workbook["By hand"]
    area = str(by_hand.print_area).rsplit("$", 1)[1]
    printed = {by_hand.cell(row, 1).value for row in range(FIRST_ROW, int(area) + 1)}
    assert len(printed) <= 5


def test_a_title_is_on_one_page_and_not_cut_on_the_next() -> None:
    """A sheet of several pages side by side repeats its first column, in which a title would be cut."""
    workbook = load(book.render(sample()))
    wide = [sheet for sheet in workbook.worksheets if sheet.print_title_cols]
    assert wide
    for sheet in wide:
        assert sheet["A1"].value is None and sheet["A2"].value is None and sheet["B1"].value and sheet["B2"].value
        assert any(str(area).startswith("B2:") for area in sheet.merged_cells.ranges)


def test_an_empty_harness_makes_a_workbook(tmp_path: Path) -> None:
    results = sample()
    empty = replace(results, **{f.name: () for f in fields(Results) if isinstance(getattr(results, f.name), tuple)})  # type: ignore[arg-type]
    assert recalculated(book.render(empty), tmp_path).sheetnames == list(PURPOSE)


def test_no_head_of_a_section_stands_alone_at_the_foot_of_page_one() -> None:
    """The heights of the rows are added up here from break to break, against the room between the margins."""
    many = tuple(
        Finding(
            "path-unprotected", Severity.ERROR, Subject(f"W{n}"), f"Conductor W{n} " + "is too hot " * 20, "Mend."
        )
        for n in range(1, 40)
    )
    for count in (0, 3, 6, 9, 39):
        workbook = load(book.render(replace(sample(), findings=many[:count])))
        sheet = workbook["Summary"]
        room = 595.3 - 72.0 * (sheet.page_margins.top + sheet.page_margins.bottom)
        ends = {found.id for found in sheet.row_breaks.brk}
        heads = {
            row for row in range(1, sheet.max_row + 1) if sheet.cell(row, 1).fill.fgColor.rgb == style.HEADER_FILL
        }
        used = 0.0
        for row in range(1, sheet.max_row + 1):
            height = sheet.row_dimensions[row].height or 15.0
            if row - 1 in ends or used + height > room:
                used = 0.0
            if row in heads and row < sheet.max_row:
                after = sheet.row_dimensions[row + 1].height or 15.0
                assert used + height + after <= room, (count, row, sheet.cell(row, 1).value)
            used += height
