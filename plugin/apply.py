"""Proposed sizes and settings written into a copy of the drawing: only those fields change."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from loadloom.graph.model.elements import ConductorKind
from loadloom.plugin.advise import AdvisedDrawing
from loadloom.plugin.annotate import Annotated, check_places, edited_copy, root_of_copy
from loadloom.plugin.drawing import Symbol
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.fields import folded
from loadloom.plugin.pipeline import SETTINGS_NAME
from loadloom.plugin.project_copy import settings_files
from loadloom.plugin.proposed_fields import Fields, proposed_fields
from loadloom.plugin.roles import best_match
from loadloom.plugin.settings_edit import Edit, edited
from loadloom.plugin.settings_file import field_of_key
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
    their size in the settings file of the copy, since KiCad holds none for a net; so do fields that ``[part]`` of
    the settings states, which stand before the drawing's.

    Raises:
        UnusableError: the copy would write over something else, a file can't be read or written, or a field was
            tried on one instance of a repeated sheet, whose symbol holds the others' as well.
    """
    _refuse_one_instance(found)
    fields = proposed_fields(found)
    of_parts = tuple(_of_parts(found, fields))
    for one in of_parts:
        del fields[one.names[0]][one.key]

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
    edits = (*_of_nets(nets), *of_parts)
    if shared and edits:
        what = "the sizes of nets" if nets else f"fields of {of_parts[0].names[0]}"
        raise UnusableError(
            f"holds {what} for the drawing and its copy alike",
            settings,
            hint="name a copy in another folder",
        )
    copied = None if shared or settings_path is None else folder / SETTINGS_NAME
    beside = _settings_of_the_copy(settings, edits) if edits or copied is not None else {}
    written: Annotated = edited_copy(found.drawing, source, copy, edit, beside, force=force)
    files = written.files
    if edits:
        files = (*files, folder / SETTINGS_NAME)
    rest = [f"{c.part}.{c.field}" for c in _net_changes(found) if c.field.casefold() != "gauge"]
    return Applied(files, written.symbols, tuple(nets), tuple(rest), copied)


def _refuse_one_instance(found: AdvisedDrawing) -> None:
    """Refuse a field that was tried on one instance of a placed symbol while another says something else.

    The copy can hold one text only, so that its analysis would not be the one that was promised.
    """
    by_reference = {symbol.reference: symbol for symbol in found.drawing.symbols}
    for change in found.changes:
        symbol = by_reference.get(change.part)
        if symbol is None:
            continue
        for other in found.drawing.symbols:
            if other.reference == change.part or not set(other.uuids) & set(symbol.uuids):
                continue
            if _said(other, change) != _said(symbol, change):
                raise UnusableError(
                    f"--set {change.part}.{change.field}: {change.part} and {other.reference} are one symbol on a "
                    "sheet that is used several times, and a copy can hold one value only",
                    hint=f"try the same on {other.reference}, or leave --apply away",
                )


def _said(symbol: Symbol, change: Change) -> str:
    """What a symbol says of the field of a change; its ``Value`` where it writes none."""
    texts = [text for name, text in symbol.fields.items() if folded(name) == folded(change.field)]
    return texts[0] if texts else symbol.value


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


def _settings_of_the_copy(settings: Path, edits: Sequence[Edit]) -> dict[str, bytes]:
    """The settings and what they name, by name, with sizes of nets and fields of parts put into their tables.

    Everything else is left as it stands.
    """
    try:
        found = {str(file): content for file, content in settings_files(settings, Path()).items()}
        text = found.get(SETTINGS_NAME, b"").decode("utf-8")
    except OSError as error:
        raise UnusableError(f"can't be copied: {error.strerror or error}", file=settings) from error
    except UnicodeDecodeError:
        raise UnusableError("is not UTF-8 text", file=settings) from None
    return found | {SETTINGS_NAME: edited(text, edits).encode("utf-8")}


def _of_nets(nets: Mapping[str, str]) -> Iterator[Edit]:
    for net, size in nets.items():
        names = tuple(dict.fromkeys((net, net.removeprefix("/"))))
        yield Edit("net", names, "gauge", size, lambda key: key.casefold() == "gauge")


def _of_parts(found: AdvisedDrawing, fields: Fields) -> Iterator[Edit]:
    """Fields that the settings state of a part, which stand before the drawing: so they are changed there."""
    for reference, texts in fields.items():
        own = best_match(reference, found.settings.roles.parts)
        for name, text in texts.items():
            if own is not None and folded(name) in {folded(stated) for stated in own.fields}:
                yield Edit("part", (reference,), name, text, partial(_is_key_of, name))


def _is_key_of(name: str, key: str) -> bool:
    return folded(field_of_key(key)) == folded(name)
