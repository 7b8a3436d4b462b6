"""Currents, utilisation and verdict written into fields of a copy of the drawing, so that KiCad shows them."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from loadloom.graph.results import Results
from loadloom.plugin.drawing import Drawing, Symbol
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.splicing import SchematicText, Span

CURRENT_FIELD = "Solved current"
USE_FIELD = "Solved utilisation"
VERDICT_FIELD = "Solved verdict"
FIELDS = (CURRENT_FIELD, USE_FIELD, VERDICT_FIELD)

BELOW_MM = 2.54
"""Distance of the first new field below the symbol's lowest shown field or its origin."""

LINE_MM = 1.9


@dataclass(frozen=True, slots=True)
class Note:
    """What is written beside one part: the row it comes from, and how grave it is."""

    row_id: str
    current_a: float
    utilisation: float | None
    verdict: str

    @property
    def rank(self) -> tuple[bool, float, float]:
        """Greater is worse."""
        return self.verdict != "ok", self.utilisation or 0.0, self.current_a


def notes_by_reference(results: Results) -> dict[str, list[Note]]:
    """Notes by the reference of the symbol that they belong to (a cable or connector has several)."""
    found: dict[str, list[Note]] = {}
    for conductor in results.conductors:
        reference = conductor.cable or conductor.id
        _add(found, reference, conductor.id, conductor.current_a, conductor.utilisation, conductor.findings)
    for contact in results.contacts:
        _add(found, contact.connector, contact.id, contact.current_a, contact.utilisation, contact.findings)
    for device in results.devices:
        _add(found, device.id, device.id, device.current_a, device.utilisation, device.findings)
    return found


def annotate(drawing: Drawing, results: Results, source: Path, copy: Path, *, in_place: bool = False) -> list[Path]:
    """Write an annotated copy of a schematic and its sheets; gives the files written.

    ``copy`` is a folder or the root file of the copy. A field is shared by all instances of a repeated sheet:
    the worst is written and said to be that. Sheets keep their names relative to the root.

    Raises:
        UnusableError: the copy would write over the drawing, or a file can't be read or written.
    """
    root = source.with_suffix(".kicad_sch")
    target_root = copy if copy.suffix == ".kicad_sch" else copy / root.name
    sheets = sorted({root.resolve(), *(Path(s.file).resolve() for s in drawing.symbols if s.file)})
    base = root.resolve().parent
    targets = {sheet: target_root.parent / sheet.relative_to(base) for sheet in sheets}
    targets[root.resolve()] = target_root
    if not in_place and any(target.resolve() in sheets for target in targets.values()):
        raise UnusableError(
            "would be written over", file=target_root, hint="name a copy in another folder, or say --in-place"
        )
    notes = notes_by_reference(results)
    by_uuid: dict[str, list[Symbol]] = {}
    for symbol in drawing.symbols:
        for uuid in symbol.uuids:
            by_uuid.setdefault(uuid, []).append(symbol)
    written = []
    for sheet in sheets:
        text = SchematicText(sheet)
        _edit_sheet(text, by_uuid, notes)
        _write(targets[sheet], text.result())
        written.append(targets[sheet])
    _copy_project(root, target_root)
    return written


def _edit_sheet(text: SchematicText, by_uuid: Mapping[str, list[Symbol]], notes: Mapping[str, list[Note]]) -> None:
    for span in text.symbols():
        instances = by_uuid.get(text.child_text(span, "uuid") or "", [])
        found = [note for symbol in instances for note in notes.get(symbol.reference, [])]
        if not found:
            continue
        worst = max(found, key=lambda note: note.rank)
        suffix = ""
        if len(instances) > 1:
            suffix = f" (worst of {len(instances)}: {worst.row_id})"
        elif len(found) > 1:
            suffix = f" ({worst.row_id.rpartition('.')[2]})"
        x_mm, y_mm = _free_place(text, span)
        values = (
            f"{worst.current_a:.3g} A{suffix}",
            f"{100 * worst.utilisation:.0f} %" if worst.utilisation is not None else "not rated",
            worst.verdict,
        )
        for line, (name, value) in enumerate(zip(FIELDS, values, strict=True)):
            text.set_field(span, name, value, (x_mm, round(y_mm + line * LINE_MM, 2)), shown=True)


def _free_place(text: SchematicText, symbol: Span) -> tuple[float, float]:
    """Where the new fields go: below everything that the symbol shows."""
    x_mm, y_mm, _ = text.position_mm(symbol)
    lowest = y_mm
    for name, span in text.properties(symbol).items():
        if name in FIELDS or any(text.text(h.items[1]) == "yes" for h in _hidden(text, span)):
            continue
        lowest = max(lowest, text.position_mm(span)[1])
    return x_mm, lowest + BELOW_MM


def _hidden(text: SchematicText, span: Span) -> Iterator[Span]:
    yield from text.children(span, "hide")
    for effects in text.children(span, "effects"):
        yield from text.children(effects, "hide")


def _add(
    found: dict[str, list[Note]],
    reference: str,
    row_id: str,
    current_a: float | None,
    utilisation: float | None,
    findings: tuple[str, ...],
) -> None:
    if current_a is not None:
        found.setdefault(reference, []).append(
            Note(row_id, current_a, utilisation, ", ".join(findings) if findings else "ok")
        )


def _copy_project(root: Path, target_root: Path) -> None:
    for suffix in (".kicad_pro",):
        project, target = root.with_suffix(suffix), target_root.with_suffix(suffix)
        if project.is_file() and project.resolve() != target.resolve():
            shutil.copyfile(project, target)


def _write(target: Path, content: bytes) -> None:
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=target.parent, delete=False) as temporary:
            temporary.write(content)
        os.replace(temporary.name, target)
    except OSError as error:
        raise UnusableError(f"can't be written: {error.strerror or error}", file=target) from error
