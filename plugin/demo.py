"""The demo: the observatory project, copied out of the package, and its reports."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from importlib.util import find_spec
from pathlib import Path

from loadloom.graph.results import Results
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.say import say

VERSIONS = ("sound", "flawed", "misdrawn")
"""One harness: as it should be, with faults of design that values mend, with slips that only its author mends."""

DRAWING = "dome_power.kicad_sch"

STORY = "STORY.md"
"""What was made of the flawed one, and why."""

REPORT_SUFFIXES = (".xlsx", ".json", ".html")


def write_demo(
    folder: Path, analyse: Callable[[Path], Results], write: Callable[[Results, Sequence[Path]], None]
) -> int:
    """Write the project into ``folder``, report on every version, and say where everything lies.

    Raises:
        UnusableError: the folder can't be written, or holds files that are not the demo's.
    """
    from loadloom.reports.terminal import print_results

    for name in VERSIONS:
        target = folder / name
        if target.exists() and not (target / DRAWING).is_file():
            raise UnusableError("is there already and is not the demo", file=target, hint="name another folder")
        try:
            shutil.copytree(_packaged(name), target, dirs_exist_ok=True)
            shutil.copy(_packaged(name).parent / STORY, folder)
        except OSError as error:
            raise UnusableError(f"can't be written: {error.strerror or error}", file=target) from error
    for name in VERSIONS:
        drawing = folder / name / DRAWING
        results = analyse(drawing)
        reports = [drawing.with_suffix(suffix) for suffix in REPORT_SUFFIXES]
        write(results, reports)
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
        if (Path(entry) / name / DRAWING).is_file():
            return Path(entry) / name
    raise UnusableError("the demo's drawings are missing from this installation", hint="install loadloom again")
