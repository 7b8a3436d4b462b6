"""The demo: the observatory project and its mobile cart, copied out of the package, and their reports."""

from __future__ import annotations

from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import Analysed
from loadloom.plugin.say import say
from loadloom.plugin.writing import make_folders, write_files

DRAWING = "dome_power.kicad_sch"

VERSIONS = ("sound", "flawed", "misdrawn")
"""One harness: as it should be, with faults of design that values mend, with slips that only its author mends."""

DRAWINGS = {**dict.fromkeys(VERSIONS, DRAWING), "cart_sound": "cart.kicad_sch", "cart_flawed": "cart.kicad_sch"}
"""The drawing of every folder: the dome, and the mobile telescope cart as it should be and with faults."""

STORY = "STORY.md"
"""What was made of the flawed one, and why."""

REPORT_SUFFIXES = (".xlsx", ".json", ".html")


def write_demo(folder: Path, analyse: Callable[[Path], Analysed], *, force: bool = False) -> int:
    """Write the project into ``folder``, report on every version, and say where everything lies.

    ``force`` lets files of the demo be replaced that were edited since.

    Raises:
        UnusableError: the folder can't be written, or holds files that are not the demo's or were edited.
    """
    from loadloom.plugin.order import order_of
    from loadloom.reports.terminal import print_results
    from loadloom.reports.writers import rendered

    files: dict[Path, bytes] = {}
    for name, file in DRAWINGS.items():
        target, source = folder / name, _packaged(name)
        if target.exists() and not (target / file).is_file():
            raise UnusableError("is there already and is not the demo", file=target, hint="name another folder")
        files |= {target / f.relative_to(source): f.read_bytes() for f in sorted(source.rglob("*")) if f.is_file()}
    files[folder / STORY] = (_packaged(VERSIONS[0]).parent / STORY).read_bytes()
    make_folders(files)
    write_files(files, force=force)
    for name, file in DRAWINGS.items():
        drawing = folder / name / file
        analysed = analyse(drawing)
        results, order = analysed.results, order_of(analysed)
        reports = [drawing.with_suffix(suffix) for suffix in REPORT_SUFFIXES]
        write_files({r: rendered(results, r, order=order) for r in reports}, [drawing], force=force)
        say("")
        say(f"{name}: {drawing}")
        print_results(results)
        say("Reports: " + ", ".join(str(report) for report in reports))
    return 0


def _packaged(name: str) -> Path:
    """The folder of a version in the package.

    ``importlib.resources`` can't be used: its folder is a package without code, and in an editable install the path
    of such a package holds an entry that is no folder, which ``files`` refuses.
    """
    spec = find_spec("loadloom.observatory")
    for entry in (spec.submodule_search_locations or ()) if spec is not None else ():
        if (Path(entry) / name / DRAWINGS[name]).is_file():
            return Path(entry) / name
    raise UnusableError("the demo's drawings are missing from this installation", hint="install loadloom again")
