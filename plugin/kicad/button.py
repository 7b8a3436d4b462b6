"""What a press of the button does: find the open drawing, report on it, show the page in the browser.

It runs in a process of its own, so that the editor goes on. A page of its own, in the temporary folder, tells how
far the run is and leads to the report, or says why there is none; a second press while it runs shows that page
again. The report is written when it is whole, and stays as it was where there is none.
"""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
import time
import traceback
import webbrowser
from collections.abc import Callable, Mapping
from pathlib import Path

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.kicad.asking import ask
from loadloom.plugin.kicad.first_settings import offer_settings
from loadloom.plugin.kicad.make_reports import make_reports, wants_page
from loadloom.plugin.kicad.one_run import only_run, progress_page
from loadloom.plugin.kicad.open_drawing import find_drawings, unsaved_warning
from loadloom.plugin.kicad.pages import message_page, open_in_browser
from loadloom.plugin.pipeline import settings_beside
from loadloom.plugin.writing import edit_files

Show = Callable[[Path], object]


def main(env: Mapping[str, str] | None = None, show: Show = open_in_browser) -> int:
    """Run for the KiCad that the environment names; 0 if reports were made, 2 if not."""
    given = os.environ if env is None else env
    found = find_drawings(given)
    drawing: Path | None = found.files[0] if found.certain else None
    if found.files and not found.certain:
        drawing = ask(found.files, found.why, webbrowser.open)
    if drawing is not None:
        return report_on(drawing, show)
    cause = f"The open drawing could not be found: {found.why or 'KiCad named no project folder'}."
    text = [cause, "Save the drawing, and press the button in its schematic editor."]
    _put(Path(tempfile.mkdtemp(prefix="loadloom-")) / "no_report.html", message_page("No report", text), show)
    return 2


def report_on(drawing: Path, show: Show = open_in_browser) -> int:
    """Report on a root schematic; 0 if reports were made or a run is under way, 2 if it failed."""
    progress = progress_page(drawing)
    with only_run(drawing) as alone:
        if not alone:
            if not progress.is_file():
                said = ["A run on it is under way."]
                _tell(progress, message_page(f"Reporting on {drawing.name}", said, refresh_s=1))
            show(progress)
            return 0
        try:
            _run(drawing, progress, show)
        except UnusableError as error:
            text = [str(error), "No report was written."]
            _put(progress, message_page(f"No report on {drawing.name}", text), show)
            return 2
        except Exception as error:
            text = [f"Internal error: {error}. Please report it, with the drawing."]
            title = f"No report on {drawing.name}"
            _put(progress, message_page(title, text, details=traceback.format_exc()), show)
            return 2
    return 0


def _run(drawing: Path, page: Path, show: Show) -> None:
    start = time.monotonic()
    warning = unsaved_warning(drawing)
    notes = [warning] if warning else []
    notes.append(_saved_note(drawing))
    offer_settings(drawing, webbrowser.open)
    opens = wants_page(settings_beside(drawing))

    def progress(text: str) -> None:
        said = f"{text[:1].upper()}{text[1:]} … ({time.monotonic() - start:.0f} s)"
        _tell(page, message_page(f"Reporting on {drawing.name}", [*notes, said], refresh_s=1))

    if opens or warning:
        progress("starting")
        show(page)
    made = make_reports(drawing, drawing.with_suffix(""), progress if opens or warning else None, notes)
    if page.is_file():
        report = made.page.resolve().as_uri()
        _tell(page, message_page("The report is made", [], links=[(made.page.name, report)], go_to=report))


def _saved_note(drawing: Path) -> str:
    """When the drawing was saved and when the report is made, so that nobody takes an old one for new."""
    from loadloom.plugin.reading.hierarchy import read_hierarchy

    files = [drawing]
    with contextlib.suppress(UnusableError):
        files = [file.path for file in read_hierarchy(drawing).files]
    saved, now = max(file.stat().st_mtime for file in files), time.time()
    texts = [time.strftime("%Y-%m-%d %H:%M:%S", time.localtime(moment)) for moment in (saved, now)]
    return f"The drawing was last saved on {texts[0]}; this report was made on {texts[1]} and shows nothing newer."


def _tell(page: Path, content: bytes) -> None:
    """Write a page that only tells how far the run is. Raises UnusableError where it can't be written."""
    edit_files({page: (page.read_bytes() if page.is_file() else None, content)})


def _put(page: Path, content: bytes, show: Show) -> None:
    """Show a page where it was meant to stand, or in a temporary folder of its own if that can't be written."""
    try:
        _tell(page, content)
    except UnusableError:
        page = Path(tempfile.mkdtemp(prefix="loadloom-")) / page.name
        page.write_bytes(content)
    show(page)


if __name__ == "__main__":
    sys.exit(main())
