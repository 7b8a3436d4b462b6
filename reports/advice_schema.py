"""The JSON Schema of the advice file, made from the row types.

``python -m loadloom.reports.advice_schema`` prints it.

The published file ``loadloom-advice.schema.json`` lies beside this module; a test holds the two equal.
"""

from __future__ import annotations

import dataclasses
import json
import sys
import typing
from typing import Any

from loadloom.graph.model.results import About
from loadloom.graph.sizing.advice import Advice
from loadloom.reports.advice import FORMAT, FORMAT_VERSION
from loadloom.reports.results_schema import POLICY, finding_schema, kind_schema


def schema() -> dict[str, Any]:
    """The schema as plain values: JSON Schema 2020-12."""
    definitions: dict[str, Any] = {}
    hints = typing.get_type_hints(Advice)
    properties: dict[str, Any] = {
        "format": {"const": FORMAT},
        "format_version": {"type": "string", "pattern": rf"^{FORMAT_VERSION.partition('.')[0]}\.[0-9]+$"},
    }
    properties["about"] = kind_schema(About, definitions)
    for entry in dataclasses.fields(Advice):
        if entry.name == "settings":
            properties["settings"] = {
                "type": "object",
                "description": "the settings in force, as the settings file names them",
            }
        elif entry.name in ("mended", "remaining"):
            properties[entry.name] = {"type": "array", "items": {"$ref": "#/$defs/Finding"}}
        else:
            properties[entry.name] = kind_schema(hints[entry.name], definitions)
    definitions["Finding"] = finding_schema(definitions)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:loadloom:advice:{FORMAT_VERSION}",
        "title": "loadloom advice",
        "description": POLICY,
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
