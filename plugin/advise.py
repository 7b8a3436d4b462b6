"""From a file to advice: reads as ``pipeline`` does, and says which parts share a field of the drawing."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from loadloom.graph.analysis import analyse
from loadloom.graph.model.figures import figures
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import About, AboutKind, ChangeRow
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.contact_rating import shipped_contact_types
from loadloom.graph.sizing.advice import Advice
from loadloom.graph.sizing.advise import Advised, advise
from loadloom.plugin.building import build_harness
from loadloom.plugin.connector_halves import connector_halves
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.manifest import with_manifest
from loadloom.plugin.pipeline import Progress, report_date, settings_beside, tool_version
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.settings_file import read_settings, settings_echo
from loadloom.plugin.values import quoted
from loadloom.plugin.what_if import Change, try_changes


@dataclass(frozen=True, slots=True)
class AdvisedDrawing:
    """A drawing as it was read with the changes tried made, its harness, the advice, and what was tried.

    ``settings`` are those of reading as the file states them, without what was tried.
    """

    drawing: Drawing
    settings: DrawingSettings
    harness: Harness
    advised: Advised
    changes: tuple[Change, ...] = ()


def advise_drawing(
    path: Path,
    settings_path: Path | None = None,
    progress: Progress | None = None,
    date: str | None = None,
    what_if: Sequence[str] = (),
    *,
    strict: bool = False,
) -> AdvisedDrawing:
    """Read a drawing or netlist and its settings, and find sizes and settings; arguments as ``analyse_drawing``.

    Raises:
        UnusableError: the input, the settings or what they need can't be used.
    """
    tell = progress or (lambda _: None)
    tell("reading")
    settings_file = settings_path or settings_beside(path)
    settings, drawing_settings = read_settings(settings_file)
    settings = replace(settings, strict=settings.strict or strict)
    drawing = with_manifest(read_drawing(path), path, settings_file, date)
    tried = try_changes(what_if, drawing, drawing_settings)
    harness = build_harness(tried.drawing, settings, tried.settings)
    _check_names(settings, harness)
    said = tuple(change.sentence for change in tried.changes)
    harness = replace(harness, assumptions=(*said, *harness.assumptions))
    echo = settings_echo(settings, tried.settings)
    if tried.changes:
        echo["what_if"] = [change.plain for change in tried.changes]
    advised = advise(
        harness,
        settings,
        tool_version=tool_version(),
        date=date or report_date(),
        settings_echo=echo,
        together=shared(tried.drawing, harness),
        progress=tell,
    )
    rows = (*(change.row for change in tried.changes), *_proposed(advised.advice))
    drawn = advised.advice.verdict_drawn
    if tried.changes:
        tell("the drawing as it stands")
        drawn = analyse(
            build_harness(drawing, settings, drawing_settings),
            settings,
            tool_version=tool_version(),
            date=date or report_date(),
            settings_echo=echo,
            progress=lambda _: None,
        ).verdict
    results = replace(advised.results, about=About(AboutKind.AS_PROPOSED, rows, drawn))
    advised = replace(advised, results=results)
    return AdvisedDrawing(tried.drawing, drawing_settings, harness, advised, tried.changes)


def _proposed(advice: Advice) -> Iterator[ChangeRow]:
    """Everything that the proposal changes, as rows of what the report is about."""
    for size in advice.sizes:
        if size.changed:
            yield ChangeRow(size.id, "Gauge", size.drawn, size.proposed)
    for setting in advice.devices:
        if setting.changed:
            word = f"@{setting.arrangement}" if setting.arrangement else ""
            yield ChangeRow(setting.id, f"setting{word}", _amperes(setting.drawn_a), _amperes(setting.proposed_a))
    for opening in advice.openings:
        yield ChangeRow(opening.id, "State", "closed", "open")
    for family in advice.families:
        if family.changed:
            yield ChangeRow(family.connector, "Contact", family.drawn, family.proposed)
    for rating in advice.ratings:
        drawn = f"{figures(rating.drawn)} {rating.unit}" if rating.drawn is not None else None
        yield ChangeRow(rating.id, rating.field, drawn, f"{figures(rating.proposed)} {rating.unit}")


def _amperes(value_a: float | None) -> str | None:
    return f"{figures(value_a)} A" if value_a is not None else None


def _check_names(settings: AnalysisSettings, harness: Harness) -> None:
    """Refuse names in ``[design]`` that are no load, limiter or output: they would count for nothing."""
    loads = [load.id for load in harness.loads]
    channels = [part.id for part in (*harness.devices, *harness.outputs)]
    design = settings.design
    named = [*design.alone, *(n for names in (*design.together, *design.apart) for n in names)]
    outputs = [output.id for output in harness.outputs]
    families = [*settings.contact_types, *shipped_contact_types()]
    for wanted, known, what in (
        (named, loads, "load"),
        (design.channels, channels, "limiter or output"),
        (design.settable, outputs, "output"),
        (design.contacts, families, "contact type"),
    ):
        for name in wanted:
            if name not in known:
                close = difflib.get_close_matches(name, known, n=1, cutoff=0.0)
                raise UnusableError(
                    f"[design] of the settings names {quoted(name)}, and there is no such {what}",
                    hint=f"the nearest is {close[0]}" if close else None,
                )


def shared(drawing: Drawing, harness: Harness) -> Iterable[frozenset[str]]:
    """Ids of conductors, devices and connectors, switches and splices that are one placed symbol, drawn on a sheet
    that is used several times.
    """
    parts: dict[str, set[str]] = {}
    for conductor in harness.conductors:
        owner = conductor.cable or conductor.id
        parts.setdefault(owner, set()).update((conductor.id, owner))
    for part in (*harness.devices, *harness.switches, *harness.diodes, *harness.splices, *harness.outputs):
        parts.setdefault(part.id, set()).add(part.id)
    for connector, halves in connector_halves(drawing, harness).items():
        for half in halves:
            parts.setdefault(half.reference, set()).add(connector)
    by_uuid: dict[str, set[str]] = {}
    for symbol in drawing.symbols:
        for uuid in symbol.uuids:
            by_uuid.setdefault(uuid, set()).add(symbol.reference)
    for references in by_uuid.values():
        ids = [parts[reference] for reference in sorted(references) if reference in parts]
        if len(ids) > 1:
            yield frozenset().union(*ids)
