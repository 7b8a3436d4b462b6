"""The workbook as a whole: its sheets in order, their page set-up, and bytes that repeat."""

from __future__ import annotations

import datetime
from collections.abc import Callable

from openpyxl import Workbook
from openpyxl.utils import column_index_from_string, get_column_letter
from openpyxl.worksheet.dimensions import ColumnDimension
from openpyxl.worksheet.header_footer import HeaderFooterItem
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.results import Results
from loadloom.reports.about_words import is_drawn, mark, marked_verdict
from loadloom.reports.comparison.changes import compare
from loadloom.reports.comparison.writers import write_changes
from loadloom.reports.ends import ends, joined_directly
from loadloom.reports.order_list import LABELS, OrderList, add_sheets
from loadloom.reports.safe_text import page_text
from loadloom.reports.workbook import (
    chains,
    charts,
    conditions,
    currents,
    devices,
    edits,
    faults,
    findings,
    lists,
    loads,
    open_circuits,
    outputs,
    places,
    style,
    summary,
)
from loadloom.reports.workbook.package import repeatable
from loadloom.reports.workbook.places import Places
from loadloom.reports.workbook.table import ACROSS, HEADER_ROW, MARGIN_IN, Pen, fits_a_page

_A4 = 9
_TABLES: dict[str, Callable[[Worksheet, Pen, Results, Places], None]] = {
    places.OPEN_POINTS: lists.write_open_points,
    places.FINDINGS: findings.write_findings,
    places.FINDINGS_FULL: findings.write_findings_in_full,
    places.CONDUCTORS_FULL: currents.write_conductors_in_full,
    places.CONTACTS_FULL: currents.write_contacts_in_full,
    places.LOADS_FULL: loads.write_loads_in_full,
    places.OUTPUTS_FULL: outputs.write_outputs_in_full,
    places.DEVICES_FULL: devices.write_devices_in_full,
    places.LOADS: loads.write_loads,
    places.DEVICES: devices.write_devices,
    places.SPLICES: devices.write_splices,
    places.OPEN_CIRCUITS: open_circuits.write_open_circuits,
    places.FAULTS: faults.write_faults,
    places.SHORTS: faults.write_shorts,
    places.ARRANGEMENTS: faults.write_arrangements,
    places.POWER_AVAILABLE_TO_FAULT: faults.write_power_available_to_fault,
}
"""Sheets that need nothing but the results and the places, and that no other sheet rests on."""
_EARLIEST, _LATEST = datetime.datetime(1980, 1, 1), datetime.datetime(2107, 12, 31)
"""The first and last day that a zip archive can hold: PKWARE's APPNOTE 4.4.6, seven bits for the year from 1980."""


def render(results: Results, since: Results | None = None, order: OrderList | None = None) -> bytes:
    """The review workbook; the same results give the same bytes. ``since``: those of the last revision.

    ``order``: what is to be ordered, for the sheets to order and build by.
    """
    workbook, pen = drawn(results, since, order)
    return repeatable(workbook, moment(results.date), pen.sheets)


def drawn(results: Results, since: Results | None = None, order: OrderList | None = None) -> tuple[Workbook, Pen]:
    """The workbook without cells, and the pen that wrote them."""
    workbook = style.new_workbook()
    names = list(places.PURPOSE)
    changed = compare(since, results) if since is not None else None
    if changed is not None:
        names.insert(names.index(places.FINDINGS), places.CHANGES)
    if results.starts:
        names.insert(names.index(places.OUTPUTS), places.STARTS)
    if results.converters:
        names.insert(names.index(places.OUTPUTS), places.CONVERTERS)
    if joined_directly(results):
        names.insert(names.index(places.CONDITIONS), places.JOINED)
    sheets: dict[str, Worksheet] = {name: workbook.create_sheet(name) for name in names}
    in_order = list(names)
    if order is not None:
        before = in_order.index(places.CONDITIONS)
        in_order[before:before] = [table.name for table in order.tables]
    pen, where, held = Pen(), Places.of(results), conditions.Conditions.of(results)
    letters: dict[str, dict[str, str]] = {}
    conditions.write(sheets[places.CONDITIONS], pen, held)
    chain = chains.write(sheets[places.RATINGS], pen, results, where, held)
    chains.write_in_full(sheets[places.RATINGS_FULL], pen, results, where, held)
    letters[places.CONDUCTORS] = currents.write_conductors(
        sheets[places.CONDUCTORS], pen, results, where, held, chain, ends(results)
    )
    letters[places.CONTACTS] = currents.write_contacts(sheets[places.CONTACTS], pen, results, where, held, chain)
    letters[places.OUTPUTS] = outputs.write_outputs(sheets[places.OUTPUTS], pen, results, where)
    for name, write in _TABLES.items():
        write(sheets[name], pen, results, where)
    if results.starts:
        loads.write_starts(sheets[places.STARTS], pen, results, where)
    if results.converters:
        outputs.write_converters(sheets[places.CONVERTERS], pen, results, where)
    if places.JOINED in sheets:
        lists.write_joined(sheets[places.JOINED], pen, results)
    lists.write_by_hand(sheets[places.BY_HAND], pen, results)
    lists.write_rules(sheets[places.RULES], pen, results)
    lists.write_sources(sheets[places.SOURCES], pen, results)
    lists.write_assumptions(sheets[places.ASSUMPTIONS], pen, results)
    charts.write(sheets[places.CHARTS], pen, results, where, letters)
    if changed is not None:
        write_changes(sheets[places.CHANGES], pen, changed)
    edits.write(sheets[places.EDITS], pen)
    empty = [name for name, sheet in sheets.items() if name not in _NO_TABLE and _is_empty(sheet, pen)]
    for name in empty:
        sheets[name].sheet_state = "hidden"
    unsaid = {*empty, *(table.name for table in (order.tables if order is not None else ()) if not table.rows)}
    summary.write(sheets[places.SUMMARY], pen, results, letters, where, changed, in_order, unsaid, order)
    for sheet in sheets.values():
        set_up_page(sheet, results)
    summary.set_scale(sheets[places.SUMMARY])
    if order is not None:
        add_sheets(workbook, pen, order, results, names.index(places.CONDITIONS))
    for name in (*places.IN_FULL, LABELS):
        if name in workbook.sheetnames:
            _keep_off_paper(workbook[name], pen)
    sheets[
        places.SUMMARY
    ].print_area = f"A1:{get_column_letter(summary.LAST)}{pen.on(sheets[places.SUMMARY]).last_row()}"
    charts.set_up_page(sheets[places.CHARTS])
    # On paper the sheet of edits says whether there are any; its columns are for the formulas.
    sheets[places.EDITS].print_area = f"A1:F{HEADER_ROW - 1}"
    workbook.calculation.fullCalcOnLoad = True
    workbook.active = 0
    workbook.properties.creator = f"loadloom {results.tool_version}"
    said = "" if is_drawn(results) else f"{mark(results)}: "
    workbook.properties.title = f"{said}Load table for review"
    workbook.properties.created = moment(results.date)
    return workbook, pen


MOST_PRINTED = 20
"""Rows up to which a sheet “… in full”, or that of the labels, is printed."""
ON_SCREEN = "For the screen: its rows are printed where the print area is cleared."
_NO_TABLE = (places.SUMMARY, places.CHARTS, places.OUTPUTS, places.CONDITIONS, places.EDITS)
"""Sheets that say something without a row below the head of their first table."""


def _keep_off_paper(sheet: Worksheet, pen: Pen) -> None:
    """Print the head alone of a sheet with many rows that no review needs on paper, and say so there."""
    if pen.on(sheet).last_row() <= HEADER_ROW + MOST_PRINTED:
        return
    on_page = sheet.col_breaks.brk[0].id if sheet.col_breaks.brk else len(sheet.column_dimensions)
    sheet.print_area = f"A1:{get_column_letter(on_page)}{HEADER_ROW - 1}"
    column = 2 if sheet.col_breaks.brk else 1
    pen.put(sheet, 3, column, ON_SCREEN, colour=style.GREY, border=None)


def _is_empty(sheet: Worksheet, pen: Pen) -> bool:
    """Whether a sheet's table has no row: it is hidden, so that no blank page is printed."""
    return pen.on(sheet).last_row() <= HEADER_ROW


def moment(date: str) -> datetime.datetime:
    """Midnight of the report's date, or of the nearest that the file's format has; the first where it is none."""
    try:
        day = datetime.datetime.combine(datetime.date.fromisoformat(date[:10]), datetime.time())
    except ValueError:
        return _EARLIEST
    return min(max(day, _EARLIEST), _LATEST)


def set_up_page(sheet: Worksheet, results: Results) -> None:
    """A4 landscape in full size, with page numbers, title and revision at the foot.

    A table that is wider than the page is shrunk a little, or goes on to further pages to the right, each of which
    begins with the table's first column.
    """
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = _A4
    widths = [dimension.width for _, dimension in sorted(sheet.column_dimensions.items(), key=_column_number)]
    one_page = fits_a_page(widths)
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=one_page)
    if not one_page:
        sheet.print_title_cols = "A:A"
        sheet.page_setup.pageOrder = "overThenDown"
        sheet.page_setup.scale = 100
        for last in _ends_of_pages(widths):
            sheet.col_breaks.append(Break(id=last))
    margins = sheet.page_margins
    margins.left = margins.right = MARGIN_IN
    margins.top, margins.bottom = 0.5, 0.6
    margins.header = margins.footer = 0.3
    where = results.provenance
    named = " ".join(filter(None, (where.title or where.file, f"rev {where.revision}" if where.revision else "")))
    if not is_drawn(results):
        sheet.oddHeader = head = HeaderFooterItem()
        head.center.text, head.center.size = page_text(f"{mark(results)} – not the drawing as it stands"), 10
    sheet.oddFooter = foot = HeaderFooterItem()
    texts = (
        page_text(named),
        f"{page_text(sheet.title)}: tool's run {marked_verdict(results)}",
        f"{page_text(results.date)}  page &P of &N",
    )
    for part, text in zip((foot.left, foot.center, foot.right), texts, strict=True):
        part.text, part.size = text, 8


def _column_number(item: tuple[str, ColumnDimension]) -> int:
    number: int = column_index_from_string(item[0])
    return number


def _ends_of_pages(widths: list[float]) -> list[int]:
    """Numbers of the columns after which a page ends; pages but the first begin with the first column again."""
    ends, used = [], 0.0
    for number, width in enumerate(widths, 1):
        if number > 2 and used + width > ACROSS:
            ends.append(number - 1)
            used = widths[0]
        used += width
    return ends
