"""What a copied drawing needs beside it so that KiCad opens it without complaint: project, tables, libraries."""

from __future__ import annotations

import re
import shutil
import tomllib
from pathlib import Path

from loadloom.plugin.pipeline import SETTINGS_NAME

TABLES = ("sym-lib-table", "fp-lib-table", "design-block-lib-table")
_PROJECT = "${KIPRJMOD}"
_URI = re.compile(r'(\(uri\s+"?)\$\{KIPRJMOD\}([^")]*)')


def copy_project(root: Path, target_root: Path) -> None:
    """Copy the project file, library tables, the libraries and settings that lie in the project's folder.

    The project file takes the copy's name. Tables and libraries that stand there already are left alone.
    Entries that lead out of the project's folder are written as absolute paths. Raises OSError.
    """
    folder, target = root.resolve().parent, target_root.parent
    target.mkdir(parents=True, exist_ok=True)
    project = root.with_suffix(".kicad_pro")
    if project.is_file():
        shutil.copyfile(project, target_root.with_suffix(".kicad_pro"))
    if target.resolve() == folder:
        return
    for name in TABLES:
        table = folder / name
        if table.is_file() and not (target / name).exists():
            (target / name).write_bytes(_moved_table(table.read_bytes().decode("utf-8"), folder, target).encode())
    settings = folder / SETTINGS_NAME
    if settings.is_file():
        for name in (SETTINGS_NAME, *_named_in(settings)):
            _copy_inside(folder, target, name)


def copy_settings(settings: Path, target: Path) -> Path:
    """Copy a settings file that does not lie beside the drawing to where the copy's are looked for, with the files
    that it names. Its own place is left alone. Raises OSError.
    """
    copied = target / SETTINGS_NAME
    if settings.resolve() != copied.resolve():
        target.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(settings, copied)
        for name in _named_in(settings):
            _copy_inside(settings.resolve().parent, target, name)
    return copied


def _moved_table(text: str, folder: Path, target: Path) -> str:
    def moved(found: re.Match[str]) -> str:
        place = (folder / found[2].lstrip("/\\")).resolve()
        if place.is_relative_to(folder):
            _copy_inside(folder, target, str(place.relative_to(folder)))
            return found[0]
        return found[1] + place.as_posix()

    return _URI.sub(moved, text)


def _copy_inside(folder: Path, target: Path, name: str) -> None:
    source, copy = folder / name, target / name
    if not source.exists() or copy.exists() or not source.resolve().is_relative_to(folder):
        return
    copy.parent.mkdir(parents=True, exist_ok=True)
    if source.is_dir():
        shutil.copytree(source, copy)
    else:
        shutil.copyfile(source, copy)


def _named_in(settings: Path) -> list[str]:
    """Files that the settings name: tables and curves beside them."""
    try:
        top = tomllib.loads(settings.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    curves = top.get("curve")
    names = [top.get("ampacity_table")]
    names += (
        [curve.get("file") for curve in curves.values() if isinstance(curve, dict)]
        if isinstance(curves, dict)
        else []
    )
    return [name for name in names if isinstance(name, str)]
