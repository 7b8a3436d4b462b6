"""The sheet that finds what was changed by hand: every column against what was written into it.

A workbook can be edited anywhere. Sums and counts of the numbers, counts of the formulas, and sums of the lengths
and letters of the texts say whether one still holds what loadloom wrote; every cell that answers for a part looks
at the outcome.
"""

from __future__ import annotations

import math

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.reports.workbook import style
from loadloom.reports.workbook.conditions import WARMER
from loadloom.reports.workbook.places import EDITS
from loadloom.reports.workbook.table import (
    FIRST_ROW,
    Column,
    Edit,
    Formula,
    Pen,
    Written,
    start_sheet,
    weight_formula,
    write_table,
)

TYPED_OVER = f"'{EDITS}'!$D$3"
"""The cell that counts what was typed over without any number that hangs on it: texts, and formulas in columns that
look at ``STATE``, which can't be part of it."""

NOTE = (
    "0: as loadloom wrote it. 1: ratings changed; allowed current, utilisation, protection and counts follow. "
    "2: ambient or altitude changed; they follow too, save where a part is within 5 % of its limit. 3: something "
    "that was solved or drawn was typed over; nothing can be said of the parts. Setting ranges are blank from 1 on."
)
_HEAVIEST = 1000.0
"""About the weight of a row by its name."""
_CLOSE = 1e-9
"""Relative; what sums of the same numbers may differ by in another program."""


def write(sheet: Worksheet, pen: Pen) -> None:
    """Write the sheet, last of all: of every column written before it."""
    written = list(pen.written)
    start_sheet(sheet, pen, EDITS, NOTE)
    own = [w for w in written if not w.answers]
    answers = [w for w in written if w.answers]
    every = [*own, *answers]
    changed = [Formula(f"=IF({_same(w)},0,{int(w.edit)})", 0) for w in own]
    changed += [Formula(f"=IF({_same(w)},0,{int(Edit.OTHER)})", 0) for w in answers]
    columns = [
        Column("sheet", "Sheet", [w.sheet for w in every], width=26),
        Column("column", "Column", [w.title for w in every], width=36),
        Column("count", "Numbers", [len(w.numbers) or None for w in every], "number", blank=True, width=10),
        Column("changed", "Changed", changed, "number", width=10),
        Column("formulas", "Formulas", [w.formulas or None for w in every], "number", blank=True, width=10),
        Column("sum", "Sum", [_total(w) for w in every], "number", blank=True, scaled=False, width=14),
    ]
    letters = write_table(sheet, pen, columns)
    first, last = FIRST_ROW, FIRST_ROW + len(own) - 1
    area = f"${letters['changed']}${first}:${letters['changed']}${last}" if own else "0"
    state = Formula(f"=MAX({area},IF({WARMER}>0,{int(Edit.AMBIENT)},0))", 0)
    typed = "0"
    if answers:
        typed = f"SUM(${letters['changed']}${last + 1}:${letters['changed']}${last + len(answers)})"
    pen.put(sheet, 3, 1, "Changed by hand", border=None, colour=style.GREY)
    pen.put(sheet, 3, 2, state, border=None, horizontal="left", bold=True, number_format="0")
    pen.put(sheet, 3, 3, "typed over", border=None, colour=style.GREY)
    pen.put(sheet, 3, 4, Formula(f"={typed}", 0), border=None, horizontal="right", number_format="0")


def _total(written: Written) -> float | None:
    return math.fsum(written.numbers) if written.numbers else None


def _same(written: Written) -> str:
    """Whether a column holds what was written, as a spreadsheet expression."""
    area = f"'{written.sheet}'!{written.area}"
    tests = []
    if written.numbers:
        total, squares = math.fsum(written.numbers), math.fsum(v * v for v in written.numbers)
        close = _CLOSE * math.fsum(abs(v) for v in written.numbers)
        most = close * _HEAVIEST
        tests.append(f"COUNT({area})={len(written.numbers)}")
        tests.append(f"ABS(SUM({area})-{_written(total)})<={close!r}")
        tests.append(f"ABS(SUMSQ({area})-{squares!r})<={_CLOSE * squares!r}")
        if written.weighted is not None:
            names = f"'{written.sheet}'!{written.names}"
            tests.append(f"ABS(SUMPRODUCT({area},{weight_formula(names)})-{_written(written.weighted)})<={most!r}")
    if written.texts is not None:
        factors = [weight_formula(area)]
        if written.names:
            factors.append(weight_formula(f"'{written.sheet}'!{written.names}"))
        tests.append(f"ABS(SUMPRODUCT({','.join(factors)})-{written.texts!r})<0.5")
    if written.formulas and (written.answers or written.edit is Edit.OTHER):
        tests.append(f"SUMPRODUCT(--_xlfn.ISFORMULA({area}))={written.formulas}")
    return f"IFERROR(AND({','.join(tests)}),FALSE)" if tests else "TRUE"


def _written(value: float) -> str:
    return f"({value!r})" if value < 0 else repr(value)
