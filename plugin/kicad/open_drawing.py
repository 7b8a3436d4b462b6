"""Which drawing the button was pressed on, and whether it has edits that are not on disk."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.kicad.ipc import NoAnswerError, OpenDocument, open_schematics
from loadloom.plugin.kicad.places import folders_on_disk, installations

SUFFIX = ".kicad_sch"

RECENT_SHOWN = 9
"""How many drawings a question lists where nothing tells which is open."""


@dataclass(frozen=True, slots=True)
class Candidates:
    """Root schematics that may be the one meant, and whether the first is certain; ``why`` says why not."""

    files: tuple[Path, ...]
    why: str = ""
    certain: bool = False


def find_drawings(env: Mapping[str, str]) -> Candidates:
    """The root schematic that the editor has open, by its own word, else by the locks in its project folder."""
    folder = env.get("KIPRJMOD", "")
    try:
        documents = open_schematics(env)
        why = "" if documents else "KiCad names no open schematic"
    except NoAnswerError as error:
        documents, why = (), str(error)
    named = {file for document in documents if (file := _root_of(document, folder)) is not None}
    if len(named) == 1:
        return Candidates((named.pop(),), certain=True)
    if named:
        return Candidates(tuple(sorted(named)), "KiCad has several schematics open")
    folders = {Path(document.folder) for document in documents if document.folder}
    if folder:
        folders.add(Path(folder))
    projects = sorted(
        schematic
        for place in folders
        for project in (place.glob("*.kicad_pro") if place.is_dir() else ())
        if (schematic := project.with_suffix(SUFFIX)).is_file()
    )
    locked = [file for file in projects if lock_of(file).exists()]
    files = locked or projects
    if files:
        return Candidates(tuple(files), why or "the project folder holds several schematics", len(files) == 1)
    names = {document.file for document in documents}
    recent = _recent(env)
    alike = [file for file in recent if file.name in names and lock_of(file).exists()]
    return Candidates(tuple(alike or recent), why or "KiCad named no project folder", len(alike) == 1)


def _recent(env: Mapping[str, str]) -> list[Path]:
    """Schematics that were open last, by the lists that KiCad keeps in its configuration, newest version first."""
    found: dict[Path, None] = {}
    for one in reversed(installations(sys.platform, env, folders_on_disk)):
        for name in ("eeschema.json", "kicad.json"):
            try:
                history = json.loads((one.config / name).read_text("utf-8"))["system"]["file_history"]
                paths = [Path(str(text)).with_suffix(SUFFIX) for text in history]
            except (OSError, ValueError, KeyError, TypeError):
                continue
            found |= {path: None for path in paths if path.is_absolute() and path.is_file()}
    return list(found)[:RECENT_SHOWN]


def _root_of(document: OpenDocument, folder: str) -> Path | None:
    """The root schematic of an open document: a sheet of a project belongs to the project's own schematic."""
    for place in (document.folder, folder):
        if not place:
            continue
        base = Path(place)
        base = base.parent if base.suffix == ".kicad_pro" else base
        if document.project and (root := base / (document.project + SUFFIX)).is_file():
            return root
        file = base / document.file
        if document.file.endswith(SUFFIX) and file.is_file():
            return _project_root(file) or file
    file = Path(document.file)
    return file if file.is_absolute() and file.suffix == SUFFIX and file.is_file() else None


def _project_root(file: Path) -> Path | None:
    """The schematic of the only project in a file's folder, unless the file has a project of its own."""
    if file.with_suffix(".kicad_pro").is_file():
        return file
    projects = [p.with_suffix(SUFFIX) for p in file.parent.glob("*.kicad_pro")]
    return projects[0] if len(projects) == 1 and projects[0].is_file() else None


def lock_of(file: Path) -> Path:
    """The lock that KiCad puts beside a file it has open."""
    return file.with_name(f"~{file.name}.lck")


def unsaved_warning(root: Path) -> str | None:
    """What to tell the user about edits that are not in the file; None where none are known of.

    KiCad saves edits by itself from time to time beside the file; such a copy, newer than the file, means that
    edits are not in it. Younger edits leave no trace on disk.
    """
    from loadloom.plugin.reading.hierarchy import read_hierarchy

    try:
        sheets = [file.path for file in read_hierarchy(root).files]
    except UnusableError:
        sheets = [root]
    for sheet in sheets:
        copy = sheet.with_name(f"_autosave-{sheet.name}")
        try:
            if copy.exists() and copy.stat().st_mtime > sheet.stat().st_mtime:
                return (
                    f"{sheet.name} has edits that are not saved: this report is of the drawing as it was last "
                    "saved. Save it in KiCad and press the button again."
                )
        except OSError:
            continue
    return None
