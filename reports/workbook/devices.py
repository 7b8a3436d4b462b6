"""The sheets of protective devices with their setting ranges, and of splices, switches and diodes."""

from __future__ import annotations

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.results import DeviceRow, Results, SpliceRow, SwitchRow
from loadloom.reports.guards import otherwise, protects
from loadloom.reports.workbook import places as at
from loadloom.reports.workbook.currents import follows, junction_protected
from loadloom.reports.workbook.places import Places
from loadloom.reports.workbook.table import (
    STATE,
    Column,
    Edit,
    Formula,
    Pen,
    joined,
    ratios,
    start_sheet,
    warn_of_edits,
    write_table,
)


def write_devices(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Protective devices with their setting ranges."""
    note = (
        "Setting range: from the lowest nominal that rides through every case to the highest that still protects "
        "what lies behind, each with the part that is the reason. Protects: parts whose own rows say that this "
        "device protects them. What else lies behind it, protected otherwise or not, and why, is on “… in full”."
    )
    kept = protects(results)
    start_sheet(sheet, pen, at.DEVICES, note)
    rows = results.devices
    warn_of_edits(sheet, pen)
    columns = [
        Column("id", "Device", [places.in_full(r.id) for r in rows], bold=True, width=9),
        Column("setting", "Setting", [r.setting_a for r in rows], "number", "A", bold=True, scaled=False, width=9),
        Column("current", "Current, worst", [r.current_a for r in rows], "number", "A", scaled=False, width=9),
        Column(
            "used",
            "Utilisation",
            ratios("current", "carries", [(r.current_a, r.non_tripping_a) for r in rows], solved=True),
            "share",
            width=10.5,
        ),
        Column(
            "carries",
            "Non-tripping current",
            [r.non_tripping_a for r in rows],
            "number",
            "A",
            scaled=False,
            width=9,
        ),
        Column("clears", "Tripping current", [r.tripping_a for r in rows], "number", "A", scaled=False, width=9),
        Column(
            "low",
            "Setting range from",
            [_range(r.setting_low_a) for r in rows],
            "number",
            "A",
            scaled=False,
            width=9,
        ),
        Column("low_by", "From, because of", [places.part(r.setting_low_by) for r in rows], width=12, blank=True),
        Column(
            "high",
            "Setting range to",
            [_range(r.setting_high_a) for r in rows],
            "number",
            "A",
            scaled=False,
            width=9,
        ),
        Column("high_by", "To, because of", [places.part(r.setting_high_by) for r in rows], width=12, blank=True),
        Column(
            "setting_range",
            "Setting range",
            [_word(_setting_range(r)) for r in rows],
            width=11,
        ),
        Column("protects", "Protects", [joined(kept[r.id]) for r in rows], width=20, blank=True),
        Column("findings", "Findings", [places.found(r.id, r.findings) for r in rows], width=17, blank=True),
    ]
    write_table(sheet, pen, columns)


def write_devices_in_full(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """All else about the devices."""
    note = (
        "What the tool's run found beside the table for review; a device leads to its row there. The setting range "
        "with one open circuit is with uneven sharing and any one conductor or contact open."
    )
    start_sheet(sheet, pen, at.DEVICES_FULL, note)
    rows, behind = results.devices, otherwise(results)
    warn_of_edits(sheet, pen)
    columns = [
        Column("id", "Device", [places.part(r.id) for r in rows], bold=True, width=9),
        Column("kind", "Kind", [r.kind for r in rows], width=11),
        Column("low_why", "Lower end", [r.setting_low_because or None for r in rows], width=22, blank=True),
        Column("high_why", "Upper end", [r.setting_high_because or None for r in rows], width=22, blank=True),
        Column(
            "otherwise",
            "Behind it, but not protected by it",
            [behind[r.id] or None for r in rows],
            width=34,
            blank=True,
        ),
        Column("about", "About the range", [r.setting_range_note or None for r in rows], width=22, blank=True),
        Column("case", "Worst case", [r.case for r in rows], width=12),
        Column("within", "Tripping within", [r.tripping_within_s for r in rows], "number", "s", width=9),
        Column("prospective", "Prospective current", [r.prospective_a for r in rows], "number", "A", scaled=False),
        Column("capacity", "Breaking capacity", [r.breaking_capacity_a for r in rows], "number", "A", scaled=False),
        Column("volts", "Voltage rating", [r.voltage_rating_v for r in rows], "number", "V", scaled=False),
        Column("highest", "Highest voltage", [r.highest_voltage_v for r in rows], "number", "V", scaled=False),
        Column(
            "curve",
            "Curve and source",
            [_curve(r.curve, r.curve_source, r.gates) for r in rows],
            width=36,
            blank=True,
        ),
    ]
    write_table(sheet, pen, columns)


def _range(value: float | None) -> Formula | None:
    """An end of a setting range: blank once anything was changed, since it would have to be found anew."""
    return None if value is None else Formula(f'=IF({STATE}=0,{value!r},"")', value)


def _word(text: str) -> Formula:
    return Formula(f'=IF({STATE}=0,"{text}","")', text)


def _setting_range(row: DeviceRow) -> str:
    """Where the setting stands in its range; a range without an upper end is one that other devices keep safe."""
    marks = {"no range": "▲ NONE", "too low": "▲ too low", "too high": "▲ too high"}
    return marks.get(row.setting_stands, row.setting_stands)


def _curve(name: str | None, source: str | None, gates: bool) -> str | None:
    kind = "gates only" if gates and name else None
    return ", ".join(filter(None, (name, kind, source))) or None


def write_splices(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Splices, switches and diodes."""
    start_sheet(
        sheet,
        pen,
        at.SPLICES,
        "A splice's current is half the sum of the magnitudes at it. Utilisation is a live formula. "
        "Sustained fault current: the most that one fault can hold continuously without anything opening.",
    )
    rows: tuple[SpliceRow | SwitchRow, ...] = (*results.splices, *results.switches)
    warn_of_edits(sheet, pen)
    columns = [
        Column("id", "Part", [r.id for r in rows], bold=True, width=12),
        Column("kind", "Kind", [r.kind if isinstance(r, SwitchRow) else "splice" for r in rows], width=9),
        Column("case", "Worst case", [r.case for r in rows], width=13),
        Column("current", "Current, worst", [r.current_a for r in rows], "number", "A", scaled=False, width=9),
        Column(
            "allowed",
            "Rating",
            [r.allowed_a for r in rows],
            "number",
            "A",
            "input",
            scaled=False,
            width=9,
            edit=Edit.RATING,
        ),
        Column(
            "used",
            "Utilisation",
            ratios("current", "allowed", [(r.current_a, r.allowed_a) for r in rows]),
            "share",
            bold=True,
            width=11,
        ),
        Column("tool", "Utilisation, tool's run", [r.utilisation for r in rows], "share", width=11),
        Column(
            "through",
            "Sustained fault current",
            [r.sustained_fault_a for r in rows],
            "number",
            "A",
            scaled=False,
            width=11,
        ),
        Column(
            "times",
            "Sustained fault current over rating",
            ratios("through", "allowed", [(r.sustained_fault_a, r.allowed_a) for r in rows]),
            "share",
            width=11,
        ),
        Column("fault", "By fault", [places.fault(r.sustained_fault) for r in rows], width=9, blank=True),
        Column(
            "protected",
            "Protected",
            [junction_protected(r, follows(results)) for r in rows],
            bold=True,
            width=13,
        ),
        Column("findings", "Findings", [places.found(r.id, r.findings) for r in rows], width=26, blank=True),
    ]
    write_table(sheet, pen, columns)
