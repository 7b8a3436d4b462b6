"""A comparison as terminal table, html page, workbook and JSON."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from loadloom.graph.results import Results
from loadloom.reports.comparison.changes import Change, Comparison, Effect
from loadloom.reports.numbers import UNKNOWN
from loadloom.reports.safe_text import html_text, terminal_text
from loadloom.reports.writers import WriteError, write_bytes

_STYLE = {Effect.WORSE: "bold red", Effect.CHANGED: "", Effect.BETTER: "green"}
_SIGN = {Effect.WORSE: "▲ worse", Effect.CHANGED: "= changed", Effect.BETTER: "▼ better"}
_HEADINGS = ("Effect", "Kind", "Part", "What", "Before", "After", "By")
SHOWN = 15
"""Numbers of each effect that the terminal shows; files have all."""


def print_comparison(comparison: Comparison, console: Console | None = None) -> None:
    """Print what changed: verdict and findings first, then the numbers that changed most."""
    target = console or Console(highlight=False)
    target.print(Text(headline(comparison)))
    messages: dict[str, str] = {}
    for finding in comparison.new_findings:
        messages.setdefault(f"{finding.severity} {finding.rule}", finding.message)
    for (effect, word, what), parts in _findings(comparison).items():
        line = f"{_SIGN[effect][0]} {word}, {what}: {terminal_text(', '.join(parts), 200)}"
        target.print(Text(terminal_text(line, 400), style=_STYLE[effect]))
        if word == "new" and what in messages:
            target.print(Padding(Text(terminal_text(messages[what], 1200)), (0, 0, 0, 2), expand=False))
    numbers = [c for c in comparison.changes if c.kind not in _TOLD]
    if not numbers:
        return
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in _HEADINGS:
        table.add_column(heading, overflow="fold")
    left = 0
    for effect in Effect:
        mine = sorted((c for c in numbers if c.effect is effect), key=lambda c: -c.step)
        left += len(mine[SHOWN:])
        for change in mine[:SHOWN]:
            cells = [Text(terminal_text(cell, 160)) for cell in _cells(change)]
            cells[0].stylize(_STYLE[effect])
            table.add_row(*cells)
    target.print()
    target.print(table)
    if left:
        target.print(f"  and {left} that changed less; -o FILE writes all")


_TOLD = ("verdict", "finding")


def _findings(comparison: Comparison) -> dict[tuple[Effect, str, str], list[str]]:
    """The parts whose findings are new, gone or changed, by effect, which of these, and severity with rule."""
    found: dict[tuple[Effect, str, str], list[str]] = {}
    for change in comparison.changes:
        if change.kind == "finding":
            word = "new" if change.old == UNKNOWN else "gone" if change.new == UNKNOWN else str(change.effect)
            found.setdefault((change.effect, word, change.what), []).append(change.part)
    return found


def headline(comparison: Comparison) -> str:
    """One line: verdicts and counts."""
    counts = ", ".join(f"{comparison.count(effect)} {effect}" for effect in Effect)
    new = len(comparison.new_findings)
    slight = f"; {comparison.slight} more differ by less than is printed" if comparison.slight else ""
    return (
        f"{comparison.old.verdict} → {comparison.new.verdict}: {counts}; "
        f"{new} new finding{'' if new == 1 else 's'}{slight}."
    )


def _cells(change: Change) -> tuple[str, ...]:
    return _SIGN[change.effect], change.kind, change.part, change.what, change.old, change.new, change.note


def _html(comparison: Comparison) -> bytes:
    rows = "\n".join(
        f'<tr class="{change.effect}">' + "".join(f"<td>{html_text(c)}</td>" for c in _cells(change)) + "</tr>"
        for change in comparison.changes
    )
    head = "".join(f'<th scope="col">{heading}</th>' for heading in _HEADINGS)
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>Comparison of two harness analyses</title>
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<style>
:root {{ color-scheme: light loses_supply; }}
body {{ font: 15px/1.45 system-ui, "DejaVu Sans", sans-serif; margin: 24px; }}
table {{ border-collapse: collapse; }} th, td {{ text-align: left; vertical-align: top; padding: 4px 12px;
border-bottom: 1px solid #9995; overflow-wrap: anywhere; }} th {{ position: sticky; top: 0; background: Canvas; }}
.worse td:first-child {{ color: #c2410c; font-weight: 700; }} .better td:first-child {{ color: #1f6f5c; }}
@media (prefers-color-scheme: dark) {{ .worse td:first-child {{ color: #ff8a5c; }}
.better td:first-child {{ color: #5cc2a5; }} }}
@page {{ size: A4 landscape; }}
</style></head><body>
<h1>What changed</h1>
<p>Before: {_named(comparison.old)}<br>After: {_named(comparison.new)}</p>
<p><strong>{html_text(headline(comparison))}</strong></p>
<table><thead><tr>{head}</tr></thead><tbody>
{rows}
</tbody></table></body></html>
""".encode()


def _named(results: Results) -> str:
    where = results.provenance
    parts = [where.title, where.file, f"revision {where.revision}" if where.revision else "", results.date]
    return html_text(", ".join(part for part in parts if part))


def _xlsx(comparison: Comparison) -> bytes:
    from openpyxl import Workbook

    from loadloom.reports.workbook.book import moment, set_up_page
    from loadloom.reports.workbook.package import repeatable
    from loadloom.reports.workbook.table import Column, Pen, start_sheet, write_table

    workbook, pen = Workbook(), Pen()
    sheet = workbook.active
    assert sheet is not None
    sheet.title = "Changes"
    start_sheet(sheet, pen, "What changed", headline(comparison))
    keys = ("effect", "kind", "part", "what", "old", "new", "by")
    cells = [_cells(change) for change in comparison.changes]
    columns = [
        Column(key, heading, [row[n] for row in cells], blank=True)
        for n, (key, heading) in enumerate(zip(keys, _HEADINGS, strict=True))
    ]
    write_table(sheet, pen, columns)
    set_up_page(sheet, comparison.new)
    return repeatable(workbook, moment(comparison.new.date), pen.sheets)


def _json(comparison: Comparison) -> bytes:
    document = {
        "format": "loadloom-comparison",
        "format_version": "1.0",
        "old": {"file": comparison.old.provenance.file, "verdict": comparison.old.verdict},
        "new": {"file": comparison.new.provenance.file, "verdict": comparison.new.verdict},
        "new_findings": len(comparison.new_findings),
        "changes": [
            {
                "effect": c.effect,
                "kind": c.kind,
                "part": c.part,
                "what": c.what,
                "old": c.old,
                "new": c.new,
                "by": c.note,
            }
            for c in comparison.changes
        ],
    }
    return (json.dumps(document, ensure_ascii=True, indent=1) + "\n").encode()


WRITERS: dict[str, Callable[[Comparison], bytes]] = {".html": _html, ".xlsx": _xlsx, ".json": _json}


def check_suffix(path: Path) -> None:
    """Refuse a suffix that no comparison has.

    Raises:
        WriteError: it is none of ``WRITERS``.
    """
    if path.suffix.lower() not in WRITERS:
        raise WriteError(path, f"no comparison is written as that; the suffix must be one of {', '.join(WRITERS)}")


def write_comparison(comparison: Comparison, path: Path) -> None:
    """Write a comparison in the format of the path's suffix.

    Raises:
        WriteError: unknown suffix, or the file can't be written; what stood there before is untouched.
    """
    check_suffix(path)
    write_bytes(path, WRITERS[path.suffix.lower()](comparison))


def text(comparison: Comparison, width: int = 100) -> str:
    """The terminal's table as plain text."""
    stream = io.StringIO()
    print_comparison(comparison, Console(file=stream, width=width, color_system=None, highlight=False))
    return stream.getvalue()
