"""Writing one table onto a sheet: every cell passes here, so the gate for texts and the number formats do too."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, field
from typing import Any

from openpyxl.cell.cell import Cell, MergedCell
from openpyxl.styles.cell_style import StyleArray
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.hyperlink import Hyperlink
from openpyxl.worksheet.worksheet import Worksheet

from loadloom.reports.numbers import Scale, column_scale, decimals, sheet_format
from loadloom.reports.safe_text import cell_text, looks_like_formula
from loadloom.reports.workbook import style

UNKNOWN = "–"
HEADER_ROW = 4
FIRST_ROW = HEADER_ROW + 1
_MOST_DECIMALS = 4
_NARROWEST, _WIDEST = 6.0, 46.0
_PER_LETTER = 0.85
"""Width of a letter of nine points in a column's units, which are digits of eleven points."""
_PER_WRAPPED_LETTER = 0.75
"""The same for running text, in which narrow letters make up for wide ones."""
_LINE_POINTS, _TALLEST_POINTS = 11.5, 400.0


@dataclass(frozen=True, slots=True)
class Formula:
    """A live formula; ``{key}`` stands for the cell of that column in the same row. ``value`` is the tool's own."""

    text: str
    value: float | str | None


@dataclass(frozen=True, slots=True)
class Link:
    """A text that leads to a cell of another sheet."""

    text: str
    sheet: str
    row: int


Content = float | int | str | bool | Formula | Link | None


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table. ``unit`` stands in the header; numbers are SI and get the column's own prefix.

    ``kind``: ``text``, ``number`` or ``share`` (shown in percent). ``look``: ``input`` (to be changed by the
    reader) or plain. ``width`` is in characters; None = from the contents. ``blank``: what is not
    there is left empty and not marked as unknown.
    """

    key: str
    title: str
    values: Sequence[Content]
    kind: str = "text"
    unit: str = ""
    look: str = ""
    width: float | None = None
    bold: bool = False
    blank: bool = False
    scaled: bool = True


@dataclass(slots=True)
class Pen:
    """Writes cells with styles made once; one pen for a workbook."""

    styles: dict[tuple[Any, ...], StyleArray] = field(default_factory=dict)
    stored: dict[tuple[str, str], float | str | None] = field(default_factory=dict)
    """The tool's value of every formula written, by sheet and cell."""

    def put(
        self,
        cell: Cell | MergedCell,
        content: Content,
        *,
        bold: bool = False,
        colour: str = style.INK,
        size: float = 9,
        fill: str | None = None,
        border: Any = style.CELL_BORDER,
        horizontal: str = "left",
        vertical: str = "center",
        indent: int = 0,
        wrap: bool = False,
        number_format: str = "General",
        limit: int = 32_767,
        second_line: str = "",
    ) -> None:
        """Write one cell. A text is typed as text, and quoted where it looks like a formula.

        ``second_line`` is put below the text: the one line break that gets into a cell.
        """
        if not isinstance(cell, Cell):
            raise TypeError(f"{cell.coordinate} is inside a merged cell")
        shown = content.text if isinstance(content, Link | Formula) else content
        quoted = False
        if isinstance(content, Formula):
            cell.value = content.text
            self.stored[cell.parent.title, cell.coordinate] = UNKNOWN if content.value is None else content.value
        elif isinstance(shown, str):
            quoted = looks_like_formula(shown)
            cell.value = cell_text(shown, limit) + (f"\n{second_line}" if second_line else "")
            cell.data_type = "s"
        elif isinstance(shown, bool):
            cell.value = "yes" if shown else "NO"
        elif isinstance(shown, float) and not math.isfinite(shown):
            cell.value = UNKNOWN
        else:
            cell.value = shown
        linked = isinstance(content, Link)
        key = (
            bold,
            colour,
            size,
            fill,
            id(border),
            horizontal,
            vertical,
            indent,
            wrap,
            number_format,
            quoted,
            linked,
        )
        if key not in self.styles:
            cell.font = style.font(bold=bold, colour=colour, size=size, underline=linked)
            cell.alignment = style.align(horizontal, wrap=wrap, vertical=vertical, indent=indent)
            cell.border = border or style.NO_BORDER
            if fill:
                cell.fill = style.fill(fill)
            cell.number_format = number_format
            if quoted:
                cell.quotePrefix = True
            self.styles[key] = copy(cell._style)  # type: ignore[attr-defined]
        cell._style = copy(self.styles[key])  # type: ignore[attr-defined]
        if isinstance(content, Link):
            cell.hyperlink = Hyperlink(ref=cell.coordinate, location=f"'{content.sheet}'!A{content.row}")


def joined(names: Sequence[str]) -> str | None:
    """Names in one cell; None where there is none."""
    return ", ".join(names) or None


def quotient(top: float | None, bottom: float | None) -> float | str:
    """The tool's own value of one of ``ratios``; the sign for unknown where there is none."""
    return top / bottom if top is not None and bottom else UNKNOWN


def ratios(top: str, bottom: str, values: Iterable[tuple[float | None, float | None]]) -> list[Formula]:
    """Live formulas for one column over another, unknown where either is; ``values`` are the tool's own of both."""
    known = f"AND(ISNUMBER({{{top}}}),ISNUMBER({{{bottom}}}))"
    text = f'=IF({known},IF({{{bottom}}}>0,{{{top}}}/{{{bottom}}},"{UNKNOWN}"),"{UNKNOWN}")'
    return [Formula(text, quotient(*pair)) for pair in values]


def differences(first: str, second: str, values: Iterable[tuple[float | None, float | None]]) -> list[Formula]:
    """Live formulas for one column less another, unknown where either is; ``values`` as in ``ratios``."""
    text = f'=IF(AND(ISNUMBER({{{first}}}),ISNUMBER({{{second}}})),{{{first}}}-{{{second}}},"{UNKNOWN}")'
    return [Formula(text, a - b if a is not None and b is not None else UNKNOWN) for a, b in values]


def start_sheet(sheet: Worksheet, pen: Pen, title: str, note: str) -> None:
    """Title and statement above the tables of a sheet."""
    pen.put(sheet["A1"], title, bold=True, size=14, border=None)
    pen.put(sheet["A2"], note, colour=style.GREY, border=None)
    sheet.row_dimensions[1].height = 20
    sheet.sheet_view.showGridLines = False


def write_table(
    sheet: Worksheet, pen: Pen, columns: Sequence[Column], *, header_row: int = HEADER_ROW, main: bool = True
) -> dict[str, str]:
    """Write a table; the letters of its columns by key.

    The main table of a sheet gets the filter, the frozen panes and the print titles.
    """
    letters = {column.key: get_column_letter(n) for n, column in enumerate(columns, 1)}
    rows = max((len(column.values) for column in columns), default=0)
    header_lines = 1
    row_lines = [1] * rows
    for number, column in enumerate(columns, 1):
        scale = column_scale(_numbers(column), column.unit) if column.scaled else Scale(1.0, column.unit)
        unit = "" if scale.unit == "1" else scale.unit
        letter = letters[column.key]
        width = max(
            column.width or _width(column, scale), *(_link_width(content) for content in column.values), 0.0
        )
        sheet.column_dimensions[letter].width = width if main else max(width, sheet.column_dimensions[letter].width)
        width = sheet.column_dimensions[letter].width
        header_lines = max(header_lines, _lines(column.title, width, _PER_LETTER) + bool(unit))
        for offset, content in enumerate(column.values):
            if isinstance(content, str | Link):
                text = content.text if isinstance(content, Link) else content
                row_lines[offset] = max(row_lines[offset], _lines(text, width))
        pen.put(
            sheet.cell(header_row, number),
            column.title,
            bold=True,
            fill=style.HEADER_FILL,
            border=style.HEADER_BORDER,
            horizontal="left" if column.kind == "text" else "right",
            vertical="bottom",
            indent=1 if column.kind == "text" and number > 1 else 0,
            wrap=True,
            second_line=unit,
        )
        _write_column(sheet, pen, column, scale, header_row, number, letters)
    for offset, lines in enumerate(row_lines):
        sheet.row_dimensions[header_row + 1 + offset].height = min(_LINE_POINTS * lines + 3.5, _TALLEST_POINTS)
    sheet.row_dimensions[header_row].height = _LINE_POINTS * header_lines + 5
    if main:
        last = get_column_letter(len(columns))
        sheet.auto_filter.ref = f"A{header_row}:{last}{header_row + max(rows, 1)}"
        sheet.freeze_panes = f"B{header_row + 1}"
        sheet.print_title_rows = f"{header_row}:{header_row}"
    return letters


def _write_column(
    sheet: Worksheet, pen: Pen, column: Column, scale: Scale, header_row: int, number: int, letters: dict[str, str]
) -> None:
    shown = [scale.of(_number(v)) if column.kind == "number" else _number(v) for v in column.values]
    if column.kind == "share":
        shown = [None if v is None else 100.0 * v for v in shown]
    most = _decimals(shown, "%" if column.kind == "share" else column.unit)
    for offset, content in enumerate(column.values):
        row = header_row + 1 + offset
        cell = sheet.cell(row, number)
        value = shown[offset]
        content = _at_row(content, letters, row)
        if column.kind == "text" or isinstance(content, Link):
            horizontal, form = "left", "General"
        else:
            horizontal = "right"
            form = _percent_format(value, most) if column.kind == "share" else sheet_format(value, most)
            if not isinstance(content, Formula | str):
                content = _number(content) if column.kind == "share" else value
        if content is None and not column.blank:
            content = UNKNOWN
        fill = style.INPUT_FILL if column.look == "input" and content is not None else None
        if isinstance(content, Formula):
            fill = style.FORMULA_FILL
        grey = content == UNKNOWN
        pen.put(
            cell,
            content,
            bold=column.bold,
            colour=style.GREY if grey else style.INK,
            fill=fill,
            horizontal=horizontal,
            indent=1 if horizontal == "left" and number > 1 else 0,
            wrap=horizontal == "left",
            number_format=form,
        )


def _decimals(values: Sequence[float | None], unit: str) -> int:
    """Most decimals that any value of a column needs; none where a column counts things."""
    known = [v for v in values if v is not None]
    if not unit and all(v == int(v) for v in known):
        return 0
    return min(max((decimals(v) for v in known), default=0), _MOST_DECIMALS)


def _at_row(content: Content, letters: dict[str, str], row: int) -> Content:
    """A formula with its placeholders replaced by cells of a row."""
    if not isinstance(content, Formula):
        return content
    return Formula(re.sub(r"\{(\w+)\}", lambda m: f"{letters[m.group(1)]}{row}", content.text), content.value)


def _percent_format(value: float | None, most: int) -> str:
    """Number format of a share whose value in percent is given; the format multiplies by 100 itself."""
    shown = 0 if value is None else min(decimals(value), most)
    fill = "_0" * (most - shown)
    return ("0." + "0" * shown if shown else "0" + ("_." if most else "")) + fill + "%"


def _number(content: Content) -> float | None:
    value = content.value if isinstance(content, Formula) else content
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)


def _numbers(column: Column) -> list[float | None]:
    return [_number(v) for v in column.values] if column.kind == "number" else []


def _width(column: Column, scale: Scale) -> float:
    """Width in characters that shows every number and every word of the header whole, and lets long texts wrap."""
    wanted = max((len(word) for word in column.title.split()), default=0) * _PER_LETTER + 1.8
    shown = [_number(v) for v in column.values]
    shown = [scale.of(v) if column.kind == "number" else v if v is None else 100.0 * v for v in shown]
    most = _decimals(shown, "%" if column.kind == "share" else column.unit)
    for content, value in zip(column.values, shown, strict=True):
        text = content.text if isinstance(content, Link) else content
        if isinstance(text, Formula):
            text = text.value
        if isinstance(text, str):
            wanted = max(wanted, min(len(text) * _PER_LETTER + 2.5, _WIDEST))
        elif value is not None and column.kind != "text":
            whole = len(f"{abs(value):.0f}") + (value < 0)
            wanted = max(wanted, whole + (0.5 + most if most else 0) + 1.8 + (column.kind == "share") * 1.5)
    return max(wanted, _NARROWEST)


def _link_width(content: Content) -> float:
    """Width that shows a link whole: not every program wraps one."""
    return len(content.text) * _PER_LETTER + 2.5 if isinstance(content, Link) else 0.0


def _lines(text: str, width: float, per_letter: float = _PER_WRAPPED_LETTER) -> int:
    """How many lines a text takes when wrapped at words, long words broken."""
    room = max((width - 1.5) / per_letter, 1.0)
    lines, used = 1, 0.0
    for word in text[:6000].split(" "):
        length = float(len(word))
        if used and used + 1 + length > room:
            lines, used = lines + 1, 0.0
        if length > room:
            broken = math.ceil(length / room)
            lines, used = lines + broken - 1, length - (broken - 1) * room
        else:
            used += length + (1 if used else 0)
    return lines
