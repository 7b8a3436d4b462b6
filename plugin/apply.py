"""Proposed sizes and settings written into a copy of the drawing: only those fields change."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from loadloom.graph.elements import ConductorKind
from loadloom.plugin.advise import AdvisedDrawing
from loadloom.plugin.annotate import Annotated, check_places, edited_copy
from loadloom.plugin.drawing import Symbol
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import SETTINGS_NAME
from loadloom.plugin.project_copy import copy_settings
from loadloom.plugin.proposed_fields import proposed_fields
from loadloom.plugin.splicing import FieldPlace, SchematicText
from loadloom.plugin.what_if import Change
from loadloom.reports.writers import WriteError, write_bytes


@dataclass(frozen=True, slots=True)
class Applied:
    """What was written: files, number of symbols, and nets whose size went into the settings of the copy.

    ``not_written``: what was tried on nets beside their size. ``settings``: the settings file of the copy, where
    it was taken from elsewhere than the drawing's folder.
    """

    files: tuple[Path, ...]
    symbols: int
    nets: tuple[str, ...]
    not_written: tuple[str, ...] = ()
    settings: Path | None = None


def check_copy(source: Path, copy: Path) -> None:
    """Refuse, before any work is done, a copy that would be refused.

    Raises:
        UnusableError: the source is no drawing, or the copy would be the drawing itself or another one.
    """
    check_places(source, copy)


def apply_advice(found: AdvisedDrawing, source: Path, copy: Path, settings_path: Path | None = None) -> Applied:
    """Write what is proposed into a copy of the schematic that was read.

    ``settings_path``: the settings that the proposals rest on, where these are not the ones beside the drawing;
    they are copied to stand beside the copy.

    A repeated sheet's symbol stands for all its instances; they were given one size. Wires drawn as nets get
    their size in the settings file of the copy, since KiCad holds none for a net.

    Raises:
        UnusableError: the copy would write over something else, or a file can't be read or written.
    """
    fields = proposed_fields(found)

    def edit(text: SchematicText, by_uuid: Mapping[str, list[Symbol]]) -> int:
        count = 0
        for span in text.symbols():
            symbols = by_uuid.get(text.child_text(span, "uuid") or "", [])
            wanted = {n: v for symbol in symbols for n, v in fields.get(symbol.reference, {}).items()}
            at = text.numbers(text.child(span, "at"))
            place = FieldPlace(at[0], at[1]) if len(at) > 1 else FieldPlace(0.0, 0.0)
            for name, value in wanted.items():
                text.set_field(span, name, value, place)
            count += bool(wanted)
        return count

    written: Annotated = edited_copy(found.drawing, source, copy, edit)
    nets = proposed_nets(found)
    files = written.files
    folder = files[0].parent if len(files) == 1 else _root(written, source, copy)
    copied = _settings_beside(settings_path, folder) if settings_path is not None else None
    if nets:
        settings = folder / SETTINGS_NAME
        _write_nets(settings, nets)
        files = (*files, settings)
    rest = [f"{c.part}.{c.field}" for c in _net_changes(found) if c.field.casefold() != "gauge"]
    return Applied(files, written.symbols, tuple(nets), tuple(rest), copied)


def _settings_beside(settings_path: Path, folder: Path) -> Path:
    try:
        return copy_settings(settings_path, folder)
    except OSError as error:
        raise UnusableError(f"can't be copied: {error.strerror or error}", file=settings_path) from error


def proposed_nets(found: AdvisedDrawing) -> dict[str, str]:
    """Sizes of wires drawn as nets, by the name that the settings know the net by."""
    kinds = {c.id: c.kind for c in found.harness.conductors}
    tried = {c.part: c.tried for c in _net_changes(found) if c.field.casefold() == "gauge"}
    return tried | {
        row.id.partition("#")[0]: row.proposed
        for row in found.advised.advice.sizes
        if row.changed and row.proposed is not None and kinds[row.id] is ConductorKind.NET
    }


def _net_changes(found: AdvisedDrawing) -> list[Change]:
    references = {symbol.reference for symbol in found.drawing.symbols}
    return [change for change in found.changes if change.part not in references]


def _root(written: Annotated, source: Path, copy: Path) -> Path:
    name = copy.name if copy.suffix.lower() in (".kicad_sch", ".kicad_pro") else source.name
    stem = Path(name).with_suffix(".kicad_sch").name
    return next((file.parent for file in written.files if file.name == stem), written.files[0].parent)


def _write_nets(settings: Path, nets: Mapping[str, str]) -> None:
    """Put ``gauge`` into the tables of the nets in a settings file, everything else left as it stands."""
    try:
        text = settings.read_text(encoding="utf-8") if settings.is_file() else ""
        for net, size in nets.items():
            text = _with_gauge(text, net, size)
        write_bytes(settings, text.encode("utf-8"))
    except WriteError as error:
        raise UnusableError(error.cause, file=error.file) from error
    except (OSError, UnicodeDecodeError) as error:
        raise UnusableError("can't be read and written", file=settings) from error


def _with_gauge(text: str, net: str, size: str) -> str:
    line = f'gauge = "{size}"'
    for name in (net, net.removeprefix("/")):
        quoted = re.escape(name.replace("\\", "\\\\").replace('"', '\\"'))
        bare = rf"|{re.escape(name)}" if re.fullmatch(r"[A-Za-z0-9_-]+", name) else ""
        head = re.search(
            rf'^[ \t]*\[[ \t]*net[ \t]*\.[ \t]*(?:"{quoted}"|\'{re.escape(name)}\'{bare})[ \t]*\].*$', text, re.M
        )
        if head is None:
            continue
        following = re.search(r"^[ \t]*\[", text[head.end() :], re.M)
        end = head.end() + following.start() if following else len(text)
        table = text[head.end() : end]
        changed, count = re.subn(r"^([ \t]*)gauge[ \t]*=.*$", lambda m: m[1] + line, table, count=1, flags=re.M)
        if not count:
            changed = f"\n{line}{table}"
        return text[: head.end()] + changed + text[end:]
    key = net.replace("\\", "\\\\").replace('"', '\\"')
    gap = "" if not text or text.endswith("\n") else "\n"
    return f'{text}{gap}\n[net."{key}"]\n{line}\n'
