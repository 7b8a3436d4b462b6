"""A screen of its own with KiCad's real schematic editor on it, for tests that press buttons."""

from __future__ import annotations

import fcntl
import os
import re
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from types import TracebackType
from typing import TypeVar

from programs import need

WIDTH, HEIGHT = 1400, 900
TABLES = {
    "sym-lib-table": "(sym_lib_table\n  (version 7)\n)\n",
    "fp-lib-table": "(fp_lib_table\n  (version 7)\n)\n",
    "design-block-lib-table": "(design_block_lib_table\n  (version 7)\n)\n",
}
START_S = 90.0
MANAGER_S, STARTS = 20.0, 3
T = TypeVar("T")


def kicad_version() -> str:
    """``9.0`` of the KiCad on this machine."""
    text = subprocess.run([need("kicad-cli"), "version"], capture_output=True, text=True, check=True).stdout
    found = re.search(r"(\d+)\.", text)
    assert found is not None
    return f"{found[1]}.0"


def private_environment(folder: Path) -> dict[str, str]:
    """Environment of a user who has nothing but this folder."""
    home, temporary = folder / "home", folder / "tmp"
    home.mkdir(parents=True, exist_ok=True)
    temporary.mkdir(exist_ok=True)
    drop = ("XDG_", "KICAD", "DISPLAY", "WAYLAND", "LOADLOOM")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(drop)}
    return kept | {"HOME": str(home), "TMPDIR": str(temporary), "USER": "tester", "LC_ALL": "C.UTF-8"}


def make_configuration(env: Mapping[str, str], drawing: Path) -> Path:
    """Let KiCad write its configuration, without first-run questions; gives the folder."""
    import json

    config = Path(env["HOME"]) / ".config" / "kicad" / kicad_version()
    out = str(Path(env["TMPDIR"]) / "first.net")
    command = [need("kicad-cli"), "sch", "export", "netlist", "-o", out, str(drawing)]
    subprocess.run(command, env=dict(env), check=True, capture_output=True, timeout=120)
    for name, text in TABLES.items():
        (config / name).write_text(text)
    common = json.loads((config / "kicad_common.json").read_text())
    common["do_not_show_again"] |= {"data_collection_prompt": True, "update_check_prompt": True}
    (config / "kicad_common.json").write_text(json.dumps(common, indent=2) + "\n")
    return config


class Screen:
    """A virtual screen with a window manager; what is started on it ends with it."""

    def __init__(self, env: Mapping[str, str], pictures: Path) -> None:
        self.env = dict(env)
        self.pictures = pictures
        self.started: list[subprocess.Popen[bytes]] = []

    def __enter__(self) -> Screen:
        # Servers that start at once may both take one number, and a client then finds none.
        with (Path(tempfile.gettempdir()) / "loadloom-screen.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            for _ in range(STARTS):
                self._serve()
                if self._managed():
                    return self
                self._end()
        raise AssertionError(f"no window manager on a virtual screen in {STARTS} starts")

    def _serve(self) -> None:
        reading, writing = os.pipe()
        command = [need("Xvfb"), "-displayfd", str(writing), "-screen", "0", f"{WIDTH}x{HEIGHT}x24"]
        command += ["-nolisten", "tcp", "-noreset"]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        self.started.append(subprocess.Popen(command, pass_fds=(writing,), **quiet))
        os.close(writing)
        with os.fdopen(reading) as answer:
            self.env["DISPLAY"] = f":{answer.readline().strip()}"

    def _managed(self) -> bool:
        """Whether a window manager runs: without one no window gets the keyboard, and a toolbar may be cut off."""
        manager, end = self.start(need("openbox")), time.monotonic() + MANAGER_S
        while manager.poll() is None and time.monotonic() < end:
            if self.do("get_num_desktops").strip().isdigit():  # only a window manager knows
                return True
            time.sleep(0.1)
        return False

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._end()

    def _end(self) -> None:
        server, *programs = self.started
        for process in reversed(programs):
            if process.poll() is None:
                self.stop(process)
        server.terminate()  # so that it gives its number back
        server.wait()
        self.started.clear()

    def start(self, *command: str) -> subprocess.Popen[bytes]:
        """Start a program on the screen."""
        process = subprocess.Popen(
            list(command),
            env=self.env,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        self.started.append(process)
        return process

    def stop(self, process: subprocess.Popen[bytes]) -> None:
        """End a program and all that it has started."""
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()

    def do(self, *command: str) -> str:
        """Run xdotool; gives what it prints, and nothing where it waited in vain for a window (``--sync``)."""
        try:
            done = subprocess.run(
                [need("xdotool"), *command], env=self.env, capture_output=True, text=True, timeout=30, check=False
            )
        except subprocess.TimeoutExpired:
            return ""
        return done.stdout

    def picture(self, name: str) -> Path:
        """A picture of the screen."""
        file = self.pictures / f"{name}.png"
        subprocess.run([need("import"), "-window", "root", str(file)], env=self.env, check=True, timeout=120)
        return file

    def window(self, title: str, within_s: float = START_S) -> str:
        """Id of a shown window by its title (regular expression)."""

        def found() -> str:
            return self.do("search", "--onlyvisible", "--name", title).strip().split("\n")[0]

        return wait(found, within_s, f"window {title!r}")

    def titles(self) -> list[str]:
        """Titles of all shown windows."""
        ids = self.do("search", "--onlyvisible", "--name", ".").split()
        return [self.do("getwindowname", number).strip() for number in ids]

    def find_colour(self, colour: str, within: tuple[int, int, int, int]) -> tuple[int, int] | None:
        """Middle of the pixels of a colour (``#E8590C``) in a part of the screen (x, y, width, height)."""
        x, y, width, height = within
        file = self.picture("search")
        text = subprocess.run(
            [need("convert"), str(file), "-crop", f"{width}x{height}+{x}+{y}", "+repage", "-depth", "8", "txt:-"],
            capture_output=True,
            text=True,
            check=True,
            timeout=60,
        ).stdout
        places = [tuple(map(int, m.groups())) for m in re.finditer(rf"(?mi)^(\d+),(\d+):.*{colour}\b", text)]
        if len(places) < 10:
            return None
        return x + sum(p[0] for p in places) // len(places), y + sum(p[1] for p in places) // len(places)


def started_by(process: subprocess.Popen[bytes]) -> list[str]:
    """Command lines of the programs that run in a process's session, itself left out."""
    found = []
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit() or int(entry.name) == process.pid:
            continue
        try:
            if os.getsid(int(entry.name)) == process.pid:
                found.append(
                    (entry / "cmdline").read_bytes().replace(b"\0", b" ").decode("utf-8", "replace").strip()
                )
        except OSError:  # it has ended
            continue
    return [line for line in found if line]


def wait(ask: Callable[[], T], within_s: float, what: str) -> T:
    """The first answer that is true; fails when the time is over."""
    end = time.monotonic() + within_s
    while time.monotonic() < end:
        answer = ask()
        if answer:
            return answer
        time.sleep(0.4)
    raise AssertionError(f"no {what} within {within_s:.0f} s")


def press(act: Callable[[], object], seen: Callable[[], T], within_s: float, what: str, again_s: float = 20.0) -> T:
    """What is seen after an action; a press that a busy machine lost is made again, as a user does."""
    end = time.monotonic() + within_s
    while True:
        left_s = end - time.monotonic()
        if left_s <= 0:
            raise AssertionError(f"no {what} within {within_s:.0f} s, however often pressed")
        act()
        try:
            return wait(seen, min(again_s, left_s), what)
        except AssertionError:
            continue


def selected_text(display: str) -> str:
    """The text selected on a screen (the X11 selection PRIMARY), asked of its owner by the X protocol's own way."""
    import ctypes

    x11 = ctypes.CDLL("libX11.so.6")
    pointer, number = ctypes.c_void_p, ctypes.c_ulong
    x11.XOpenDisplay.restype = pointer
    x11.XInternAtom.restype = x11.XCreateSimpleWindow.restype = x11.XDefaultRootWindow.restype = number
    x11.XInternAtom.argtypes = [pointer, ctypes.c_char_p, ctypes.c_int]
    x11.XDefaultRootWindow.argtypes = x11.XCloseDisplay.argtypes = x11.XFlush.argtypes = [pointer]
    x11.XCreateSimpleWindow.argtypes = [pointer, number, *[ctypes.c_int] * 2, *[ctypes.c_uint] * 3, number, number]
    x11.XConvertSelection.argtypes = [pointer, *[number] * 5]
    x11.XCheckTypedWindowEvent.argtypes = [pointer, number, ctypes.c_int, pointer]
    x11.XGetWindowProperty.argtypes = [
        pointer, number, number, ctypes.c_long, ctypes.c_long, ctypes.c_int, number, *[pointer] * 5,
    ]  # fmt: skip
    screen = x11.XOpenDisplay(display.encode())
    if not screen:
        return ""
    try:
        root = x11.XDefaultRootWindow(screen)
        window = x11.XCreateSimpleWindow(screen, root, 0, 0, 1, 1, 0, 0, 0)
        primary, utf8, place = (x11.XInternAtom(screen, n, 0) for n in (b"PRIMARY", b"UTF8_STRING", b"LOADLOOM"))
        x11.XConvertSelection(screen, primary, utf8, place, window, 0)
        x11.XFlush(screen)
        event = ctypes.create_string_buffer(192)
        selection_notify = 31
        end = time.monotonic() + 5
        while not x11.XCheckTypedWindowEvent(screen, window, selection_notify, event):
            if time.monotonic() > end:
                return ""
            time.sleep(0.05)
        kind, size, count, left = (ctypes.c_ulong(), ctypes.c_int(), ctypes.c_ulong(), ctypes.c_ulong())
        data = ctypes.c_char_p()
        x11.XGetWindowProperty(
            screen, window, place, 0, 1 << 20, 0, 0, *(ctypes.byref(v) for v in (kind, size, count, left, data))
        )
        return (data.value or b"").decode("utf-8", "replace")
    finally:
        x11.XCloseDisplay(screen)
