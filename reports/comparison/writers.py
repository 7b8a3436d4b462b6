"""A comparison as terminal table, html page, workbook and JSON."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from loadloom.graph.model.results import Results
from loadloom.reports.about_words import marked_verdict
from loadloom.reports.comparison.changes import Change, Comparison, Effect
from loadloom.reports.ends import subject_said
from loadloom.reports.file_paths import input_files
from loadloom.reports.numbers import UNKNOWN
from loadloom.reports.results_json import plain
from loadloom.reports.safe_file import WriteError
from loadloom.reports.safe_text import html_text, terminal_text, visible

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

    from loadloom.reports.workbook.table import Pen

FORMAT, FORMAT_VERSION = "loadloom-comparison", "1.1"
_STYLE = {Effect.WORSE: "bold red", Effect.CHANGED: "", Effect.BETTER: "green"}
_SIGN = {Effect.WORSE: "▲ worse", Effect.CHANGED: "= changed", Effect.BETTER: "▼ better"}
_HEADINGS = ("Effect", "Kind", "Part", "What", "Before", "After", "By")
SHOWN = 15
"""Numbers of each effect that the terminal shows; files have all."""

LEAST_SAME = 0.5
"""Share of the parts that bear the same reference, below which it is said how many do."""


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
            found.setdefault((change.effect, word, change.what), []).append(subject_said(change.part, {}))
    return found


def headline(comparison: Comparison) -> str:
    """Verdicts and counts; before them, where few parts bear the same reference, that they do."""
    counts = ", ".join(f"{comparison.count(effect)} {effect}" for effect in Effect)
    new = len(comparison.new_findings)
    slight = f"; {comparison.slight} more differ by less than is printed" if comparison.slight else ""
    old, of_new, same = comparison.parts
    others = (
        f"Only {same} of {old} parts of the old and {of_new} of the new bear the same reference: renamed, or "
        "another drawing. "
        if same < LEAST_SAME * max(old, of_new)
        else ""
    )
    return (
        f"{others}{comparison.old.verdict} → {comparison.new.verdict}: {counts}; "
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
:root {{ color-scheme: light dark; }}
body {{ font: 15px/1.45 system-ui, "DejaVu Sans", sans-serif; margin: 24px; }}
table {{ border-collapse: collapse; }} th, td {{ text-align: left; vertical-align: top; padding: 4px 12px;
border-bottom: 1px solid #9995; overflow-wrap: break-word; }} td {{ max-width: 56ch; }}
td:nth-child(1), td:nth-child(2), td:nth-child(7) {{ white-space: nowrap; }} td:nth-child(3) {{ max-width: 24ch; }}
p {{ overflow-wrap: anywhere; }}
@media screen and (max-width: 700px) {{ body {{ margin: 10px; }} thead {{ position: absolute; left: -9999px; }}
table, tbody, tr {{ display: block; }} tr {{ border-bottom: 1px solid #9995; padding: 4px 0; }}
td {{ display: inline-block; border: 0; padding: 1px 8px; overflow-wrap: anywhere; }}
td:nth-child(5), td:nth-child(6) {{ display: block; max-width: none; }}
td:nth-child(6)::before {{ content: "→ "; }} }}
@media print {{ body {{ font-size: 9px; margin: 0; }} th, td {{ padding: 2px 6px; }} th {{ position: static; }} }}
th {{ position: sticky; top: 0; background: Canvas; }}
.worse td:first-child {{ color: #c2410c; font-weight: 700; }} .better td:first-child {{ color: #1f6f5c; }}
@media (prefers-color-scheme: dark) {{ .worse td:first-child {{ color: #ff8a5c; }}
.better td:first-child {{ color: #5cc2a5; }} }}
@page {{ size: A4 landscape; }}
</style></head><body>
<h1>What changed</h1>
<p>Before: {_named(comparison.old)}<br>After: {_named(comparison.new)}</p>
<p><strong>{html_text(headline(comparison))}</strong></p>
<main><table><thead><tr>{head}</tr></thead><tbody>
{rows}
</tbody></table></main></body></html>
""".encode()


def _named(results: Results) -> str:
    where = results.provenance
    parts = [where.title, where.file, f"revision {where.revision}" if where.revision else "", results.date]
    return html_text(", ".join(part for part in parts if part))


def _xlsx(comparison: Comparison) -> bytes:
    from loadloom.reports.workbook.book import moment, set_up_page
    from loadloom.reports.workbook.package import repeatable
    from loadloom.reports.workbook.style import new_workbook
    from loadloom.reports.workbook.table import Column, Pen, start_sheet, write_table

    workbook, pen = new_workbook(), Pen()
    first = workbook.create_sheet("Comparison")
    start_sheet(first, pen, "Comparison of two analyses", headline(comparison))
    facts = [_identity(results) for results in (comparison.old, comparison.new)]
    names = list(dict.fromkeys(name for each in facts for name in each))
    columns = [Column("what", "What", names, bold=True, width=30)]
    columns += [
        Column(head, head, [each.get(name) for name in names], width=54, blank=True)
        for head, each in zip(("Before", "After"), facts, strict=True)
    ]
    write_table(first, pen, columns)
    sheet = workbook.create_sheet("Changes")
    write_changes(sheet, pen, comparison)
    for each in (first, sheet):
        set_up_page(each, comparison.new)
    where = comparison.new.provenance
    workbook.properties.creator = f"loadloom {visible(comparison.new.tool_version)}"
    workbook.properties.title = f"What changed: {visible(where.title or where.file)}"[:200]
    workbook.properties.created = moment(comparison.new.date)
    return repeatable(workbook, moment(comparison.new.date), pen.sheets)


def write_changes(sheet: Worksheet, pen: Pen, comparison: Comparison) -> None:
    """The changes as a table: numbers as numbers in their own columns, words as words."""
    from loadloom.reports.workbook.table import Column, start_sheet, write_table

    start_sheet(sheet, pen, "What changed", headline(comparison))
    changes = comparison.changes
    numbers = [c.old_value is not None or c.new_value is not None for c in changes]
    columns = [
        Column("effect", "Effect", [_SIGN[c.effect] for c in changes], bold=True, width=12),
        Column("kind", "Kind", [c.kind for c in changes], width=11),
        Column("part", "Part", [subject_said(c.part, {}) for c in changes], width=18),
        Column("what", "What", [c.what for c in changes], width=22),
        Column("old", "Before", [c.old_value for c in changes], "number", scaled=False, blank=True),
        Column("new", "After", [c.new_value for c in changes], "number", scaled=False, blank=True),
        Column("unit", "Unit", ["" if c.unit in ("", "1") else c.unit for c in changes], width=6, blank=True),
        Column("step", "By", [_relative(c) for c in changes], "share", blank=True, width=10),
        Column(
            "old_words",
            "Before, in words",
            [None if number else c.old for c, number in zip(changes, numbers, strict=True)],
            width=22,
            blank=True,
        ),
        Column(
            "new_words",
            "After, in words",
            [None if number else c.new for c, number in zip(changes, numbers, strict=True)],
            width=36,
            blank=True,
        ),
    ]
    write_table(sheet, pen, columns)


def _relative(change: Change) -> float | None:
    """The relative change of a number, with its sign; None where there is none."""
    if not change.old_value or change.new_value is None:
        return None
    return change.new_value / change.old_value - 1.0


def _identity(results: Results) -> dict[str, str]:
    """What says which analysis this is: verdict, drawing, every file with its hash, tool and dates."""
    where = results.provenance
    facts = {
        "Verdict": marked_verdict(results),
        "Project": where.title,
        "Revision": where.revision,
        "Date of the drawing": where.date,
        "Tool": f"loadloom {results.tool_version}",
        "Report made": where.made or results.date,
    }
    for file in input_files(results):
        saved = f", saved {file.saved}" if file.saved else ""
        facts[f"{file.kind.capitalize()} {file.file}"] = f"SHA-256 {file.sha256}{saved}"
    return facts


def _json(comparison: Comparison) -> bytes:
    return (json.dumps(document(comparison), ensure_ascii=True, indent=1) + "\n").encode()


def document(comparison: Comparison) -> dict[str, Any]:
    """The comparison as plain values; ``schema.py`` describes it."""
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "old": _analysis(comparison.old),
        "new": _analysis(comparison.new),
        "new_findings": len(comparison.new_findings),
        "slight": comparison.slight,
        "changes": [
            {
                "effect": str(c.effect),
                "kind": c.kind,
                "part": c.part,
                "what": c.what,
                "old": c.old,
                "new": c.new,
                "by": c.note,
                "old_value": plain(c.old_value),
                "new_value": plain(c.new_value),
                "unit": c.unit or None,
            }
            for c in comparison.changes
        ],
    }


def _analysis(results: Results) -> dict[str, Any]:
    where = results.provenance
    return {
        "file": where.file,
        "sha256": where.sha256,
        "revision": where.revision,
        "verdict": str(results.verdict),
        "about": str(results.about.kind),
        "tool_version": results.tool_version,
        "date": results.date,
        "made": where.made,
        "files": plain(tuple(input_files(results))),
    }


WRITERS: dict[str, Callable[[Comparison], bytes]] = {".html": _html, ".xlsx": _xlsx, ".json": _json}


def check_suffix(path: Path) -> None:
    """Refuse a suffix that no comparison has.

    Raises:
        WriteError: it is none of ``WRITERS``.
    """
    if path.suffix.lower() not in WRITERS:
        raise WriteError(path, f"no comparison is written as that; the suffix must be one of {', '.join(WRITERS)}")


def rendered(comparison: Comparison, path: Path) -> bytes:
    """A comparison in the format of the path's suffix.

    Raises:
        WriteError: no comparison has that suffix.
    """
    check_suffix(path)
    return WRITERS[path.suffix.lower()](comparison)


def text(comparison: Comparison, width: int = 100) -> str:
    """The terminal's table as plain text."""
    stream = io.StringIO()
    print_comparison(comparison, Console(file=stream, width=width, color_system=None, highlight=False))
    return stream.getvalue()
