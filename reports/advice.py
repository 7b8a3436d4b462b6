"""Advice on sizes, settings and ways, written: on the terminal, as JSON, and in page and workbook of the harness
that is proposed.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loadloom.graph.model.naming import as_drawn, some_of
from loadloom.reports.about_words import banner, mark
from loadloom.reports.advice_tables import Table, headline, spread_words, tables
from loadloom.reports.numbers import figures
from loadloom.reports.safe_file import WriteError
from loadloom.reports.safe_text import html_text, terminal_text

if TYPE_CHECKING:
    from rich.console import Console

    from loadloom.graph.sizing.advice import Advice
    from loadloom.graph.sizing.advise import Advised

_NAMES_SHOWN = 12
"""Parts that the terminal names for one rule."""

FORMAT, FORMAT_VERSION = "loadloom-advice", "2.0"


_TERMINAL: dict[str, tuple[str, ...]] = {
    "Sizes": ("Conductor", "Drawn", "Proposed", "Governed by"),
    "Settings": ("Device", "Arrangement", "Drawn", "Proposed", "Setting range from", "Setting range to", "Why"),
    "Contact families": ("Connector", "Drawn", "Proposed", "Needed", "Why"),
    "Parts to choose": ("Part", "Field", "Drawn", "At least"),
    "Switches to open": ("Switch", "Mends", "Why"),
    "Paths": ("Contacts", "Current", "Drawn", "Needed", "Note"),
}
"""What the terminal shows of which table."""
_WIDE, _WIDE_ONLY = 110, ("Setting range from", "Setting range to")
"""Columns of a terminal from which the last column has room beside these, which files have as well."""


def print_advice(advised: Advised, console: Console | None = None) -> None:
    """Print what changes, what can't be mended by sizes, and what remains; files have everything."""
    from rich.console import Console
    from rich.table import Table as Grid
    from rich.text import Text

    target = console or Console(highlight=False)
    advice = advised.advice
    sign = str(advice.settings.get("decimal_sign", "."))
    target.print(Text(terminal_text(banner(advised.results), 1200), style="bold"))
    target.print(Text(terminal_text(headline(advice), 600)))
    for table in tables(advice):
        chosen = _TERMINAL.get(table.name)
        rows = _shown_rows(table, advice)
        if chosen is None or not rows:
            continue
        target.print(Text(f"\n{table.name}", style="bold"))
        shown = Grid(box=None, pad_edge=False, header_style="bold")
        fields = [f for f in table.fields if f.title in chosen]
        if target.width < _WIDE:
            fields = [f for f in fields if f.title not in _WIDE_ONLY]
        for f in fields:
            shown.add_column(f"{f.title} {f.unit}".strip(), overflow="fold", justify="right" if f.unit else "left")
        for k in rows:
            shown.add_row(*(Text(terminal_text(_cell(f.values[k], sign), 400)) for f in fields))
        target.print(shown)
    for title, pairs in (
        ("No stocked size mends", [(row.rule, row.subject) for row in advice.left]),
        ("Remaining after this", [(f"{f.severity} {f.rule}", as_drawn(f.subject.id)) for f in advice.remaining]),
    ):
        if pairs:
            target.print(Text(f"\n{title}", style="bold"))
            for rule in dict.fromkeys(rule for rule, _ in pairs):
                parts = list(dict.fromkeys(part for name, part in pairs if name == rule))
                target.print(
                    Text(f"  {terminal_text(rule, 60)}: {terminal_text(some_of(parts, _NAMES_SHOWN), 400)}")
                )
    if advice.spread is not None:
        target.print(Text("\nSpread of the loads", style="bold"))
        target.print(Text(f"  {terminal_text(spread_words(advice.spread), 600)}"))
    target.print(Text(f"\n{terminal_text(advice.assumptions[0], 600)}"))
    target.print(Text("A file (-o) says why, and what would mend the rest.", style="dim"))


def _shown_rows(table: Table, advice: Advice) -> list[int]:
    if table.name == "Sizes":
        return [k for k, row in enumerate(advice.sizes) if row.changed]
    if table.name == "Settings":
        return [k for k, d in enumerate(advice.devices) if d.changed or d.proposed_a is None]
    if table.name == "Paths":
        return [k for k, w in enumerate(advice.contacts) if w.needed is None or w.needed > w.drawn]
    return list(range(table.rows))


def _cell(value: str | float | int | None, sign: str) -> str:
    if isinstance(value, float):
        return figures(value, sign) if math.isfinite(value) else "–"
    return "–" if value is None else str(value)


def _html(advised: Advised) -> bytes:
    """The page of the harness as proposed, with the advice as its first section."""
    from loadloom.reports.page import data_element, render

    shown = [_on_the_page(table) for table in tables(advised.advice) if table.rows]
    section = (
        '<section id="advice" aria-labelledby="advice-title"><h2 id="advice-title">Advice</h2>'
        f"<p><strong>{html_text(headline(advised.advice))}</strong></p>"
        '<p class="hint">Everything below this section is the harness as proposed.</p>'
        f'<div id="advice-tables"></div>{data_element("advice-data", shown)}</section>'
    )
    return render(advised.results, section)


_LONG_TEXT = (
    "Why",
    "Finding",
    "Remedy",
    "What would",
    "Note",
    "Assumption",
    "Loads today",
    "Loads proposed",
    "Mends",
)


_ON_ONE_LINE = 9
"""Letters of a text that is never broken: a size, such as ``0.75 mm²``."""


def _on_the_page(table: Table) -> dict[str, Any]:
    """A table for the page's script: its columns with what they hold, and its rows as lists."""
    columns = []
    for number, f in enumerate(table.fields):
        if all(value is None or isinstance(value, str) for value in f.values):
            short = all(len(str(value or "")) <= _ON_ONE_LINE for value in f.values)
            kind = "words" if f.title in _LONG_TEXT else "id" if number == 0 else "short" if short else "text"
        else:
            kind = "number" if any(isinstance(value, float) for value in f.values) else "count"
        columns.append({"title": f"{f.title}, {f.unit}" if f.unit else f.title, "kind": kind})
    rows = [[_finite(f.values[k]) for f in table.fields] for k in range(table.rows)]
    return {"name": table.name, "note": table.note, "columns": columns, "rows": rows}


def _finite(value: str | float | int | None) -> str | float | int | None:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _xlsx(advised: Advised) -> bytes:
    """The review workbook of the harness as proposed, with a sheet of advice for every table behind it."""
    from loadloom.reports.workbook.book import drawn, moment, set_up_page
    from loadloom.reports.workbook.package import repeatable
    from loadloom.reports.workbook.table import Column, start_sheet, write_table

    workbook, pen = drawn(advised.results)
    for number, table in enumerate(tables(advised.advice)):
        sheet = workbook.create_sheet(f"Advice {table.name.lower()}")
        note = f"{headline(advised.advice)} {table.note}" if number == 0 else table.note
        start_sheet(sheet, pen, f"Advice: {table.name.lower()}", note)
        columns = []
        for k, f in enumerate(table.fields):
            text = all(v is None or isinstance(v, str) for v in f.values)
            columns.append(Column(f"c{k}", f.title, f.values, kind="text" if text else "number", unit=f.unit))
        write_table(sheet, pen, columns)
        set_up_page(sheet, advised.results)
    workbook.properties.title = f"{mark(advised.results)}: Load table for review, with advice"
    return repeatable(workbook, moment(advised.advice.date), pen.sheets)


def _json(advised: Advised) -> bytes:
    from loadloom.reports.results_json import finding_object, plain

    advice = advised.advice
    document = {"format": FORMAT, "format_version": FORMAT_VERSION, "about": plain(advised.results.about)}
    document |= plain(advice)
    for name, findings in (("mended", advice.mended), ("remaining", advice.remaining)):
        document[name] = [finding_object(finding) for finding in findings]
    return (json.dumps(document, ensure_ascii=True, indent=1) + "\n").encode()


WRITERS: dict[str, Callable[[Advised], bytes]] = {".html": _html, ".xlsx": _xlsx, ".json": _json}


def check_suffix(path: Path) -> None:
    """Refuse a suffix that no advice has.

    Raises:
        WriteError: it is none of ``WRITERS``.
    """
    if path.suffix.lower() not in WRITERS:
        raise WriteError(path, f"no advice is written as that; the suffix must be one of {', '.join(WRITERS)}")


def rendered(advised: Advised, path: Path) -> bytes:
    """Advice in the format of the path's suffix.

    Raises:
        WriteError: no advice has that suffix.
    """
    check_suffix(path)
    return WRITERS[path.suffix.lower()](advised)
