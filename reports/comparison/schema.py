"""The JSON Schema of the comparison file.

``python -m loadloom.reports.comparison.schema`` prints it.

The published file ``loadloom-comparison.schema.json`` lies in ``reports``; a test holds the two equal.
"""

from __future__ import annotations

import json
import sys
from typing import Any

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.harness import InputFile
from loadloom.graph.model.results import AboutKind
from loadloom.reports.comparison.changes import Effect
from loadloom.reports.comparison.writers import FORMAT, FORMAT_VERSION
from loadloom.reports.results_schema import POLICY, kind_schema

_TEXT = {"type": "string"}


def schema() -> dict[str, Any]:
    """The schema as plain values: JSON Schema 2020-12."""
    definitions: dict[str, Any] = {}
    count = {"type": "integer", "minimum": 0}
    analysis = {
        "file": _TEXT,
        "sha256": _TEXT,
        "revision": _TEXT,
        "verdict": kind_schema(Verdict, definitions),
        "about": kind_schema(AboutKind, definitions),
        "tool_version": _TEXT,
        "date": _TEXT,
        "made": _TEXT,
        "files": kind_schema(tuple[InputFile, ...], definitions),
    }
    number = {"type": ["number", "null"], "description": "in unit, SI; null where the change is one of words"}
    change = {
        "effect": kind_schema(Effect, definitions),
        **dict.fromkeys(("kind", "part", "what", "old", "new", "by"), _TEXT),
        "old_value": number,
        "new_value": number,
        "unit": {"type": ["string", "null"]},
    }
    properties = {
        "format": {"const": FORMAT},
        "format_version": {"type": "string", "pattern": rf"^{FORMAT_VERSION.partition('.')[0]}\.[0-9]+$"},
        "old": {"$ref": "#/$defs/Analysis"},
        "new": {"$ref": "#/$defs/Analysis"},
        "new_findings": count,
        "slight": {**count, "description": "numbers that differ by less than is printed"},
        "changes": {"type": "array", "items": {"$ref": "#/$defs/Change"}},
    }
    definitions["Analysis"] = {"type": "object", "required": list(analysis), "properties": analysis}
    definitions["Change"] = {"type": "object", "required": list(change), "properties": change}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:loadloom:comparison:{FORMAT_VERSION}",
        "title": "loadloom comparison",
        "description": POLICY.partition(" Renamed")[0],
        "type": "object",
        "required": list(properties),
        "properties": properties,
        "$defs": dict(sorted(definitions.items())),
    }


def text() -> str:
    """The schema as the text of the published file."""
    return json.dumps(schema(), ensure_ascii=False, indent=1) + "\n"


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
    sys.stdout.write(text())
