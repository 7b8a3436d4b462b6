"""The results file: everything the analysis says, under stable names, and back again."""

from __future__ import annotations

import dataclasses
import datetime
import enum
import functools
import json
import math
import types
import typing
from collections.abc import Mapping
from pathlib import Path, PurePath
from typing import Any

from loadloom.graph.model.findings import Acceptance, Finding, Inactive, Severity, Subject, Target, Verdict
from loadloom.graph.model.harness import Provenance
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import Case
from loadloom.reports.errors import UnreadableResultsError
from loadloom.reports.open_points import open_points
from loadloom.reports.regular_file import ReadError, read_regular
from loadloom.reports.renamed_keys import with_names_of_2
from loadloom.reports.safe_text import json_text

FORMAT = "loadloom-results"
FORMAT_VERSION = "2.0"
SIZE_LIMIT_BYTES = 256 * 1024**2
"""A harness of 100,000 conductors writes less."""
"""``major.minor``: minor grows with every added key, major with every key removed or changed in meaning."""

_DIRECTION_MARKS = {
    ord(mark): f"\\u{ord(mark):04x}"
    for mark in "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
}
_LISTS = tuple(
    f.name
    for f in dataclasses.fields(Results)
    if f.name not in ("verdict", "provenance", "tool_version", "date", "settings", "residual_a", "findings")
)


def render(results: Results) -> bytes:
    """The results file as UTF-8 JSON; the same results give the same bytes.

    What is not known or not finite is ``null``. Marks that turn the reading direction are written by number. Every
    row of a table is a line of its own.
    """
    members = ",\n".join(f" {_written(key)}: {_laid_out(value)}" for key, value in document(results).items())
    return (f"{{\n{members}\n}}".translate(_DIRECTION_MARKS) + "\n").encode("utf-8")


def _written(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _laid_out(value: Any) -> str:
    """A member of the file: rows and keys one a line."""
    if isinstance(value, list) and value:
        return "[\n" + ",\n".join(f"  {_written(item)}" for item in value) + "\n ]"
    if isinstance(value, dict) and value:
        return "{\n" + ",\n".join(f"  {_written(key)}: {_written(item)}" for key, item in value.items()) + "\n }"
    return _written(value)


def document(results: Results) -> dict[str, Any]:
    """The results file as plain values, keys in the order of the design."""
    lists = {name: plain(getattr(results, name)) for name in _LISTS}
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "verdict": str(results.verdict),
        "about": lists.pop("about"),
        "tool_version": plain(results.tool_version),
        "date": plain(results.date),
        "input": plain(results.provenance),
        "settings": plain(results.settings),
        "cases": lists.pop("cases"),
        "residual_a": plain(results.residual_a),
        **{name: rows for name, rows in lists.items() if name not in ("assumptions", "sources", "links")},
        "findings": [finding_object(f) for f in results.findings],
        "open_points": plain(open_points(results)),
        "assumptions": lists["assumptions"],
        "sources": lists["sources"],
        "links": lists["links"],
    }


def plain(value: Any) -> Any:
    """A value as JSON knows it: dataclasses and mappings to objects, tuples to lists, not finite to None."""
    if value is None or isinstance(value, bool):
        return value
    kind: Any = type(value)
    if kind is str:
        return _text(value)
    if kind is float:
        return value if math.isfinite(value) else None
    if kind is tuple or kind is list:
        return [plain(item) for item in value]
    if isinstance(value, enum.Enum):
        return plain(value.value)
    if isinstance(value, str):
        return json_text(value)
    if isinstance(value, int):
        return int(value)
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, PurePath):
        return json_text(value.name)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {name: plain(getattr(value, name)) for name in _names(kind)}
    if isinstance(value, Mapping):
        return {_text(str(key)): plain(item) for key, item in value.items()}
    if isinstance(value, frozenset | set):
        return sorted(plain(item) for item in value)
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if hasattr(value, "item"):  # a numpy number
        return plain(value.item())
    return json_text(str(value))


_text = functools.lru_cache(maxsize=4096)(json_text)
"""The same ids, cases and notes stand in many rows."""


@functools.cache
def _names(kind: type[Any]) -> tuple[str, ...]:
    return tuple(f.name for f in dataclasses.fields(kind))


def finding_object(finding: Finding) -> dict[str, Any]:
    """A finding with its subject's id on top and where it stands beside it."""
    where = plain(finding.subject)
    del where["id"]
    return {
        "rule": plain(finding.rule),
        "severity": str(finding.severity),
        "subject": plain(finding.subject.id),
        "where": where,
        "case": plain(finding.case),
        "message": plain(finding.message),
        "value": plain(finding.value),
        "limit": plain(finding.limit),
        "unit": plain(finding.unit),
        "remedy": plain(finding.remedy),
        "source": plain(finding.source),
        "accepted": plain(finding.accepted),
        "target": plain(finding.target),
        "inactive": plain(finding.inactive),
        "why": plain(finding.why),
        "change": plain(finding.change),
    }


def read_results(path: Path) -> Results:
    """A results file as Results again; keys that this version does not know are ignored.

    Raises:
        UnreadableResultsError: the file can't be read, is no results file or has another major version.
    """
    try:
        raw = json.loads(read_regular(path, SIZE_LIMIT_BYTES, "a results file"))
    except ReadError as error:
        raise UnreadableResultsError(f"{path}: {error}") from error
    except (ValueError, RecursionError) as error:
        raise UnreadableResultsError(f"{path}: can't be read as a results file: {error}") from error
    if not isinstance(raw, dict) or raw.get("format") != FORMAT:
        raise UnreadableResultsError(f"{path}: is not a results file (no format {FORMAT!r} in it)")
    version = str(raw.get("format_version"))
    major = version.partition(".")[0]
    if major == "1":
        raw = with_names_of_2(raw)
    elif major != FORMAT_VERSION.partition(".")[0]:
        raise UnreadableResultsError(f"{path}: format version {version}; this version reads up to {FORMAT_VERSION}")
    try:
        return _results(raw)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise UnreadableResultsError(f"{path}: a value is missing or of another kind: {error}") from error


def _results(raw: dict[str, Any]) -> Results:
    hints = typing.get_type_hints(Results)
    lists = {
        name: _typed(hints[name], raw.get(name, {} if name == "about" else []))
        for name in _LISTS
        if name not in ("cases", "sources")
    }
    return Results(
        verdict=Verdict(raw["verdict"]),
        provenance=_typed(Provenance, raw["input"]),
        tool_version=raw["tool_version"],
        date=raw["date"],
        settings=raw["settings"],
        cases=_typed(tuple[Case, ...], raw["cases"]),
        residual_a=raw["residual_a"] if raw["residual_a"] is not None else math.nan,
        findings=tuple(_read_finding(f) for f in raw["findings"]),
        sources=dict(raw.get("sources", {})),
        **lists,
    )


def _read_finding(raw: dict[str, Any]) -> Finding:
    return Finding(
        rule=raw["rule"],
        severity=Severity(raw["severity"]),
        subject=_typed(Subject, {"id": raw["subject"], **raw.get("where", {})}),
        message=raw["message"],
        remedy=raw["remedy"],
        case=raw["case"],
        value=raw["value"],
        limit=raw["limit"],
        unit=raw["unit"],
        source=raw.get("source"),
        accepted=_typed(Acceptance, raw["accepted"]) if raw["accepted"] is not None else None,
        target=_typed(Target | None, raw.get("target")),
        inactive=_typed(Inactive | None, raw.get("inactive")),
        why=raw.get("why", ""),
        change=raw.get("change", ""),
    )


def _typed(kind: Any, value: Any) -> Any:
    """A JSON value as the type that the dataclasses name."""
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        return None if value is None else _typed(next(a for a in arguments if a is not types.NoneType), value)
    if origin is tuple:
        if len(arguments) == 2 and arguments[1] is Ellipsis:
            return tuple(_typed(arguments[0], item) for item in value)
        return tuple(_typed(a, item) for a, item in zip(arguments, value, strict=True))
    if origin is dict:
        return {key: _typed(arguments[1], item) for key, item in value.items()}
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        hints = typing.get_type_hints(kind)
        return kind(**{name: _typed(hints[name], value[name]) for name in hints if name in value})
    if isinstance(kind, type) and issubclass(kind, enum.Enum):
        return kind(value)
    if kind is datetime.date:
        return datetime.date.fromisoformat(value)
    if kind in (str, int, float, bool) and value is not None:
        if kind is float and isinstance(value, int) and not isinstance(value, bool):
            return float(value)
        if not isinstance(value, kind):
            raise TypeError(f"{value!r} is not {kind.__name__}")
    return value
