"""The sheet of outputs, with the units below them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.results import OutputRow, Results, SupplyRow
from loadloom.reports.workbook import places as at
from loadloom.reports.workbook.cases import case_columns
from loadloom.reports.workbook.places import Places, supplies_header_row
from loadloom.reports.workbook.table import UNKNOWN, Column, Formula, Pen, ratios, start_sheet, write_table


def write_outputs(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> dict[str, str]:
    """Outputs, and the units below them; the letters of the outputs' columns by key."""
    note = (
        "Limit: the most that loads may ask of it; own trip: where it switches off by itself, so that a fault may "
        "hold more than the limit. Utilisation is live. An output's power is at its own voltage, a unit's after "
        "derating. All else, with the current in each case, is on the sheet “… in full”."
    )
    start_sheet(sheet, pen, at.OUTPUTS, note)
    rows = results.outputs
    letters = write_table(
        sheet,
        pen,
        [
            Column("id", "Output", [places.in_full(r.id) for r in rows], bold=True, width=16),
            Column("supply", "Unit", [places.unit(r.supply) for r in rows], width=14),
            Column("voltage", "Voltage", [r.voltage_v for r in rows], "number", "V", scaled=False, width=11),
            Column("current", "Current, worst", [r.current_a for r in rows], "number", "A", scaled=False, width=11),
            Column("limit", "Limit", [r.limit_a for r in rows], "number", "A", scaled=False, width=11),
            Column(
                "used",
                "Utilisation",
                ratios("current", "limit", [(r.current_a, r.limit_a) for r in rows], solved=True),
                "share",
                bold=True,
                width=11,
            ),
            Column("trip", "Own trip", [r.trip_a for r in rows], "number", "A", scaled=False, width=11),
            Column("power", "Power", [r.power_w for r in rows], "number", "W", scaled=False, width=11),
            *_run_time(rows),
            Column("findings", "Findings", [places.found(r.id, r.findings) for r in rows], width=30, blank=True),
        ],
    )
    units = results.supplies
    _write_units(
        sheet,
        pen,
        results,
        [
            Column("id", "Unit", [places.unit_in_full(r.id) for r in units], bold=True),
            Column("fan", "Fan", [{True: "stays off", False: "runs", None: None}[r.fan_off] for r in units]),
            Column("power", "Power given", [r.power_w for r in units], "number", "W", scaled=False),
            Column(
                "allowed",
                "Allowed power",
                [Formula(_ALLOWED_POWER, r.allowed_w) if r.allowed_w is not None else None for r in units],
                "number",
                "W",
                scaled=False,
            ),
            Column("nameplate", "Nameplate", [r.nameplate_w for r in units], "number", "W", scaled=False),
            Column(
                "used",
                "Utilisation",
                ratios("power", "allowed", [(r.power_w, r.allowed_w) for r in units], solved=True),
                "share",
                bold=True,
            ),
            Column("by_inside", "Left by inside temperature", [_left(r, "inside") for r in units], "share"),
            Column("by_mounting", "Left by mounting", [_left(r, "mounting") for r in units], "share"),
            Column("findings", "Findings", [places.found(r.id, r.findings) for r in units], blank=True),
        ],
    )
    return letters


def write_outputs_in_full(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """All else about outputs, with a column for each case, and about the units below them."""
    note = "What the tool's run found beside the table for review; an output or unit leads to its row there."
    start_sheet(sheet, pen, at.OUTPUTS_FULL, note)
    rows = results.outputs
    write_table(
        sheet,
        pen,
        [
            Column("id", "Output", [places.part(r.id) for r in rows], bold=True, width=16),
            Column("case", "Worst case", [r.case for r in rows], width=16),
            Column("tool", "Utilisation, tool's run", [r.utilisation for r in rows], "share", width=12),
            *case_columns(results, rows),
        ],
    )
    units = results.supplies
    _write_units(
        sheet,
        pen,
        results,
        [
            Column("id", "Unit", [places.unit(r.id) for r in units], bold=True),
            Column("case", "Worst case", [r.case for r in units]),
            Column("tool", "Utilisation, tool's run", [r.utilisation for r in units], "share"),
            Column("share", "Share of nameplate", [r.load_share for r in units], "share"),
            Column("efficiency", "Efficiency", [r.efficiency for r in units], "share"),
            Column("input", "Input", [r.input_w for r in units], "number", "W", scaled=False),
            Column("heat", "Waste heat", [r.heat_w for r in units], "number", "W", scaled=False),
            Column("inside", "Inside temperature", [r.inside_c for r in units], "number", "°C"),
            Column("mounting", "Mounting", [_mounting(r) for r in units], blank=True),
        ],
    )


def write_converters(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """What converters draw, give and lose, case by case."""
    note = (
        "In each load case the steady state in which the input draws most. The output is on the sheet of outputs, "
        "the input among the loads."
    )
    start_sheet(sheet, pen, at.CONVERTERS, note)
    rows = [(row, case, there) for row in results.converters for case, there in row.cases.items()]
    into = [(there.input_a, row.input_limit_a) for row, _, there in rows]
    columns = [
        Column("id", "Converter", [places.part(row.id) for row, *_ in rows], bold=True, width=14),
        Column("case", "Load case", [case for _, case, _ in rows], width=22),
        Column("volts", "At its input", [c.input_v for *_, c in rows], "number", "V", scaled=False, width=10),
        Column("minimum", "Needs", [r.input_minimum_v for r, *_ in rows], "number", "V", scaled=False, width=10),
        Column("current", "Into it", [c.input_a for *_, c in rows], "number", "A", scaled=False, width=10),
        Column(
            "limit", "Takes", [r.input_limit_a for r, *_ in rows], "number", "A", scaled=False, width=10, blank=True
        ),
        Column("used", "Utilisation", ratios("current", "limit", into, solved=True), "share", width=11, blank=True),
        Column("input", "Power into it", [c.input_w for *_, c in rows], "number", "W", scaled=False, width=10),
        Column("output", "Power out of it", [c.output_w for *_, c in rows], "number", "W", scaled=False, width=10),
        Column("efficiency", "Efficiency used", [c.efficiency for *_, c in rows], "share", width=11, blank=True),
        Column("heat", "Waste heat", [c.heat_w for *_, c in rows], "number", "W", scaled=False, width=10),
        Column("findings", "Findings", [places.found(r.id, r.findings) for r, *_ in rows], width=24, blank=True),
    ]
    write_table(sheet, pen, columns)


def _write_units(sheet: Worksheet, pen: Pen, results: Results, columns: list[Column]) -> None:
    """The table of units below the one of outputs."""
    header = supplies_header_row(results)
    pen.put(sheet, header - 1, 1, "Units", bold=True, size=11, border=None)
    write_table(sheet, pen, columns, header_row=header, main=False)


def _run_time(rows: Sequence[OutputRow]) -> list[Column]:
    """How long batteries last, where there is one that says its capacity."""
    hours = [None if r.run_time_s is None else r.run_time_s / 3600.0 for r in rows]
    if all(h is None for h in hours):
        return []
    return [Column("run_time", "Run time, shortest", hours, "number", "h", scaled=False)]


_ALLOWED_POWER = f'=IF(ISNUMBER({{nameplate}}),{{nameplate}}*{{by_inside}}*{{by_mounting}},"{UNKNOWN}")'


def _left(unit: SupplyRow, kind: str) -> float | None:
    """What one kind of derating leaves of a unit's power; None where nothing can be said."""
    return None if unit.allowed_w is None else math.prod(f.factor for f in unit.factors if f.kind == kind)


def _mounting(unit: SupplyRow) -> str | None:
    return "; ".join(f"{f.reason}: {100.0 * f.factor:.3g} %" for f in unit.factors if f.kind == "mounting") or None
