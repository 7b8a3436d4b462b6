"""Findings as annotation lines for CI logs: ``::error file=…,line=…,title=…::message``."""

from __future__ import annotations

from loadloom.graph.model.findings import Severity
from loadloom.graph.model.results import Results
from loadloom.reports.about_words import banner, mark
from loadloom.reports.ends import joints, subject_said
from loadloom.reports.file_paths import path_of
from loadloom.reports.safe_text import annotation_text
from loadloom.reports.titles import title

_WHOLE = 200_000
"""Of an assumption: room for the names of any harness."""

_COMMANDS = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "notice"}


def render(results: Results) -> str:
    """One line for each finding that is not accepted, gravest first, then one for each assumption."""
    said = banner(results)
    lines = [f"::notice title={mark(results)}::{annotation_text(said)}\n"] if said else []
    named = joints(results)
    for finding in results.findings:
        if finding.accepted is not None:
            continue
        subject = finding.subject
        properties = {
            "file": path_of(subject.file, results),
            "title": f"{title(finding.rule)}: {subject_said(subject.id, named)}",
        }
        if subject.line is not None:
            properties["line"] = str(subject.line)
        shown = ",".join(
            f"{key}={annotation_text(value, is_property=True)}"
            for key, value in sorted(properties.items())
            if value
        )
        message = annotation_text(f"{finding.message} {finding.remedy}".strip())
        lines.append(f"::{_COMMANDS[finding.severity]} {shown}::{message}\n")
    assumed = (annotation_text(sentence, limit=_WHOLE) for sentence in results.assumptions)
    lines += [f"::notice title=Assumption::{sentence}\n" for sentence in assumed]
    return "".join(lines)
