"""From a harness to advice: settings and sizes found together, and checked by the full analysis."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from loadloom.graph.analysis import analyse
from loadloom.graph.design.advice import Advice, LeftRow, SizeRow
from loadloom.graph.design.assignment import assign
from loadloom.graph.design.channels import channel_problem
from loadloom.graph.design.contact_ways import find_ways
from loadloom.graph.design.device_settings import Setting, find_settings, trip_plan, with_settings
from loadloom.graph.design.drop_gains import DropGain, drop_gains
from loadloom.graph.design.groups import Grouping, allowed_by_size, find_groups
from loadloom.graph.design.judging import Tell, gathered
from loadloom.graph.design.shelf import Shelf, copper_g, shelf
from loadloom.graph.design.sizing import Governed, Sized, find_sizes
from loadloom.graph.elements import Conductor, Gauge
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding
from loadloom.graph.harness import Harness
from loadloom.graph.results import ConductorRow, Results
from loadloom.graph.settings import AnalysisSettings

GOVERNS: Mapping[str, str] = {
    "wire-overload": "load",
    "return-overload": "load",
    "voltage-low": "voltage at the load",
    "path-unprotected": "protection",
    "fuse-above-wire": "protection",
    "no-setting-window": "setting window",
    "fault-never-cleared": "clearing of a short",
    "damage-before-clearing": "heat of a short",
    "break-overload": "single break",
    "uneven-sharing": "uneven sharing",
    "exposure-above-rating": "several overloads at once",
    "mixed-gauges": "one size in parallel",
    "rule-book": "rule book",
}
"""What a size is governed by, in words, by the rule that one size less would break."""


@dataclass(frozen=True)
class Advised:
    """The advice, the harness as proposed, and what the full analysis says about it."""

    advice: Advice
    harness: Harness
    results: Results
    sizes: Mapping[str, Gauge]


def advise(
    harness: Harness,
    settings: AnalysisSettings,
    *,
    tool_version: str,
    date: str,
    settings_echo: dict[str, Any],
    together: Iterable[frozenset[str]] = (),
    progress: Tell = lambda _: None,
) -> Advised:
    """Find settings and sizes for a harness.

    ``together``: ids of conductors, and of devices, that share a field on the drawing: they get one size or
    setting, the greatest that any of them needs.

    Settings come first, up to what the thickest possible sizes protect; sizes follow, with the settings in force.
    """

    def full(there: Harness) -> Results:
        echo = dict(settings_echo)
        return analyse(there, settings, tool_version=tool_version, date=date, settings_echo=echo, progress=progress)

    drawn = full(harness)
    facts = gathered(harness, settings, progress)
    stock = shelf(harness.conductors, settings)
    together = tuple(together)
    grouping = find_groups(facts, stock, together)
    devices = find_settings(facts, grouping, together)
    changed = {s.id: s.proposed_a for s in devices if s.changed and s.proposed_a is not None}
    if changed:
        facts = gathered(with_settings(harness, changed), settings, progress)
    sized = find_sizes(facts, grouping, progress)
    results = full(sized.harness)
    advice = _advice(harness, drawn, results, sized, grouping, devices, stock)
    return Advised(advice, sized.harness, results, sized.sizes)


def _advice(
    harness: Harness,
    drawn: Results,
    results: Results,
    sized: Sized,
    grouping: Grouping,
    devices: tuple[Setting, ...],
    stock: Shelf,
) -> Advice:
    sizes = tuple(_size_rows(harness, drawn, results, sized, grouping))
    open_now = tuple(f for f in results.findings if f.accepted is None)
    problem = channel_problem(sized.facts)
    keys = {(f.rule, f.subject.id) for f in open_now}
    return Advice(
        provenance=drawn.provenance,
        tool_version=drawn.tool_version,
        date=drawn.date,
        settings=drawn.settings,
        verdict_drawn=drawn.verdict,
        verdict=results.verdict,
        sizes=sizes,
        devices=devices,
        contacts=find_ways(sized.facts),
        left=(*(_left(f.finding) for f in sized.unmet), *_outside(sized)),
        budget=_budget(sized.facts, stock),
        trip_plan=trip_plan(sized.facts),
        spread=assign(problem) if problem is not None else None,
        mended=tuple(f for f in drawn.findings if f.accepted is None and (f.rule, f.subject.id) not in keys),
        remaining=open_now,
        copper_drawn_g=sum(row.copper_drawn_g or 0.0 for row in sizes),
        copper_g=sum(row.copper_g or 0.0 for row in sizes),
        loss_drawn_w=sum(row.loss_drawn_w or 0.0 for row in sizes),
        loss_w=sum(row.loss_w or 0.0 for row in sizes),
        assumptions=(stock.note, *_assumptions(sizes), *drawn.assumptions),
        harnesses_tried=sized.tried,
    )


def _assumptions(sizes: Iterable[SizeRow]) -> Iterable[str]:
    unknown = [row.id for row in sizes if row.copper_drawn_g is None or row.copper_g is None]
    yield (
        "A conductor counts as protected where the overload band covers it (overload_band in the settings; 1 "
        "leaves no band), and one shared by several ways is sized for several overloads at once where a stocked "
        "size does."
    )
    yield "Copper has 8.89 g/cm³ (value from memory); insulation and contacts are not counted."
    if unknown:
        yield "Not counted in copper and losses, for want of a size or length as drawn: " + ", ".join(unknown) + "."


def _size_rows(
    harness: Harness, drawn: Results, results: Results, sized: Sized, grouping: Grouping
) -> Iterable[SizeRow]:
    before = {row.id: row for row in drawn.conductors}
    after = {row.id: row for row in results.conductors}
    fixed = {f.id: f.why for f in grouping.fixed}
    group_of = grouping.group_of
    allowed = allowed_by_size(sized.facts, sized.grouping)
    for conductor in harness.conductors:
        old, new = before[conductor.id], after[conductor.id]
        if conductor.id in fixed:
            governed_by, why = "not sized", fixed[conductor.id]
        else:
            governed = sized.governed[group_of[conductor.id].name]
            governed_by, why = _governed_words(governed), governed.reason
            if governed.rule == "path-unprotected":
                why += _instead(sized, conductor.id, allowed[conductor.id])
        known = conductor.gauge is not None and conductor.length_m is not None
        yield SizeRow(
            id=conductor.id,
            drawn=str(conductor.gauge) if conductor.gauge else None,
            proposed=new.gauge,
            area_mm2=new.area_mm2,
            length_m=conductor.length_m,
            governed_by=governed_by,
            why=why,
            current_a=new.continuous_a,
            allowed_a=new.allowed_a,
            let_through_a=new.let_through_a,
            copper_drawn_g=_copper_g(old) if known else None,
            copper_g=_copper_g(new) if known else None,
            loss_drawn_w=old.loss_w if known else None,
            loss_w=new.loss_w if known else None,
        )


def _instead(sized: Sized, name: str, allowed: tuple[float | None, ...]) -> str:
    """What a device of its own would save, where protection asks for far more than the load."""
    group = sized.grouping.group_of[name]
    currents = sized.facts.currents[name]
    load_a, chosen = currents.worst_steady[1], sized.sizes[name]
    for size, allowed_a in zip(group.sizes, allowed, strict=True):
        if allowed_a is not None and allowed_a >= load_a and 3.0 * size.area_mm2 <= chosen.area_mm2:
            return (
                f"; {size} carries its load, so that a device of its own that holds no more than "
                f"{figures(allowed_a)} A at its source end would save the copper"
            )
    return ""


def _governed_words(governed: Governed) -> str:
    if governed.rule == "held":
        return "as drawn: no size mends it"
    if not governed.rule:
        return f"crimp range of {governed.subject}" if governed.subject else "thinnest stocked size"
    words = GOVERNS[governed.rule]
    return f"{words} {governed.subject}" if governed.rule == "voltage-low" else words


def _copper_g(row: ConductorRow) -> float | None:
    return copper_g(row.area_mm2, row.length_m) if row.area_mm2 is not None and row.length_m is not None else None


def _left(finding: Finding) -> LeftRow:
    return LeftRow(finding.rule, finding.subject.id, finding.message, finding.remedy)


def _outside(sized: Sized) -> Iterable[LeftRow]:
    """Groups that keep a drawn size that is not among those to choose from, since none of these does."""
    for group in sized.grouping.groups:
        held, size = sized.held.get(group.name), sized.sizes[group.members[0]]
        if held is None or not held.outside or size != group.sizes[0]:
            continue
        by = " and ".join(dict.fromkeys(filter(None, (group.below_by, group.above_by))))
        why = f"outside the crimp range of {by}" if by else "not stocked, or not rated"
        yield LeftRow(
            "crimp-range" if by else "not-stocked",
            group.name,
            f"{size}, as drawn, is {why}, and none that is to be had mends {held.want.rule} on {held.want.subject}",
            f"Use a contact that takes {size}." if by else f"Stock {size}.",
        )


def _budget(facts: Facts, stock: Shelf) -> tuple[DropGain, ...]:
    """For every load the conductors to thicken first, one stocked size more, most volts per gram first."""
    next_size = {c.id: step for c in facts.harness.conductors if (step := _next(c, stock)) is not None}
    found: list[DropGain] = []
    for load in facts.harness.loads:
        found += drop_gains(facts, load, next_size)[:3]
    return tuple(found)


def _next(conductor: Conductor, stock: Shelf) -> Gauge | None:
    if conductor.gauge is None:
        return None
    area = conductor.gauge.area_mm2 * (1.0 + 1e-9)
    return next((size for size in stock.of(conductor) if size.area_mm2 > area), None)
