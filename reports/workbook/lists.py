"""The sheets of sources, and of assumptions and open points."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.results import Results
from loadloom.reports.sensitivity_words import worse
from loadloom.reports.titles import leaves_open
from loadloom.reports.workbook import places as at
from loadloom.reports.workbook.table import Column, Pen, start_sheet, write_table


def write_sources(sheet: Worksheet, pen: Pen, results: Results) -> None:
    """Every source used, with edition."""
    start_sheet(
        sheet,
        pen,
        at.SOURCES,
        "Every source that a rating, a curve or a finding leans on. Hold your own edition against it.",
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
        "the sustained fault current. Empty in a harness of more than 1,000 parts: ask for one with --explain.",
    )
    entries = [(row.id, line) for row in (*results.conductors, *results.contacts) for line in row.explanation]
    columns = [
        Column("id", "Part", [name for name, _ in entries], bold=True, width=24),
        Column("text", "Line", [line for _, line in entries], width=150),
    ]
    write_table(sheet, pen, columns)


def write_assumptions(sheet: Worksheet, pen: Pen, results: Results) -> None:
    """What was assumed, and what is still open."""
    start_sheet(
        sheet,
        pen,
        at.ASSUMPTIONS,
        "Nothing is assumed silently. Open points are what could not be determined; a blank is not a pass. "
        "Sensitivity is what would fail under worse conditions.",
    )
    entries: list[tuple[str, str]] = [("assumed", text) for text in results.assumptions]
    entries += [("open", text) for text in open_points(results)]
    entries += [("sensitivity", worse(row)) for row in results.sensitivity]
    columns = [
        Column("kind", "Kind", [kind for kind, _ in entries], width=12, bold=True),
        Column("text", "Text", [text for _, text in entries], width=110),
        Column("closed", "Closed by, date", ["" for _ in entries], width=26, blank=True),
    ]
    write_table(sheet, pen, columns)


def open_points(results: Results) -> list[str]:
    """What could not be determined, one sentence each."""
    unjudged = [f for f in results.findings if leaves_open(f.rule)]
    points = [f.message if f.subject.id in f.message else f"{f.subject.id}: {f.message}" for f in unjudged]
    for name, rows in (("conductor", results.conductors), ("contact", results.contacts)):
        for row in rows:
            if row.allowed_a is None:
                why = row.rating.missing if row.rating and row.rating.missing else "no rating"
                points.append(f"{name.capitalize()} {row.id} is not rated: {why}.")
            elif row.protected is None:
                why = row.protected_note or "no reason is stated"
                points.append(f"Whether {name} {row.id} is protected is not determined: {why}.")
    points += [f"Device {d.id} has no known setting." for d in results.devices if d.setting_a is None]
    return points
