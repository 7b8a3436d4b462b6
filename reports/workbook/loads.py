"""The sheet of loads."""

from __future__ import annotations

from collections.abc import Iterable

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.results import Results
from loadloom.reports.workbook import places as at
from loadloom.reports.workbook.cases import case_columns
from loadloom.reports.workbook.places import Places
from loadloom.reports.workbook.table import Column, Edit, Pen, differences, joined, start_sheet, write_table


def write_loads(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Loads: what they draw and what voltage they get."""
    note = (
        "Least voltage: lowest output voltage, hot conductors, aged contacts. Greatest: highest output voltage, "
        "least other load. Margin is a live formula. The current in each case is on the sheet “… in full”."
    )
    start_sheet(sheet, pen, at.LOADS, note)
    rows = results.loads
    columns = [
        Column("id", "Load", [places.in_full(r.id) for r in rows], bold=True, width=9),
        Column("function", "Function", [r.function for r in rows], width=20, blank=True),
        Column("demand", "Demand as drawn", [r.demand or None for r in rows], width=13),
        Column("fed", "Fed by", [joined(r.fed_by) for r in rows], width=12),
        Column("current", "Current, worst", [r.current_a for r in rows], "number", "A", scaled=False, width=9),
        Column("drop", "Drop, out and back", [r.drop_v for r in rows], "number", "V", width=9),
        Column("voltage", "Least voltage", [r.voltage_v for r in rows], "number", "V", scaled=False, width=9),
        Column(
            "minimum",
            "Minimum wanted",
            [r.minimum_v for r in rows],
            "number",
            "V",
            "input",
            scaled=False,
            edit=Edit.RATING,
            width=10,
        ),
        Column(
            "margin",
            "Margin",
            differences("voltage", "minimum", [(r.voltage_v, r.minimum_v) for r in rows]),
            "number",
            "V",
            bold=True,
            scaled=False,
            width=9,
        ),
        Column("high", "Greatest voltage", [r.voltage_high_v for r in rows], "number", "V", scaled=False, width=9),
        Column("maximum", "Maximum allowed", [r.maximum_v for r in rows], "number", "V", scaled=False, width=10),
        Column("findings", "Findings", [places.found(r.id, r.findings) for r in rows], width=24, blank=True),
    ]
    write_table(sheet, pen, columns)


def write_loads_in_full(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """All else about the loads, with a column for each case."""
    note = "What the tool's run found beside the table for review; a load leads to its row there."
    start_sheet(sheet, pen, at.LOADS_FULL, note)
    rows = results.loads
    columns = [
        Column("id", "Load", [places.part(r.id) for r in rows], bold=True, width=9),
        Column("case", "Worst case", [r.case for r in rows], width=14),
        Column("power", "Power", [r.power_w for r in rows], "number", "W", scaled=False, width=9),
        Column(
            "durations", "States with a duration", [_durations(r.duration_s) for r in rows], width=22, blank=True
        ),
        *case_columns(results, rows),
    ]
    write_table(sheet, pen, columns)


def write_starts(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """What loads draw when they are switched on or stand still."""
    note = (
        "The greatest current of each start, inrush or stall, how long it lasts, and its heat. Of a stall: what is "
        "certain to open, and how fast; nothing named means that nothing is certain to."
    )
    start_sheet(sheet, pen, at.STARTS, note)
    rows = results.starts
    columns = [
        Column("id", "Load", [places.part(r.id) for r in rows], bold=True, width=14),
        Column("kind", "Kind", [r.kind for r in rows], width=12),
        Column("case", "Load case", [r.case for r in rows], width=22),
        Column("current", "Current", [r.current_a for r in rows], "number", "A", scaled=False, width=10),
        # Microseconds and seconds stand in one column: in milliseconds none needs a power of ten.
        Column(
            "duration", "Lasts", _milliseconds(r.duration_s for r in rows), "number", "ms", scaled=False, width=11
        ),
        Column("heat", "I²t", [r.i2t_a2s for r in rows], "number", "A²s", width=10),
        Column("least", "Least, of a stall", [r.least_a for r in rows], "number", "A", scaled=False, blank=True),
        Column("cleared", "Opens", [joined(r.cleared_by) for r in rows], width=18, blank=True),
        Column(
            "fastest",
            "At the soonest",
            _milliseconds(r.opens_fastest_s for r in rows),
            "number",
            "ms",
            scaled=False,
            blank=True,
        ),
        Column(
            "slowest",
            "At the latest",
            _milliseconds(r.opens_slowest_s for r in rows),
            "number",
            "ms",
            scaled=False,
            blank=True,
        ),
    ]
    write_table(sheet, pen, columns)


def _milliseconds(seconds: Iterable[float | None]) -> list[float | None]:
    return [None if s is None else 1000.0 * s for s in seconds]


def _durations(durations: dict[str, float | None]) -> str | None:
    return (
        ", ".join(f"{case}: {seconds:.3g} s" for case, seconds in durations.items() if seconds is not None) or None
    )
