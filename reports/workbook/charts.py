"""Charts: utilisation of the parts that are used most, and the current of every output against its limit."""

from __future__ import annotations

import math

from openpyxl.chart import BarChart, Reference
from openpyxl.chart.label import DataLabelList
from openpyxl.chart.series import SeriesLabel
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.drawing.colors import ColorChoice
from openpyxl.drawing.fill import PatternFillProperties
from openpyxl.drawing.line import LineProperties
from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.results import CurrentRow, Results
from loadloom.reports.workbook.places import CHARTS, OUTPUTS, Places
from loadloom.reports.workbook.table import (
    FIRST_ROW,
    HEADER_ROW,
    UNKNOWN,
    Column,
    Formula,
    Pen,
    cell_of,
    start_sheet,
    write_table,
)

PARTS_SHOWN = 25
_ROW_CM = 0.53
"""Height of a row of one line."""
_WIDE_CM = 18
"""Width of a chart: A4 portrait between the margins."""
_FIRST_COLUMN, _LAST_COLUMN = "K", "U"
"""Columns that the charts take, behind the table of numbers."""
_PAGE_CM = 24.0
"""Height of A4 portrait between the margins and the foot."""
_BAR_END = 200
"""Where a bar ends, in percent, as on the page; the numbers beside the chart say how much more it is."""
_NOTE = (
    "The numbers behind the charts are live: they follow the other sheets. 100 % is the allowed current; bars end "
    f"at {_BAR_END} %."
)


def write(sheet: Worksheet, pen: Pen, results: Results, places: Places, letters: dict[str, dict[str, str]]) -> None:
    """Write the sheet; ``letters`` are the columns of the sheets that the charts draw on."""
    start_sheet(sheet, pen, CHARTS, _NOTE)
    rated = [r for r in (*results.conductors, *results.contacts) if r.allowed_a]
    worst = sorted(rated, key=lambda r: -max(r.utilisation or 0.0, _times(r) or 0.0))[:PARTS_SHOWN]

    def live(row: CurrentRow, key: str, value: float | None) -> Formula:
        sheet, number = places.rows[row.id]
        cell = cell_of(sheet, letters[sheet][key], number, "{part}")
        # In percent: on a scale of powers of ten, shares below 1 would be bars to the left.
        return Formula(f"=IF(ISNUMBER({cell}),100*{cell},{cell})", UNKNOWN if value is None else 100.0 * value)

    used = [live(r, "used", r.utilisation) for r in worst]
    times = [live(r, "times", _times(r)) for r in worst]
    out = letters[OUTPUTS]
    outputs = results.outputs
    cell = [
        tuple(f"={cell_of(OUTPUTS, out[key], FIRST_ROW + n, '{output}')}" for key in ("current", "limit"))
        for n in range(len(outputs))
    ]
    # The labels in the charts take the cells' formats.
    columns = [
        Column("part", "Part", [r.id for r in worst], width=14),
        Column("used", "Load over allowed", used, "number", "%", scaled=False, width=9, form="0"),
        Column("times", "Fault over allowed", times, "number", "%", scaled=False, width=9, form="0"),
        Column(
            "bar_used",
            "Load, bar",
            [_cut("used", f) for f in used],
            "number",
            "%",
            scaled=False,
            width=8,
            form=_BAR_FORM,
        ),
        Column(
            "bar_times",
            "Fault, bar",
            [_cut("times", f) for f in times],
            "number",
            "%",
            scaled=False,
            width=8,
            form=_BAR_FORM,
        ),
        Column("gap", "", [], width=2),
        Column("output", "Output", [r.id for r in outputs], width=14),
        Column(
            "current",
            "Current",
            [
                Formula(c, r.current_a if r.current_a is not None else "–")
                for (c, _), r in zip(cell, outputs, strict=True)
            ],
            "number",
            "A",
            scaled=False,
            width=9,
            form="0.0",
        ),
        Column(
            "limit",
            "Limit",
            [
                Formula(c, r.limit_a if r.limit_a is not None else "–")
                for (_, c), r in zip(cell, outputs, strict=True)
            ],
            "number",
            "A",
            scaled=False,
            width=9,
            form="0.0",
        ),
    ]
    write_table(sheet, pen, columns, main=False)
    sheet.freeze_panes = None
    areas = [f"A1:I{HEADER_ROW + max(len(worst), len(outputs), 1)}"]
    top = HEADER_ROW
    charts = [_outputs(sheet, len(outputs))] if outputs else []
    charts += [_margins(sheet, len(worst))] if worst else []
    together = sum(chart.height + 3 * _ROW_CM for chart in charts) <= _PAGE_CM
    begins = top
    for number, chart in enumerate(charts, 1):
        sheet.add_chart(chart, f"{_FIRST_COLUMN}{top}")
        last = top + math.ceil(chart.height / _ROW_CM) + 1
        if not together or number == len(charts):
            areas.append(f"{_FIRST_COLUMN}{begins}:{_LAST_COLUMN}{last}")
            begins = last + 2
        top = last + 2
    sheet.print_area = ",".join(areas)


_BAR_FORM = f'[>={_BAR_END}]"{_BAR_END} or more";0'


def _cut(key: str, whole: Formula) -> Formula:
    """A share in percent, no longer than a bar may be."""
    value = min(whole.value, _BAR_END) if isinstance(whole.value, float) else whole.value
    return Formula(f"=IF(ISNUMBER({{{key}}}),MIN({{{key}}},{_BAR_END}),{{{key}}})", value)


def set_up_page(sheet: Worksheet) -> None:
    """A4 portrait in full size: the numbers on the first page, each chart on one of its own."""
    sheet.page_setup.orientation = "portrait"


def _times(row: CurrentRow) -> float | None:
    """Sustained fault current over allowed current."""
    return row.sustained_fault_a / row.allowed_a if row.sustained_fault_a is not None and row.allowed_a else None


def _margins(sheet: Worksheet, rows: int) -> BarChart:
    """Both currents of the worst parts as bars, against the line of 100 %."""
    chart = BarChart()
    chart.type = "bar"
    chart.style = 10
    chart.title = f"Load and sustained fault current over allowed, the {rows} worst parts"
    last = FIRST_ROW + rows - 1
    chart.add_data(Reference(sheet, min_col=4, max_col=5, min_row=FIRST_ROW, max_row=last), titles_from_data=False)
    for series, name in zip(chart.series, ("Load", "Sustained fault"), strict=True):
        series.tx = SeriesLabel(v=name)
    chart.set_categories(Reference(sheet, min_col=1, min_row=FIRST_ROW, max_row=last))
    _paint(chart, 0, "5B8DB8", hatched=False)
    _paint(chart, 1, "B42318", hatched=True)
    chart.legend.position = "b"
    chart.gapWidth = 40
    chart.y_axis.scaling.min, chart.y_axis.scaling.max = 0, _BAR_END + 20
    chart.y_axis.majorUnit = 100
    chart.x_axis.crosses = "min"
    chart.x_axis.tickLblPos = "low"
    chart.y_axis.crosses = "max"
    chart.y_axis.number_format = "0"
    chart.y_axis.title = "% of the allowed current; more than 100 is too much"
    chart.x_axis.scaling.orientation = "maxMin"
    _labels(chart)
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.width, chart.height = _WIDE_CM, max(7.0, 3.6 + 0.85 * rows)
    return chart


def _outputs(sheet: Worksheet, rows: int) -> BarChart:
    chart = BarChart()
    chart.type = "bar"
    chart.style = 10
    chart.title = "Current by output, against its limit"
    chart.add_data(
        Reference(sheet, min_col=8, max_col=9, min_row=FIRST_ROW, max_row=HEADER_ROW + rows), titles_from_data=False
    )
    for series, name in zip(chart.series, ("Current", "Limit"), strict=True):
        series.tx = SeriesLabel(v=name)
    chart.set_categories(Reference(sheet, min_col=7, min_row=FIRST_ROW, max_row=FIRST_ROW + rows - 1))
    _paint(chart, 0, "5B8DB8", hatched=False)
    _paint(chart, 1, "6B7785", hatched=True)
    chart.gapWidth = 60
    chart.y_axis.scaling.min = 0
    chart.y_axis.crosses = "max"
    chart.y_axis.title = "A"
    chart.y_axis.number_format = "0"
    chart.x_axis.scaling.orientation = "maxMin"
    chart.legend.position = "b"
    _labels(chart)
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.width, chart.height = _WIDE_CM, max(6.5, 4.0 + 1.2 * rows)
    return chart


def _paint(chart: BarChart, number: int, colour: str, hatched: bool) -> None:
    """A series' fill with an outline; a hatching tells two series apart without colour."""
    look = GraphicalProperties(solidFill=None if hatched else colour, ln=LineProperties(solidFill="1F2933", w=6350))
    if hatched:
        ink, paper = _rgb(colour), _rgb("FFFFFF")
        look.pattFill = PatternFillProperties(prst="wdUpDiag", fgClr=ink, bgClr=paper)
    chart.series[number].graphicalProperties = look


def _labels(chart: BarChart) -> None:
    for series in chart.series:
        series.dLbls = DataLabelList(showVal=True, dLblPos="outEnd")
        series.dLbls.showSerName = series.dLbls.showCatName = series.dLbls.showLegendKey = False


def _rgb(colour: str) -> ColorChoice:
    choice: ColorChoice = ColorChoice()
    choice.RGB = colour
    return choice
