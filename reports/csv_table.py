"""Tables as CSV for other programs: UTF-8, comma, decimal point, one header row, CRLF (RFC 4180).

The decimal sign of the settings does not count here: these files are for machines. What is not known is empty.
Texts pass a gate that puts an apostrophe before what a spreadsheet would take for a formula.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from loadloom.graph.model.results import CurrentRow, Results
from loadloom.reports import results_json
from loadloom.reports.about_words import banner
from loadloom.reports.safe_text import csv_text

_NOT_IN_LOAD_TABLE = ("connector", "pin", "share_p05", "share_p50", "share_p95", "overload_probability", "cable")


def load_table(results: Results) -> bytes:
    """The load table: every conductor and every contact, one row each, with the chain of its rating."""
    rows = [("conductor", row) for row in results.conductors]
    records = [
        {"part": kind, **_current_record(row)} for kind, row in (*rows, *(("contact", r) for r in results.contacts))
    ]
    for record in records:
        for name in _NOT_IN_LOAD_TABLE:
            record.pop(name, None)
    return _csv(_said(records, results))


def table(results: Results, name: str) -> bytes:
    """One table of the results file, keys as there; nested values are spread over columns or joined by ``; ``.

    Raises:
        ValueError: there is no such table.
    """
    if name in ("conductors", "contacts"):
        return _csv(_said([_current_record(row) for row in getattr(results, name)], results))
    document = results_json.document(results)
    if name == "assumptions":
        return _csv(_said([{"assumption": text} for text in results.assumptions], results))
    if name not in document or not isinstance(document[name], list):
        raise ValueError(f"no table {name!r}")
    return _csv(_said([_flat(row) for row in document[name]], results))


def _said(records: list[dict[str, Any]], results: Results) -> list[dict[str, Any]]:
    """The records with a first column that says what they are of, where it is not the drawing as it stands."""
    said = banner(results)
    return [{"about": said, **record} for record in records] if said else records


def _current_record(row: CurrentRow) -> dict[str, Any]:
    record = results_json.plain(row)
    rating = record.pop("rating")
    flat = _flat(record)
    if rating is not None:
        factors = rating.pop("factors")
        flat |= {
            "base_a": rating["base_a"],
            **{f"{factor['kind']}_factor": factor["factor"] for factor in factors},
            "cap_a": min((cap["limit_a"] for cap in rating["caps"]), default=None),
            "basis": rating["basis"],
            "rating_source": rating["source"],
            "rating_status": rating["status"],
            "estimate": rating["estimate"],
            "check_edition": rating["check_edition"],
            "not_rated_because": rating["missing"],
        }
    return flat


def _flat(record: Mapping[str, Any]) -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for key, value in record.items():
        if isinstance(value, Mapping):
            flat |= {f"{key}:{inner}": item for inner, item in value.items()}
        elif isinstance(value, list):
            flat[key] = "; ".join(_joined(item) for item in value)
        else:
            flat[key] = value
    return flat


def _joined(item: Any) -> str:
    if isinstance(item, list):
        return "/".join("" if part is None else str(part) for part in item)
    return str(item)


def _csv(records: Sequence[Mapping[str, Any]]) -> bytes:
    columns = list(dict.fromkeys(key for record in records for key in record))
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([csv_text(column) for column in columns])
    writer.writerows(_fields(record, columns) for record in records)
    return stream.getvalue().encode("utf-8", "replace")


def _fields(record: Mapping[str, Any], columns: Iterable[str]) -> list[str]:
    return [_field(record.get(column)) for column in columns]


def _field(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    return csv_text(str(value))
