"""One path for one file in every report: as the drawing was named, and its other files beside it."""

from __future__ import annotations

import posixpath
from dataclasses import replace
from pathlib import PurePosixPath

from loadloom.graph.model.harness import InputFile
from loadloom.graph.model.results import Results


def path_of(file: str | None, results: Results) -> str:
    """The path of a file that a finding or the list of files names; the drawing's own where none is named.

    Sheets are named relative to the root sheet's folder, the root itself as the user named it.
    """
    root = results.provenance.file
    if not file or file == root or PurePosixPath(file).is_absolute():
        return file or root
    return posixpath.normpath((PurePosixPath(root).parent / file).as_posix()) if root else file


def input_files(results: Results) -> list[InputFile]:
    """All files that the results rest on, under their paths; results without a list know the drawing alone."""
    where = results.provenance
    listed = where.files or (InputFile("drawing", where.file, where.sha256),)
    return [replace(file, file=path_of(file.file, results)) for file in listed]
