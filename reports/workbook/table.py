"""Writing one table onto a sheet: every cell passes here, so the gate for texts and the number formats do too."""

from __future__ import annotations

import enum
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from openpyxl.cell.cell import Cell
from openpyxl.styles import Border
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from loadloom.reports.numbers import Scale, column_scale, decimals, sheet_format
from loadloom.reports.safe_text import cell_text, looks_like_formula
from loadloom.reports.workbook import style
from loadloom.reports.workbook.sheet_cells import SheetCells

UNKNOWN = "–"
HEADER_ROW = 4
FIRST_ROW = HEADER_ROW + 1
_MOST_DECIMALS = 4
_NARROWEST, _WIDEST = 6.0, 46.0
_PER_LETTER = 0.85
"""Width of a letter of nine points in a column's units, which are digits of ten points."""
_PER_WRAPPED_LETTER = 0.75
"""The same for running text, in which narrow letters make up for wide ones."""
_WIDE = _PER_LETTER / _PER_WRAPPED_LETTER
"""How much of a letter of running text a capital or a digit takes: lists of references have few others."""
_LINE_POINTS, _TALLEST_POINTS = 11.5, 400.0
MARGIN_IN = 0.4
"""Left and right of a page."""
_PER_CHARACTER_IN = 5.562 / 72
"""Width of a column's unit: a digit of the workbook's first font (ECMA-376 part 1, 18.3.1.13), which is 0.5562 em
wide at ten points (advance widths of that typeface and of those made to its measure)."""
ACROSS = (297.0 / 25.4 - 2 * MARGIN_IN) / _PER_CHARACTER_IN
"""Width of A4 landscape between the margins, in characters (ISO 216 gives the 297 mm)."""
LEAST_SCALE = 0.9
"""Least scale of printing, so that 9 points stay above 8; wider tables take several pages."""
_NOTE_WIDTH = 120.0
"""Width in characters over which the statement of a sheet is laid."""


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


class Edit(enum.IntEnum):
    """What follows from a cell that a reader changed; a greater number leaves less to be said."""

    NONE = 0
    """Nothing: the cell stands for no part."""
    RATING = 1
    """Allowed currents follow by formula, and nothing has to be solved anew."""
    AMBIENT = 2
    """Allowed currents follow; resistances do not, so that what is near its limit can't be said."""
    OTHER = 3
    """Something that was solved or is stated on the drawing: nothing can be said of the parts any more."""


EDITS = "Changed by hand"
"""The sheet that compares the workbook with what was written."""
STATE = f"'{EDITS}'!$B$3"
"""The cell that holds the greatest ``Edit`` made; every formula that answers for a part looks at it."""


@dataclass(frozen=True, slots=True)
class Written:
    """What was written into one column: its numbers, and how many of its cells are formulas.

    ``answers``: its formulas look at ``STATE``. ``names`` and ``weighted``: the cells that name the rows, and the
    sum of the numbers, each times the weight of its row's name; None where the names have none. ``texts``: the same
    sum of the weights of a column's texts; None for a column that holds none, or some without a weight.
    """

    sheet: str
    title: str
    area: str
    edit: Edit
    numbers: tuple[float, ...]
    formulas: int
    answers: bool
    names: str = ""
    weighted: float | None = None
    texts: float | None = None


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table. ``unit`` stands in the header; numbers are SI and get the column's own prefix.

    ``kind``: ``text``, ``number`` or ``share`` (shown in percent). ``look``: ``input`` (to be changed by the
    reader) or plain. ``width`` is in characters; None = from the contents. ``blank``: what is not
    there is left empty and not marked as unknown. ``form``: one number format for all its cells; ``fills``: the
    fill of every cell. ``edit``: what it means when a reader changes a cell of it.
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
    form: str | None = None
    fills: Sequence[str] = ()
    edit: Edit = Edit.OTHER


@dataclass(slots=True)
class Pen:
    """Writes cells with styles made once; one pen for a workbook.

    Cells are kept as the text that the sheet's file holds. ``package`` puts them there: building openpyxl's own
    cells and having them written takes several times as long in a workbook of some hundred thousand cells.
    """

    styles: dict[tuple[Any, ...], int] = field(default_factory=dict)
    """The number of a style among the workbook's, by what it is made of."""
    sheets: dict[str, SheetCells] = field(default_factory=dict)
    """What was written, by the title of the sheet."""
    titles: dict[str, str] = field(default_factory=dict)
    """The title of each sheet."""
    notes: dict[str, str] = field(default_factory=dict)
    """The statement of each sheet."""
    written: list[Written] = field(default_factory=list)
    """The columns of all tables, for the sheet that finds what was changed by hand."""

    def on(self, sheet: Worksheet) -> SheetCells:
        """What was written on a sheet so far."""
        return self.sheets.setdefault(sheet.title, SheetCells())

    def put(
        self,
        sheet: Worksheet,
        row: int,
        column: int,
        content: Content,
        *,
        bold: bool = False,
        colour: str = style.INK,
        size: float = 9,
        fill: str | None = None,
        border: Border | None = style.CELL_BORDER,
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
        cells, quoted, linked = self.on(sheet), False, isinstance(content, Link)
        shown = content.text if isinstance(content, Link) else content
        if isinstance(shown, str):
            quoted = looks_like_formula(shown)
            below = f"\n{second_line}" if second_line else ""
            shown = cell_text(shown, limit - len(below)) + below
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
        number = self.styles.get(key)
        if number is None:
            cell = Cell(sheet, row=1, column=1)
            cell.font = style.font(bold=bold, colour=colour, size=size, underline=linked)
            cell.alignment = style.align(horizontal, wrap=wrap, vertical=vertical, indent=indent)
            cell.border = border or style.NO_BORDER
            if fill:
                cell.fill = style.fill(fill)
            cell.number_format = number_format
            if quoted:
                cell.quotePrefix = True
            number = self.styles[key] = cell.style_id
        if isinstance(shown, Formula):
            cells.put_formula(row, column, number, shown.text, UNKNOWN if shown.value is None else shown.value)
        elif isinstance(shown, str):
            cells.put_text(row, column, number, shown)
        elif isinstance(shown, bool):
            cells.put_text(row, column, number, "yes" if shown else "NO")
        elif shown is None:
            cells.put_blank(row, column, number)
        elif math.isfinite(shown):
            cells.put_number(row, column, number, shown)
        else:
            cells.put_text(row, column, number, UNKNOWN)
        if isinstance(content, Link):
            cells.link(row, column, content.sheet, content.row)

    def set_height(self, sheet: Worksheet, row: int, points: float) -> None:
        """Set the height of a row."""
        self.on(sheet).heights[row] = points


def fits_a_page(widths: Iterable[float]) -> bool:
    """Whether columns of these widths go onto one page of A4 landscape."""
    return sum(widths) * LEAST_SCALE <= ACROSS


def joined(names: Sequence[str]) -> str | None:
    """Names in one cell; None where there is none."""
    return ", ".join(names) or None


def quotient(top: float | None, bottom: float | None) -> float | str:
    """The tool's own value of one of ``ratios``; the sign for unknown where there is none."""
    return top / bottom if top is not None and bottom else UNKNOWN


def ratios(
    top: str, bottom: str, values: Iterable[tuple[float | None, float | None]], *, solved: bool = False
) -> list[Formula]:
    """Live formulas for one column over another, unknown where either is; ``values`` are the tool's own of both.

    ``solved``: both hang on the ambient, so that nothing is said once that was changed.
    """
    known = f"AND(ISNUMBER({{{top}}}),ISNUMBER({{{bottom}}}){_as_solved(solved)})"
    text = f'=IF({known},IF({{{bottom}}}>0,{{{top}}}/{{{bottom}}},"{UNKNOWN}"),"{UNKNOWN}")'
    return [Formula(text, quotient(*pair)) for pair in values]


def _as_solved(solved: bool) -> str:
    return f",{STATE}<{int(Edit.AMBIENT)}" if solved else ""


def differences(first: str, second: str, values: Iterable[tuple[float | None, float | None]]) -> list[Formula]:
    """Live formulas for one column less another, unknown where either is; both hang on the ambient, and ``values``
    are as in ``ratios``.
    """
    known = f"AND(ISNUMBER({{{first}}}),ISNUMBER({{{second}}}){_as_solved(True)})"
    text = f'=IF({known},{{{first}}}-{{{second}}},"{UNKNOWN}")'
    return [Formula(text, a - b if a is not None and b is not None else UNKNOWN) for a, b in values]


def start_sheet(sheet: Worksheet, pen: Pen, title: str, note: str) -> None:
    """Title and statement above the tables of a sheet; ``write_table`` lays the statement over its columns."""
    for row, text in ((1, title), (2, note)):
        _put_head(sheet, pen, row, 1, text)
    pen.titles[sheet.title], pen.notes[sheet.title] = title, note
    pen.set_height(sheet, 1, 20)
    sheet.sheet_view.showGridLines = False


def _put_head(sheet: Worksheet, pen: Pen, row: int, column: int, text: str) -> None:
    """The title (row 1) or the statement (row 2) of a sheet."""
    if row == 1:
        pen.put(sheet, row, column, text, bold=True, size=14, border=None)
    else:
        pen.put(sheet, row, column, text, colour=style.GREY, border=None, wrap=True, vertical="top")


def warn_of_edits(sheet: Worksheet, pen: Pen) -> None:
    """A line above the table that says so once anything in the workbook was changed by hand."""
    text = f'=IF({STATE}=0,"","{CHANGED_BY_HAND}")'
    pen.put(sheet, 3, 1, Formula(text, ""), bold=True, colour=style.RED, border=None)


CHANGED_BY_HAND = "changed by hand: no longer loadloom's result"


def _lay_note(sheet: Worksheet, pen: Pen, columns: int) -> None:
    """Make the statement one cell over the table's width, as tall as it needs; wide tables keep it on A4."""
    note = pen.notes.get(sheet.title)
    if note is None:
        return
    width, last = 0.0, 0
    first = 1
    if not fits_a_page([sheet.column_dimensions[get_column_letter(n)].width for n in range(1, columns + 1)]):
        # Every further page begins with the first column, which would show the beginning of both and no more.
        first = 2
        for row, text in ((1, pen.titles[sheet.title]), (2, note)):
            pen.put(sheet, row, 1, None, border=None)
            _put_head(sheet, pen, row, first, text)
    before = sheet.column_dimensions["A"].width if first == 2 else 0.0
    for number in range(first, columns + 1):
        wide = sheet.column_dimensions[get_column_letter(number)].width
        if last and first == 2 and before + width + wide > ACROSS:
            break  # the first page ends here
        width += wide
        last = number
        if width > _NOTE_WIDTH:
            break
    if last > first:
        sheet.merged_cells.add(f"{get_column_letter(first)}2:{get_column_letter(last)}2")
    pen.set_height(sheet, 2, _LINE_POINTS * _lines(note, width) + 3.5)


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
            sheet,
            header_row,
            number,
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
        _watch(sheet, pen, column, scale, header_row + 1, letter, columns[0].values)
    if main:
        _lay_note(sheet, pen, len(columns))
    for offset, lines in enumerate(row_lines):
        pen.set_height(sheet, header_row + 1 + offset, min(_LINE_POINTS * lines + 3.5, _TALLEST_POINTS))
    pen.set_height(sheet, header_row, _LINE_POINTS * header_lines + 5)
    if main:
        last = get_column_letter(len(columns))
        sheet.auto_filter.ref = f"A{header_row}:{last}{header_row + max(rows, 1)}"
        sheet.freeze_panes = f"B{header_row + 1}"
        sheet.print_title_rows = f"{header_row}:{header_row}"
    return letters


def _watch(
    sheet: Worksheet, pen: Pen, column: Column, scale: Scale, first: int, letter: str, names: Sequence[Content]
) -> None:
    """Keep what a column holds, for the sheet that finds changes made by hand."""
    if column.edit is Edit.NONE:
        return
    formulas = [content for content in column.values if isinstance(content, Formula)]
    factor = 1.0 / scale.divisor if column.kind == "number" else 1.0
    numbers = [] if column.kind == "text" else [v for v in map(_number, column.values) if v is not None]
    texts = _weighed_texts(names, column) if not numbers and not formulas else None
    if not numbers and not formulas and texts is None:
        return
    last = first + len(column.values) - 1
    area = f"${letter}${first}:${letter}${last}"
    answers = any(STATE in formula.text for formula in formulas)
    if formulas and column.edit is Edit.OTHER:
        numbers = []  # they follow from other cells, which are compared themselves
    pen.written.append(
        Written(
            sheet.title,
            column.title,
            area,
            column.edit,
            tuple(v * factor for v in numbers),
            len(formulas),
            answers or texts is not None,  # no formula hangs on a text: nothing but the banner has to tell of it
            f"$A${first}:$A${last}" if _weights(names, len(column.values)) else "",
            _weighted(names, column.values, factor) if numbers else None,
            texts,
        )
    )


def _weighted(names: Sequence[Content], values: Sequence[Content], factor: float) -> float | None:
    weights = _weights(names, len(values))
    if weights is None:
        return None
    return math.fsum(w * (_number(v) or 0.0) * factor for w, v in zip(weights, values, strict=True))


def _weighed_texts(names: Sequence[Content], column: Column) -> float | None:
    """The sum over a column's texts as they are written, each times the weight of its row's name where the names
    have one; None where a text has no weight.
    """
    if column.kind != "text" or not 0 < len(column.values) <= MOST_WEIGHED:
        return None
    weights = _weights(names, len(column.values)) or [1.0] * len(column.values)
    total = 0.0
    for own, content in zip(weights, column.values, strict=True):
        text = content.text if isinstance(content, Link) else content
        if text is None:
            text = "" if column.blank else UNKNOWN
        weighed = weight(cell_text(text, 32_767)) if isinstance(text, str) else None
        if weighed is None:
            return None
        total += own * weighed
    return total


def _weights(names: Sequence[Content], count: int) -> list[float] | None:
    """The weights of the names of some rows; None where one has none, or there are too many rows."""
    texts = [name.text if isinstance(name, Link) else name for name in names[:count]]
    weights = [weight(cell_text(text, 32_767)) for text in texts if isinstance(text, str)]
    found = [each for each in weights if each is not None]
    return found if len(found) == count <= MOST_WEIGHED else None


MOST_WEIGHED = 20_000
"""Rows up to which a column is held against the names of its rows; a spreadsheet takes long for more."""
_MARKS = 251
"""Codes of letters count by what is left of them after division by this, so that sums stay whole numbers that a
spreadsheet holds exactly."""


@lru_cache(maxsize=65_536)
def weight(text: str) -> float | None:
    """A number that differs between most texts of one table; None for one with letters beyond U+FFFF.

    A column that is sorted by itself has the same sum, and another one once each number is taken times this.
    Programs differ in how they count letters beyond U+FFFF.
    """
    if max(text, default="") > "\uffff":
        return None
    padded = f"{text}    "
    marks = (f" {text}"[-1], f"  {text}"[-2], *padded[1:4])
    return float(len(text) + sum(n * (ord(mark) % _MARKS) for n, mark in zip(_TIMES, marks, strict=True)))


_TIMES = (1, 7, 13, 11, 17)


def weight_formula(texts: str) -> str:
    """``weight`` of every cell of an area, as a spreadsheet expression."""
    marks = [
        f'RIGHT(" "&{texts},1)',
        f'LEFT(RIGHT("  "&{texts},2),1)',
        *(f'MID({texts}&"    ",{n},1)' for n in (2, 3, 4)),
    ]
    codes = (f"{n}*MOD(_xlfn.UNICODE({mark}),{_MARKS})" for n, mark in zip(_TIMES, marks, strict=True))
    return f"LEN({texts})+{'+'.join(codes)}"


def cell_of(sheet: str, letter: str, row: int, name: str) -> str:
    """A cell of another sheet, in the row of the part that the cell ``name`` of this row names.

    Tables can be sorted. Where another part stands in that row by then, nothing is known.
    """
    return f"IF(EXACT('{sheet}'!$A${row},{name}),'{sheet}'!${letter}${row},\"{UNKNOWN}\")"


def _write_column(
    sheet: Worksheet, pen: Pen, column: Column, scale: Scale, header_row: int, number: int, letters: dict[str, str]
) -> None:
    shown = [scale.of(_number(v)) if column.kind == "number" else _number(v) for v in column.values]
    if column.kind == "share":
        shown = [None if v is None else 100.0 * v for v in shown]
    most = _decimals(shown, "%" if column.kind == "share" else column.unit)
    for offset, content in enumerate(column.values):
        row = header_row + 1 + offset
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
        if column.fills:
            fill = column.fills[offset]
        grey = content == UNKNOWN
        pen.put(
            sheet,
            row,
            number,
            content,
            bold=column.bold,
            colour=style.GREY if grey else style.INK,
            fill=fill,
            horizontal=horizontal,
            indent=1 if horizontal == "left" and number > 1 else 0,
            wrap=horizontal == "left",
            number_format=column.form or form,
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
    indent = 1.2 if column.kind == "text" else 0.0
    wanted = max((len(word) for word in column.title.split()), default=0) * _PER_LETTER + 1.8 + indent
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
    return len(content.text) * _PER_WRAPPED_LETTER + 2.5 if isinstance(content, Link) else 0.0


@lru_cache(maxsize=65_536)
def _length(word: str) -> float:
    """How many small letters a word is as wide as."""
    return sum(_WIDE if letter.isupper() or letter.isdigit() else 1.0 for letter in word)


def _lines(text: str, width: float, per_letter: float = _PER_WRAPPED_LETTER) -> int:
    """How many lines a text takes when wrapped at words, long words broken."""
    room = max((width - 1.5) / per_letter, 1.0)
    lines, used = 1, 0.0
    for word in text[:6000].split(" "):
        length = _length(word)
        if used and used + 1 + length > room:
            lines, used = lines + 1, 0.0
        if length > room:
            broken = math.ceil(length / room)
            lines, used = lines + broken - 1, length - (broken - 1) * room
        else:
            used += length + (1 if used else 0)
    return lines
