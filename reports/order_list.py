"""What to order and to build from: tables of wire, contacts, devices and settings, the wire list, and labels.

The tables know nothing of a drawing; ``plugin.order`` fills them. They go into a workbook of their own, into the
review workbook, and the labels into a CSV file for a printer.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import Results
from loadloom.reports.safe_text import csv_text

if TYPE_CHECKING:
    from openpyxl import Workbook

    from loadloom.reports.workbook.table import Column, Pen

WIRE, CONTACTS, DEVICES, SETTINGS = "Order wire", "Order contacts", "Order devices", "Settings list"
CONTACTS_IN_ALL = "Contacts in all"
WIRE_LIST, LABELS = "Wire list", "Labels"

ALLOWANCE = 0.1
"""Share of the length as drawn that is ordered beyond it: common practice, no published source."""
END_ALLOWANCE_M = 0.02
"""Length at either end for cutting, stripping and crimping: common practice, no published source."""

Value = str | float | int | None


@dataclass(frozen=True, slots=True)
class OrderColumn:
    """A column: lengths in m and currents in A have their unit, counts and texts have none."""

    title: str
    values: Sequence[Value]
    unit: str = ""
    wide: float | None = None


@dataclass(frozen=True, slots=True)
class OrderTable:
    """One table with the statement above it."""

    name: str
    note: str
    columns: tuple[OrderColumn, ...]

    @property
    def rows(self) -> int:
        """How many rows it has."""
        return max((len(column.values) for column in self.columns), default=0)


@dataclass(frozen=True, slots=True)
class OrderList:
    """All tables in their order; ``labels`` are rows of (label, text of the end here, text of the end there)."""

    tables: tuple[OrderTable, ...]
    labels: tuple[tuple[str, str, str], ...]

    def table(self, name: str) -> OrderTable:
        """The table of a name."""
        return next(table for table in self.tables if table.name == name)


def rounded_up(length_m: float) -> float:
    """A length in m rounded up to the centimetre: what is ordered is never a little short."""
    return math.ceil(round(100.0 * length_m, 4)) / 100.0


def said_first(verdict: Verdict) -> str:
    """What stands before an order table of a drawing that does not pass, with a space behind it."""
    if verdict is Verdict.PASS:
        return ""
    return f"{verdict.upper()}: these are the parts as drawn; mend what is open before you order them. "


def labels_csv(order: OrderList) -> bytes:
    """The labels to print, one row for each end of each wire: UTF-8, comma, CRLF (RFC 4180)."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(("Label", "Here", "There"))
    writer.writerows([csv_text(text) for text in row] for row in order.labels)
    return stream.getvalue().encode("utf-8", "replace")


def workbook(order: OrderList, results: Results) -> bytes:
    """The order list as a workbook of its own."""
    from loadloom.reports.safe_text import visible
    from loadloom.reports.workbook.book import moment
    from loadloom.reports.workbook.package import repeatable
    from loadloom.reports.workbook.style import new_workbook
    from loadloom.reports.workbook.table import Pen

    made, pen = new_workbook(), Pen()
    add_sheets(made, pen, order, results)
    made.calculation.fullCalcOnLoad = True
    made.properties.creator = f"loadloom {visible(results.tool_version)}"
    made.properties.title = "To order and to build by"
    made.properties.created = moment(results.date)
    return repeatable(made, moment(results.date), pen.sheets)


def add_sheets(made: Workbook, pen: Pen, order: OrderList, results: Results, index: int | None = None) -> None:
    """Add a sheet for every table; ``index``: before which sheet (None = at the end)."""
    from loadloom.reports.about_words import banner
    from loadloom.reports.workbook.book import set_up_page
    from loadloom.reports.workbook.table import start_sheet, write_table

    where = results.provenance
    named = " ".join(filter(None, (where.title or where.file, f"rev {where.revision}" if where.revision else "")))
    said = f"{banner(results)} " if banner(results) else ""
    for number, table in enumerate(order.tables):
        sheet = made.create_sheet(table.name, None if index is None else index + number)
        start_sheet(sheet, pen, f"{table.name}: {named}", f"{said}{said_first(results.verdict)}{table.note}")
        write_table(sheet, pen, [_column(n, column) for n, column in enumerate(table.columns)])
        set_up_page(sheet, results)
        if not table.rows and order.tables[0].rows:
            sheet.sheet_state = "hidden"  # no blank page is printed


TO_ORDER, LENGTH, CUT, SHARE = "To order", "Length as drawn", "Cut length", "Allowance"


def _column(number: int, column: OrderColumn) -> Column:
    from loadloom.reports.workbook.table import Column, Edit, Formula

    text = all(value is None or isinstance(value, str) for value in column.values)
    kind = "text" if text else "share" if column.title == SHARE else "number"
    values: Sequence[object] = column.values
    if column.title == TO_ORDER:
        # The allowance is to be changed by whoever orders.
        values = [
            None if value is None else Formula("=ROUNDUP(ROUND({c5}*(1+{c6}),6),2)", value)
            for value in column.values
            if not isinstance(value, str)
        ]
    return Column(
        f"c{number}",
        column.title,
        values,  # type: ignore[arg-type]
        kind,
        column.unit,
        "input" if column.title == SHARE else "",
        width=column.wide,
        bold=number == 0,
        blank=True,
        scaled=False,
        edit=Edit.NONE,
    )
