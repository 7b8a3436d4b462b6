"""The sheet of single open circuits."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.results import Results
from loadloom.reports.workbook import places as at
from loadloom.reports.workbook.currents import ANEW, JUST_OVER, OK, OVER
from loadloom.reports.workbook.places import Places
from loadloom.reports.workbook.table import (
    STATE,
    UNKNOWN,
    Column,
    Content,
    Formula,
    Pen,
    joined,
    start_sheet,
    warn_of_edits,
    write_table,
)


def write_open_circuits(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Open circuits, one conductor or contact at a time."""
    start_sheet(
        sheet,
        pen,
        at.OPEN_CIRCUITS,
        "One conductor or contact opened at a time: the worst part after it, and the loads that lose supply.",
    )
    rows = results.open_circuits
    warn_of_edits(sheet, pen)
    columns = [
        Column("opened", "Opened", [places.part(r.opened) for r in rows], bold=True, width=20),
        Column("case", "Load case", [r.case for r in rows], width=20),
        Column("worst", "Worst part after it", [places.part(r.worst) for r in rows], width=20, blank=True),
        Column(
            "current",
            "Its current",
            [r.worst_current_a for r in rows],
            "number",
            "A",
            scaled=False,
            blank=True,
            width=11,
        ),
        Column(
            "allowed",
            "Its allowed current",
            [_blank_if(r.worst is None, places.allowed(r.worst, r.worst_allowed_a, "{worst}")) for r in rows],
            "number",
            "A",
            scaled=False,
            width=11,
            blank=True,
        ),
        Column(
            "judged",
            "Judged",
            [_judged(r.worst, r.worst_current_a, r.worst_allowed_a) for r in rows],
            width=14,
            blank=True,
        ),
        Column(
            "loses_supply", "Loads that lose supply", [joined(r.loses_supply) for r in rows], width=50, blank=True
        ),
    ]
    write_table(sheet, pen, columns)


def _blank_if(condition: bool, value: Content) -> Content:
    return None if condition else UNKNOWN if value is None else value


def _judged(worst: str | None, current: float | None, allowed: float | None) -> Content:
    if worst is None:
        return "no parallel path"
    said = "? not rated" if current is None or allowed is None else OK
    if current is not None and allowed is not None and current > allowed * float(JUST_OVER):
        said = OVER
    # With other ratings another part may be the worst one after it, of which this sheet does not know.
    over = f'IF({{current}}>{{allowed}}*{JUST_OVER},"{OVER}",IF({STATE}>0,"{ANEW}","{OK}"))'
    known = "AND(ISNUMBER({current}),ISNUMBER({allowed}))"
    return Formula(f'=IF({STATE}>2,"{ANEW}",IF({known},{over},"? not rated"))', said)
