"""What is done otherwise on Windows and macOS, tried on Linux: the branches run, with what they call stood in for.

Sources: PEP 405 (``Scripts`` and ``bin`` of an environment), Python's documentation of ``msvcrt.locking`` and
``os.kill`` (on Windows any signal but two ends the process), KiCad's installers (places of kicad-cli).
"""

from __future__ import annotations

import errno
import importlib.util
import os
import signal
import subprocess
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

from loadloom.graph.facts import second_process
from loadloom.plugin.kicad import ipc, one_run
from loadloom.plugin.reading import kicad_cli
from loadloom.reports import safe_file

ROOT = Path(__file__).resolve().parents[2]

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="stands in for Windows where it is not")


def anew(file: Path, name: str) -> ModuleType:
    """A module read again, for what it decides when it is loaded."""
    spec = importlib.util.spec_from_file_location(name, file)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    path = list(sys.path)
    spec.loader.exec_module(module)
    sys.path[:] = path
    return module


@pytest.mark.parametrize(
    ("system", "made"),
    [
        ("win32", "Program Files/KiCad/{}/bin/kicad-cli.exe"),
        ("win32", "local/Programs/KiCad/{}/bin/kicad-cli.exe"),
        ("darwin", "Applications/KiCad {}/KiCad.app/Contents/MacOS/kicad-cli"),
        ("darwin", "Applications/KiCad-{}.app/Contents/MacOS/kicad-cli"),
        ("linux", "opt/kicad{}/bin/kicad-cli"),
    ],
)
def test_kicad_cli_is_found_where_each_system_puts_it(
    system: str, made: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The newest one, 10 after 9; on Windows by the folders that the environment names."""
    for release in ("9.0", "10.0", "8.0"):
        program = tmp_path / made.format(release)
        program.parent.mkdir(parents=True)
        program.touch(mode=0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("ProgramFiles", str(tmp_path / "Program Files"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    places = kicad_cli._USUAL_PLACES[system]
    rooted = tuple(place if place.startswith("{") else f"{tmp_path}{place}" for place in places)
    monkeypatch.setattr(kicad_cli, "_USUAL_PLACES", {system: rooted})
    monkeypatch.setattr(kicad_cli.sys, "platform", system)
    assert kicad_cli.find() == tmp_path / made.format("10.0")


def test_an_interrupt_and_an_end_of_kicad_cli_without_signals(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows knows neither process groups nor masks of signals."""
    monkeypatch.setattr(kicad_cli.sys, "platform", "win32")
    monkeypatch.delattr(signal, "pthread_sigmask")
    monkeypatch.delattr(os, "killpg")
    with kicad_cli._interrupts_later():
        pass
    process = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    kicad_cli._kill_with_all_it_started(process)
    assert process.wait(10) != 0


def test_no_process_is_asked_whether_it_lives_on_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """There ``os.kill(number, 0)`` ends it."""

    def kill(*_: int) -> None:
        raise AssertionError("asked")

    monkeypatch.setattr(safe_file.sys, "platform", "win32")
    monkeypatch.setattr(safe_file.os, "kill", kill)
    assert safe_file._lives(os.getppid())
    assert not safe_file._lives(os.getpid())


@pytest.mark.parametrize("system", ["win32", "darwin"])
def test_no_copy_of_the_process_is_made_elsewhere(system: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(second_process.sys, "platform", system)
    assert not second_process._can_copy()


def test_one_run_at_a_time_by_the_locks_of_windows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first byte is locked and unlocked at the same place; a byte that is locked is an ``OSError``."""
    held: set[tuple[str, int]] = set()

    def locking(number: int, mode: int, count: int) -> None:
        place = (str(Path(f"/proc/self/fd/{number}").readlink()), os.lseek(number, 0, os.SEEK_CUR))
        assert count == 1
        if mode == 0:
            held.remove(place)
        elif place in held:
            raise OSError(errno.EACCES, "locked")
        else:
            held.add(place)

    monkeypatch.setitem(sys.modules, "msvcrt", SimpleNamespace(locking=locking, LK_NBLCK=2, LK_UNLCK=0))
    monkeypatch.setattr(sys, "platform", "win32")
    module = anew(ROOT / "plugin" / "kicad" / "one_run.py", "one_run_of_windows")
    monkeypatch.setattr(sys, "platform", "linux")
    first, second = (os.open(tmp_path / "lock", os.O_RDWR | os.O_CREAT) for _ in range(2))
    os.write(first, b"where the page is")
    assert module._locked(first) and not module._locked(second)
    module._unlocked(first)
    assert module._locked(second)
    assert one_run._locked(first), "the locks of this system know nothing of it"


def test_kicad_is_asked_through_a_pipe_with_a_name_on_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ipc, "_Pipe", lambda name: f"pipe {name}")
    monkeypatch.setattr(ipc.os, "name", "nt")
    try:
        opened = ipc._connected(r"C:\Users\u\AppData\Local\Temp\kicad\api.sock")
    finally:
        monkeypatch.setattr(ipc.os, "name", "posix")
    assert opened == r"pipe \\.\pipe\C:\Users\u\AppData\Local\Temp\kicad\api.sock"


@pytest.mark.parametrize(
    ("system", "variables", "folder", "python"),
    [
        ("win32", {"LOCALAPPDATA": "/l"}, "/l/loadloom", "e/Scripts/python.exe"),
        ("win32", {}, "/h/loadloom", "e/Scripts/python.exe"),
        ("darwin", {}, "/h/Library/Application Support/loadloom", "e/bin/python"),
        ("linux", {}, "/h/.local/share/loadloom", "e/bin/python"),
        ("linux", {"XDG_DATA_HOME": "/d"}, "/d/loadloom", "e/bin/python"),
    ],
)
def test_the_environment_of_the_button_lies_where_each_system_wants_it(
    system: str, variables: dict[str, str], folder: str, python: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = anew(ROOT / "plugin" / "open_report.py", "entry_of_other_systems")
    for name in ("LOCALAPPDATA", "XDG_DATA_HOME"):
        monkeypatch.delenv(name, raising=False)
    for name, value in ({"HOME": "/h"} | variables).items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(entry.sys, "platform", system)
    assert entry.own_folder() == folder
    assert entry.environment_python("e") == python


def test_the_launcher_of_windows_is_asked_first_for_a_newer_python(monkeypatch: pytest.MonkeyPatch) -> None:
    entry = anew(ROOT / "plugin" / "open_report.py", "entry_of_windows")
    asked: list[list[str]] = []

    def answer(command: list[str], **_: object) -> str:
        asked.append(command[:2])
        return "C:\\Python\\python.exe\n3 12\n"

    monkeypatch.setattr(entry.sys, "platform", "win32")
    monkeypatch.setattr(entry.sys, "version_info", (3, 9, 0))
    monkeypatch.setattr(entry.shutil, "which", lambda name: name)
    monkeypatch.setattr(entry.subprocess, "check_output", answer)
    search = next(f for f in vars(entry).values() if getattr(f, "__doc__", None) and "new enough" in f.__doc__)
    assert search() == "C:\\Python\\python.exe"
    assert asked == [["py", "-3"]]
