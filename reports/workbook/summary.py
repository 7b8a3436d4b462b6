"""Page one: title block, verdict, counts, signatures, change record and cautions."""

from __future__ import annotations

import math
from collections.abc import Sequence

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.findings import Severity, Verdict
from loadloom.graph.results import Results
from loadloom.reports.about_words import banner, is_drawn, mark, marked_verdict
from loadloom.reports.verdict_words import meaning
from loadloom.reports.workbook import style
from loadloom.reports.workbook.currents import JUST_OVER
from loadloom.reports.workbook.places import CONDUCTORS, CONTACTS, PURPOSE, SOURCES
from loadloom.reports.workbook.table import FIRST_ROW, Content, Formula, Link, Pen

WIDTHS = (30.0, 26.0, 20.0, 20.0, 34.0)
CAUTIONS = (
    "This is a calculation, not a certification. Local codes and licensed practice come first.",
    "Measure before you trust: the drawing may not be what was built.",
    "A bad crimp or a loose clamp burns at a legal current, and no device sees it.",
    "Ratings hold for the conditions printed beside them; another edition of a source may say otherwise.",
    "Currents are not re-solved in this workbook: change the drawing and run the tool again.",
)
_FILLS = {Verdict.PASS: style.GREEN_FILL, Verdict.FAIL: style.RED_FILL, Verdict.INCOMPLETE: style.AMBER_FILL}
_INKS = {Verdict.PASS: style.GREEN, Verdict.FAIL: style.RED, Verdict.INCOMPLETE: style.AMBER}


def write(sheet: Worksheet, pen: Pen, results: Results, letters: dict[str, dict[str, str]]) -> None:
    """Write page one. ``letters``: columns of the conductors' and contacts' sheets, for the live counts."""
    page = _Page(sheet, pen)
    sheet.sheet_view.showGridLines = False
    for letter, width in zip("ABCDE", WIDTHS, strict=True):
        sheet.column_dimensions[letter].width = width
    page.across("Load table for review", size=16, bold=True)
    page.across(
        f"{marked_verdict(results)} – {meaning(results)}",
        size=13,
        bold=True,
        fill=_FILLS[results.verdict],
        colour=_INKS[results.verdict],
        boxed=True,
    )
    if not is_drawn(results):
        page.across(banner(results), size=11, bold=True, fill=style.AMBER_FILL, colour=style.AMBER, boxed=True)
    page.gap()
    _title_block(page, results)
    page.gap()
    _counts(page, results, letters)
    page.gap()
    if is_drawn(results):
        _sign(page, results)
    else:
        page.across(
            f"No signatures here: this is {mark(results)}. Sign the report of the drawing itself.", bold=True
        )
    page.gap()
    page.heading("Cautions", ())
    for caution in CAUTIONS:
        page.across(f"• {caution}")
    page.gap()
    page.heading("Sheets", ())
    for name, purpose in PURPOSE.items():
        page.entry(name, purpose, link=name)


def _sign(page: _Page, results: Results) -> None:
    """The blocks that make the sheet a record of the drawing: signatures and changes of its revisions."""
    page.heading("Signatures", ("", "Name", "Date", "Signature"))
    for role in ("Prepared", "Checked", "Approved"):
        page.form((role, "", "", "", ""), height=22, joined=(4, 5))
    page.gap()
    where = results.provenance
    page.heading("Change record: revision", ("", "Date", "Change", "", "By"))
    for revision, date in ((where.revision, where.date), ("", ""), ("", ""), ("", "")):
        page.form((revision, date, "", "", ""), height=18, joined=(3, 4))


def _title_block(page: _Page, results: Results) -> None:
    where, settings = results.provenance, results.settings
    rules = settings.get("rule_sets") or ()
    page.heading("Drawing", ())
    page.entry("Project", where.title)
    page.entry("Revision", where.revision)
    page.entry("Date of the drawing", where.date)
    page.entry("Company", where.company)
    page.entry("File", where.file)
    page.entry("SHA-256 of the file", where.sha256)
    page.entry("Read by way of", where.route)
    page.gap()
    page.heading("Analysis", ())
    page.entry("Tool", f"loadloom {results.tool_version}")
    page.entry("Date of this report", results.date)
    assumed = " (assumed)" if settings.get("basis_stated") is False else ""
    page.entry("Rating basis", f"{settings.get('basis', '')}{assumed}")
    page.entry(
        "Rule sets", ", ".join(str(r) for r in rules) if isinstance(rules, list | tuple) and rules else "none"
    )
    rated = (row.rating for row in (*results.conductors, *results.contacts))
    editions = dict.fromkeys(rating.source for rating in rated if rating is not None and rating.source)
    page.entry("Editions", f"{'; '.join(editions) or 'none'} (all {len(results.sources)} sources: sheet {SOURCES})")
    page.entry("Load cases", ", ".join(case.id for case in results.cases))
    page.entry("Greatest residual", f"{results.residual_a:.2g} A, sum of currents at any joint of any solved case")


def _counts(page: _Page, results: Results, letters: dict[str, dict[str, str]]) -> None:
    page.heading("What was found", ("", "By the tool", "In this workbook, live"), numbers=True)
    words = {Severity.ERROR: "Errors", Severity.WARNING: "Warnings", Severity.NOTE: "Notes"}
    for severity in Severity:
        page.line((f"{words[severity]}, not accepted", results.count(severity), ""))
    page.line(("Accepted findings", sum(1 for f in results.findings if f.accepted is not None), ""))
    for sheet_name, rows in ((CONDUCTORS, results.conductors), (CONTACTS, results.contacts)):
        over = sum(1 for r in rows if r.utilisation is not None and r.utilisation > float(JUST_OVER))
        live: Content = ""
        if rows:
            used = letters[sheet_name]["used"]
            area = f"'{sheet_name}'!{used}{FIRST_ROW}:{used}{FIRST_ROW + len(rows) - 1}"
            live = Formula(f'=COUNTIF({area},">{JUST_OVER}")', over)
        page.line((f"{sheet_name} over the allowed current", over, live))
        page.line((f"{sheet_name} not protected", sum(1 for r in rows if r.protected is False), ""))
        page.line((f"{sheet_name} not rated", sum(1 for r in rows if r.allowed_a is None), ""))
        page.line(
            (f"{sheet_name} whose protection is not determined", sum(1 for r in rows if r.protected is None), "")
        )


class _Page:
    """Writes down a page line by line."""

    def __init__(self, sheet: Worksheet, pen: Pen) -> None:
        self._sheet = sheet
        self._pen = pen
        self._row = 1

    def gap(self) -> None:
        """An empty line."""
        self._pen.set_height(self._sheet, self._row, 8)
        self._row += 1

    def across(
        self,
        text: str,
        *,
        size: float = 9,
        bold: bool = False,
        fill: str | None = None,
        colour: str = style.INK,
        boxed: bool = False,
    ) -> None:
        """A text over the whole width."""
        for column in range(1, 6):
            self._pen.put(
                self._sheet,
                self._row,
                column,
                text if column == 1 else None,
                size=size,
                bold=bold,
                fill=fill,
                colour=colour,
                border=style.box(left=column == 1, right=column == 5) if boxed else None,
                wrap=True,
            )
        self._join(1, 5)
        height = _height(text, sum(WIDTHS) * 9 / size, size)
        self._pen.set_height(self._sheet, self._row, height + (8 if boxed else 0))
        self._row += 1

    def heading(self, title: str, names: Sequence[str], numbers: bool = False) -> None:
        """The head of a section, with the names of its columns if it has some."""
        shown = [title, *names[1:]] if names else [title]
        for column in range(1, 6):
            self._pen.put(
                self._sheet,
                self._row,
                column,
                shown[column - 1] if column <= len(shown) else None,
                bold=True,
                fill=style.HEADER_FILL,
                border=style.HEADER_BORDER,
                size=10 if column == 1 else 9,
                horizontal="right" if numbers and column > 1 else "left",
            )
        self._pen.set_height(self._sheet, self._row, 15)
        self._row += 1

    def entry(self, name: str, text: str, link: str | None = None) -> None:
        """A name and what stands for it."""
        content = name if link is None else Link(name, link, 1)
        self._pen.put(self._sheet, self._row, 1, content, colour=style.GREY if link is None else style.INK)
        for column in range(2, 6):
            self._pen.put(
                self._sheet,
                self._row,
                column,
                (text or "– not stated") if column == 2 else None,
                wrap=True,
                limit=3000,
            )
        self._join(2, 5)
        self._pen.set_height(self._sheet, self._row, _height(text, sum(WIDTHS[1:]), 9))
        self._row += 1

    def line(self, contents: Sequence[Content]) -> None:
        """A line of a small table: a name and numbers."""
        for column, content in enumerate(contents, 1):
            number = isinstance(content, int | Formula)
            self._pen.put(
                self._sheet,
                self._row,
                column,
                content,
                horizontal="right" if number else "left",
                number_format="0" if number else "General",
                fill=style.FORMULA_FILL if isinstance(content, Formula) else None,
            )
        self._row += 1

    def form(self, contents: Sequence[str], height: float, joined: tuple[int, int]) -> None:
        """A line to be filled in by hand; two of its boxes are joined to one."""
        for column, content in enumerate(contents, 1):
            border = style.box(left=column != joined[1], right=column != joined[0])
            self._pen.put(self._sheet, self._row, column, content, border=border, wrap=True)
        self._join(*joined)
        self._pen.set_height(self._sheet, self._row, height)
        self._row += 1

    def _join(self, first: int, last: int) -> None:
        """Make one cell of some in this line."""
        self._sheet.merged_cells.add(f"{get_column_letter(first)}{self._row}:{get_column_letter(last)}{self._row}")


def _height(text: str, width: float, size: float) -> float:
    """Height of a merged cell, which no program fits by itself; at most what a row can have."""
    lines = math.ceil(len(text[:3000]) * 1.12 / width) or 1
    return min(lines * size * 1.4 + 2, 400.0)
