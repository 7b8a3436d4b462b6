"""Files come in through here: what can't be text of a sensible size is refused before any parser sees it."""

from __future__ import annotations

import datetime
import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from loadloom.graph.harness import InputFile
from loadloom.plugin.errors import UnusableError

SIZE_LIMIT_BYTES = 64 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class TextFile:
    """A file's text without byte order mark, line ends as ``\\n``, and the hash of its bytes."""

    path: Path
    text: str
    sha256: str


def shown(path: Path) -> Path:
    """The path as messages and reports show it: relative to the working directory if it lies below it."""
    try:
        return path.relative_to(Path.cwd())
    except (ValueError, OSError):
        return path


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
    try:
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        raise UnusableError(f"can't be read: {error.strerror or error}", shown(path)) from None
    return input_file(kind, path, digest, name)


def read_text(path: Path) -> TextFile:
    """Read a text file.

    Raises UnusableError where it is missing, a folder, unreadable, empty, over 64 MB, binary, or not UTF-8.
    """
    where = shown(path)
    try:
        if path.is_dir():
            raise UnusableError("is a folder, not a file", where)
        if path.exists() and not path.is_file():
            raise UnusableError("is not a regular file", where)
        with path.open("rb") as stream:
            size_bytes = os.fstat(stream.fileno()).st_size
            if size_bytes > SIZE_LIMIT_BYTES:
                raise _too_large(where)
            data = stream.read(SIZE_LIMIT_BYTES + 1)
    except FileNotFoundError:
        raise UnusableError("there is no such file", where) from None
    except PermissionError:
        raise UnusableError("may not be read: permission denied", where) from None
    except (OSError, ValueError) as error:
        cause = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise UnusableError(f"can't be read: {cause}", where) from None
    if len(data) > SIZE_LIMIT_BYTES:
        raise _too_large(where)
    return TextFile(path, _decode(data, where), hashlib.sha256(data).hexdigest())


def _too_large(where: Path) -> UnusableError:
    return UnusableError(f"is larger than {SIZE_LIMIT_BYTES // 1024**2} MB, too large for a drawing", where)


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
