"""The cells of one sheet as its file holds them (ECMA-376 part 1, 18.3.1: ``sheetData``, ``hyperlinks``)."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cache
from xml.sax.saxutils import escape, quoteattr

from openpyxl.utils import get_column_letter

letter_of = cache(get_column_letter)


@dataclass(slots=True)
class SheetCells:
    """Rows of cells by number, each cell by its column; heights of rows in points; links by cell."""

    rows: dict[int, dict[int, str]] = field(default_factory=dict)
    heights: dict[int, float] = field(default_factory=dict)
    links: dict[str, str] = field(default_factory=dict)
    """The place that a cell leads to, as ``'Sheet'!A1``, by the cell's own."""

    def put_text(self, row: int, column: int, style: int, text: str) -> None:
        """A text; blanks at its ends and line breaks stay."""
        kept = ' xml:space="preserve"' if text != text.strip() or "\n" in text else ""
        cell = f't="inlineStr"><is><t{kept}>{escape(text)}</t></is></c>' if text else "/>"
        self._put(row, column, style, cell)

    def put_number(self, row: int, column: int, style: int, value: float) -> None:
        """A finite number."""
        self._put(row, column, style, f"><v>{_digits(value)}</v></c>")

    def put_formula(self, row: int, column: int, style: int, text: str, value: float | str) -> None:
        """A formula with its sign ``=``, and its value for programs that show a workbook and don't calculate."""
        formula = escape(text[1:])
        if isinstance(value, str):
            self._put(row, column, style, f't="str"><f>{formula}</f><v>{escape(value)}</v></c>')
        elif math.isfinite(value):
            self._put(row, column, style, f"><f>{formula}</f><v>{_digits(value)}</v></c>")
        else:
            self._put(row, column, style, f"><f>{formula}</f><v/></c>")

    def put_blank(self, row: int, column: int, style: int) -> None:
        """A cell with a look and nothing in it."""
        self._put(row, column, style, "/>")

    def link(self, row: int, column: int, sheet: str, to_row: int) -> None:
        """Make a cell lead to a row of another sheet."""
        self.links[f"{letter_of(column)}{row}"] = f"'{sheet}'!A{to_row}"

    def _put(self, row: int, column: int, style: int, rest: str) -> None:
        if row not in self.rows:
            self.rows[row] = {}
        self.rows[row][column] = f'<c r="{letter_of(column)}{row}" s="{style}" {rest}'

    def data(self) -> str:
        """All rows, as the sheet's file holds them."""
        text = ["<sheetData>"]
        for row in sorted(self.rows.keys() | self.heights.keys()):
            height = self.heights.get(row)
            tall = f' ht="{height:g}" customHeight="1"' if height is not None else ""
            cells = self.rows.get(row, {})
            text.append(f'<row r="{row}"{tall}>')
            text += [cells[column] for column in sorted(cells)]
            text.append("</row>")
        text.append("</sheetData>")
        return "".join(text)

    def hyperlinks(self) -> str:
        """All links, as the sheet's file holds them; empty where there is none."""
        if not self.links:
            return ""
        links = (f"<hyperlink ref={quoteattr(c)} location={quoteattr(to)}/>" for c, to in self.links.items())
        return f"<hyperlinks>{''.join(links)}</hyperlinks>"

    def last_row(self) -> int:
        """The last row that has cells; 1 where none has."""
        return max((row for row, cells in self.rows.items() if cells), default=1)

    def area(self) -> str:
        """The area that the cells take, as ``A1:C9``."""
        last_row = self.last_row()
        last_column = max((column for cells in self.rows.values() for column in cells), default=1)
        return f"A1:{letter_of(last_column)}{last_row}"


def _digits(value: float) -> str:
    """A number with all its digits, so that reading gives the same one."""
    return repr(int(value) if isinstance(value, int) else float(value))
