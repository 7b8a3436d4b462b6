"""How the workbook looks: few fills, marks in words, so that it reads in black and white as well."""

from __future__ import annotations

from functools import cache
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils.indexed_list import IndexedList

FONT = "Arial"
INK = "FF1F2933"
GREY = "FF6B7785"
RULE = "FFB8C1CC"
HEADER_FILL = "FFE3E8EE"
INPUT_FILL = "FFFFF4CC"
FORMULA_FILL = "FFF3F6FA"
BAR = "FFA9C6DE"
RED, AMBER, GREEN = "FFB42318", "FF8A5A00", "FF1B6E3C"
RED_FILL, AMBER_FILL, GREEN_FILL, BLUE_FILL = "FFFBE3E0", "FFFFF0D1", "FFE1F3E7", "FFE6EEF7"

THIN = Side(style="thin", color=RULE)
MEDIUM = Side(style="medium", color=INK)
HAIR = Side(style="hair", color=RULE)
CELL_BORDER = Border(bottom=HAIR)
HEADER_BORDER = Border(bottom=MEDIUM, top=THIN)
NO_BORDER = Border()


def new_workbook() -> Workbook:
    """A workbook without sheets whose columns are measured in digits of our typeface at ten points.

    The unit of a column's width is a digit of the workbook's first font. openpyxl's is one that many computers
    lack, and each of them would print other widths.
    """
    workbook = Workbook()
    first = workbook.active
    assert first is not None
    workbook.remove(first)
    styles: Any = workbook  # openpyxl has no public way to its first font
    styles._fonts = IndexedList([Font(name=FONT, size=10, family=2)])
    normal = styles._named_styles["Normal"]
    normal.font = styles._fonts[0]
    normal.bind(workbook)
    return workbook


def font(*, bold: bool = False, colour: str = INK, size: float = 9, underline: bool = False) -> Font:
    """The one typeface at a size."""
    return Font(name=FONT, size=size, bold=bold, color=colour, underline="single" if underline else None)


@cache
def box(*, left: bool, right: bool) -> Border:
    """A box, or the part of one that a cell has when several are joined."""
    return Border(left=THIN if left else None, right=THIN if right else None, top=THIN, bottom=THIN)


def fill(colour: str) -> PatternFill:
    """A plain fill."""
    return PatternFill("solid", start_color=colour, end_color=colour)


def align(horizontal: str = "left", *, wrap: bool = False, vertical: str = "center", indent: int = 0) -> Alignment:
    """Alignment of a cell; ``indent`` keeps a text off the number on its left."""
    return Alignment(horizontal=horizontal, vertical=vertical, wrap_text=wrap, indent=indent)
