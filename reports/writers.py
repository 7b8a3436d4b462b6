"""Which suffix is written by what."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from loadloom.reports.safe_file import WriteError

if TYPE_CHECKING:
    from loadloom.graph.model.results import Results
    from loadloom.reports.order_list import OrderList

Writer = Callable[["Results"], bytes]


def _json(results: Results) -> bytes:
    from loadloom.reports.results_json import render

    return render(results)


def _xlsx(results: Results) -> bytes:
    from loadloom.reports.workbook.book import render

    return render(results)


def _html(results: Results) -> bytes:
    from loadloom.reports.page import render

    return render(results)


def _csv(results: Results) -> bytes:
    from loadloom.reports import csv_table

    return csv_table.load_table(results)


def _csv_of(table: str) -> Writer:
    def write(results: Results) -> bytes:
        from loadloom.reports import csv_table

        return csv_table.table(results, table)

    return write


def _sarif(results: Results) -> bytes:
    from loadloom.reports.sarif import render

    return render(results)


def _junit(results: Results) -> bytes:
    from loadloom.reports.junit import render

    return render(results)


def _annotations(results: Results) -> bytes:
    from loadloom.reports import annotations

    return annotations.render(results).encode("utf-8")


CSV_TABLES = (
    "outputs",
    "supplies",
    "devices",
    "conductors",
    "contacts",
    "splices",
    "switches",
    "loads",
    "open_circuits",
    "faults",
    "short_circuits",
    "arrangements",
    "fault_powers",
    "findings",
    "assumptions",
    "sensitivity",
)

WRITERS: dict[str, Writer] = {
    ".json": _json,
    ".xlsx": _xlsx,
    ".html": _html,
    ".csv": _csv,
    ".sarif": _sarif,
    ".junit.xml": _junit,
    ".annotations.txt": _annotations,
    **{f".{table}.csv": _csv_of(table) for table in CSV_TABLES},
}
"""Writer by suffix. ``x.csv`` is the load table (conductors and contacts); ``x.findings.csv`` is that table."""


def writer_for(path: Path) -> Writer:
    """The writer of the longest suffix that a file name ends with, whatever its case.

    Raises:
        WriteError: no report has that suffix.
    """
    name = path.name.lower()
    known = [suffix for suffix in WRITERS if name.endswith(suffix)]
    if not known:
        plain = ", ".join(s for s in WRITERS if not (s.endswith(".csv") and s != ".csv"))
        raise WriteError(path, f"no report is written as that; the suffix must be one of {plain}")
    return WRITERS[max(known, key=len)]


def check_suffix(path: Path) -> None:
    """Refuse a suffix that no report has, before any work is done.

    Raises:
        WriteError: no report has that suffix.
    """
    writer_for(path)


def rendered(results: Results, path: Path, since: Results | None = None, order: OrderList | None = None) -> bytes:
    """A report in the format of the path's suffix.

    ``since``: results of the last revision, which workbook and page compare with. ``order``: what is to be ordered,
    which workbook and page show.

    Raises:
        WriteError: no report has that suffix.
    """
    writer = writer_for(path)
    if writer is _xlsx:
        from loadloom.reports.workbook.book import render as workbook

        return workbook(results, since, order)
    if writer is _html:
        from loadloom.reports.page import render as page

        return page(results, since=since, order=order)
    return writer(results)
