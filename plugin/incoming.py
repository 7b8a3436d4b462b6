"""Read input files: what can't be text of a sensible size is refused before any parser sees it."""

from __future__ import annotations

import datetime
import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from loadloom.graph.model.harness import InputFile
from loadloom.plugin.errors import UnusableError
from loadloom.reports.regular_file import ReadError, read_regular

SIZE_LIMIT_BYTES = 64 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class TextFile:
    """A file's text without byte order mark, line ends as ``\\n``, and the hash of its bytes."""

    path: Path
    text: str
    sha256: str


def is_there(path: Path) -> bool:
    """Whether a folder holds a file of this name, readable or not.

    A link that leads nowhere, or in a circle, is there: reading it is refused, and nothing is assumed in its place.
    """
    return os.path.lexists(path)


def shown(path: Path) -> Path:
    """The path as messages and reports show it: relative to the working directory if it lies below it."""
    try:
        return path.relative_to(Path.cwd())
    except (ValueError, OSError):
        return path


def where_of(path: Path) -> str:
    """The path of a drawing as results give it, wherever the command was run from.

    It is relative to the repository that the drawing lies in, as what reads SARIF or JUnit wants it; outside of
    one it is the name alone.
    """
    full = path.resolve()
    repository = next((folder for folder in full.parents if (folder / ".git").exists()), full.parent)
    return full.relative_to(repository).as_posix()


def input_file(kind: str, path: Path, sha256: str, name: str) -> InputFile:
    """A file for the list of what the results rest on; ``sha256`` is of the bytes that were read."""
    try:
        moment = datetime.datetime.fromtimestamp(path.stat().st_mtime, datetime.UTC).astimezone()
        saved = moment.isoformat(" ", "seconds")
    except (OSError, ValueError, OverflowError):
        saved = ""
    return InputFile(kind, name, sha256, saved)


def hashed(kind: str, path: Path, name: str) -> InputFile:
    """The same of a file that is hashed here, for those that another program or library reads.

    Raises UnusableError where it can't be read.
    """
    return input_file(kind, path, hashlib.sha256(read_bytes(path)).hexdigest(), name)


def read_text(
    path: Path, limit_bytes: int = SIZE_LIMIT_BYTES, what: str = "a drawing", *, empty: bool = False
) -> TextFile:
    """Read a text file that is meant to be ``what``; one with nothing in it only where ``empty`` allows it.

    Raises UnusableError where it is missing, a folder, no regular file, unreadable, empty, too large, binary, or
    not UTF-8.
    """
    data = read_bytes(path, limit_bytes, what)
    text = "" if empty and not data.strip() else _decode(data, shown(path))
    return TextFile(path, text, hashlib.sha256(data).hexdigest())


def read_bytes(path: Path, limit_bytes: int = SIZE_LIMIT_BYTES, what: str = "a drawing") -> bytes:
    """All bytes of a file. Raises UnusableError as ``read_text`` does, but for the text."""
    try:
        return read_regular(path, limit_bytes, what)
    except ReadError as error:
        raise UnusableError(str(error), shown(path)) from None


def _decode(data: bytes, where: Path) -> str:
    if not data:
        raise UnusableError("is empty", where)
    if not data.strip(b"\0"):
        raise UnusableError("holds nothing but zero bytes", where, hint="the disk or a copy of it failed")
    zero = data.find(b"\0")
    if zero >= 0:
        raise UnusableError("is a binary file, not a text", where, data.count(b"\n", 0, zero) + 1)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise UnusableError("is not UTF-8 text", where, line, hint=f"byte 0x{data[error.start]:02x}") from None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise UnusableError("is empty", where, hint="it holds nothing but white space")
    return text
