"""The list of all files that a report rests on, each with its own hash, and when the report was made."""

from __future__ import annotations

import datetime
import os
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from loadloom.graph.model.harness import InputFile
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.incoming import hashed


def with_manifest(drawing: Drawing, path: Path, settings: Path | None, date: str | None) -> Drawing:
    """The drawing with every file in its provenance: sheets, project, settings and own tables.

    ``date`` handed in, or ``SOURCE_DATE_EPOCH`` in the environment, stands in the place of the clock. With the
    latter the times of saving are left out as well, so that a copy of the files gives the same bytes.

    Raises:
        UnusableError: a file can't be read.
    """
    repeats = bool(os.environ.get("SOURCE_DATE_EPOCH"))
    files = [*drawing.provenance.files, *_project(drawing, path), *_settings(settings, path.parent)]
    if repeats:
        files = [replace(file, saved="") for file in files]
    made = "" if repeats or date else datetime.datetime.now().astimezone().isoformat(" ", "seconds")
    return replace(drawing, provenance=replace(drawing.provenance, files=tuple(files), made=made))


def _project(drawing: Drawing, path: Path) -> Iterator[InputFile]:
    """The project file: net classes and text variables come from it."""
    project = path.with_suffix(".kicad_pro")
    if project.is_file() and any(file.kind == "sheet" for file in drawing.provenance.files):
        yield hashed("project", project, project.name)


def _settings(settings: Path | None, folder: Path) -> Iterator[InputFile]:
    """The settings file and the tables that it names; all are named relative to the drawing's folder."""
    if settings is None:
        return
    yield hashed("settings", settings, _named(settings, folder))
    content = {}
    with suppress(OSError, ValueError):  # whoever reads the settings says what is wrong with them
        content = tomllib.loads(settings.read_text(encoding="utf-8-sig"))
    curves = content.get("curve")
    tables = [content.get("ampacity_table")]
    tables += [curve.get("file") for curve in curves.values() if isinstance(curve, dict)] if curves else []
    for name in dict.fromkeys(name for name in tables if isinstance(name, str)):
        table = settings.parent / name
        if table.is_file():
            yield hashed("own table", table, _named(table, folder))


def _named(file: Path, folder: Path) -> str:
    try:
        return Path(os.path.relpath(file, folder)).as_posix()
    except ValueError:  # on another drive
        return file.name
