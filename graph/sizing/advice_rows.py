"""Rows of the advice: sizes with what governs them, what no size mends, and the order of upsizing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Conductor
from loadloom.graph.model.figures import figures, floored
from loadloom.graph.model.findings import Finding
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import all_of
from loadloom.graph.model.results import ConductorRow, Results
from loadloom.graph.sizing.advice import LeftRow, SizeRow
from loadloom.graph.sizing.drop_gains import DropGain, drop_gains
from loadloom.graph.sizing.groups import allowed_by_size
from loadloom.graph.sizing.pairs import GOVERNS_VOLTAGE, feeds_of_returns, other_size_words
from loadloom.graph.sizing.shelf import copper_g
from loadloom.graph.sizing.sizing import Governed, Sized

MOST_STEPS = 3
"""Steps that the voltage drop budget names for a load."""

GOVERNS: Mapping[str, str] = {
    "wire-overload": "load",
    "return-overload": "load",
    "voltage-low": GOVERNS_VOLTAGE,
    "path-unprotected": "protection",
    "overload-band": "protection without the overload band",
    "event-overload": "heat of an event",
    "fuse-above-wire": "protection",
    "no-setting-range": "setting range",
    "fault-never-cleared": "clearing of a short",
    "damage-before-clearing": "heat of a short",
    "device-not-determined": "heat of a short by the gates of a standard",
    "open-circuit-overload": "single open circuit",
    "uneven-sharing": "uneven sharing",
    "combined-overload": "several overloads at once",
    "mixed-gauges": "one size in parallel",
    "rule-book": "rule book",
}
"""What a size is governed by, in words, by the rule that one size less would break."""


def no_trip(facts: Facts) -> Iterable[LeftRow]:
    """Outputs that never trip and that nothing stands behind: no setting of theirs is invented."""
    conductors = {c.id for c in facts.harness.conductors}
    for output in facts.harness.outputs:
        if not output.never_trips or not output.fitted:
            continue
        bare = [
            a.id
            for a in facts.faults.parts.values()
            if a.id in conductors
            and a.protected is False
            and a.held_by in (None, output.id)
            and output.id in facts.topology.feeds(_node(facts, a.id))
        ]
        if bare:
            yield LeftRow(
                "path-unprotected",
                output.id,
                f"{output.id} never trips by itself, and no field makes it: {all_of(bare)} "
                f"{'is' if len(bare) == 1 else 'are'} not protected",
                f"Put a device straight at a terminal of {output.id}.",
            )


def _node(facts: Facts, name: str) -> str:
    part = facts.harness.by_id[name]
    assert isinstance(part, Conductor)
    return part.node_a


def assumptions(sizes: Iterable[SizeRow]) -> Iterable[str]:
    """What sizes, copper and losses rest on."""
    unknown = [row.id for row in sizes if row.copper_drawn_g is None or row.copper_g is None]
    yield (
        "Sizes do not rely on the overload band. A conductor that several paths share is sized for several "
        "overloads at once, as long as a stocked size is enough and protection alone makes it no thicker than "
        "thicken_at_most of the settings allows; beyond that, a device is the remedy."
    )
    yield "Copper has 8.89 g/cm³ (value from memory); insulation and contacts are not counted."
    if unknown:
        yield "Not counted in copper and losses, for want of a size or length as drawn: " + ", ".join(unknown) + "."


def size_rows(harness: Harness, drawn: Results, results: Results, sized: Sized) -> Iterable[SizeRow]:
    """A row for every conductor of the harness as drawn, with what was found about it and about it as proposed.

    A return that gets another size than its feed says why.
    """
    rows = {row.id: row for row in _own_rows(harness, drawn, results, sized)}
    feeds = feeds_of_returns(harness)
    for name, row in rows.items():
        yield replace(row, why=row.why + other_size_words(row, rows[feeds[name]])) if name in feeds else row


def _own_rows(harness: Harness, drawn: Results, results: Results, sized: Sized) -> Iterable[SizeRow]:
    grouping = sized.grouping
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
            if governed.rule in ("path-unprotected", "overload-band"):
                why += _instead(sized, conductor.id, allowed[conductor.id])
        known = conductor.gauge is not None and conductor.length_m is not None
        yield SizeRow(
            id=conductor.id,
            drawn=old.gauge,
            proposed=new.gauge,
            area_mm2=new.area_mm2,
            length_m=conductor.length_m,
            governed_by=governed_by,
            why=why,
            current_a=new.continuous_a,
            allowed_a=new.allowed_a,
            sustained_fault_a=new.sustained_fault_a,
            copper_drawn_g=_copper_g(old) if known else None,
            copper_g=_copper_g(new) if known else None,
            loss_drawn_w=old.loss_w if known else None,
            loss_w=new.loss_w if known else None,
        )


def _instead(sized: Sized, name: str, allowed: tuple[float | None, ...]) -> str:
    """What a device of its own would save, where protection asks for far more than the load."""
    group = sized.grouping.group_of[name]
    currents = sized.facts.currents[name]
    load_a, chosen = currents.worst_continuous[1], sized.sizes[name]
    for size, allowed_a in zip(group.sizes, allowed, strict=True):
        if allowed_a is not None and allowed_a >= load_a and 3.0 * size.area_mm2 <= chosen.area_mm2:
            return (
                f"; {size} carries its load, so a device at its source end that is certain to open above "
                f"{figures(floored(allowed_a))} A would save the copper"
            )
    return ""


def _governed_words(governed: Governed) -> str:
    if governed.rule == "held":
        return "as drawn: no size is enough"
    if not governed.rule:
        return f"crimp range of {governed.subject}" if governed.subject else "thinnest stocked size"
    words = GOVERNS.get(governed.rule, governed.rule)
    return f"{words} {governed.subject}" if governed.rule == "voltage-low" else words


def _copper_g(row: ConductorRow) -> float | None:
    return copper_g(row.area_mm2, row.length_m) if row.area_mm2 is not None and row.length_m is not None else None


def left_row(finding: Finding) -> LeftRow:
    """A finding that no size mends."""
    return LeftRow(finding.rule, finding.subject.id, finding.message, finding.remedy)


def outside_stock(sized: Sized) -> Iterable[LeftRow]:
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
            f"{size}, as drawn, is {why}, and no stocked size removes {held.want.rule} on {held.want.subject}",
            f"Use a contact that takes {size}." if by else f"Stock {size}.",
        )


def budget(sized: Sized) -> tuple[DropGain, ...]:
    """For every load the conductors to thicken first, by one size that they may have; most volts per gram first."""
    next_size = {}
    for group in sized.grouping.groups:
        area = sized.sizes[group.members[0]].area_mm2 * (1.0 + 1e-9)
        step = next((size for size in group.sizes if size.area_mm2 > area), None)
        if step is not None:
            next_size[group.members] = step
    found: list[DropGain] = []
    for load in sized.harness.loads:
        found += drop_gains(sized.facts, load, next_size)[:MOST_STEPS]
    return tuple(found)
