"""@package
loadloom: does every wire and connector pin of this harness survive
what the supply can push through it?

Writes NAME.parts.xlsx and NAME.parts.html beside the project (NAME.netlist
from File > Export > Netlist) and prints the verdict here.
Unsaved edits are included. Settings: loadloom.toml beside the project.
"""

from __future__ import annotations

import io
import os
import sys
from pathlib import Path

from loadloom.graph.model.naming import some_of
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.kicad.make_reports import Made, dropped_symbols, make_reports, wants_page
from loadloom.plugin.kicad.pages import message_page, open_in_browser
from loadloom.plugin.pipeline import settings_beside
from loadloom.plugin.say import say

WIDTH = 72
"""Columns of the text in KiCad's dialog."""


def main(arguments: list[str]) -> int:
    """Run on the XML that KiCad wrote: ``script.py XML OUTPUT [TARGET]``; 0 if reports were made, 2 if not.

    ``TARGET`` (``parts``, ``netlist``) stands in the reports' names, so that each dialog has reports of its own.
    """
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8", errors="replace")
    if len(arguments) not in (2, 3):
        say("loadloom: KiCad starts this with the XML it wrote and the name of the output")
        return 2
    source, stem = Path(arguments[0]), Path(arguments[1])
    if stem.suffix in (".xml", ".html", ".xlsx"):
        stem = stem.with_suffix("")
    if len(arguments) == 3:
        stem = stem.with_name(f"{stem.name}.{arguments[2]}")
    try:
        made, said = _made(source, stem)
    except UnusableError as error:
        say(f"loadloom: {error}")
        _show_failure(stem, str(error))
        return 2
    _print(made, said)
    if wants_page(_settings(source)) and not open_in_browser(made.page):
        say("No browser could be started; the page is where it says above.")
    return 0


def _made(source: Path, stem: Path) -> tuple[Made, list[str]]:
    """The reports, from the saved drawing where the XML lacks symbols; and what the user must be told."""
    settings = _settings(source)
    made = make_reports(source, stem, settings=settings)
    schematic = source.with_suffix(".kicad_sch")
    dropped = dropped_symbols(made.drawing, schematic)
    if not dropped:
        return made, []
    shown = some_of(dropped, 8)
    said = (
        f"KiCad left {shown} out of the list, since they are excluded from the parts list. The report was made "
        "from the drawing as last saved instead: edits since then are not in it. To report on unsaved edits, use "
        "File > Export > Netlist, or remove the exclusion of these symbols."
    )
    return make_reports(schematic, stem, notes=[said], settings=settings), [said]


def _settings(source: Path) -> Path | None:
    """The settings beside the XML, else in the project's folder: the user may have it written elsewhere."""
    return settings_beside(source) or settings_beside(Path(os.environ.get("KIPRJMOD", "")) / source.name)


def _print(made: Made, said: list[str]) -> None:
    from loadloom.reports.terminal import text

    for line in said:
        say(f"NOTE: {line}")
        say("")
    print(text(made.results, WIDTH))
    say(f"Workbook: {made.workbook}")
    say(f"Page: {made.page}")


def _show_failure(stem: Path, cause: str) -> None:
    """The netlist dialog shows nothing of what is printed, so that a failure needs a page of its own."""
    import tempfile

    page = Path(tempfile.mkdtemp(prefix="loadloom-")) / "no_report.html"
    page.write_bytes(message_page(f"No report on {stem.name}", [cause, "Nothing was written."]))
    open_in_browser(page)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
