"""The one gate through which a file's bytes come in: a regular file of a sensible size, read once."""

from __future__ import annotations

import stat
from pathlib import Path


class ReadError(Exception):
    """A file whose bytes can't be had. ``str()`` is the cause without the file's name."""


def read_regular(path: Path, limit_bytes: int, what: str) -> bytes:
    """All bytes of a file.

    ``what`` the file is meant to be stands in the message about its size, as "a drawing".

    Raises:
        ReadError: it is missing, a folder, a device, a pipe, unreadable, or longer than ``limit_bytes``.
    """
    try:
        found = path.stat()  # before it is opened: to open a pipe that nobody writes to waits for ever
        if stat.S_ISDIR(found.st_mode):
            raise ReadError("is a folder, not a file")
        if not stat.S_ISREG(found.st_mode):
            raise ReadError("is not a regular file")
        with path.open("rb") as stream:
            content = stream.read(limit_bytes + 1) if found.st_size <= limit_bytes else b""
    except FileNotFoundError:
        raise ReadError("there is no such file") from None
    except PermissionError:
        raise ReadError("may not be read: permission denied") from None
    except (OSError, ValueError) as error:
        cause = getattr(error, "strerror", None) or str(error)
        raise ReadError(f"can't be read: {cause}") from None
    if found.st_size > limit_bytes or len(content) > limit_bytes:
        raise ReadError(f"is larger than {limit_bytes // 1024**2} MB, too large for {what}")
    return content
