"""From a file to Results: the way of the data, each arrow one function."""

from __future__ import annotations

import datetime
import os
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from loadloom.graph.results import Results
from loadloom.plugin.drawing import Drawing

Progress = Callable[[str], None]
"""Told, in words, what is being done."""

SETTINGS_NAME = "loadloom.toml"


def tool_version() -> str:
    """Version of the installed package; ``unknown`` where it runs without being installed."""
    try:
        return version("loadloom")
    except PackageNotFoundError:
        return "unknown"


def report_date() -> str:
    """Today as ISO 8601; ``SOURCE_DATE_EPOCH`` in the environment sets it, for reports that repeat to the byte."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if epoch.isdigit():
        return datetime.datetime.fromtimestamp(int(epoch), datetime.UTC).date().isoformat()
    return datetime.datetime.now().astimezone().date().isoformat()


def settings_beside(path: Path) -> Path | None:
    """The settings file that lies beside a drawing, if there is one."""
    beside = path.parent / SETTINGS_NAME
    return beside if beside.is_file() else None


@dataclass(frozen=True, slots=True)
class Analysed:
    """A drawing as it was read, and what the analysis says about it."""

    drawing: Drawing
    results: Results


def analyse_file(
    path: Path,
    settings_path: Path | None = None,
    progress: Progress | None = None,
    date: str | None = None,
) -> Results:
    """The results alone of ``analyse_drawing``, which see."""
    return analyse_drawing(path, settings_path, progress, date).results


def analyse_drawing(
    path: Path,
    settings_path: Path | None = None,
    progress: Progress | None = None,
    date: str | None = None,
) -> Analysed:
    """Read a drawing or netlist and its settings, and analyse it.

    Without ``settings_path`` the file ``loadloom.toml`` beside the drawing is used, if there is one.

    Raises:
        UnusableError: the input, the settings or what they need can't be used.
    """
    from loadloom.graph.analysis import analyse
    from loadloom.plugin.building import build_harness
    from loadloom.plugin.reading import read_drawing
    from loadloom.plugin.settings_file import read_settings, settings_echo

    tell = progress or (lambda _: None)
    tell("reading the settings")
    settings, drawing_settings = read_settings(settings_path or settings_beside(path))
    tell("reading the drawing")
    drawing = read_drawing(path)
    tell("building the harness")
    harness = build_harness(drawing, settings, drawing_settings)
    results = analyse(
        harness,
        settings,
        tool_version=tool_version(),
        date=date or report_date(),
        settings_echo=settings_echo(settings, drawing_settings),
        progress=tell,
    )
    return Analysed(drawing, results)
