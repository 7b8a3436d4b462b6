"""Findings as SARIF 2.1.0 (OASIS), for code scanning and editors.

Fingerprints rest on the rule, the subject, its field and the case, never on numbers or wording, so that a
finding keeps its identity while the drawing changes around it.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import Counter
from pathlib import PurePath, PureWindowsPath
from typing import Any
from urllib.parse import quote

from loadloom.graph.model.findings import Finding, Severity
from loadloom.graph.model.harness import InputFile
from loadloom.graph.model.results import Results
from loadloom.graph.verdict.registry import all_rules
from loadloom.reports.about_words import banner, is_drawn
from loadloom.reports.file_paths import input_files, path_of
from loadloom.reports.results_json import plain
from loadloom.reports.safe_text import visible
from loadloom.reports.titles import title

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
_LEVELS = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "note"}


def render(results: Results) -> bytes:
    """The findings as one SARIF run; UTF-8, the same results give the same bytes."""
    names = sorted({*all_rules(), *(f.rule for f in results.findings)})
    seen: Counter[str] = Counter()
    run = {
        "tool": {
            "driver": {
                "name": "loadloom",
                "version": visible(results.tool_version),
                "rules": [_rule(name) for name in names],
            }
        },
        "columnKind": "utf16CodeUnits",
        "properties": {
            "verdict": str(results.verdict),
            "date": visible(results.date),
            "assumptions": [visible(sentence) for sentence in results.assumptions],
            **_about(results),
        },
        "results": [_result(f, results, names.index(f.rule), seen) for f in results.findings],
    }
    if results.provenance.file:
        run["artifacts"] = [_artifact(file) for file in input_files(results)]
    if not is_drawn(results):
        # A run of another kind: what it found is never matched with what a run of the drawing found.
        run["automationDetails"] = {"id": f"loadloom/{results.about.kind.replace(' ', '-')}/"}
    document = {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}
    return (json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode("utf-8")


def _about(results: Results) -> dict[str, Any]:
    """What a run is about that is not of the drawing as it stands."""
    return {} if is_drawn(results) else {"about": visible(banner(results)), **plain(results.about)}


def _artifact(file: InputFile) -> dict[str, Any]:
    artifact: dict[str, Any] = {"location": {"uri": _uri(file.file)}}
    if re.fullmatch(r"[0-9a-f]{64}", file.sha256):
        artifact["hashes"] = {"sha-256": file.sha256}
    return artifact


def fingerprint(finding: Finding, occurrence: int = 0) -> str:
    """What makes a finding the same finding in another run: 64 hexadecimal digits."""
    subject = finding.subject
    parts = (finding.rule, subject.id, subject.field or "", finding.case or "", str(occurrence))
    return hashlib.sha256("\x1f".join(parts).encode("utf-8", "surrogatepass")).hexdigest()


def _rule(name: str) -> dict[str, Any]:
    known = all_rules().get(name)
    entry: dict[str, Any] = {"id": visible(name), "shortDescription": {"text": visible(title(name))}}
    if known is None:
        return entry
    documentation = known.documentation.strip()
    if documentation:
        entry["fullDescription"] = {"text": documentation.partition("\n\n")[0].replace("\n", " ")}
        entry["help"] = {"text": documentation}
    entry["defaultConfiguration"] = {"level": _LEVELS[known.rule.severity]}
    return entry


def _result(finding: Finding, results: Results, rule_index: int, seen: Counter[str]) -> dict[str, Any]:
    subject = finding.subject
    plain_print = fingerprint(finding)
    occurrence = seen[plain_print]
    seen[plain_print] += 1
    location: dict[str, Any] = {
        "logicalLocations": [
            {
                "name": visible(subject.id),
                "fullyQualifiedName": visible(f"{subject.sheet_path or ''}{subject.id}"),
                "kind": "element",
            }
        ]
    }
    file = path_of(subject.file, results)
    if file:
        location["physicalLocation"] = {"artifactLocation": {"uri": _uri(file)}}
        if subject.line is not None and subject.line >= 1:
            location["physicalLocation"]["region"] = {"startLine": subject.line}
    values = {"value": finding.value, "limit": finding.limit, "unit": finding.unit, "case": finding.case}
    entry: dict[str, Any] = {
        "ruleId": visible(finding.rule),
        "ruleIndex": rule_index,
        "level": _LEVELS[finding.severity],
        "message": {"text": visible(f"{finding.message} {finding.remedy}".strip()) or visible(finding.rule)},
        "locations": [location],
        "partialFingerprints": {"loadloomFinding/v1": fingerprint(finding, occurrence)},
        "properties": {
            **{
                key: visible(value) if isinstance(value, str) else plain(value)
                for key, value in values.items()
                if value is not None
            },
        },
    }
    if finding.accepted is not None:
        accepted = finding.accepted
        until = f", until {accepted.until.isoformat()}" if accepted.until else ""
        entry["suppressions"] = [
            {
                "kind": "external",
                "status": "accepted",
                "justification": visible(f"{accepted.reason} ({accepted.by}, {accepted.date.isoformat()}{until})"),
            }
        ]
    return entry


def _uri(file: str) -> str:
    """A path as a URI reference: relative paths stay relative, absolute ones become file URIs."""
    if re.match(r"[A-Za-z]:[\\/]", file):
        return "file:///" + _quoted(PureWindowsPath(file).as_posix())
    path = PurePath(file).as_posix()
    return f"file://{_quoted(path)}" if path.startswith("/") else _quoted(path)


def _quoted(path: str) -> str:
    return quote(path.encode("utf-8", "replace"), safe="/")
