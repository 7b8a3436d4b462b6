"""From a file to Results: the way of the data, each arrow one function."""

from __future__ import annotations

import datetime
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import About, AboutKind, Results
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import is_there

Progress = Callable[[str], None]
"""Told, in words, what is being done."""

SETTINGS_NAME = "loadloom.toml"

_NEEDED_FOR_ANALYSIS = ("loadloom.graph.analysis", "loadloom.plugin.building", "loadloom.plugin.settings_file")


def tool_version() -> str:
    """Version of the installed package; ``unknown`` where it runs without being installed."""
    try:
        return version("loadloom")
    except PackageNotFoundError:
        return "unknown"


def report_date() -> str:
    """Today as ISO 8601; ``SOURCE_DATE_EPOCH`` in the environment sets it, for reports that repeat to the byte.

    Raises:
        UnusableError: ``SOURCE_DATE_EPOCH`` is no time.
    """
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not epoch:
        return datetime.datetime.now().astimezone().date().isoformat()
    try:
        return datetime.datetime.fromtimestamp(int(epoch), datetime.UTC).date().isoformat()
    except (ValueError, OverflowError, OSError) as error:
        cause = f"SOURCE_DATE_EPOCH in the environment is “{epoch[:40]}”"
        raise UnusableError(cause, hint="write whole seconds since 1970, or take it away") from error


def settings_beside(path: Path) -> Path | None:
    """The settings file that lies beside a drawing, if there is one, readable or not."""
    beside = path.parent / SETTINGS_NAME
    return beside if is_there(beside) else None


@dataclass(frozen=True, slots=True)
class Analysed:
    """A drawing as it was read once, with the changes tried made, and what the analysis says about it.

    Whatever one run writes is made from this, so that no file can speak of another state of the drawing.
    """

    drawing: Drawing
    harness: Harness
    settings: AnalysisSettings
    drawing_settings: DrawingSettings
    results: Results


def analyse_file(
    path: Path,
    settings_path: Path | None = None,
    progress: Progress | None = None,
    date: str | None = None,
    what_if: Sequence[str] = (),
    *,
    strict: bool = False,
    explain: Sequence[str] = (),
    sensitivity: bool = False,
) -> Results:
    """The results alone of ``analyse_drawing``, which see."""
    analysed = analyse_drawing(
        path, settings_path, progress, date, what_if, strict=strict, explain=explain, sensitivity=sensitivity
    )
    return analysed.results


def analyse_drawing(
    path: Path,
    settings_path: Path | None = None,
    progress: Progress | None = None,
    date: str | None = None,
    what_if: Sequence[str] = (),
    *,
    strict: bool = False,
    explain: Sequence[str] = (),
    sensitivity: bool = False,
) -> Analysed:
    """Read a drawing or netlist and its settings, and analyse it.

    ``what_if`` are fields to be replaced first, ``W7.Gauge=14 AWG`` (``what_if.try_changes``); the results say so.
    ``strict`` makes every assumption that a result rests on a reason for incomplete, as that of the settings does.
    ``explain`` are ids of parts that are explained in any case.
    ``sensitivity`` asks for the table of worse conditions.
    Without ``settings_path`` the file ``loadloom.toml`` beside the drawing is used, if there is one.

    Raises:
        UnusableError: the input, the settings or what they need can't be used.
    """
    from loadloom.plugin.reading import read_drawing

    tell = progress or (lambda _: None)
    tell("reading the drawing")
    # KiCad works on the drawing in a process of its own; what the analysis needs is loaded meanwhile. The wait for
    # KiCad is this thread's, since an interrupt reaches no other.
    with ThreadPoolExecutor(1) as beside:
        loading = [beside.submit(import_module, name) for name in _NEEDED_FOR_ANALYSIS]
        drawing = read_drawing(path)
    for loaded in loading:
        loaded.result()
    from loadloom.graph.analysis import analyse
    from loadloom.plugin.building import build_harness
    from loadloom.plugin.manifest import with_manifest
    from loadloom.plugin.settings_file import read_settings, settings_echo
    from loadloom.plugin.what_if import try_changes

    settings_file = settings_path or settings_beside(path)
    settings, drawing_settings = read_settings(settings_file)
    settings = replace(settings, strict=settings.strict or strict)
    drawing = with_manifest(drawing, path, settings_file, date)
    tried = try_changes(what_if, drawing, drawing_settings)
    tell("building the harness")
    harness = build_harness(tried.drawing, settings, tried.settings)
    said = tuple(change.sentence for change in tried.changes)
    echo = settings_echo(settings, tried.settings)
    if tried.changes:
        echo["what_if"] = [change.plain for change in tried.changes]
    today = date or report_date()

    def results_of(harness: Harness, progress: Progress, *, sensitivity: bool = False) -> Results:
        return analyse(
            harness,
            settings,
            tool_version=tool_version(),
            date=today,
            settings_echo=echo,
            progress=progress,
            explain=explain,
            sensitivity=sensitivity,
        )

    told = replace(harness, assumptions=(*said, *harness.assumptions))
    results = results_of(told, tell, sensitivity=sensitivity)
    if tried.changes:
        tell("the drawing as it stands")
        drawn = results_of(build_harness(drawing, settings, drawing_settings), lambda _: None)
        rows = tuple(change.row for change in tried.changes)
        results = replace(results, about=About(AboutKind.WHAT_IF, rows, drawn.verdict))
    return Analysed(tried.drawing, told, settings, tried.settings, results)
