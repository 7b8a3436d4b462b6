"""The sheet of findings."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.findings import Finding, Severity
from loadloom.graph.model.results import Results
from loadloom.reports.workbook import places as at
from loadloom.reports.workbook import style
from loadloom.reports.workbook.places import Places
from loadloom.reports.workbook.table import (
    FIRST_ROW,
    Column,
    Content,
    Link,
    Pen,
    start_sheet,
    warn_of_edits,
    write_table,
)

SEVERITY_MARK = {Severity.ERROR: "■ error", Severity.WARNING: "▲ warning", Severity.NOTE: "○ note"}


def write_findings(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Findings, gravest first; each leads to the row of its subject."""
    note = (
        "Of the tool's own run, gravest first. Part leads to its row, and the row's findings lead back here. Where "
        "it is drawn and by which clause is on the sheet “… in full”. Accepted findings stay. What a device "
        "holds is the most that it lets flow continuously without opening."
    )
    start_sheet(sheet, pen, at.FINDINGS, note)
    warn_of_edits(sheet, pen)
    found = results.findings
    fills = [_severity_fill(f) for f in found]
    columns = [
        Column("number", "No.", _numbers(len(found), at.FINDINGS_FULL), width=5.5),
        Column("severity", "Severity", [SEVERITY_MARK[f.severity] for f in found], width=11, fills=fills),
        Column("part", "Part", [places.part(f.subject.id) for f in found], width=11, bold=True, fills=fills),
        Column("rule", "Rule", [f.rule for f in found], width=17),
        Column("message", "Finding", [f.message for f in found], width=42),
        Column("remedy", "Remedy", [f.remedy for f in found], width=34),
        Column("case", "Load case", [f.case for f in found], width=12, blank=True),
        Column("accepted", "Accepted", [_accepted(f) for f in found], width=16, blank=True),
    ]
    write_table(sheet, pen, columns)


def write_findings_in_full(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """All else about the findings."""
    start_sheet(sheet, pen, at.FINDINGS_FULL, "Beside the findings for review; the number leads to the row there.")
    found = results.findings
    columns = [
        Column("number", "No.", _numbers(len(found), at.FINDINGS), width=5.5),
        Column("part", "Part", [places.part(f.subject.id) for f in found], width=12, bold=True),
        Column("rule", "Rule", [f.rule for f in found], width=24),
        Column("value", "Value", [f.value for f in found], "number", scaled=False, blank=True),
        Column("limit", "Limit", [f.limit for f in found], "number", scaled=False, blank=True),
        Column("unit", "Unit", ["" if f.unit in (None, "1") else f.unit for f in found], width=6, blank=True),
        Column("where", "Where drawn", [_where(f) for f in found], width=34, blank=True),
        Column("source", "Clause or source", [f.source for f in found], width=34, blank=True),
    ]
    write_table(sheet, pen, columns)


def _numbers(count: int, sheet: str) -> list[Content]:
    """The number of each finding, which leads to its row on the other sheet."""
    return [Link(str(n), sheet, FIRST_ROW + n - 1) for n in range(1, count + 1)]


def _severity_fill(finding: Finding) -> str:
    if finding.accepted is not None:
        return style.HEADER_FILL
    fills = {Severity.ERROR: style.RED_FILL, Severity.WARNING: style.AMBER_FILL, Severity.NOTE: style.BLUE_FILL}
    return fills[finding.severity]


def _where(finding: Finding) -> str:
    subject = finding.subject
    parts = [f"sheet {subject.sheet_path}" if subject.sheet_path else ""]
    parts.append(f"{subject.reference} pin {subject.pin}" if subject.pin else subject.reference or "")
    parts.append(f"field {subject.field}" if subject.field else "")
    parts.append(
        f"{subject.file}:{subject.line}" if subject.file and subject.line is not None else subject.file or ""
    )
    return ", ".join(filter(None, parts))


def _accepted(finding: Finding) -> str | None:
    entry = finding.accepted
    if entry is None:
        return None
    until = f", until {entry.until.isoformat()}" if entry.until else ""
    value = f", at {entry.value:.3g}" if entry.value is not None else ""
    return f"{entry.reason} ({entry.by}, {entry.date.isoformat()}{until}{value})"
