"""Takes the pictures of the guide from the real KiCad on a virtual screen: ``python tests/take_pictures.py``.

Needs what the window tests need, and Chromium.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
import textwrap
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
HERE = ROOT / "plugin" / "pictures"
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "fixtures")]

from draw import Project  # noqa: E402
from kicad_windows import Screen, make_configuration, private_environment, wait  # noqa: E402

from loadloom.plugin.annotate import annotate  # noqa: E402
from loadloom.plugin.kicad.fields_presets import with_presets  # noqa: E402
from loadloom.plugin.kicad.setup import Computer, add  # noqa: E402
from loadloom.plugin.order import order_of  # noqa: E402
from loadloom.plugin.pipeline import analyse_drawing, analyse_file  # noqa: E402
from loadloom.reports.writers import rendered  # noqa: E402

HOTKEYS = (
    "eeschema.EditorControl.generateBOMLegacy\tCtrl+Shift+F9\n"
    "eeschema.EditorControl.editSymbolFields\tCtrl+Shift+F8\n"
)
PVC = {"Insulation": "PVC 70 °C", "Voltage_rating": "300 V"}


def main() -> None:
    """Take all pictures."""
    with tempfile.TemporaryDirectory(prefix="observatory-") as name:
        work = Path(name)
        drawing = first_harness(work / "project")
        windows(work, drawing)
        page(drawing)
        signed(drawing)
        demo_page(work)
        currents(work)
        sheet(ROOT / "fixtures/stock_symbols/harness.kicad_sch", work, "stock_symbols", "1500x360+150+350")


def first_harness(folder: Path) -> Path:
    """The harness that the guide draws: an output, a fuse, a mated pair, two wires and a load."""
    project = Project(folder, "heater", "Dew heater", company="Invented observatory", library_inside=True)
    root = project.root
    unit = root.place(
        "Output", "PS1", 40, 60, "12 V", Limit="10 A", Trip="12 A", Tolerance="2 %", Resistance="20 mOhm",
        Delay="10 ms", show=("Limit", "Trip"), hide=("Limit", "Trip"),
    )  # fmt: skip
    fuse = {"Curve": "UL 248-14", "Voltage_rating": "32 V", "Breaking_capacity": "1 kA"}
    feed = root.row(unit.pin(1), [("Fuse", "FU1", "5 A", fuse)], "feed", gap=4)
    contact = {"Contact_rating": "9 A", "Contact_resistance": "2…10 mOhm", "Voltage_rating": "250 V"}
    pair = root.pair(2, "P1", "J1", 80, 60, "2 way", **contact)
    root.join(feed, pair.a(1), 74, kind="feed")
    root.join(unit.pin(2), pair.a(2), 70, kind="return")
    load = root.place(
        "Load", "L1", 132, 60, "Dew heater", Load="3 A", Minimum_voltage="10.5 V", Maximum_voltage="14 V"
    )
    wires = [("W1", pair.b(1), load.pin(1), "feed"), ("W2", pair.b(2), load.pin(2), "return")]
    for reference, start, end, kind in wires:
        free = root.row(start, [("Wire", reference, "0.75 mm²", {"Length": "2 m", **PVC})], kind, gap=6)
        root.join(free, end, free[0] + 2, kind=kind)
    folder.mkdir(parents=True)
    for name, text in project.files().items():
        if name not in ("sym-lib-table", "loadloom.kicad_sym"):  # the user's own table has the library
            (folder / name).write_text(text, encoding="utf-8")
    return folder / "heater.kicad_sch"


def windows(work: Path, drawing: Path) -> None:
    """The editor, the symbol chooser, the fields table and the parts-list dialog."""
    env = private_environment(work)
    config = make_configuration(env, drawing)
    (config / "user.hotkeys").write_text(HOTKEYS)
    env["BROWSER"] = "true %s"
    # The pictures show paths of an example, not of the computer that they were taken on.
    (work / ".venv").symlink_to(sys.prefix)
    add(Computer(env=env, running=list, python=str(work / ".venv/bin/python")))
    project = drawing.with_suffix(".kicad_pro")  # with the columns that `kicad add --project` puts there
    project.write_text(with_presets(project.read_text(encoding="utf-8")), encoding="utf-8")
    with Screen(env, work) as screen:
        screen.start("eeschema", str(drawing))
        editor = screen.window("heater.*Schematic Editor")
        wait(lambda: screen.find_colour("#E8590C", (0, 40, 1400, 40)), 90, "button")
        time.sleep(2)
        screen.do("windowfocus", editor, "key", "--clearmodifiers", "ctrl+Home")
        time.sleep(2)
        keep(screen.picture("editor"), "editor")
        keep(screen.picture("editor"), "button", "300x46+1100+38")

        def shown(keys: str, title: str) -> str:
            screen.do("windowfocus", editor, "key", "--clearmodifiers", keys)
            time.sleep(2)
            return screen.do("search", "--onlyvisible", "--name", title).strip().split("\n")[0]

        screen.do("mousemove", "700", "700")
        window = wait(lambda: shown("a", "Choose Symbol"), 60, "symbol chooser")
        time.sleep(1)
        screen.do("type", "loadloom")
        time.sleep(4)
        keep(screen.picture("chooser"), "chooser", of=(screen, window))
        screen.do("key", "--window", window, "Escape")
        time.sleep(1)
        window = wait(lambda: shown("ctrl+shift+F8", "Symbol Fields Table"), 60, "fields table")
        time.sleep(3)
        keep(screen.picture("fields"), "fields_table", of=(screen, window))
        screen.do("key", "--window", window, "Escape")
        time.sleep(1)
        window = wait(lambda: shown("ctrl+shift+F9", "^Bill of Materials$"), 60, "dialog")
        time.sleep(1)
        screen.do("mousemove", "--window", window, "80", "107", "click", "1")
        time.sleep(1)
        screen.do("mousemove", "--window", window, "756", "381", "click", "1")
        wait(lambda: drawing.with_suffix(".parts.html").exists(), 120, "report")
        time.sleep(3)
        keep(screen.picture("dialog"), "dialog", of=(screen, window))


def page(drawing: Path) -> None:
    """The report in a browser."""
    out = drawing.with_name("page.png")
    command = ["chromium", "--headless", "--no-sandbox", "--hide-scrollbars", "--window-size=1300,1000"]
    command += ["--virtual-time-budget=4000", f"--screenshot={out}", drawing.with_suffix(".parts.html").as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    keep(out, "page")


def signed(drawing: Path) -> None:
    """The printed pages of the workbook that bear the verdict and the lines for signatures."""
    settings = re.findall(r"```toml\n(.*?)```", (ROOT / "plugin/GUIDE.md").read_text(encoding="utf-8"), re.S)[0]
    drawing.with_name("loadloom.toml").write_text(textwrap.dedent(settings), encoding="utf-8")
    book, folder = drawing.with_suffix(".xlsx"), drawing.parent
    book.write_bytes(rendered(analyse_file(drawing), book))
    command = ["soffice", "--headless", "--convert-to", "pdf", "--outdir", str(folder), str(book)]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    pages = ["pdftoppm", "-r", "80", "-png", "-l", "2", str(drawing.with_suffix(".pdf")), str(folder / "printed")]
    subprocess.run(pages, check=True, timeout=60)
    out = folder / "sign.png"
    printed = [str(path) for path in sorted(folder.glob("printed-*.png"))]
    edged = ["-bordercolor", "#999", "-border", "1"]
    subprocess.run(["convert", *printed, *edged, "-append", str(out)], check=True, timeout=60)
    keep(out, "sign")


def demo_page(work: Path) -> None:
    """The report of the flawed demo in a browser, for the README."""
    demo = ROOT / "fixtures/observatory"
    report, out = work / "flawed.html", work / "flawed.png"
    analysed = analyse_drawing(demo / "flawed/dome_power.kicad_sch", date="2025-03-20")
    report.write_bytes(rendered(analysed.results, report, order=order_of(analysed)))
    command = ["chromium", "--headless", "--no-sandbox", "--hide-scrollbars", "--window-size=1520,1990"]
    command += ["--virtual-time-budget=6000", f"--screenshot={out}", report.as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    subprocess.run(
        ["convert", str(out), "+dither", "-colors", "200", str(demo / "page.png")], check=True, timeout=60
    )


def currents(work: Path) -> None:
    """The demo with the currents beside the wires."""
    copy = work / "demo"
    shutil.copytree(ROOT / "fixtures/observatory/sound", copy)
    source = copy / "dome_power.kicad_sch"
    analysed = analyse_drawing(source)
    annotate(analysed.drawing, analysed.results, source, work / "annotated")
    sheet(work / "annotated/dome_power.kicad_sch", work, "currents", "2300x1300+60+100", 3400)


def sheet(drawing: Path, work: Path, name: str, crop: str, width: int = 2600) -> None:
    """A part of a drawing as KiCad plots it."""
    plots = work / f"plots_{name}"
    subprocess.run(
        ["kicad-cli", "sch", "export", "svg", "-o", str(plots), str(drawing)],
        check=True,
        capture_output=True,
        timeout=120,
    )
    picture = work / f"{name}.png"
    subprocess.run(
        ["rsvg-convert", "-w", str(width), "-b", "white", str(plots / f"{drawing.stem}.svg"), "-o", str(picture)],
        check=True, timeout=120,
    )  # fmt: skip
    keep(picture, name, crop)


def keep(picture: Path, name: str, crop: str = "", of: tuple[Screen, str] | None = None) -> None:
    """Cut a picture, to a part or to a window with its frame, and put it beside this script."""
    if of is not None:
        screen, window = of
        told = dict(
            line.split("=") for line in screen.do("getwindowgeometry", "--shell", window).split() if "=" in line
        )
        # The place told lies a title bar too low.
        crop = f"{int(told['WIDTH']) + 4}x{int(told['HEIGHT']) + 24}+{int(told['X']) - 2}+{int(told['Y']) - 40}"
    command = ["convert", str(picture), *(["-crop", crop, "+repage"] if crop else [])]
    subprocess.run(
        [*command, "-resize", "1200x>", "+dither", "-colors", "128", str(HERE / f"{name}.png")],
        check=True,
        timeout=60,
    )


if __name__ == "__main__":
    main()
