"""``loadloom fields``: all fields of a drawing as a spreadsheet, and back by the symbols' uuids.

One row stands for one placed symbol; a symbol of a repeated sheet has one row for all its references, since KiCad
holds its fields once. Only what was changed in the spreadsheet is written.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from loadloom.graph.model.naming import natural_key
from loadloom.plugin.annotate import edited_copy
from loadloom.plugin.building.find_roles import find_roles
from loadloom.plugin.drawing import Drawing, Symbol
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.fields import folded
from loadloom.plugin.incoming import shown
from loadloom.plugin.notes import Notes
from loadloom.plugin.roles import FIELDS
from loadloom.plugin.splicing import FieldPlace, SchematicText
from loadloom.plugin.wire_list.tables import csv_bytes, read_grids, xlsx_bytes

UUID, REFERENCE, SHEET, LIBRARY = "Uuid", "Reference", "Sheet", "Library"
_FIXED = (UUID, REFERENCE, SHEET, LIBRARY)
_STANDARD = ("Value", "Role")


@dataclass(frozen=True, slots=True)
class Written:
    """The files that were written, and how many fields of how many symbols have changed."""

    files: tuple[Path, ...]
    symbols: int
    fields: int


def fields_file(drawing: Drawing, settings: DrawingSettings, path: Path) -> bytes:
    """The table of all fields: a column for every field that any role on the drawing reads, or that is written.

    Raises UnusableError for a drawing without uuids (a netlist has them, a wire list has none of KiCad's).
    """
    rows = _rows(drawing, settings)
    roles = {one.role for one in find_roles(drawing, settings, Notes()).values()}
    known = dict.fromkeys(name for role in sorted(roles) for name in FIELDS[role].names)
    written = dict.fromkeys(name for row in rows for name in row if name not in (*_FIXED, *_STANDARD))
    folded_known = {folded(name) for name in known}
    more = sorted((n for n in written if folded(n) not in folded_known), key=natural_key)
    heads = [*_FIXED, *_STANDARD, *known, *more]
    grid = [heads, *([_of(row, head) for head in heads] for row in rows)]
    return xlsx_bytes([("Fields", grid)]) if path.suffix.casefold() == ".xlsx" else csv_bytes(grid)


def _of(row: Mapping[str, str], head: str) -> str:
    return row.get(head) or next((text for name, text in row.items() if folded(name) == folded(head)), "")


def _rows(drawing: Drawing, settings: DrawingSettings) -> list[dict[str, str]]:
    roles = find_roles(drawing, settings, Notes())
    by_uuid: dict[str, list[Symbol]] = {}
    for symbol in drawing.symbols:
        if symbol.uuids and symbol.file is not None:
            by_uuid.setdefault(symbol.uuids[0], []).append(symbol)
    if not by_uuid:
        raise UnusableError("gives no symbol that could be found again", Path(drawing.provenance.file))
    rows = []
    for uuid, symbols in by_uuid.items():
        first = symbols[0]
        role = roles.get(first.reference)
        rows.append(
            {
                **_texts(first),
                UUID: uuid,
                REFERENCE: ", ".join(symbol.reference for symbol in symbols),
                SHEET: first.sheet_path,
                LIBRARY: first.library_id,
                "Role": str(role.role) if role else _texts(first).get("Role", ""),
            }
        )
    return rows


def _texts(symbol: Symbol) -> dict[str, str]:
    return {
        "Value": symbol.value,
        **{name: text for name, text in symbol.library_fields.items() if text},
        **symbol.fields,
    }


def write_back(
    drawing: Drawing,
    settings: DrawingSettings,
    table: Path,
    source: Path,
    copy: Path | None,
    *,
    force: bool = False,
) -> Written:
    """Write what was changed in a table of fields into a copy of the drawing, or into the drawing itself.

    Raises UnusableError where the table is none of these or names a symbol that the drawing lacks, and where the
    drawing can't be written.
    """
    changes = _changes(drawing, settings, table)

    def edit(text: SchematicText, by_uuid: Mapping[str, list[Symbol]]) -> int:
        count = 0
        for span in text.symbols():
            wanted = changes.get(text.child_text(span, "uuid") or "", {})
            at = text.numbers(text.child(span, "at"))
            place = FieldPlace(at[0], at[1], hidden=True) if len(at) > 1 else FieldPlace(0.0, 0.0, hidden=True)
            for name, value in wanted.items():
                text.set_field(span, name, value, place)
            count += bool(wanted)
        return count

    written = edited_copy(drawing, source, copy, edit, force=force)
    return Written(written.files, written.symbols, sum(map(len, changes.values())))


def _changes(drawing: Drawing, settings: DrawingSettings, table: Path) -> dict[str, dict[str, str]]:
    grids = [grid for grid in read_grids(table) if grid.rows and UUID in grid.rows[0][1]]
    if not grids:
        raise UnusableError(f"is no table of fields: it has no column {UUID}", shown(table))
    before = {row[UUID]: row for row in _rows(drawing, settings)}
    heads = grids[0].rows[0][1]
    found: dict[str, dict[str, str]] = {}
    for line, cells in grids[0].rows[1:]:
        row = dict(zip(heads, cells, strict=False))
        uuid = row.get(UUID, "")
        if uuid not in before:
            name = row.get(REFERENCE) or uuid or "a row without one"
            raise UnusableError(f"the drawing has no symbol with the uuid of {name}", shown(table), line)
        if uuid in found:
            raise UnusableError(f"{row.get(REFERENCE, uuid)} stands in it twice", shown(table), line)
        found[uuid] = {
            head: text
            for head, text in row.items()
            if head and head not in _FIXED and text != _of(before[uuid], head).strip()
        }
    return {uuid: changed for uuid, changed in found.items() if changed}
