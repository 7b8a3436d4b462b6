"""Grids of texts from spreadsheets and CSV files, and back."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import read_bytes, read_text, shown

ROW_LIMIT = 100_000
UNPACKED_LIMIT_BYTES = 256 * 1024 * 1024
WHOLE_LIMIT_BYTES = 16 * 1024 * 1024
"""The largest spreadsheet, unpacked, that is held in memory as a whole, as its merged cells ask for."""


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: texts by row, each row with its number in the file (from 1). ``file`` and ``sheet`` say where."""

    file: Path
    sheet: str
    rows: tuple[tuple[int, tuple[str, ...]], ...]


def read_grids(path: Path) -> list[Grid]:
    """All sheets of an ``.xlsx``, or the one table of a ``.csv``, blank rows left out.

    Raises UnusableError for a file that is no such thing, or is too large.
    """
    return _from_xlsx(path) if path.suffix.lower() == ".xlsx" else [_from_csv(path)]


def _from_csv(path: Path) -> Grid:
    text = read_text(path, what="a wire list").text
    first = text.lstrip("\n").split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise UnusableError(f"is not a sound CSV file: {error}", shown(path)) from None
    if len(rows) > ROW_LIMIT:
        raise UnusableError(f"has more than {ROW_LIMIT:,} rows", shown(path))
    # What we write ourselves has an apostrophe before what a spreadsheet would take for a formula.
    plain = [[cell[1:] if cell[:1] == "'" and cell[1:2] in "=+-@|%" else cell for cell in row] for row in rows]
    return Grid(path, "", _filled(plain))


def _from_xlsx(path: Path) -> list[Grid]:
    from openpyxl import load_workbook

    where, content = shown(path), io.BytesIO(read_bytes(path, what="a wire list"))
    try:
        with zipfile.ZipFile(content) as package:
            unpacked = sum(item.file_size for item in package.infolist())
            if unpacked > UNPACKED_LIMIT_BYTES:
                raise UnusableError(f"holds more than {UNPACKED_LIMIT_BYTES // 1024**2} MB", where)
            large = unpacked > WHOLE_LIMIT_BYTES
            if large and any(b"<mergeCell" in package.read(name) for name in package.namelist()):
                raise UnusableError("is too large to have merged cells", where, hint="unmerge them")
        book = load_workbook(content, read_only=large, data_only=True)
    except UnusableError:
        raise
    except Exception as error:  # The library raises whatever it meets in a damaged package.
        raise UnusableError(f"is not a sound spreadsheet ({type(error).__name__})", where) from None
    try:
        return [Grid(path, str(sheet.title), _filled(_cells(sheet, where))) for sheet in book.worksheets]
    except UnusableError:
        raise
    except Exception as error:
        raise UnusableError(f"is not a sound spreadsheet ({type(error).__name__})", where) from None
    finally:
        book.close()


def _cells(sheet: Any, where: Path) -> list[list[str]]:
    rows: list[list[str]] = []
    for row in sheet.iter_rows(values_only=True):
        if len(rows) >= ROW_LIMIT:
            raise UnusableError(f"has more than {ROW_LIMIT:,} rows in sheet {sheet.title!r}", where)
        rows.append([_text(value) for value in row])
    for area in getattr(getattr(sheet, "merged_cells", None), "ranges", ()):
        _spread(rows, area)
    return rows


def _spread(rows: list[list[str]], area: Any) -> None:
    """Give the text of merged cells to each row of them, in their first column: it holds for all of them."""
    column = area.min_col - 1
    text = rows[area.min_row - 1][column] if area.min_row <= len(rows) else ""
    for row in rows[area.min_row : area.max_row]:
        row[column] = row[column] or text


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.12g}"
    return str(value)


def _filled(rows: Iterable[Sequence[str]]) -> tuple[tuple[int, tuple[str, ...]], ...]:
    stripped = [tuple(cell.strip() for cell in row) for row in rows]
    return tuple((number, row) for number, row in enumerate(stripped, start=1) if any(row))


def xlsx_bytes(tables: Sequence[tuple[str, Sequence[Sequence[str]]]]) -> bytes:
    """A spreadsheet of several sheets, every cell a text and no formula; same input, same bytes."""
    import datetime

    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    from loadloom.reports.safe_text import cell_text, looks_like_formula

    book = Workbook(write_only=True)
    fixed = datetime.datetime(2000, 1, 1)
    book.properties.created = book.properties.modified = fixed
    for title, rows in tables:
        sheet = book.create_sheet(title)
        sheet.freeze_panes = "A2"
        for column in range(max(map(len, rows), default=0)):
            widest = max((len(row[column]) for row in rows if column < len(row)), default=0)
            letter = _letter(column)
            sheet.column_dimensions[letter].width = min(max(widest + 2, 8), 40)
        for number, row in enumerate(rows):
            cells = []
            for text in row:
                cell = WriteOnlyCell(sheet, value=cell_text(text) or None)
                cell.data_type = "s"
                if looks_like_formula(text):
                    cell.quotePrefix = True
                if number == 0:
                    cell.font = Font(bold=True)
                cells.append(cell)
            sheet.append(cells)
    stream = io.BytesIO()
    book.save(stream)
    return _with_fixed_dates(stream.getvalue())


def _with_fixed_dates(content: bytes) -> bytes:
    """The package with every entry dated alike, and no time of writing in its properties."""
    import re

    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for item in old.infolist():
            data = old.read(item)
            if item.filename == "docProps/core.xml":
                data = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2000-01-01T00:00:00Z", data)
            new.writestr(zipfile.ZipInfo(item.filename, (1980, 1, 1, 0, 0, 0)), data, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def csv_bytes(rows: Sequence[Sequence[str]]) -> bytes:
    """A CSV table: UTF-8, comma, CRLF (RFC 4180); what looks like a formula gets an apostrophe in front."""
    from loadloom.reports.safe_text import csv_text

    stream = io.StringIO()
    csv.writer(stream, lineterminator="\r\n").writerows([csv_text(text) for text in row] for row in rows)
    return stream.getvalue().encode("utf-8")


def _letter(column: int) -> str:
    from openpyxl.utils import get_column_letter

    return str(get_column_letter(column + 1))
