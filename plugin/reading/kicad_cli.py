"""Finding and running kicad-cli."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Literal

from loadloom.graph.model.naming import natural_key
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import TextFile, read_text, shown

VARIABLE = "LOADLOOM_KICAD_CLI"
TIME_LIMIT_S = 300.0
_VERSION_TIME_LIMIT_S = 30.0
_USUAL_PLACES = {
    "linux": ("/usr/bin", "/usr/local/bin", "/opt/kicad*/bin", "/snap/bin"),
    "darwin": ("/Applications/KiCad*/KiCad.app/Contents/MacOS", "/Applications/KiCad*.app/Contents/MacOS"),
    "win32": ("{ProgramFiles}/KiCad/*/bin", "{LOCALAPPDATA}/Programs/KiCad/*/bin"),
}


def choose(asked: Path | Literal["none"] | None) -> Path | None:
    """The kicad-cli to use: the one asked for, else the environment's, else one found; None to do without.

    Raises UnusableError where one is named that is not there.
    """
    named: str | Path | None = asked if asked is not None else os.environ.get(VARIABLE) or None
    if named is None:
        return find()
    if str(named) == "none":
        return None
    path = shutil.which(str(named))
    if path is None:
        origin = f"{VARIABLE} names" if asked is None else "the kicad-cli asked for is"
        raise UnusableError(
            f"{origin} {named}, which is no program that can be run",
            hint="name the kicad-cli program, or none to read without it",
        )
    return Path(path)


def find() -> Path | None:
    """kicad-cli on PATH, else the newest one in the usual places of this platform."""
    path = shutil.which("kicad-cli")
    if path is not None:
        return Path(path)
    program = "kicad-cli.exe" if sys.platform == "win32" else "kicad-cli"
    found = [place / program for pattern in _USUAL_PLACES.get(sys.platform, ()) for place in _folders(pattern)]
    usable = [candidate for candidate in found if candidate.is_file() and os.access(candidate, os.X_OK)]
    return max(usable, key=lambda candidate: natural_key(str(candidate)), default=None)


def _folders(pattern: str) -> list[Path]:
    try:
        place = Path(pattern.format_map(os.environ))
    except KeyError:
        return []
    return list(Path(place.anchor).glob(str(place.relative_to(place.anchor))))


def version(program: Path) -> str:
    """Its version, as ``9.0.8``; empty where it does not tell."""
    try:
        done = subprocess.run(
            [program, "version"],
            capture_output=True,
            stdin=subprocess.DEVNULL,
            timeout=_VERSION_TIME_LIMIT_S,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    match = re.search(r"\d+\.\d+(\.\d+)?", done.stdout.decode("utf-8", "replace"))
    return match[0] if match else ""


class NetlistExport:
    """A run of ``kicad-cli sch export netlist`` into a folder of its own, as a context manager.

    It starts on entering, so that other work can go on beside it, and is ended on leaving if it still runs.
    """

    def __init__(self, program: Path, schematic: Path, time_limit_s: float = TIME_LIMIT_S) -> None:
        self.program = program
        self.schematic = schematic
        self.time_limit_s = time_limit_s

    def __enter__(self) -> NetlistExport:
        self._folder = tempfile.TemporaryDirectory(prefix="loadloom-", ignore_cleanup_errors=True)
        folder = Path(self._folder.name)
        self.output = folder / "netlist.xml"
        self._log = (folder / "log.txt").open("w+b")
        command: list[str | Path] = [self.program, "sch", "export", "netlist", "--format", "kicadxml"]
        try:
            with _interrupts_later():  # or one could come between the start and its being known
                self._process = subprocess.Popen(
                    [*command, "-o", self.output, self.schematic.absolute()],
                    stdin=subprocess.DEVNULL,
                    stdout=self._log,
                    stderr=subprocess.STDOUT,
                    cwd=folder,
                    env=_environment(folder),
                    start_new_session=True,  # so that all that it starts can be ended with it
                )
        except OSError as error:
            self._log.close()
            self._folder.cleanup()
            cause = f"{self.program} can't be run: {error.strerror or error}"
            raise UnusableError(cause, hint=f"set {VARIABLE} to another kicad-cli, or to none") from None
        except KeyboardInterrupt:
            self._end()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self._end()

    def _end(self) -> None:
        if self._process.poll() is None:
            _kill_with_all_it_started(self._process)
            self._process.wait()
        self._log.close()
        self._folder.cleanup()

    def result(self) -> TextFile | None:
        """The netlist written, or None if kicad-cli could not load the schematic.

        Success is exit code 0 and a file: exit code 0 alone is also what an unwritable output gives. Raises
        UnusableError when it takes too long or writes nothing.
        """
        where = shown(self.schematic)
        hint = f"set {VARIABLE}=none to read the drawing without it"
        try:
            code = self._process.wait(self.time_limit_s)
        except subprocess.TimeoutExpired:
            cause = f"kicad-cli did not finish within {self.time_limit_s:.3g} s"
            raise UnusableError(cause, where, hint=hint) from None
        if code != 0:
            return None
        if not self.output.is_file():
            raise UnusableError("kicad-cli reported success but wrote no netlist", where, hint=hint)
        netlist = read_text(self.output)
        if not netlist.text.rstrip().endswith("</export>"):
            raise UnusableError("kicad-cli wrote half a netlist only", where, hint=hint)
        return netlist


@contextlib.contextmanager
def _interrupts_later() -> Iterator[None]:
    """An interrupt that comes within the block is raised at its end."""
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _kill_with_all_it_started(process: subprocess.Popen[bytes]) -> None:
    if sys.platform == "win32":
        process.kill()
        return
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)


def _environment(folder: Path) -> dict[str, str]:
    """The environment with a HOME that kicad-cli can write to; without one it does not run."""
    environment = dict(os.environ)
    home = environment.get("HOME")
    if sys.platform != "win32" and not (home and Path(home).is_dir() and os.access(home, os.W_OK)):
        environment["HOME"] = str(folder)
    return environment
