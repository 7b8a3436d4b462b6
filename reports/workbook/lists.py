"""The sheets of sources, of assumptions, of open points, and of explanations."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.results import Results
from loadloom.reports.ends import joined_directly
from loadloom.reports.open_points import in_one_line, open_points, worst_rows
from loadloom.reports.rule_reference import meanings
from loadloom.reports.sensitivity_words import worse
from loadloom.reports.workbook import places as at
from loadloom.reports.workbook.places import Places
from loadloom.reports.workbook.table import HEADER_ROW, Column, Edit, Pen, joined, start_sheet, write_table


def write_sources(sheet: Worksheet, pen: Pen, results: Results) -> None:
    """Every source used, with edition."""
    start_sheet(
        sheet,
        pen,
        at.SOURCES,
        "Every source that a rating, a curve or a finding rests on. Hold your own edition against it.",
    )
    used = list(results.sources.items())
    columns = [
        Column("id", "Source", [name for name, _ in used], bold=True, width=24),
        Column("citation", "Citation, with edition", [text for _, text in used], width=110),
    ]
    write_table(sheet, pen, columns)


def write_by_hand(sheet: Worksheet, pen: Pen, results: Results) -> None:
    """How the allowed current and the sustained fault current of every part come about, a line a row."""
    start_sheet(
        sheet,
        pen,
        at.BY_HAND,
        "From the table's row to the allowed current, and from the source's voltage and the loop's resistances to "
        f"the sustained fault current, the worst parts first; of these the first {_ON_PAPER} are printed. Empty in "
        "a harness of more than 1,000 parts: ask for one with --explain.",
    )
    told = [row for row in (*results.conductors, *results.contacts) if row.explanation]
    rank = {part: n for n, (part, _, _) in enumerate(worst_rows(results, _ALL))}
    told.sort(key=lambda row: rank.get(row.id, len(rank)))
    entries = [(row.id, line) for row in told for line in row.explanation]
    columns = [
        Column("id", "Part", [name for name, _ in entries], bold=True, width=16),
        Column("text", "Line", [line for _, line in entries], width=130),
    ]
    write_table(sheet, pen, columns)
    printed = sum(len(row.explanation) for row in told[:_ON_PAPER])
    sheet.print_area = f"A1:B{HEADER_ROW + max(printed, 1)}"


_ON_PAPER, _ALL = 5, 10**9
"""Parts whose derivation is printed: those of the list on page one."""


def write_joined(sheet: Worksheet, pen: Pen, results: Results) -> None:
    """Joints at which parts meet without a wire."""
    start_sheet(
        sheet,
        pen,
        at.JOINED,
        "The drawing joins these parts directly. Such a joint has no resistance, length or rating here, is not "
        "checked, and is in no order list. Where copper lies between, draw it.",
    )
    rows = joined_directly(results)
    columns = [
        Column("joint", "Joint", [row.joint for row in rows], bold=True, width=30),
        Column("parts", "Parts that meet there", [", ".join(row.parts) for row in rows], width=60),
        Column("wires", "Wires that end there", [joined(row.conductors) for row in rows], width=40, blank=True),
    ]
    write_table(sheet, pen, columns)


def write_rules(sheet: Worksheet, pen: Pen, results: Results) -> None:
    """What each rule that found something means, with its formula and source."""
    start_sheet(
        sheet,
        pen,
        at.RULES,
        "The rules that found something here; the command “loadloom rules” prints all of them.",
    )
    known = list(meanings(results))
    columns = [
        Column("rule", "Rule", [rule["rule"] for rule in known], bold=True, width=22),
        Column("meaning", "Meaning", [rule["meaning"] for rule in known], width=46),
        Column("formula", "Formula", [rule["formula"] or None for rule in known], width=46),
        Column("source", "Source", [rule["source"] or None for rule in known], width=32),
    ]
    write_table(sheet, pen, columns)


def write_assumptions(sheet: Worksheet, pen: Pen, results: Results) -> None:
    """What was assumed, and what would turn under worse conditions."""
    start_sheet(
        sheet,
        pen,
        at.ASSUMPTIONS,
        "Nothing is assumed silently. Sensitivity is what would fail under worse conditions.",
    )
    entries: list[tuple[str, str]] = [("assumed", text) for text in results.assumptions]
    entries += [("sensitivity", worse(row)) for row in results.sensitivity]
    columns = [
        Column("number", "No.", [f"A{n}" for n, _ in enumerate(entries, 1)], width=7, bold=True),
        Column("kind", "Kind", [kind for kind, _ in entries], width=12, bold=True),
        Column("text", "Text", [text for _, text in entries], width=104),
        Column("closed", "Confirmed by, date", ["" for _ in entries], width=24, blank=True, edit=Edit.NONE),
    ]
    write_table(sheet, pen, columns)


def write_open_points(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Every open point with room for its owner, its date and its state."""
    start_sheet(
        sheet,
        pen,
        at.OPEN_POINTS,
        "Every error that is open, in the order of the worst parts, then all that is not determined; a blank is "
        "not a pass. Reasons and remedies stand under “Findings”. Give each an owner and a date, here or to last "
        "in the settings ([[open_point]]), and close it by a change of the drawing or by an acceptance.",
    )
    points = open_points(results)
    columns = [
        Column("number", "No.", [point.number for point in points], "number", bold=True, width=6),
        Column("part", "Part", [places.part(point.part) for point in points], bold=True, width=14),
        Column("kind", "Kind", [point.kind for point in points], width=14),
        Column("text", "Open point", [in_one_line(point, results) for point in points], width=60),
        Column("owner", "Owner", [point.owner for point in points], width=16, blank=True, edit=Edit.NONE),
        Column("due", "Due", [point.due for point in points], width=11, blank=True, edit=Edit.NONE),
        Column("state", "State", [point.state for point in points], width=10, edit=Edit.NONE),
        Column("closed", "Closed by, date", ["" for _ in points], width=16, blank=True, edit=Edit.NONE),
    ]
    write_table(sheet, pen, columns)
