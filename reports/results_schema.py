"""The JSON Schema of the results file, made from the row types.

``python -m loadloom.reports.results_schema`` prints it.

The published file ``loadloom-results.schema.json`` lies beside this module; a test holds the two equal.
"""

from __future__ import annotations

import dataclasses
import datetime
import enum
import json
import re
import sys
import types
import typing
from typing import Any

from loadloom.graph.model.findings import Acceptance, Finding, Severity, Subject, Verdict
from loadloom.graph.model.harness import Provenance
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import Case
from loadloom.reports.open_points import OpenPoint
from loadloom.reports.renamed_keys import KEYS
from loadloom.reports.results_json import FORMAT, FORMAT_VERSION

POLICY = (
    "Version policy: format_version is major.minor. A new key or a new value of an open list raises the minor "
    "number, and a reader ignores keys that it does not know. Removing or renaming a key, or changing its unit "
    "or meaning, raises the major number; a reader refuses a major number that it does not know. Numbers are SI "
    "with the unit in the key; null means not known and never zero; NaN and infinity are never written. "
    "Renamed with 2.0: "
    + ", ".join(f"{old} to {new}" for old, new in KEYS.items())
    + ". The grade of a finding is gone: its severity says it. So are window_one_open_low_a and "
    "window_one_open_high_a: what is over its allowed current with one part open is a finding."
)
_UNITS = {
    "a": "A",
    "v": "V",
    "w": "W",
    "ohm": "Ω",
    "m": "m",
    "mm2": "mm²",
    "c": "°C",
    "k": "K",
    "s": "s",
    "a2s": "A²s",
}
_MEANINGS = {
    "id": "id as in the design: a reference, REF.core, REF.pin or a net's name",
    "case": "id of the case of the worst current; for other rows the case it was found in",
    "current_a": "magnitude of the worst current of any case",
    "continuous_a": "worst continuous current, held against the continuous rating; states with a duration by RMS",
    "allowed_a": "allowed current after every factor, margin and cap; null where it is not determined",
    "utilisation": "continuous current over allowed current",
    "sustained_fault_a": "largest current that one fault can hold continuously without any device opening",
    "sustained_fault": "id of a row of faults",
    "combined_overload_a": "the same with several overloads at once",
    "combined_overload_of": "how the combined overload current is made up, by device id in A; empty where not told",
    "protected": "true, false, or null where it is not determined; protected_note then says why",
    "protected_by": "ids of the devices, nearest first",
    "corner": "the corner of the tolerances that gives current_a; nominal where none is worse",
    "is_bound": "no state need reach current_a, and none exceeds it",
    "event_a": "greatest current of a state with a duration; null where none is above the continuous current",
    "event_utilisation": "event current over allowed current",
    "currents_a": "magnitude by case id",
    "run_time_s": "of a battery: how long its charge lasts in the case that empties it fastest",
    "run_times_s": "of a battery: how long its charge lasts, by case id; null where the case does not empty it",
    "isolated": "no copper joins a terminal of the converter's input to one of its output",
    "greatest_input_w": "what the input counts with in the search for faults; null where nothing stated bounds it",
    "input_w": "power into the input, no-load power included",
    "output_w": "power out of the output's terminals",
    "efficiency": "efficiency used, 0…1; null where nothing is given",
    "heat_w": "power lost as heat",
    "running": "false where the input voltage is too low",
    "loses_supply": "loads that are no longer fed",
    "held_by": "the device that is just about not to open; null where nothing holds it",
    "setting_low_because": "how the lower end comes about, in words that can be worked out by hand",
    "setting_high_because": "how the upper end comes about, in words that can be worked out by hand",
    "setting_range_note": "why a setting range has no upper end, and what no setting of the device protects",
    "setting_low_a": "lowest nominal setting whose lower limit rides through every case",
    "setting_high_a": "highest nominal setting whose upper limit protects what lies behind it",
    "share_p05": "5th percentile of the contact's share of its parallel set",
    "loaded_positions": "how many positions of the connector carry current",
}


def schema() -> dict[str, Any]:
    """The schema as plain values: JSON Schema 2020-12."""
    definitions: dict[str, Any] = {}
    hints = typing.get_type_hints(Results)
    lists = {
        f.name: kind_schema(hints[f.name], definitions)
        for f in dataclasses.fields(Results)
        if f.name
        not in ("verdict", "provenance", "tool_version", "date", "settings", "cases", "residual_a", "findings")
    }
    definitions["Finding"] = finding_schema(definitions)
    properties: dict[str, Any] = {
        "format": {"const": FORMAT},
        "format_version": {"type": "string", "pattern": rf"^{FORMAT_VERSION.partition('.')[0]}\.[0-9]+$"},
        "verdict": kind_schema(Verdict, definitions),
        "tool_version": {"type": "string"},
        "date": {"type": "string", "description": "date of the run, ISO 8601"},
        "input": kind_schema(Provenance, definitions),
        "settings": {"type": "object", "description": "the settings in force, as the settings file names them"},
        "cases": kind_schema(tuple[Case, ...], definitions),
        "residual_a": {
            "type": ["number", "null"],
            "minimum": 0,
            "description": "greatest sum of currents at any joint of any solved case, in A",
        },
        **lists,
        "findings": {"type": "array", "items": {"$ref": "#/$defs/Finding"}},
        "open_points": kind_schema(tuple[OpenPoint, ...], definitions),
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:loadloom:results:{FORMAT_VERSION}",
        "title": "loadloom results",
        "description": POLICY,
        "type": "object",
        "required": list(properties),
        "properties": properties,
        "$defs": dict(sorted(definitions.items())),
    }


def finding_schema(definitions: dict[str, Any]) -> dict[str, Any]:
    """The schema of one finding as results and advice write it."""
    where = _object(Subject, definitions, leave_out=("id",))
    hints = typing.get_type_hints(Finding)
    properties = {
        "rule": {"type": "string", "description": "name of the rule; see the rule reference"},
        "severity": kind_schema(Severity, definitions),
        "subject": {"type": "string", "description": "id of what the finding is about"},
        "where": where,
        **{
            name: kind_schema(hints[name], definitions)
            for name in ("case", "message", "value", "limit", "unit", "remedy", "source")
        },
        "accepted": {"anyOf": [kind_schema(Acceptance, definitions), {"type": "null"}]},
        "target": {
            "description": "the figure of the remedy that is named first; null where it has none",
            **kind_schema(hints["target"], definitions),
        },
        "inactive": {
            "description": "a device that does not act and that it comes through; case null: it never acts",
            **kind_schema(hints["inactive"], definitions),
        },
        "why": {"type": "string", "description": "one sentence for a first page; empty: message is as short"},
        "change": {"type": "string", "description": "what to change first; empty: remedy is as short"},
    }
    properties["unit"]["description"] = "unit of value and limit; 1 for a plain number"
    return {"type": "object", "required": list(properties), "properties": properties}


def _object(kind: type, definitions: dict[str, Any], leave_out: tuple[str, ...] = ()) -> dict[str, Any]:
    hints = typing.get_type_hints(kind)
    properties = {
        f.name: _described(f.name, kind_schema(hints[f.name], definitions))
        for f in dataclasses.fields(kind)
        if f.name not in leave_out
    }
    return {"type": "object", "required": list(properties), "properties": properties}


def _described(name: str, entry: dict[str, Any]) -> dict[str, Any]:
    unit = _UNITS.get(name.rpartition("_")[2]) if re.search(r"_[a-z0-9]+$", name) else None
    words = [_MEANINGS[name]] if name in _MEANINGS else []
    words += [f"in {unit}"] if unit and "number" in json.dumps(entry) else []
    return {**entry, "description": ", ".join(words)} if words and "$ref" not in entry else entry


def kind_schema(kind: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    """The schema of one type."""
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        inner = kind_schema(next(a for a in arguments if a is not types.NoneType), definitions)
        if isinstance(inner.get("type"), str):
            listed = {"enum": [*inner["enum"], None]} if "enum" in inner else {}
            return {**inner, "type": [inner["type"], "null"], **listed}
        if isinstance(inner.get("type"), list):
            return inner
        return {"anyOf": [inner, {"type": "null"}]}
    if origin is tuple:
        if len(arguments) == 2 and arguments[1] is Ellipsis:
            return {"type": "array", "items": kind_schema(arguments[0], definitions)}
        items = [kind_schema(a, definitions) for a in arguments]
        return {"type": "array", "prefixItems": items, "items": False, "minItems": len(items)}
    if origin is dict:
        return {"type": "object", "additionalProperties": kind_schema(arguments[1], definitions)}
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        if kind.__name__ not in definitions:
            definitions[kind.__name__] = {}
            definitions[kind.__name__] = _object(kind, definitions)
        return {"$ref": f"#/$defs/{kind.__name__}"}
    if isinstance(kind, type) and issubclass(kind, enum.Enum):
        return {"type": "string", "enum": [str(member.value) for member in kind]}
    if kind is datetime.date:
        return {"type": "string", "format": "date"}
    if kind is float:
        return {"type": ["number", "null"]}  # a number that is not finite is written as null
    return {"type": {str: "string", bool: "boolean", int: "integer"}[kind]}


def text() -> str:
    """The schema as the text of the published file."""
    return json.dumps(schema(), ensure_ascii=False, indent=1) + "\n"


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
    sys.stdout.write(text())
