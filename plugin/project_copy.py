"""What a copied drawing needs beside it so that KiCad opens it without complaint: project, tables, libraries."""

from __future__ import annotations

import os
import re
import tomllib
from pathlib import Path

from loadloom.plugin.pipeline import SETTINGS_NAME
from loadloom.reports.safe_file import is_ours

TABLES = ("sym-lib-table", "fp-lib-table", "design-block-lib-table")
_PROJECT = "${KIPRJMOD}"
_URI = re.compile(r'(\(uri\s+"?)\$\{KIPRJMOD\}([^")]*)')


def project_files(root: Path, target_root: Path) -> dict[Path, bytes]:
    """Project file, library tables, and the libraries and settings that lie in the project's folder, as they are to
    lie beside a copy of its root; by their new places.

    The project file takes the copy's name. What stands there already and is not loadloom's is left out. Entries
    that lead out of the project's folder become absolute paths. Raises OSError.
    """
    folder, target = root.resolve().parent, target_root.parent
    found: dict[Path, bytes] = {}
    project = root.with_suffix(".kicad_pro")
    if project.is_file():
        found[target_root.with_suffix(".kicad_pro")] = project.read_bytes()
    if Path(os.path.realpath(target)) != folder:
        for name in TABLES:
            table = folder / name
            if table.is_file():
                text = table.read_bytes().decode("utf-8")
                found[target / name] = _moved_table(text, folder, target, found).encode("utf-8")
        found |= settings_files(folder / SETTINGS_NAME, target)
    return {file: content for file, content in found.items() if is_ours(file)}


def settings_files(settings: Path, target: Path) -> dict[Path, bytes]:
    """A settings file and what it names, by their places in another folder. Raises OSError."""
    if not settings.is_file():
        return {}
    found = {target / SETTINGS_NAME: settings.read_bytes()}
    for name in _named_in(settings):
        _add(settings.resolve().parent, target, name, found)
    return found


def _moved_table(text: str, folder: Path, target: Path, found: dict[Path, bytes]) -> str:
    def moved(entry: re.Match[str]) -> str:
        place = (folder / entry[2].lstrip("/\\")).resolve()
        if place.is_relative_to(folder):
            _add(folder, target, str(place.relative_to(folder)), found)
            return entry[0]
        return entry[1] + place.as_posix()

    return _URI.sub(moved, text)


def _add(folder: Path, target: Path, name: str, found: dict[Path, bytes]) -> None:
    """A file, or all files of a folder, that lie within the project's own folder."""
    source = folder / name
    if not source.exists() or not source.resolve().is_relative_to(folder):
        return
    files = sorted(file for file in source.rglob("*") if file.is_file()) if source.is_dir() else [source]
    found |= {target / file.relative_to(folder): file.read_bytes() for file in files}


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
