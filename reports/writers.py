"""Which suffix is written by what, and the one way a report gets onto the disk: whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loadloom.graph.results import Results

Writer = Callable[["Results"], bytes]


class WriteError(Exception):
    """A report that can't be written. ``str()`` is one sentence with file and cause."""

    def __init__(self, file: Path, cause: str) -> None:
        super().__init__(f"{file}: {cause}")
        self.file = file
        self.cause = cause


def _json(results: Results) -> bytes:
    from loadloom.reports.results_json import render

    return render(results)


def _xlsx(results: Results) -> bytes:
    from loadloom.reports.workbook.book import render

    return render(results)


def _html(results: Results) -> bytes:
    from loadloom.reports.page import render

    return render(results)


def _csv(results: Results) -> bytes:
    from loadloom.reports import csv_table

    return csv_table.load_table(results)


def _csv_of(table: str) -> Writer:
    def write(results: Results) -> bytes:
        from loadloom.reports import csv_table

        return csv_table.table(results, table)

    return write


def _sarif(results: Results) -> bytes:
    from loadloom.reports.sarif import render

    return render(results)


def _junit(results: Results) -> bytes:
    from loadloom.reports.junit import render

    return render(results)


def _annotations(results: Results) -> bytes:
    from loadloom.reports import annotations

    return annotations.render(results).encode("utf-8")


CSV_TABLES = (
    "outputs",
    "supplies",
    "devices",
    "conductors",
    "contacts",
    "splices",
    "switches",
    "loads",
    "open_circuits",
    "faults",
    "short_circuits",
    "arrangements",
    "fault_powers",
    "findings",
    "assumptions",
    "sensitivity",
)

WRITERS: dict[str, Writer] = {
    ".json": _json,
    ".xlsx": _xlsx,
    ".html": _html,
    ".csv": _csv,
    ".sarif": _sarif,
    ".junit.xml": _junit,
    ".annotations.txt": _annotations,
    **{f".{table}.csv": _csv_of(table) for table in CSV_TABLES},
}
"""Writer by suffix. ``x.csv`` is the load table (conductors and contacts); ``x.findings.csv`` is that table."""


def writer_for(path: Path) -> Writer:
    """The writer of the longest suffix that a file name ends with, whatever its case.

    Raises:
        WriteError: no report has that suffix.
    """
    name = path.name.lower()
    known = [suffix for suffix in WRITERS if name.endswith(suffix)]
    if not known:
        plain = ", ".join(s for s in WRITERS if not (s.endswith(".csv") and s != ".csv"))
        raise WriteError(path, f"no report is written as that; the suffix must be one of {plain}")
    return WRITERS[max(known, key=len)]


def check_suffix(path: Path) -> None:
    """Refuse a suffix that no report has, before any work is done.

    Raises:
        WriteError: no report has that suffix.
    """
    writer_for(path)


def check_place(path: Path) -> None:
    """Refuse a place where no file can come to stand, before any work is done.

    Raises:
        WriteError: the folder is not there or closed to us, or the path is a folder itself.
    """
    folder = path.resolve().parent
    if path.is_dir():
        raise WriteError(path, "can't be written: is a folder")
    if not folder.is_dir():
        raise WriteError(path, f"can't be written: there is no folder {path.parent}")
    if not os.access(folder, os.W_OK):
        raise WriteError(path, f"can't be written: the folder {path.parent} is read-only")


def write_report(results: Results, path: Path) -> None:
    """Write a report in the format of the path's suffix.

    Raises:
        WriteError: unknown suffix, or the file can't be written; what stood there before is untouched.
    """
    write_bytes(path, writer_for(path)(results))


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file by way of a temporary one in the same folder, moved into place when it is whole.

    Raises:
        WriteError: the folder or the disk does not allow it; what stood there before is untouched.
    """
    temporary: Path | None = None
    try:
        target = path.resolve() if path.is_symlink() else path
        if target.is_dir():
            raise WriteError(path, "can't be written: is a folder")
        mode = target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask()
        handle, name = tempfile.mkstemp(prefix=f".{target.name[:40]}.", suffix=".part", dir=target.parent)
        temporary = Path(name)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        temporary.chmod(mode)
        temporary.replace(target)
        temporary = None
    except (OSError, ValueError) as error:
        cause = getattr(error, "strerror", None) or str(error)
        raise WriteError(path, f"can't be written: {cause[:1].lower()}{cause[1:]}") from error
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                temporary.unlink()


def _umask() -> int:
    """The process's file mode mask; it can only be read by setting it."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
