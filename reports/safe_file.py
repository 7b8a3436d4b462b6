"""The one way a file gets onto the disk: whole or not at all, and never over what somebody else wrote.

Beside each file that loadloom makes, a small hidden file keeps its fingerprint: ``.x.xlsx.sha256`` for ``x.xlsx``,
as ``sha256sum`` writes it, so that ``sha256sum --check`` reads it. Earlier ones stand in it as comments. A file at
an output's place whose fingerprint is not there was written by somebody else or edited since, and is left alone
unless the user forces it.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import stat
import sys
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

KEPT = 4
"""Fingerprints kept for one file: a killed run, or two at once, leave one that is not the file's."""

_PART = ".part"


class WriteError(Exception):
    """A file that can't be written. ``str()`` is one sentence with file and cause."""

    def __init__(self, file: Path, cause: str) -> None:
        super().__init__(f"{file}: {cause}")
        self.file = file
        self.cause = cause


def check_place(path: Path, inputs: Iterable[Path] = (), *, force: bool = False) -> None:
    """Refuse a place where a file may not come to stand, before any work is done.

    ``inputs`` are the files that the run reads. ``force`` lets a file be replaced that is not loadloom's.

    Raises:
        WriteError: the place is an input, a folder, a device, a pipe, a link out of its folder, or a file that
            loadloom did not write or that was edited since; or the folder is not there or closed to us.
    """
    _target(path, inputs)
    with _causes(path):
        if not force and not is_ours(path):
            raise WriteError(
                path, "was not written by loadloom, or was changed since; --force replaces it, or name another file"
            )


def is_ours(path: Path) -> bool:
    """Whether no work of others is lost: no file is there, an empty one, or one as loadloom wrote it."""
    target = Path(os.path.realpath(path))  # whatever a link leads to, also one in a circle
    if not target.exists() or target.stat().st_size == 0:
        return True
    return _digest(target.read_bytes()) in _known(target)


def write_files(files: Mapping[Path, bytes], inputs: Iterable[Path] = (), *, force: bool = False) -> None:
    """Write files that loadloom makes: all of them, or none.

    Raises:
        WriteError: a place is refused (see ``check_place``), or the disk does not allow it; what stood there before
            is untouched.
    """
    inputs = tuple(inputs)
    for path in files:
        check_place(path, inputs, force=force)
    _place([_New(path, _target(path), content, fingerprint=True) for path, content in files.items()])


def edit_files(changes: Mapping[Path, tuple[bytes | None, bytes]]) -> None:
    """Write changed versions of files that are the user's own: all of them, or none.

    Each has what was read there, None where there was no file, and what is to stand there.

    Raises:
        WriteError: a file was changed meanwhile, or can't be written; what stood there before is untouched.
    """
    staged = []
    for path, (before, after) in changes.items():
        target = _target(path)
        with _causes(path):
            now = target.read_bytes() if target.exists() else None
        if now != before:
            raise WriteError(path, "was changed while loadloom was running, and is left as it is now")
        staged.append(_New(path, target, after, fingerprint=False))
    _place(staged)


@dataclass(slots=True)
class _New:
    """One file on its way to its place."""

    path: Path
    target: Path
    content: bytes
    fingerprint: bool
    whole: Path | None = None
    """The new content, in the same folder, not yet at its place."""
    old: Path | None = None
    """The content that stood there, until all files of the run are in place."""


def _target(path: Path, inputs: Iterable[Path] = ()) -> Path:
    """The file that would be written, behind a link within the same folder.

    Raises:
        WriteError: it is an input, a folder, no regular file, or lies elsewhere; or its folder can't take it.
    """
    with _causes(path):
        with contextlib.suppress(FileNotFoundError, NotADirectoryError):
            path.stat()  # refuses links in a circle, which resolve() takes for a file to be made since Python 3.13
        target = path.resolve()
        folder = path.parent.resolve()
        if path.is_symlink() and target.parent != folder:
            raise WriteError(path, "can't be written: is a link that leads out of its folder")
        if any(_same(target, other) for other in inputs):
            raise WriteError(path, "is read by this very run, and an input is not written over")
        if target.is_dir():
            raise WriteError(path, "can't be written: is a folder")
        if target.exists() and not stat.S_ISREG(target.stat().st_mode):
            raise WriteError(path, "can't be written: is a device or a pipe, not a file")
        if not folder.is_dir():
            raise WriteError(path, f"can't be written: there is no folder {path.parent}")
        if not os.access(folder, os.W_OK):
            raise WriteError(path, f"can't be written: the folder {path.parent} is read-only")
        return target


def _same(target: Path, other: Path) -> bool:
    with contextlib.suppress(OSError):
        return target == other.resolve() or (target.exists() and other.exists() and target.samefile(other))
    return False


def _place(files: list[_New]) -> None:
    """First every new file beside its place, then each into it; where one fails, the others go back."""
    placed: list[_New] = []
    try:
        for file in files:
            with _causes(file.path):
                _clear_leftovers(file.target)
                if file.fingerprint:
                    _clear_leftovers(_record(file.target))
                file.whole = _staged(file.target, file.content)
        for file in files:
            with _causes(file.path):
                # The fingerprint comes first: a run that is killed between the two leaves one too many, which
                # harms nothing, and never a file of ours that the next run takes for another's.
                if file.fingerprint:
                    _remember(file.target, file.content)
                if file.target.exists() and len(files) > 1:
                    file.old = _staged(file.target, file.target.read_bytes())
                assert file.whole is not None
                file.whole.replace(file.target)
                file.whole = None
                placed.append(file)
    except BaseException:
        for file in placed:
            with contextlib.suppress(OSError):
                if file.old is not None:
                    file.old.replace(file.target)
                    file.old = None
                else:
                    file.target.unlink()
        raise
    finally:
        for file in files:
            for rest in (file.whole, file.old):
                if rest is not None:
                    with contextlib.suppress(OSError):
                        rest.unlink()


def _staged(target: Path, content: bytes) -> Path:
    """Content on the disk in the folder where it is to stand, with the mode that the target has or would get."""
    mode = target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask()
    handle, name = tempfile.mkstemp(prefix=f".{target.name[:40]}.{os.getpid()}-", suffix=_PART, dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).chmod(mode)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise
    return Path(name)


def _clear_leftovers(target: Path) -> None:
    """Remove what killed runs left of this very file; what a run that still lives is writing stays."""
    start = f".{target.name[:40]}."
    for part in target.parent.iterdir():
        owner = re.fullmatch(rf"{re.escape(start)}(\d+)-\w+{re.escape(_PART)}", part.name)
        if owner is not None and not _lives(int(owner[1])):
            with contextlib.suppress(OSError):
                part.unlink()


def _lives(process: int) -> bool:
    """Whether a process runs. On Windows asking would end it, so that every process but this one is left alone."""
    if process == os.getpid():
        return False  # it writes one set of files at a time, and has not begun this one
    if sys.platform == "win32":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def _record(target: Path) -> Path:
    return target.with_name(f".{target.name}.sha256")


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _known(target: Path) -> list[str]:
    """Fingerprints of what loadloom wrote here, the latest first; none where the record can't be read."""
    try:
        text = _record(target).read_text(encoding="utf-8")[:10_000]
    except (OSError, ValueError):
        return []
    return re.findall(r"\b[0-9a-f]{64}\b", text)


def _remember(target: Path, content: bytes) -> None:
    latest, *earlier = dict.fromkeys((_digest(content), *_known(target)))
    lines = [f"{latest}  {target.name}", *(f"# {digest} before" for digest in earlier[: KEPT - 1])]
    text = "".join(f"{line}\n" for line in lines)
    _staged(_record(target), text.encode("utf-8")).replace(_record(target))


@contextlib.contextmanager
def _causes(path: Path) -> Iterator[None]:
    """What the system says, as one sentence about the file."""
    try:
        yield
    except (OSError, ValueError) as error:
        cause = getattr(error, "strerror", None) or str(error)
        raise WriteError(path, f"can't be written: {cause[:1].lower()}{cause[1:]}") from error


def _umask() -> int:
    """The process's file mode mask; it can only be read by setting it."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask
