"""Checks as JUnit XML: one case per rule and object, so that passes show as well as findings.

A check that could not be made is ``skipped`` with its reason, never a pass. An accepted finding is a pass that
names its acceptance in the output. Warnings and notes fail their case too: the build server decides on the
exit code, the file says what was found.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import Any

from loadloom.graph.model.findings import Finding
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.results import CurrentRow, Results
from loadloom.graph.verdict.registry import all_rules
from loadloom.reports.about_words import banner
from loadloom.reports.file_paths import path_of
from loadloom.reports.safe_text import shortened, visible

_NAME_LIMIT = 500
_WHOLE = "harness"


def _not_rated(row: Any) -> str | None:
    """Why a rating check of a row says nothing; None where it does."""
    if row.utilisation is not None:
        return None
    missing = row.rating.missing if isinstance(row, CurrentRow) and row.rating else None
    return f"not determined: {missing or 'its current or its allowed current is not known'}"


def _not_protected(row: CurrentRow) -> str | None:
    if row.protected is not None:
        return None
    return f"not determined: {row.protected_note or 'protection was not judged'}"


def _no_limit(row: Any) -> str | None:
    return (
        None
        if row.voltage_v is not None and row.minimum_v is not None
        else "not determined: no minimum voltage known"
    )


def _no_maximum(row: Any) -> str | None:
    known = row.voltage_high_v is not None and row.maximum_v is not None
    return None if known else "not determined: no maximum voltage known"


def _no_setting_range(row: Any) -> str | None:
    if row.range_not_determined:
        return str(row.setting_range_note)
    known = row.setting_low_a is not None and (row.setting_high_a is not None or row.setting_range_note)
    return None if known else "not determined: the setting range is not known"


Objects = Callable[[Results], Iterable[tuple[str, str | None]]]
"""Ids of what a rule looks at, each with why it was not determined, or None."""


def _rows(table: str, reason: Callable[[Any], str | None], role: str | None = None) -> Objects:
    def objects(results: Results) -> Iterable[tuple[str, str | None]]:
        for row in getattr(results, table):
            if role is None or (row.role == "return") is (role == "return"):
                yield row.id, reason(row)

    return objects


def _both(*parts: Objects) -> Objects:
    return lambda results: (item for part in parts for item in part(results))


LOOKED_AT: dict[str, Objects] = {
    "wire-overload": _rows("conductors", _not_rated, "feed"),
    "contact-overload": _rows("contacts", _not_rated, "feed"),
    "return-overload": _both(_rows("conductors", _not_rated, "return"), _rows("contacts", _not_rated, "return")),
    "path-unprotected": _rows("conductors", _not_protected),
    "contact-unprotected": _rows("contacts", _not_protected),
    "splice-overload": _rows("splices", _not_rated),
    "switch-overload": _rows("switches", _not_rated),
    "output-overload": _rows("outputs", _not_rated),
    "supply-overload": _rows("supplies", _not_rated),
    "voltage-low": _rows("loads", _no_limit),
    "voltage-high": _rows("loads", _no_maximum),
    "no-setting-range": _rows("devices", _no_setting_range),
}
"""Rules that judge every row of a table. Any other rule has one case for the harness as a whole, beside one for
each subject that it found something on.
"""


def render(results: Results) -> bytes:
    """The checks as JUnit XML, UTF-8; the same results give the same bytes."""
    found: dict[str, dict[str, list[Finding]]] = defaultdict(lambda: defaultdict(list))
    for finding in results.findings:
        found[finding.rule][finding.subject.id].append(finding)
    root = ET.Element("testsuites")
    totals = [0, 0]
    for rule in sorted({*all_rules(), *LOOKED_AT, *found}):
        suite = _suite(rule, found.get(rule, {}), results)
        totals[0] += int(suite.get("tests", "0"))
        totals[1] += int(suite.get("failures", "0"))
        root.append(suite)
    if results.assumptions:
        root.append(_assumptions(results))
        totals[0] += 1
    name = _name(f"loadloom {banner(results)}".strip())
    for key, value in (("name", name), ("tests", totals[0]), ("failures", totals[1]), ("errors", 0)):
        root.set(key, str(value))
    ET.indent(root, " ")
    body: str = ET.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode()


def _assumptions(results: Results) -> ET.Element:
    """The list of assumptions as the output of a case that passes: each is no fault, and all are to be read."""
    counts = {"tests": "1", "failures": "0", "errors": "0", "skipped": "0", "timestamp": visible(results.date)}
    suite = ET.Element("testsuite", {"name": "assumptions", **counts})
    case = ET.SubElement(suite, "testcase", {"classname": "loadloom.assumptions", "name": _WHOLE})
    ET.SubElement(case, "system-out").text = "\n".join(visible(sentence) for sentence in results.assumptions)
    return suite


def _suite(rule: str, found: dict[str, list[Finding]], results: Results) -> ET.Element:
    suite = ET.Element("testsuite", {"name": _name(rule)})
    judged = dict(LOOKED_AT[rule](results)) if rule in LOOKED_AT else {}
    if not judged and not found:
        judged = {_WHOLE: None}
    for subject in sorted({*judged, *found}, key=natural_key):
        _case(suite, rule, subject, judged.get(subject), found.get(subject, []), results)
    suite.set("tests", str(len(suite.findall("testcase"))))
    suite.set("failures", str(len(suite.findall("testcase/failure"))))
    suite.set("errors", "0")
    suite.set("skipped", str(len(suite.findall("testcase/skipped"))))
    suite.set("timestamp", visible(results.date))
    return suite


def _case(
    suite: ET.Element, rule: str, subject: str, reason: str | None, found: list[Finding], results: Results
) -> None:
    case = ET.SubElement(suite, "testcase", {"classname": f"loadloom.{_name(rule)}", "name": _name(subject)})
    open_ones = [f for f in found if f.accepted is None]
    if open_ones:
        first = open_ones[0]
        failure = ET.SubElement(case, "failure", {"type": str(first.severity), "message": visible(first.message)})
        failure.text = "\n".join(
            visible(f"{_place(f, results)}{f.message} {f.remedy} [{f.case or 'any case'}]") for f in open_ones
        )
    elif reason is not None and not found:
        ET.SubElement(case, "skipped").text = visible(reason)
    lines = [
        visible(f"accepted: {f.message} ({f.accepted.reason}, {f.accepted.by}, {f.accepted.date})")
        for f in found
        if f.accepted is not None
    ]
    if lines:
        ET.SubElement(case, "system-out").text = "\n".join(lines)


def _place(finding: Finding, results: Results) -> str:
    """``path:line: `` of a finding, under the one path that every report has for a file."""
    file, line = path_of(finding.subject.file, results), finding.subject.line
    return "" if not file else f"{file}:{line}: " if line is not None else f"{file}: "


def _name(text: str) -> str:
    return shortened(visible(text), _NAME_LIMIT)
