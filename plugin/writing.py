"""What the plugin writes, by the one safe writer of the reports; what it refuses ends the run in a sentence."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from loadloom.plugin.errors import UnusableError
from loadloom.reports import safe_file
from loadloom.reports.safe_file import WriteError


@contextlib.contextmanager
def as_unusable() -> Iterator[None]:
    """What the safe writer refuses, as the one kind of error that ends a run."""
    try:
        yield
    except WriteError as error:
        raise UnusableError(error.cause, file=error.file) from error


def check_place(path: Path, inputs: Iterable[Path] = (), *, force: bool = False) -> None:
    """As ``safe_file.check_place``. Raises UnusableError."""
    with as_unusable():
        safe_file.check_place(path, inputs, force=force)


def write_files(files: Mapping[Path, bytes], inputs: Iterable[Path] = (), *, force: bool = False) -> None:
    """As ``safe_file.write_files``. Raises UnusableError."""
    with as_unusable():
        safe_file.write_files(files, inputs, force=force)


def edit_files(changes: Mapping[Path, tuple[bytes | None, bytes]]) -> None:
    """As ``safe_file.edit_files``. Raises UnusableError."""
    with as_unusable():
        safe_file.edit_files(changes)


def make_folders(files: Iterable[Path]) -> None:
    """Make the folders that files are to lie in. Raises UnusableError."""
    for file in files:
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UnusableError(f"can't be written: {error.strerror or error}", file=file) from error
