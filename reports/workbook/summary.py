"""Page one: the verdict and for what, the worst parts, open points, what was accepted and assumed; signatures."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

from openpyxl.formatting.rule import FormulaRule
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.findings import Severity, Verdict
from loadloom.graph.model.results import Results
from loadloom.reports.about_words import banner, is_drawn, mark, marked_verdict
from loadloom.reports.comparison.changes import Comparison, Effect
from loadloom.reports.comparison.writers import headline
from loadloom.reports.cover_note import SETTINGS, cover_note, part_words
from loadloom.reports.do_this import numbered, steps
from loadloom.reports.file_paths import input_files
from loadloom.reports.numbers import of_allowed
from loadloom.reports.open_points import copper, open_points, worst_rows
from loadloom.reports.order_list import OrderList
from loadloom.reports.verdict_words import meaning
from loadloom.reports.workbook import style
from loadloom.reports.workbook.currents import JUST_OVER, NO, NOT_RATED, OPEN, OVER
from loadloom.reports.workbook.edits import TYPED_OVER
from loadloom.reports.workbook.places import (
    ASSUMPTIONS,
    CHANGES,
    CONDUCTORS,
    CONTACTS,
    FINDINGS,
    OPEN_POINTS,
    PURPOSE,
    SOMETIMES,
    SOURCES,
    Places,
)
from loadloom.reports.workbook.table import (
    ACROSS,
    CHANGED_BY_HAND,
    FIRST_ROW,
    STATE,
    Content,
    Formula,
    Link,
    Pen,
)

WIDTHS = (22.0, 30.0, 22.0, 15.0, 12.0, 22.0)
LAST = len(WIDTHS)
_SCALE_PERCENT = min(100, math.floor(100.0 * ACROSS / sum(WIDTHS)))
_PAGE_POINTS = 500.0 * 100.0 / _SCALE_PERCENT
"""Height that a page of A4 landscape has for rows, a little less than between its margins (516 points)."""
_LINE_POINTS = 15.0
"""Height of a row of which none is stated."""
_WITH_HEAD = 2
"""Lines that a section's head is never parted from."""
POINTS_SHOWN, CHANGES_SHOWN, ASSUMPTIONS_SHOWN, ACCEPTED_SHOWN = 12, 12, 40, 20
"""Lines of each list on page one; the sheets of their own have all."""
CAUTIONS = (
    "This is a calculation, not a certification. Local codes and licensed practice come first.",
    "Measure before you trust: the drawing may not be what was built.",
    "A bad crimp or a loose clamp burns at a legal current, and no device sees it.",
    "Ratings hold for the conditions printed beside them; another edition of a source may say otherwise.",
    "Currents are not re-solved in this workbook: change the drawing and run the tool again.",
)
_FILLS = {Verdict.PASS: style.GREEN_FILL, Verdict.FAIL: style.RED_FILL, Verdict.INCOMPLETE: style.AMBER_FILL}
_INKS = {Verdict.PASS: style.GREEN, Verdict.FAIL: style.RED, Verdict.INCOMPLETE: style.AMBER}
_EDITED = f"OR({STATE}>0,{TYPED_OVER}>0)"


def write(
    sheet: Worksheet,
    pen: Pen,
    results: Results,
    letters: dict[str, dict[str, str]],
    places: Places,
    since: Comparison | None,
    sheets: Sequence[str],
    empty: Collection[str] = (),
    order: OrderList | None = None,
) -> None:
    """Write page one.

    ``letters``: columns of the conductors' and contacts' sheets, for the live counts. ``sheets``: the names of all
    sheets of the workbook, in their order; ``empty``: those of them that hold nothing and are hidden.
    """
    page = _Page(sheet, pen, empty)
    sheet.sheet_view.showGridLines = False
    for number, width in enumerate(WIDTHS, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    page.across("Load table for review", size=16, bold=True)
    said = f"{marked_verdict(results)} – {meaning(results)}"
    told = page.across(
        said,
        size=13,
        bold=True,
        fill=_FILLS[results.verdict],
        colour=_INKS[results.verdict],
        boxed=True,
        live=True,
    )
    amber = FormulaRule(  # type: ignore[no-untyped-call]
        [_EDITED], font=style.font(bold=True, colour=style.AMBER, size=13), fill=style.fill(style.AMBER_FILL)
    )
    sheet.conditional_formatting.add(f"A{told}:{get_column_letter(LAST)}{told}", amber)
    if not is_drawn(results):
        page.across(banner(results), size=11, bold=True, fill=style.AMBER_FILL, colour=style.AMBER, boxed=True)
    contents = page.gap()
    for line in cover_note(results, order):
        page.entry(line.head, " ".join(line.texts) if line.to == SETTINGS else numbered(line.texts), bold=True)
    page.gap()
    _drawing(page, results)
    page.gap()
    _worst(page, results, places)
    page.gap()
    _counts(page, results, letters)
    page.gap()
    _open_points(page, results, places)
    _accepted(page, results, places)
    if since is not None:
        _changes(page, since)
    page.gap()
    if is_drawn(results):
        _sign(page, results)
    else:
        page.across(
            f"No signatures here: this is {mark(results)}. Sign the report of the drawing itself.", bold=True
        )
    page.gap()
    _analysis(page, results)
    page.gap()
    _assumed(page, results)
    page.gap()
    page.heading("Cautions", ())
    for caution in CAUTIONS:
        page.across(f"• {caution}")
    page.gap()
    row = page.heading("Contents: sheets, in the order of reading", ())
    for name in sheets:
        if name not in empty:
            page.entry(name, PURPOSE.get(name) or SOMETIMES[name], link=name)
    if empty:
        page.entry("Hidden", f"nothing to say here: {', '.join(name for name in sheets if name in empty)}")
    pen.put(sheet, contents, 1, Link(f"Contents: row {row}", sheet.title, row), border=None)
    pen.set_height(sheet, contents, 15)
    page.keep_heads()


def set_scale(sheet: Worksheet) -> None:
    """Print the sheet at a scale of its own: breaks between pages hold in no sheet that is fitted to a page."""
    sheet.page_setup.scale = _SCALE_PERCENT
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=False)


def _drawing(page: _Page, results: Results) -> None:
    where = results.provenance
    page.heading("For this drawing", ())
    page.entry("Project", where.title)
    revision = f"{where.revision or '– not stated'}, of {where.date}" if where.date else where.revision
    page.entry("Revision", revision)
    page.entry("Company", where.company)
    page.entry("File", f"{where.file}, SHA-256 {where.sha256}" if where.file else "")
    page.entry("Report made", f"{where.made or results.date}, loadloom {results.tool_version}")


def _worst(page: _Page, results: Results, places: Places) -> None:
    """The parts that are worst off, by the worse of load and sustained fault current over allowed."""
    worst, todo = worst_rows(results), steps(results)
    page.heading("Worst five", ("", "What it is", "Load over allowed", "Fault over allowed", "", "Worse is"))
    rows = {r.id: r for r in copper(results)}
    for part, _, by in worst:
        row = rows[part]
        load = row.utilisation
        fault = row.sustained_fault_a / row.allowed_a if row.sustained_fault_a and row.allowed_a else None
        verdict = {True: "protected", False: "NOT protected", None: "protection not determined"}[row.protected]
        named = part_words(row)
        page.line((places.part(part), named, of_allowed(load), of_allowed(fault), "", f"{by}; {verdict}"))
        if part in todo:
            page.entry("Why", numbered([step.why for step in todo[part]]))
            page.entry("What to change", numbered([step.do for step in todo[part]]))
    if not worst:
        page.across("Nothing is rated.")


def _open_points(page: _Page, results: Results, places: Places) -> None:
    points = open_points(results)
    page.heading(f"Open points: {len(points)}", ("", "What", "", "Owner", "Due", "State"), link=OPEN_POINTS)
    for point in points[:POINTS_SHOWN]:
        page.wide(places.part(point.part), f"{point.number}. {point.text}", (point.owner, point.due, point.state))
    if len(points) > POINTS_SHOWN:
        page.across(f"… and {len(points) - POINTS_SHOWN} more on the sheet {OPEN_POINTS}.")
    if not points:
        page.across("None: no error is open, and nothing is left undetermined.")
    page.gap()


def _accepted(page: _Page, results: Results, places: Places) -> None:
    accepted = [f for f in results.findings if f.accepted is not None]
    head = ("", "Reason", "", "By", "Date", "Until")
    page.heading(f"Accepted findings: {len(accepted)}", head if accepted else (), link=FINDINGS)
    for finding in accepted[:ACCEPTED_SHOWN]:
        entry = finding.accepted
        assert entry is not None
        until = entry.until.isoformat() if entry.until else "no end stated"
        text = f"{finding.rule}: {entry.reason}"
        page.wide(places.part(finding.subject.id), text, (entry.by, entry.date.isoformat(), until))
    if len(accepted) > ACCEPTED_SHOWN:
        page.across(f"… and {len(accepted) - ACCEPTED_SHOWN} more on the sheet {FINDINGS}.")
    page.gap()


def _changes(page: _Page, since: Comparison) -> None:
    where = since.old.provenance
    named = f"revision {where.revision}" if where.revision else since.old.date
    page.heading("Changed since", ("", named[:60], "", "Before", "", "After"), link=CHANGES)
    page.across(headline(since))
    worse = [c for c in since.changes if c.effect is not Effect.CHANGED] or list(since.changes)
    for change in worse[:CHANGES_SHOWN]:
        words = f"{change.kind}: {change.what} ({change.effect})"
        page.line((change.part, words, "", change.old[:80], "", change.new[:80]))
    if len(since.changes) > CHANGES_SHOWN:
        page.across(f"All {len(since.changes)} changes are on the sheet {CHANGES}.")
    page.gap()


def _assumed(page: _Page, results: Results) -> None:
    page.heading("Under worse conditions", ("", "Condition", "", "Further parts that fail", "", "First of them"))
    for row in results.sensitivity:
        first = ", ".join(row.first)
        page.line(("", row.condition, "", row.fails, "", f"{first}, …" if row.fails > len(row.first) else first))
    if not results.sensitivity:
        page.across("Not asked for.")
    page.gap()
    page.heading(f"Assumptions: {len(results.assumptions)}", (), link=ASSUMPTIONS)
    for number, sentence in enumerate(results.assumptions[:ASSUMPTIONS_SHOWN], 1):
        page.across(f"A{number}. {sentence}")
    if len(results.assumptions) > ASSUMPTIONS_SHOWN:
        page.across(f"… and {len(results.assumptions) - ASSUMPTIONS_SHOWN} more on the sheet {ASSUMPTIONS}.")


def _sign(page: _Page, results: Results) -> None:
    """The blocks that make the sheet a record of the drawing: signatures and changes of its revisions."""
    page.heading("Signatures", ("", "Name", "", "Date", "", "Signature"))
    for role in ("Prepared", "Checked", "Approved"):
        page.form((role, "", "", "", "", ""), height=22, joined=((2, 3), (4, 5)))
    page.gap()
    where = results.provenance
    page.heading("Change record: revision", ("", "Change", "", "Date", "", "By"))
    for revision, date in ((where.revision, where.date), ("", ""), ("", ""), ("", "")):
        page.form((revision, "", "", date, "", ""), height=18, joined=((2, 3), (4, 5)))


def _analysis(page: _Page, results: Results) -> None:
    settings = results.settings
    rules = settings.get("rule_sets") or ()
    page.heading("How it was made", ())
    page.entry("Tool", f"loadloom {results.tool_version}, read by way of {results.provenance.route}")
    page.entry("Date of this report", results.provenance.made or results.date)
    for file in input_files(results):
        saved = f", saved {file.saved}" if file.saved else ""
        page.entry(f"{file.kind.capitalize()}", f"{file.file}, SHA-256 {file.sha256}{saved}")
    assumed = " (assumed)" if settings.get("basis_stated") is False else ""
    page.entry("Rating basis", f"{settings.get('basis', '')}{assumed}")
    page.entry(
        "Rule sets", ", ".join(str(r) for r in rules) if isinstance(rules, list | tuple) and rules else "none"
    )
    rated = (row.rating for row in (*results.conductors, *results.contacts))
    used = dict.fromkeys(rating.source for rating in rated if rating is not None and rating.source)
    editions = [f"{key}: {text}" if key not in text else text for key, text in _cited(results, list(used))]
    page.entry(
        "Editions of tables", f"{'; '.join(editions) or 'none'} (all {len(results.sources)}: sheet {SOURCES})"
    )
    page.entry("Load cases", ", ".join(case.id for case in results.cases))
    page.entry("Greatest residual", f"{results.residual_a:.2g} A, sum of currents at any joint of any solved case")


def _cited(results: Results, used: list[str]) -> list[tuple[str, str]]:
    """The tables that ratings were read from, with edition and year as they are cited."""
    return [(name, results.sources.get(name, name)) for name in used]


def _counts(page: _Page, results: Results, letters: dict[str, dict[str, str]]) -> None:
    page.heading("What was found", ("", "By the tool", "Live, here"), numbers=True)
    words = {Severity.ERROR: "Errors", Severity.WARNING: "Warnings", Severity.NOTE: "Notes"}
    for severity in Severity:
        page.line((f"{words[severity]}, not accepted", results.count(severity), ""))
    page.line(("Accepted findings", sum(1 for f in results.findings if f.accepted is not None), ""))
    for name, rows in ((CONDUCTORS, results.conductors), (CONTACTS, results.contacts)):
        counted = (
            ("over allowed", "mark", OVER, sum(_over(r.utilisation) for r in rows)),
            ("NOT protected", "protected", NO, sum(r.protected is False for r in rows)),
            ("not rated", "mark", NOT_RATED, sum(r.utilisation is None for r in rows)),
            ("undetermined", "protected", OPEN, sum(r.protected is None for r in rows)),
        )
        for what, key, word, value in counted:
            live: Content = ""
            if rows:
                letter = letters[name][key]
                area = f"'{name}'!${letter}${FIRST_ROW}:${letter}${FIRST_ROW + len(rows) - 1}"
                live = Formula(f'=COUNTIF({area},"{word}")', value)
            page.line((f"{name} {what}", value, live))


def _over(used: float | None) -> bool:
    return used is not None and used > float(JUST_OVER)


class _Page:
    """Writes down a page line by line."""

    def __init__(self, sheet: Worksheet, pen: Pen, hidden: Collection[str]) -> None:
        self._sheet = sheet
        self._pen = pen
        self._hidden = hidden
        self._row = 1
        self._heads: list[int] = []

    def keep_heads(self) -> None:
        """Begin a new page before a section's head that would stand at the foot of one without its first lines."""
        heights, used = self._pen.on(self._sheet).heights, 0.0
        for row in range(1, self._row):
            with_head = range(row, min(row + 1 + _WITH_HEAD, self._row)) if row in self._heads else (row,)
            if used + sum(heights.get(r, _LINE_POINTS) for r in with_head) > _PAGE_POINTS:
                if row in self._heads:
                    self._sheet.row_breaks.append(Break(id=row - 1))
                used = 0.0
            used += heights.get(row, _LINE_POINTS)

    def gap(self) -> int:
        """An empty line; its row."""
        self._pen.set_height(self._sheet, self._row, 8)
        self._row += 1
        return self._row - 1

    def across(
        self,
        text: str,
        *,
        size: float = 9,
        bold: bool = False,
        fill: str | None = None,
        colour: str = style.INK,
        boxed: bool = False,
        live: bool = False,
    ) -> int:
        """A text over the whole width; its row. A live one gives way to the words on changes made by hand."""
        content: Content = text
        if live:
            # A formula holds no text of the drawing: the text stands in a cell of its own, to the right.
            hidden = f"${get_column_letter(LAST + 2)}${self._row}"
            self._pen.put(self._sheet, self._row, LAST + 2, text, colour="FFFFFFFF", size=1, border=None)
            content = Formula(f'=IF({_EDITED},"{CHANGED_BY_HAND.capitalize()}",{hidden})', text)
        for column in range(1, LAST + 1):
            self._pen.put(
                self._sheet,
                self._row,
                column,
                content if column == 1 else None,
                size=size,
                bold=bold,
                fill=fill,
                colour=colour,
                border=style.box(left=column == 1, right=column == LAST) if boxed else None,
                wrap=True,
            )
        self._join(1, LAST)
        height = _height(text, sum(WIDTHS) * 9 / size, size)
        self._pen.set_height(self._sheet, self._row, height + (8 if boxed else 0))
        self._row += 1
        return self._row - 1

    def heading(self, title: str, names: Sequence[str], numbers: bool = False, link: str | None = None) -> int:
        """The head of a section, with the names of its columns if it has some; its row."""
        self._heads.append(self._row)
        to_nothing = link is None or link in self._hidden
        shown: list[Content] = [title if to_nothing else Link(title, link or "", 1), *names[1:]]
        for column in range(1, LAST + 1):
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
        if not names:
            self._join(1, LAST)
        self._pen.set_height(self._sheet, self._row, 15)
        self._row += 1
        return self._row - 1

    def entry(self, name: str, text: str, link: str | None = None, *, bold: bool = False) -> None:
        """A name and what stands for it."""
        content = name if link is None else Link(name, link, 1)
        colour = style.GREY if link is None and not bold else style.INK
        self._pen.put(self._sheet, self._row, 1, content, colour=colour, vertical="top", bold=bold)
        self._joined(2, LAST, text or "– not stated")
        # Names of files and sums of digits are wider than words.
        self._pen.set_height(self._sheet, self._row, _height(text, 0.87 * sum(WIDTHS[1:]), 9))
        self._row += 1

    def wide(self, name: Content, text: str, rest: Sequence[str]) -> None:
        """A part, a text over two columns, and what is stated or to be filled in about it."""
        self._pen.put(self._sheet, self._row, 1, name, bold=True, vertical="top")
        self._joined(2, 3, text)
        for column, each in enumerate(rest, 4):
            self._pen.put(self._sheet, self._row, column, each, border=style.box(left=True, right=True), wrap=True)
        height = _height(text, sum(WIDTHS[1:3]), 9)
        height = max(height, *(_height(each, width, 9) for each, width in zip(rest, WIDTHS[3:], strict=True)))
        self._pen.set_height(self._sheet, self._row, height)
        self._row += 1

    def line(self, contents: Sequence[Content]) -> None:
        """A line of a small table: a name and numbers or words."""
        height = 12.5
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
                wrap=isinstance(content, str),
            )
            if isinstance(content, str):
                room = WIDTHS[column - 1] + (
                    WIDTHS[column] if column < len(contents) and contents[column] == "" else 0
                )
                height = max(height, _height(content, room, 9))
                if column > 1 and column < len(contents) and contents[column] == "" and content:
                    self._join(column, column + 1)
        self._pen.set_height(self._sheet, self._row, height)
        self._row += 1

    def form(self, contents: Sequence[str], height: float, joined: Sequence[tuple[int, int]]) -> None:
        """A line to be filled in by hand; some of its boxes are joined."""
        firsts, lasts = {a for a, _ in joined}, {b for _, b in joined}
        for column, content in enumerate(contents, 1):
            border = style.box(left=column not in lasts, right=column not in firsts)
            self._pen.put(self._sheet, self._row, column, content, border=border, wrap=True)
        for first, last in joined:
            self._join(first, last)
        self._pen.set_height(self._sheet, self._row, height)
        self._row += 1

    def _joined(self, first: int, last: int, text: str) -> None:
        for column in range(first, last + 1):
            shown = text if column == first else None
            self._pen.put(self._sheet, self._row, column, shown, wrap=True, limit=3000, vertical="top")
        self._join(first, last)

    def _join(self, first: int, last: int) -> None:
        """Make one cell of some in this line."""
        self._sheet.merged_cells.add(f"{get_column_letter(first)}{self._row}:{get_column_letter(last)}{self._row}")


def _height(text: str, width: float, size: float) -> float:
    """Height of a merged cell, which no program fits by itself; at most what a row can have."""
    lines = math.ceil(len(text[:3000]) * 0.74 / width) or 1
    return min(lines * size * 1.4 + 2, 400.0)
