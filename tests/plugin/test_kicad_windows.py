"""The way of a KiCad user: the real schematic editor on a virtual screen, and the buttons pressed with a mouse."""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import sys
import time
import urllib.parse
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from kicad_windows import Screen, make_configuration, press, private_environment, selected_text, started_by, wait
from programs import need

from loadloom.plugin.annotate import annotate
from loadloom.plugin.kicad.setup import ENTRY_NAME, Computer, add
from loadloom.plugin.pipeline import analyse_drawing

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "observatory" / "sound"
NAME = "dome_power"
BUTTON_S = 120.0
REPORT_S = 240.0
"""Longest time that the demo's report may take on a busy machine."""
JOBS_S = 2 * REPORT_S
STUCK_S = 150.0
"""So long no program of a job may be seen; KiCad exports the drawing by itself, without one."""
HOTKEYS = (
    "eeschema.EditorControl.generateBOMLegacy\tCtrl+Shift+F9\neeschema.EditorControl.exportNetlist\tCtrl+Shift+F7\n"
)
"""Keys for two menu entries that have none, so that no menu need be found by its place."""


class User:
    """Somebody with KiCad set up by ``loadloom kicad add``, a copy of the demo, and a browser that takes notes."""

    def __init__(self, folder: Path) -> None:
        for program in ("eeschema", "xdotool", "openbox", "import", "convert"):
            need(program)
        self.folder = folder
        self.project = folder / "project"
        shutil.copytree(DEMO, self.project, ignore=shutil.ignore_patterns("*.html", "*.xlsx", "*.json"))
        self.drawing = self.project / f"{NAME}.kicad_sch"
        self.env = private_environment(folder)
        self.config = make_configuration(self.env, self.drawing)
        self.opened = folder / "opened"
        browser = folder / "browser"
        browser.write_text(f'#!/bin/sh\necho "$1" >>"{self.opened}"\n')
        browser.chmod(0o755)
        self.env["BROWSER"] = f"{browser} %s"
        (self.config / "user.hotkeys").write_text(HOTKEYS, encoding="utf-8")
        add(Computer(env=self.env, running=lambda: [], python=sys.executable))

    def pages(self) -> list[str]:
        """Addresses that the browser was sent to."""
        return self.opened.read_text().split() if self.opened.exists() else []


@pytest.fixture
def user(tmp_path: Path) -> User:
    return User(tmp_path)


@pytest.fixture
def screen(user: User) -> Iterator[Screen]:
    pictures = Path(os.environ.get("LOADLOOM_PICTURES", user.folder / "pictures"))
    pictures.mkdir(parents=True, exist_ok=True)
    with Screen(user.env, pictures) as screen:
        yield screen
        screen.picture("end")
        # pytest shows these only where a test fails: what a reader of a log has in place of a look at the screen.
        print("windows:", [title for title in screen.titles() if title])
        print("project:", sorted(file.name for file in user.project.iterdir()))
        print("browser:", user.pages())


def is_workbook(file: Path) -> bool:
    return file.is_file() and zipfile.is_zipfile(file)


def is_report(file: Path) -> bool:
    """Whether a page is a whole report, and not the page that tells how far it is."""
    return file.is_file() and 'http-equiv="refresh"' not in (text := file.read_text("utf-8")) and "PS1" in text


def leads_to(user: User) -> set[str]:
    """Where the pages go on to that tell how far a run is: what the browser shows at the end."""

    def found() -> set[str]:
        texts = [Path(urllib.parse.urlsplit(page).path).read_text("utf-8") for page in user.pages()]
        ends = [re.search(r'http-equiv="refresh" content="0; url=([^"]+)"', text) for text in texts]
        return {html.unescape(end[1]) for end in ends if end} if all(ends) else set()

    return wait(found, 60, "page that leads to the report")


def editor_with_button(screen: Screen, drawing: Path, title: str) -> tuple[int, int]:
    """Start the schematic editor; gives where our button is in its toolbar, once KiCad has made its environment."""
    screen.start(need("eeschema"), str(drawing))
    screen.window(title)
    return wait(lambda: screen.find_colour("#E8590C", (0, 40, 1400, 40)), BUTTON_S, "button in the toolbar")


def test_parts_list_dialog(user: User, screen: Screen) -> None:
    """Tools > Generate Legacy Bill of Materials: our entry, Generate, and the verdict stands in the dialog."""
    screen.start(need("eeschema"), str(user.drawing))
    editor = screen.window(f"{NAME}.*Schematic Editor")

    def dialog() -> str:
        screen.do("windowfocus", editor, "key", "--clearmodifiers", "ctrl+shift+F9")
        return screen.do("search", "--onlyvisible", "--name", "^Bill of Materials$").strip().split("\n")[0]

    window = wait(dialog, 60, "parts-list dialog")
    size = dict(re.findall(r"(WIDTH|HEIGHT)=(\d+)", screen.do("getwindowgeometry", "--shell", window)))
    width, height = int(size["WIDTH"]), int(size["HEIGHT"])

    def chosen() -> bool:
        """Our entry is the fourth of the list; its name then stands in the nickname box."""
        screen.do("mousemove", "--window", window, "80", "107", "click", "1")
        screen.do("mousemove", "--window", window, str(width - 100), "38", "click", "--repeat", "3", "1")
        return ENTRY_NAME in selected_text(screen.env["DISPLAY"])

    wait(chosen, 30, "entry in the list")
    screen.picture("dialog_chosen")
    page = user.project / f"{NAME}.parts.html"

    def generate() -> None:
        screen.do("mousemove", "--window", window, str(width - 64), str(height - 24), "click", "1")

    press(generate, lambda: is_report(page), REPORT_S, "page", again_s=60)
    assert is_workbook(user.project / f"{NAME}.parts.xlsx")

    def printed() -> str:
        screen.do("mousemove", "--window", window, str(width - 200), "150", "click", "1", "key", "ctrl+a")
        text = selected_text(screen.env["DISPLAY"])
        return text if "Page: " in text else ""

    text = wait(printed, 30, "verdict in the dialog")
    screen.picture("dialog_done")
    assert "\nDone.\n" in text  # KiCad's own word for exit code 0
    assert re.search(r"^(PASS|FAIL|INCOMPLETE)  Remote observatory dome", text, re.MULTILINE)
    assert f"Page: {page}" in text
    assert set(user.pages()) == {page.as_uri()}


def test_netlist_dialog(user: User, screen: Screen) -> None:
    """File > Export > Netlist: our tab is the last one; it asks for a name, and the reports stand beside it."""
    screen.start(need("eeschema"), str(user.drawing))
    editor = screen.window(f"{NAME}.*Schematic Editor")

    def dialog() -> str:
        screen.do("windowfocus", editor, "key", "--clearmodifiers", "ctrl+shift+F7")
        return screen.do("search", "--onlyvisible", "--name", "^Export Netlist$").strip().split("\n")[0]

    window = wait(dialog, 60, "netlist dialog")
    size = dict(re.findall(r"(WIDTH|HEIGHT)=(\d+)", screen.do("getwindowgeometry", "--shell", window)))
    width, height = int(size["WIDTH"]), int(size["HEIGHT"])

    def export() -> None:
        for _ in range(10):
            screen.do("mousemove", "--window", window, str(width - 23), "24", "click", "1", "sleep", "0.2")
        screen.picture("netlist_dialog")
        screen.do("mousemove", "--window", window, str(width - 75), str(height - 25), "click", "1")

    def question() -> str:
        return screen.do("search", "--onlyvisible", "--name", f"^{ENTRY_NAME} Export$").strip().split("\n")[0]

    def answer() -> None:
        """A key reaches the question once it has the focus, on a busy machine later than it is shown."""
        if asked := question():
            screen.do("windowactivate", "--sync", asked, "key", "Return")

    press(export, question, 120, "question for the name", again_s=10)
    press(answer, lambda: not question(), 60, "end of the question", again_s=3)
    page = user.project / f"{NAME}.netlist.html"
    wait(lambda: is_report(page), REPORT_S, "page")
    assert is_workbook(user.project / f"{NAME}.netlist.xlsx")
    wait(lambda: set(user.pages()) == {page.as_uri()}, 30, "page in the browser")


def test_button(user: User, screen: Screen) -> None:
    """The button in the toolbar, found by its icon's colour, reports on the drawing that is open."""
    at = editor_with_button(screen, user.drawing, f"{NAME}.*Schematic Editor")
    screen.picture("button")
    page = user.project / f"{NAME}.html"

    def click() -> None:
        screen.do("mousemove", *map(str, at), "click", "1")

    press(click, user.pages, 60, "page that tells how far it is")
    # A second press while it runs shows the same page and starts nothing.
    press(click, lambda: len(user.pages()) >= 2, 60, "answer to the second press")
    wait(lambda: is_report(page), REPORT_S, "report")
    assert is_workbook(user.project / f"{NAME}.xlsx")
    assert leads_to(user) == {page.resolve().as_uri()}
    screen.picture("button_done")


def test_two_editors_report_on_their_own_drawing(user: User, screen: Screen) -> None:
    """With two editors open, the button reports on the drawing of the editor that it was pressed in.

    Both drawings lie in one folder and both are locked, so that only the editor itself can tell which it has open.
    """
    for file in (DEMO.parents[1] / "case_05_thin_pair_pooled").glob("harness.kicad_*"):
        shutil.copy(file, user.project)
    harness = user.project / "harness.kicad_sch"
    # KiCad makes the button's environment once; a second editor started meanwhile shows no button.
    editor_with_button(screen, user.drawing, f"{NAME}.*Schematic Editor")
    screen.start(need("eeschema"), str(harness))
    second = screen.window("harness.*Schematic Editor")
    screen.do("windowactivate", "--sync", second)
    at = wait(lambda: screen.find_colour("#E8590C", (0, 40, 1400, 40)), 90, "button in the toolbar")
    screen.do("windowactivate", "--sync", second)
    screen.picture("two_editors")

    def click() -> None:
        screen.do("windowactivate", "--sync", second)
        screen.do("mousemove", *map(str, at), "click", "1")

    page = harness.with_suffix(".html")
    press(click, lambda: is_report(page), REPORT_S, "report of the second editor's drawing", again_s=60)
    assert not (user.project / f"{NAME}.html").exists()
    assert leads_to(user) == {page.resolve().as_uri()}


def test_jobset_in_the_project_manager(user: User, screen: Screen) -> None:
    """The project manager's own window, at KiCad's first start: its Generate button makes all documents."""
    user.env["PATH"] = f"{Path(sys.executable).parent}{os.pathsep}{user.env['PATH']}"
    screen.env["PATH"] = user.env["PATH"]
    opened = {"meta": {"filename": f"{NAME}.kicad_prl", "version": 5}, "open_jobsets": [f"{NAME}.kicad_jobset"]}
    (user.project / f"{NAME}.kicad_prl").write_text(json.dumps(opened))
    review = user.project / "review"

    def running() -> bool:
        return "Running Jobs" in screen.titles()

    def done() -> bool:
        return (review / "with_currents" / f"{NAME}.kicad_sch").is_file()

    def run_jobs() -> bool:
        """Start KiCad and press Generate; false where KiCad waits for a program although none runs any more."""
        kicad = screen.start(need("kicad"), str(user.project / f"{NAME}.kicad_pro"))
        manager = screen.window(f"{NAME} — KiCad")

        def generate() -> None:
            screen.do("windowactivate", "--sync", manager)
            found = re.search(r"WIDTH=(\d+)", screen.do("getwindowgeometry", "--shell", manager))
            width = int(found[1]) if found else 0  # it grows while it starts
            screen.do("mousemove", "--window", manager, "470", "40", "click", "1", "sleep", "1")  # the jobset's tab
            screen.do("mousemove", "--window", manager, str(width - 65), "136", "click", "1")

        press(generate, lambda: running() or len(screen.titles()) > 1, 120, "start of the jobs", again_s=30)
        end = time.monotonic() + JOBS_S
        active = time.monotonic()
        while not done():
            programs = started_by(kicad)
            active = time.monotonic() if programs else active
            if time.monotonic() > active + STUCK_S:
                print("KiCad runs no program any more; its windows:", screen.titles())
                screen.stop(kicad)
                for lock in user.project.glob("~*.lck"):
                    lock.unlink()
                return False
            assert time.monotonic() < end, f"no last document of the jobset within {JOBS_S:.0f} s: {programs}"
            time.sleep(0.4)
        return True

    # KiCad's own jobs dialog was seen once to stay open for ever; a user starts KiCad again. A job of ours that
    # hangs is no such case: its program still runs.
    assert run_jobs() or run_jobs(), "KiCad's jobs did not end in two starts of it"
    wait(lambda: not running(), 60, "end of the jobs")
    screen.picture("jobset")
    assert is_workbook(review / f"{NAME}_loads.xlsx") and is_report(review / f"{NAME}_loads.html")
    assert (review / f"{NAME}.pdf").read_bytes().startswith(b"%PDF-")


def test_annotated_copy_opens(user: User, screen: Screen) -> None:
    """The annotated demo opens in the real editor without a question or complaint."""
    analysed = analyse_drawing(user.drawing)
    copy = annotate(analysed.drawing, analysed.results, user.drawing, user.folder / "copy").files[0]
    editor_with_button(screen, copy, f"{NAME}.*Schematic Editor")
    screen.picture("annotated")
    assert [title for title in screen.titles() if title] == [f"{NAME} — Schematic Editor"]
