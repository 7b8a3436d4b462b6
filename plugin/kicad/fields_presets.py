"""View presets for KiCad's own table of symbol fields (*Tools > Edit Symbol Fields*), kept in a project's file.

A preset is a list of columns. KiCad adds a column for a field that no symbol has yet, so that a preset is enough to
fill in whatever a role reads.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from loadloom.plugin.kicad.json_text import JsonText
from loadloom.plugin.roles import FIELDS, Role

_PRESETS, _SETTINGS = ("schematic", "bom_presets"), ("schematic", "bom_settings")
_CONDUCTORS, _CONTACTS = (Role.WIRE, Role.CABLE), (Role.CONNECTOR, Role.THROUGH)
_KINDS: tuple[tuple[str, tuple[Role, ...]], ...] = (
    ("loadloom: wires and cables", _CONDUCTORS),
    ("loadloom: connectors", _CONTACTS),
    (
        "loadloom: sources, devices, loads",
        tuple(role for role in Role if role not in (*_CONDUCTORS, *_CONTACTS, Role.IGNORE)),
    ),
)
NAMES = tuple(name for name, _ in _KINDS)
_UNCHOSEN = (None, "", "Grouped By Value", "Default Editing")
"""What the table's own view is called in a project where nobody has chosen one: KiCad's built-in ones, or none."""


def presets() -> list[dict[str, Any]]:
    """The presets as KiCad keeps them."""
    return [_preset(name, roles) for name, roles in _KINDS]


def with_presets(project: str) -> str:
    """The text of a project's file with our presets, the first of them shown where none was chosen.

    Raises ValueError where the text is not that of a project.
    """
    text = JsonText(without_presets(project))
    if not isinstance(text.value, dict):
        raise ValueError("it is no project file")
    for depth, empty in ((1, {}), (2, [])):
        if not text.has(*_PRESETS[:depth]):
            text = JsonText(text.with_value(_PRESETS[:depth], empty))
    for preset in presets():
        text = JsonText(text.with_item(_PRESETS, preset))
    if text.get(*_SETTINGS, "name") in _UNCHOSEN and not _columns_of_the_user(text):
        text = JsonText(text.with_value(_SETTINGS, presets()[0]))
    return text.text


def without_presets(project: str) -> str:
    """The text of a project's file without our presets; KiCad shows its own view again."""
    text = JsonText(project)
    listed = text.get(*_PRESETS)
    ours = [k for k, each in enumerate(listed if isinstance(listed, list) else []) if _name(each) in NAMES]
    for index in reversed(ours):
        text = JsonText(text.without_item(_PRESETS, index))
    if _name(text.get(*_SETTINGS)) in NAMES:
        text = JsonText(text.without_key(_SETTINGS))
    if ours and text.get(*_PRESETS) == []:
        text = JsonText(text.without_key(_PRESETS))
        if text.get("schematic") == {}:
            text = JsonText(text.without_key(("schematic",)))
    return text.text


def _columns_of_the_user(text: JsonText) -> bool:
    """Whether the view in a project shows any column that KiCad does not show by itself."""
    usual = {"Reference", "Value", "Datasheet", "Footprint", "Quantity", "${QUANTITY}", "${DNP}", "Description"}
    columns = text.get(*_SETTINGS, "fields_ordered")
    return any(
        isinstance(column, dict) and column.get("show") is True and column.get("name") not in usual
        for column in (columns if isinstance(columns, list) else [])
    )


def _name(value: Any) -> Any:
    return value.get("name") if isinstance(value, dict) else None


_FIRST = ("Reference", "Value", "Role")
_USUAL = ("Gauge", "Length", "Insulation", "Bundle", "Wire class")
"""Columns that people fill in most, before the others."""


def _preset(name: str, roles: Sequence[Role]) -> dict[str, Any]:
    read = {field for role in roles for field in FIELDS[role].names}
    fields = dict.fromkeys((*_FIRST, *(field for field in _USUAL if field in read)))
    for role in roles:
        fields |= dict.fromkeys(FIELDS[role].names)
    return {
        "exclude_dnp": False,
        "fields_ordered": [{"group_by": False, "label": field, "name": field, "show": True} for field in fields],
        "filter_string": "",
        "group_symbols": False,
        "include_excluded_from_bom": True,
        "name": name,
        "sort_asc": True,
        "sort_field": "Reference",
    }
