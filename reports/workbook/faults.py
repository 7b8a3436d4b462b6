"""The sheets of faults, short circuits, arrangements side by side, and fault power."""

from __future__ import annotations

from collections.abc import Mapping

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.naming import place_said
from loadloom.graph.model.results import Results, ShortCircuitRow
from loadloom.reports.ends import joints
from loadloom.reports.workbook import places as at
from loadloom.reports.workbook.places import Places
from loadloom.reports.workbook.table import Column, Content, Pen, joined, start_sheet, warn_of_edits, write_table


def write_faults(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Faults that something holds continuously."""
    note = (
        "The worst fault for each part: what flows in it continuously with no device opening, and the heat of it. "
        "The beginning of a conductor is its end at pin 1 or A."
    )
    start_sheet(sheet, pen, at.FAULTS, note)
    rows, named = results.faults, joints(results)
    warn_of_edits(sheet, pen)
    columns = [
        Column("id", "Fault", [r.id for r in rows], bold=True),
        Column("kind", "Kind", [r.kind for r in rows], width=10),
        Column("at", "From", [named.get(r.at) or place_said(r.at) for r in rows], width=10),
        Column("to", "To", [named.get(r.to) or place_said(r.to) for r in rows], width=10),
        Column("case", "Load case", [r.case for r in rows], width=10),
        Column("current", "Fault current", [r.fault_current_a for r in rows], "number", "A", scaled=False),
        Column("resistance", "Fault resistance", [r.fault_resistance_ohm for r in rows], "number", "Ω"),
        Column(
            "band",
            "Band in which nothing opens",
            [_band(r.resistance_band_ohm) for r in rows],
            width=11,
            blank=True,
        ),
        Column("power", "Power in the fault", [r.fault_power_w for r in rows], "number", "W", scaled=False),
        Column("held", "Held by", [places.part(r.held_by) for r in rows]),
        Column("worst", "Worst part", [places.part(r.worst) for r in rows]),
        Column("worst_current", "Its current", [r.worst_current_a for r in rows], "number", "A", scaled=False),
        Column(
            "worst_allowed",
            "Its allowed current, tool's run",
            [r.worst_allowed_a for r in rows],
            "number",
            "A",
            scaled=False,
        ),
        Column("description", "In words", [r.description or None for r in rows], width=36, blank=True),
    ]
    write_table(sheet, pen, columns)


def _band(band: tuple[float, float] | None) -> str | None:
    return f"{band[0]:.3g} to {band[1]:.3g} Ω" if band else None


def write_shorts(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Short circuits."""
    note = (
        "Least current: hot, aged, lowest voltage; greatest: cold, new, highest; its own: what the conductor "
        "itself carries in a short at its other end, which the I²t counts as well. Withstand is k²S²; beyond 5 s "
        "that test is out of its range, and the current is judged, in its finding. While off: joined outputs "
        "without which it is cleared last, or never."
    )
    start_sheet(sheet, pen, at.SHORTS, note)
    rows, named = results.short_circuits, joints(results)
    words = {True: "yes", False: "no", None: None}
    while_off = [", ".join(r.outputs_off) or None for r in rows]
    # Only joined outputs can be off while others feed the short.
    off = [Column("off", "While off", while_off, width=11, blank=True)] if any(while_off) else []
    columns = [
        Column("conductor", "Conductor", [places.part(r.conductor) for r in rows], bold=True),
        Column("at", "From", [named.get(r.at) or place_said(r.at) for r in rows], width=11),
        Column("to", "To", [named.get(r.to) or place_said(r.to) for r in rows], width=11),
        Column("case", "Load case", [r.case for r in rows], width=12),
        Column("least", "Least current", [r.least_a for r in rows], "number", "A", scaled=False),
        Column("greatest", "Greatest current", [r.greatest_a for r in rows], "number", "A", scaled=False),
        Column(
            "origin",
            "Its own, short at the other end",
            [r.at_source_end_a for r in rows],
            "number",
            "A",
            scaled=False,
            blank=True,
        ),
        Column(
            "cleared",
            "Cleared by",
            [places.part(r.cleared_by) if r.cleared_by else _stays(r) for r in rows],
            width=12.5,
        ),
        Column("slowest", "Slowest time", [r.slowest_s for r in rows], "number", "s"),
        *off,
        Column("i2t", "I²t of it", [r.i2t_a2s for r in rows], "number", "A²s"),
        Column("withstand", "Withstand", [r.withstand_a2s for r in rows], "number", "A²s"),
        Column(
            "range",
            "Adiabatic test in its range",
            [words[r.adiabatic_in_range] if r.adiabatic_in_range is not None else None for r in rows],
            width=10,
        ),
        Column("heat", "Heat in the loop", [r.loop_heat_w for r in rows], "number", "W"),
        Column("findings", "Findings", [places.found(r.conductor, r.findings) for r in rows], width=20, blank=True),
    ]
    write_table(sheet, pen, columns)


def _stays(row: ShortCircuitRow) -> str:
    """What no device clears: a fault where a finding says so, otherwise a limited current that may stay."""
    return (
        "▲ NOTHING"
        if "fault-never-cleared" in row.findings
        else "nothing at its least: all of its loop may carry that"
    )


def write_arrangements(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Arrangements side by side."""
    start_sheet(
        sheet,
        pen,
        at.ARRANGEMENTS,
        "The arrangements of the protection side by side; which is right follows from wire, contact and trip.",
    )
    rows = results.arrangements
    warn_of_edits(sheet, pen)
    columns = [
        Column("name", "Arrangement", [r.arrangement for r in rows], bold=True, width=14),
        Column("trips", "Trips on load", [joined(r.trips) or "none" for r in rows], width=14),
        Column(
            "unprotected", "Not protected, tool's run", [joined(r.unprotected) or "none" for r in rows], width=24
        ),
        Column(
            "not_determined",
            "Not determined, tool's run",
            [joined(r.not_determined) or "none" for r in rows],
            width=18,
        ),
        Column("fault", "Between", [places.fault(r.worst_fault) for r in rows], width=14),
        Column(
            "power",
            "Greatest power of a fault that something holds",
            [r.worst_fault_power_w for r in rows],
            "number",
            "W",
            scaled=False,
        ),
        Column(
            "part",
            "Greatest sustained fault current over allowed, on",
            [places.part(r.worst_sustained_fault) for r in rows],
            width=14,
        ),
        Column("ratio", "Sustained fault current over allowed", [r.worst_ratio for r in rows], "share"),
        Column("words", "In words", [r.narrative or None for r in rows], width=38, blank=True),
    ]
    write_table(sheet, pen, columns)


def _place(place: str, named: Mapping[str, str], places: Places) -> Content:
    """A place by what a person finds there, as a link to its part's row."""
    said = named.get(place) or place_said(place)
    return said if said != place else places.part(place)


def write_power_available_to_fault(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Fault power against the published classes."""
    start_sheet(
        sheet,
        pen,
        at.POWER_AVAILABLE_TO_FAULT,
        "Power that a fault could draw at a place, against published classes: information, no verdict.",
    )
    rows, named = results.fault_powers, joints(results)
    columns = [
        Column("at", "Place", [_place(r.at, named, places) for r in rows], bold=True, width=18),
        Column("case", "Load case", [r.case for r in rows], width=16),
        Column("power", "Power", [r.power_w for r in rows], "number", "W", scaled=False, width=11),
        Column("held", "Held by", [places.part(r.held_by) for r in rows], width=14),
        Column("within", "Within", [joined(r.within) or "none" for r in rows], width=44),
        Column("exceeds", "Exceeds", [joined(r.exceeds) or "none" for r in rows], width=44),
    ]
    write_table(sheet, pen, columns)
