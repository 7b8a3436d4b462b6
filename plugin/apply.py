"""Proposed sizes and settings written into a copy of the drawing: only those fields change."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from loadloom.graph.model.elements import ConductorKind
from loadloom.plugin.advise import AdvisedDrawing
from loadloom.plugin.annotate import Annotated, check_places, edited_copy, root_of_copy
from loadloom.plugin.drawing import Symbol
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import SETTINGS_NAME
from loadloom.plugin.project_copy import settings_files
from loadloom.plugin.proposed_fields import proposed_fields
from loadloom.plugin.splicing import FieldPlace, SchematicText
from loadloom.plugin.what_if import Change


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


def apply_advice(
    found: AdvisedDrawing, source: Path, copy: Path, settings_path: Path | None = None, *, force: bool = False
) -> Applied:
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

    nets = proposed_nets(found)
    settings = settings_path or source.parent / SETTINGS_NAME
    folder = root_of_copy(source, copy).parent
    shared = os.path.realpath(settings) == os.path.realpath(folder / SETTINGS_NAME)
    if shared and nets:
        raise UnusableError(
            "holds the sizes of nets for the drawing and its copy alike",
            settings,
            hint="name a copy in another folder",
        )
    copied = None if shared or settings_path is None else folder / SETTINGS_NAME
    beside = _settings_of_the_copy(settings, nets) if nets or copied is not None else {}
    written: Annotated = edited_copy(found.drawing, source, copy, edit, beside, force=force)
    files = written.files
    if nets:
        files = (*files, folder / SETTINGS_NAME)
    rest = [f"{c.part}.{c.field}" for c in _net_changes(found) if c.field.casefold() != "gauge"]
    return Applied(files, written.symbols, tuple(nets), tuple(rest), copied)


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


def _settings_of_the_copy(settings: Path, nets: Mapping[str, str]) -> dict[str, bytes]:
    """The settings and what they name, by name, with the sizes of the nets put into their tables.

    Everything else is left as it stands.
    """
    try:
        found = {str(file): content for file, content in settings_files(settings, Path()).items()}
        text = found.get(SETTINGS_NAME, b"").decode("utf-8")
    except OSError as error:
        raise UnusableError(f"can't be copied: {error.strerror or error}", file=settings) from error
    except UnicodeDecodeError:
        raise UnusableError("is not UTF-8 text", file=settings) from None
    for net, size in nets.items():
        text = _with_gauge(text, net, size)
    return found | {SETTINGS_NAME: text.encode("utf-8")}


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
