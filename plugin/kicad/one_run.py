"""One run for each drawing at a time: a lock that the system lets go of by itself when its holder ends."""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def only_run(drawing: Path) -> Iterator[bool]:
    """Whether this is the only run on a drawing; it stays the only one until the end of the block."""
    with _own(drawing, "lock").open("a+b") as file:
        taken = _locked(file.fileno())
        try:
            yield taken
        finally:
            if taken:
                _unlocked(file.fileno())


def progress_page(drawing: Path) -> Path:
    """The page that tells how far the run on a drawing is, wherever it is asked from."""
    return _own(drawing, "html")


def _own(drawing: Path, suffix: str) -> Path:
    key = hashlib.sha256(os.fsencode(drawing.resolve())).hexdigest()[:16]
    user = "".join(c for c in os.environ.get("USER") or os.environ.get("USERNAME") or "" if c.isalnum())
    return Path(tempfile.gettempdir()) / f"loadloom-{user}-{key}.{suffix}"


if sys.platform == "win32":
    import msvcrt

    def _locked(number: int) -> bool:
        try:
            os.lseek(number, 0, os.SEEK_SET)
            msvcrt.locking(number, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _unlocked(number: int) -> None:
        os.lseek(number, 0, os.SEEK_SET)
        msvcrt.locking(number, msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _locked(number: int) -> bool:
        try:
            fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True

    def _unlocked(number: int) -> None:
        fcntl.flock(number, fcntl.LOCK_UN)
