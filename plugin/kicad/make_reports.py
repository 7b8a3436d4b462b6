"""The reports that a press in one of KiCad's windows makes: workbook and page beside the project."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.results import Results
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import analyse_drawing
from loadloom.plugin.splicing import SchematicText


@dataclass(frozen=True, slots=True)
class Made:
    """What was made: the drawing as read, the results, the files."""

    drawing: Drawing
    results: Results
    workbook: Path
    page: Path


def make_reports(
    source: Path,
    stem: Path,
    progress: Callable[[str], None] | None = None,
    notes: Sequence[str] = (),
    settings: Path | None = None,
) -> Made:
    """Analyse a drawing or netlist, and write ``STEM.xlsx`` and ``STEM.html``.

    Without ``settings`` those beside it are used. ``notes`` stand first among the assumptions of both.

    Raises:
        UnusableError: the drawing or its settings can't be used, or a report can't be written.
    """
    from loadloom.plugin.order import order_of
    from loadloom.plugin.writing import check_place, write_files
    from loadloom.reports.writers import rendered

    # The name may hold dots, so that with_suffix would cut it.
    workbook, page = (stem.with_name(stem.name + suffix) for suffix in (".xlsx", ".html"))
    for file in (workbook, page):
        check_place(file)
    analysed = analyse_drawing(source, settings, progress, sensitivity=True)
    results = replace(analysed.results, assumptions=(*notes, *analysed.results.assumptions))
    if progress:
        progress(f"writing {workbook.name} and {page.name}")
    write_files({file: rendered(results, file, order=order_of(analysed)) for file in (workbook, page)})
    return Made(analysed.drawing, results, workbook, page)


def wants_page(settings: Path | None) -> bool:
    """Whether the page is to be opened at the end, by ``open_page`` of the settings."""
    from loadloom.plugin.settings_file import read_settings

    return read_settings(settings)[1].open_page


def dropped_symbols(drawing: Drawing, schematic: Path) -> list[str]:
    """References that a schematic on disk excludes from the parts list and that a drawing read lacks.

    KiCad's parts-list route leaves such symbols out of its XML, with their pins. Symbols without pins don't
    count. Empty where there is no such schematic, or it can't be read.
    """
    from loadloom.plugin.reading.hierarchy import read_hierarchy

    try:
        sheets = read_hierarchy(schematic).files if schematic.is_file() else ()
    except UnusableError:
        return []
    read = {symbol.reference for symbol in drawing.symbols}
    found: set[str] = set()
    for sheet in sheets:
        text = SchematicText(sheet.path)
        excluded = {
            text.child_text(symbol, "uuid")
            for symbol in text.symbols()
            if text.child_text(symbol, "in_bom") == "no" and text.child(symbol, "pin") is not None
        }
        for placed in sheet.symbols:
            if placed.uuid in excluded:
                found |= {instance.reference for instance in placed.instances.values()}
    return sorted((r for r in found - read if not r.startswith("#")), key=natural_key)
