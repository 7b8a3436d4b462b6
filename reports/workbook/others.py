"""The plainer sheets: outputs and supplies, loads, devices, splices, breaks, faults, shorts and the lists."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.findings import Finding, Severity
from loadloom.graph.results import Results, SpliceRow, SupplyRow, SwitchRow
from loadloom.reports import grades
from loadloom.reports.workbook import places as at
from loadloom.reports.workbook import style
from loadloom.reports.workbook.places import Places, supplies_header_row
from loadloom.reports.workbook.table import (
    FIRST_ROW,
    UNKNOWN,
    Column,
    Content,
    Formula,
    Pen,
    ratio,
    start_sheet,
    write_table,
)

CASES_SHOWN = 8
"""Most cases that get a column of their own; the results file holds all."""

SEVERITY_MARK = {Severity.ERROR: "■ error", Severity.WARNING: "▲ warning", Severity.NOTE: "○ note"}


def _over(top: float | None, bottom: float | None) -> float | str:
    return top / bottom if top is not None and bottom else UNKNOWN


def _joined(names: Sequence[str]) -> str | None:
    return ", ".join(names) or None


def _by_case(results: Results, rows: Sequence[Any]) -> list[Column]:
    """One column for each case, with the current in it."""
    return [
        Column(
            f"case{n}",
            f"Current, {case.id}",
            [r.currents_a.get(case.id) for r in rows],
            "number",
            "A",
            scaled=False,
            width=12,
        )
        for n, case in enumerate(results.cases[:CASES_SHOWN])
    ]


def write_findings(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Findings, gravest first; each leads to the row of its subject."""
    note = "Gravest first. Part leads to its row, and the row's findings lead back here. Accepted findings stay."
    start_sheet(sheet, pen, at.FINDINGS, note)
    found = results.findings
    columns = [
        Column("grade", "Grade", [grades.grade(f) for f in found], width=12, bold=True),
        Column("severity", "Severity", [SEVERITY_MARK[f.severity] for f in found], width=12),
        Column("part", "Part", [places.part(f.subject.id) for f in found], width=12, bold=True),
        Column("rule", "Rule", [f.rule for f in found], width=17),
        Column("message", "Finding", [f.message for f in found], width=48),
        Column("remedy", "What would mend it", [f.remedy for f in found], width=38),
        Column("value", "Value", [f.value for f in found], "number", scaled=False, blank=True),
        Column("limit", "Limit", [f.limit for f in found], "number", scaled=False, blank=True),
        Column("unit", "Unit", ["" if f.unit in (None, "1") else f.unit for f in found], width=6, blank=True),
        Column("case", "Case", [f.case for f in found], width=12, blank=True),
        Column("where", "Where drawn", [_where(f) for f in found], width=24, blank=True),
        Column("source", "Clause or source", [f.source for f in found], width=22, blank=True),
        Column("accepted", "Accepted", [_accepted(f) for f in found], width=26, blank=True),
    ]
    write_table(sheet, pen, columns)
    for number, finding in enumerate(found):
        fill = style.fill(_severity_fill(finding))
        for column in (1, 2):
            sheet.cell(FIRST_ROW + number, column).fill = fill


def _severity_fill(finding: Finding) -> str:
    if finding.accepted is not None:
        return style.HEADER_FILL
    fills = {Severity.ERROR: style.RED_FILL, Severity.WARNING: style.AMBER_FILL, Severity.NOTE: style.BLUE_FILL}
    return fills[finding.severity]


def _where(finding: Finding) -> str:
    subject = finding.subject
    parts = [f"sheet {subject.sheet_path}" if subject.sheet_path else ""]
    parts.append(f"{subject.reference} pin {subject.pin}" if subject.pin else subject.reference or "")
    parts.append(f"field {subject.field}" if subject.field else "")
    parts.append(
        f"{subject.file}:{subject.line}" if subject.file and subject.line is not None else subject.file or ""
    )
    return ", ".join(filter(None, parts))


def _accepted(finding: Finding) -> str | None:
    entry = finding.accepted
    if entry is None:
        return None
    until = f", until {entry.until.isoformat()}" if entry.until else ""
    value = f", at {entry.value:.3g}" if entry.value is not None else ""
    return f"{entry.reason} ({entry.by}, {entry.date.isoformat()}{until}{value})"


def write_outputs(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> dict[str, str]:
    """Outputs, and the units below them; the letters of the outputs' columns by key."""
    note = (
        "Used is a live formula. An output's power is at its own voltage; a unit's allowed power is after derating."
    )
    start_sheet(sheet, pen, at.OUTPUTS, note)
    rows = results.outputs
    letters = write_table(
        sheet,
        pen,
        [
            Column("id", "Output", [r.id for r in rows], bold=True, width=16),
            Column("supply", "Unit", [places.unit(r.supply) for r in rows], width=12),
            Column("case", "Worst case", [r.case for r in rows], width=16),
            Column("voltage", "Voltage", [r.voltage_v for r in rows], "number", "V", scaled=False),
            Column("current", "Current, worst", [r.current_a for r in rows], "number", "A", scaled=False),
            Column("limit", "Limit", [r.limit_a for r in rows], "number", "A", scaled=False),
            Column(
                "used",
                "Used",
                [Formula(ratio("current", "limit"), _over(r.current_a, r.limit_a)) for r in rows],
                "share",
                bold=True,
                width=10,
            ),
            Column("tool", "Used, tool's run", [r.utilisation for r in rows], "share"),
            Column("trip", "Own trip", [r.trip_a for r in rows], "number", "A", scaled=False),
            Column("power", "Power", [r.power_w for r in rows], "number", "W", scaled=False),
            Column("findings", "Findings", [places.found(r.id, r.findings) for r in rows], width=26, blank=True),
            *_by_case(results, rows),
        ],
    )
    units = results.supplies
    header = supplies_header_row(results)
    pen.put(sheet.cell(header - 1, 1), "Units", bold=True, size=11, border=None)
    write_table(
        sheet,
        pen,
        [
            Column("id", "Unit", [r.id for r in units], bold=True),
            Column("case", "Worst case", [r.case for r in units]),
            Column("findings", "Findings", [places.found(r.id, r.findings) for r in units], blank=True),
            Column("power", "Power given", [r.power_w for r in units], "number", "W", scaled=False),
            Column(
                "allowed",
                "Allowed power",
                [Formula(_ALLOWED_POWER, r.allowed_w) if r.allowed_w is not None else None for r in units],
                "number",
                "W",
                scaled=False,
            ),
            Column("nameplate", "Nameplate", [r.nameplate_w for r in units], "number", "W", scaled=False),
            Column("by_inside", "Left by inside temperature", [_left(r, "inside") for r in units], "share"),
            Column("by_mounting", "Left by mounting", [_left(r, "mounting") for r in units], "share"),
            Column("mounting", "Mounting", [_mounting(r) for r in units], blank=True),
            Column(
                "used",
                "Used",
                [Formula(ratio("power", "allowed"), _over(r.power_w, r.allowed_w)) for r in units],
                "share",
                bold=True,
            ),
            Column("tool", "Used, tool's run", [r.utilisation for r in units], "share"),
            Column("share", "Share of nameplate", [r.load_share for r in units], "share"),
            Column("efficiency", "Efficiency", [r.efficiency for r in units], "share"),
            Column("inside", "Inside temperature", [r.inside_c for r in units], "number", "°C"),
            Column("input", "Input", [r.input_w for r in units], "number", "W", scaled=False),
            Column("heat", "Waste heat", [r.heat_w for r in units], "number", "W", scaled=False),
            Column("fan", "Fan", [{True: "stays off", False: "runs", None: None}[r.fan_off] for r in units]),
        ],
        header_row=header,
        main=False,
    )
    return letters


_ALLOWED_POWER = f'=IF(ISNUMBER({{nameplate}}),{{nameplate}}*{{by_inside}}*{{by_mounting}},"{UNKNOWN}")'


def _left(unit: SupplyRow, kind: str) -> float | None:
    """What one kind of derating leaves of a unit's power; None where nothing can be said."""
    return None if unit.allowed_w is None else math.prod(f.factor for f in unit.factors if f.kind == kind)


def _mounting(unit: SupplyRow) -> str | None:
    return "; ".join(f"{f.reason}: {100.0 * f.factor:.3g} %" for f in unit.factors if f.kind == "mounting") or None


def write_loads(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Loads, state by state."""
    note = (
        "Least voltage: lowest output voltage, hot conductors, aged contacts. Greatest: highest output voltage, "
        "least other load. Margin is a live formula."
    )
    start_sheet(sheet, pen, at.LOADS, note)
    rows = results.loads
    margin = f'=IF(AND(ISNUMBER({{voltage}}),ISNUMBER({{minimum}})),{{voltage}}-{{minimum}},"{UNKNOWN}")'
    columns = [
        Column("id", "Load", [r.id for r in rows], bold=True),
        Column("demand", "Demand as drawn", [r.demand or None for r in rows], width=14),
        Column("fed", "Fed by", [_joined(r.fed_by) for r in rows], width=14),
        Column("case", "Worst case", [r.case for r in rows], width=14),
        Column("current", "Current, worst", [r.current_a for r in rows], "number", "A", scaled=False),
        Column("power", "Power", [r.power_w for r in rows], "number", "W", scaled=False),
        Column("drop", "Drop, out and back", [r.drop_v for r in rows], "number", "V"),
        Column("voltage", "Least voltage", [r.voltage_v for r in rows], "number", "V", scaled=False),
        Column("minimum", "Minimum wanted", [r.minimum_v for r in rows], "number", "V", "input", scaled=False),
        Column(
            "margin",
            "Margin",
            [Formula(margin, _difference(r.voltage_v, r.minimum_v)) for r in rows],
            "number",
            "V",
            bold=True,
            scaled=False,
        ),
        Column("high", "Greatest voltage", [r.voltage_high_v for r in rows], "number", "V", scaled=False),
        Column("maximum", "Maximum allowed", [r.maximum_v for r in rows], "number", "V", scaled=False),
        Column(
            "durations", "States with a duration", [_durations(r.duration_s) for r in rows], width=16, blank=True
        ),
        *_by_case(results, rows),
        Column("findings", "Findings", [places.found(r.id, r.findings) for r in rows], width=24, blank=True),
    ]
    write_table(sheet, pen, columns)


def _difference(a: float | None, b: float | None) -> float | str:
    return a - b if a is not None and b is not None else UNKNOWN


def _durations(durations: dict[str, float | None]) -> str | None:
    return (
        ", ".join(f"{case}: {seconds:.3g} s" for case, seconds in durations.items() if seconds is not None) or None
    )


def write_devices(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Protective devices with both setting windows."""
    note = (
        "Setting window: from the lowest nominal that rides through every case to the highest that still protects "
        "what lies behind. The second window is with uneven sharing and one way open."
    )
    start_sheet(sheet, pen, at.DEVICES, note)
    rows = results.devices
    columns = [
        Column("id", "Device", [r.id for r in rows], bold=True),
        Column("kind", "Kind", [r.kind for r in rows]),
        Column("setting", "Setting", [r.setting_a for r in rows], "number", "A", bold=True, scaled=False),
        Column("case", "Worst case", [r.case for r in rows], width=12),
        Column("current", "Current, worst", [r.current_a for r in rows], "number", "A", scaled=False),
        Column(
            "used",
            "Used",
            [Formula(ratio("current", "carries"), _over(r.current_a, r.carries_a)) for r in rows],
            "share",
        ),
        Column("carries", "Carries for certain", [r.carries_a for r in rows], "number", "A", scaled=False),
        Column("clears", "Clears for certain", [r.clears_a for r in rows], "number", "A", scaled=False),
        Column("within", "Within", [r.clears_within_s for r in rows], "number", "s"),
        Column("low", "Window from", [r.window_low_a for r in rows], "number", "A", scaled=False),
        Column("high", "Window to", [r.window_high_a for r in rows], "number", "A", scaled=False),
        Column("window", "Window", [_window(r.window_low_a, r.window_high_a, r.setting_a) for r in rows], width=12),
        Column("low_by", "From, because of", [places.part(r.window_low_by) for r in rows], width=13, blank=True),
        Column("high_by", "To, because of", [places.part(r.window_high_by) for r in rows], width=11, blank=True),
        Column(
            "one_low", "One way open: from", [r.window_one_open_low_a for r in rows], "number", "A", scaled=False
        ),
        Column(
            "one_high", "One way open: to", [r.window_one_open_high_a for r in rows], "number", "A", scaled=False
        ),
        Column("prospective", "Prospective current", [r.prospective_a for r in rows], "number", "A", scaled=False),
        Column("capacity", "Breaking capacity", [r.breaking_capacity_a for r in rows], "number", "A", scaled=False),
        Column("volts", "Voltage rating", [r.voltage_rating_v for r in rows], "number", "V", scaled=False),
        Column("highest", "Highest voltage", [r.highest_voltage_v for r in rows], "number", "V", scaled=False),
        Column(
            "curve",
            "Curve and source",
            [_curve(r.curve, r.curve_source, r.gates) for r in rows],
            width=18,
            blank=True,
        ),
        Column("protects", "Protects", [_joined(r.protects) for r in rows], width=18, blank=True),
        Column("findings", "Findings", [places.found(r.id, r.findings) for r in rows], width=20, blank=True),
    ]
    write_table(sheet, pen, columns)


def _window(low: float | None, high: float | None, setting: float | None) -> str:
    if low is None or high is None:
        return "not known"
    if low > high:
        return "▲ NONE"
    if setting is None:
        return "there is one"
    return "inside" if low <= setting <= high else "▲ outside"


def _curve(name: str | None, source: str | None, gates: bool) -> str | None:
    kind = "gates only" if gates and name else None
    return ", ".join(filter(None, (name, kind, source))) or None


def write_splices(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Splices, switches and diodes."""
    start_sheet(
        sheet,
        pen,
        at.SPLICES,
        "A splice's current is half the sum of the magnitudes at it. Used is a live formula.",
    )
    rows: tuple[SpliceRow | SwitchRow, ...] = (*results.splices, *results.switches)
    columns = [
        Column("id", "Part", [r.id for r in rows], bold=True, width=16),
        Column("kind", "Kind", [r.kind if isinstance(r, SwitchRow) else "splice" for r in rows], width=10),
        Column("case", "Worst case", [r.case for r in rows], width=20),
        Column("current", "Current, worst", [r.current_a for r in rows], "number", "A", scaled=False, width=11),
        Column("allowed", "Rating", [r.allowed_a for r in rows], "number", "A", "input", scaled=False, width=11),
        Column(
            "used",
            "Used",
            [Formula(ratio("current", "allowed"), _over(r.current_a, r.allowed_a)) for r in rows],
            "share",
            bold=True,
            width=11,
        ),
        Column("tool", "Used, tool's run", [r.utilisation for r in rows], "share", width=11),
        Column("findings", "Findings", [places.found(r.id, r.findings) for r in rows], width=36, blank=True),
    ]
    write_table(sheet, pen, columns)


def write_breaks(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Breaks of one conductor or contact."""
    start_sheet(
        sheet,
        pen,
        at.BREAKS,
        "One way opened at a time: the part that is worst after it, and the loads that go dark.",
    )
    rows = results.breaks
    columns = [
        Column("opened", "Opened", [places.part(r.opened) for r in rows], bold=True, width=20),
        Column("case", "Case", [r.case for r in rows], width=20),
        Column("worst", "Worst part after it", [places.part(r.worst) for r in rows], width=20, blank=True),
        Column(
            "current",
            "Its current",
            [r.worst_current_a for r in rows],
            "number",
            "A",
            scaled=False,
            blank=True,
            width=11,
        ),
        Column(
            "allowed",
            "Its allowed current",
            [_blank_if(r.worst is None, r.worst_allowed_a) for r in rows],
            "number",
            "A",
            scaled=False,
            width=11,
            blank=True,
        ),
        Column(
            "judged",
            "Judged",
            [_judged(r.worst, r.worst_current_a, r.worst_allowed_a) for r in rows],
            width=14,
            blank=True,
        ),
        Column("dark", "Loads that go dark", [_joined(r.dark) for r in rows], width=50, blank=True),
    ]
    write_table(sheet, pen, columns)


def _blank_if(condition: bool, value: float | None) -> Content:
    return None if condition else UNKNOWN if value is None else value


def _judged(worst: str | None, current: float | None, allowed: float | None) -> str:
    if worst is None:
        return "no parallel way"
    if current is None or allowed is None:
        return "? not rated"
    return "▲ OVER" if current > allowed * (1 + 1e-9) else "ok"


def write_faults(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Faults that something holds for good."""
    note = (
        "The worst fault for each part: what flows in it for good with no device opening, and the heat of it. "
        "W7:0.50 is a place half way along W7."
    )
    start_sheet(sheet, pen, at.FAULTS, note)
    rows = results.faults
    columns = [
        Column("id", "Fault", [r.id for r in rows], bold=True),
        Column("kind", "Kind", [r.kind for r in rows], width=12),
        Column("at", "From", [r.at for r in rows], width=14),
        Column("to", "To", [r.to for r in rows], width=14),
        Column("case", "Case", [r.case for r in rows], width=16),
        Column("current", "Fault current", [r.fault_current_a for r in rows], "number", "A", scaled=False),
        Column("resistance", "Fault resistance", [r.fault_resistance_ohm for r in rows], "number", "Ω"),
        Column(
            "band",
            "Band in which nothing opens",
            [_band(r.resistance_band_ohm) for r in rows],
            width=17,
            blank=True,
        ),
        Column("power", "Power in the fault", [r.fault_power_w for r in rows], "number", "W", scaled=False),
        Column("held", "Held by", [places.part(r.held_by) for r in rows]),
        Column("worst", "Worst part", [places.part(r.worst) for r in rows]),
        Column("worst_current", "Its current", [r.worst_current_a for r in rows], "number", "A", scaled=False),
        Column(
            "worst_allowed", "Its allowed current", [r.worst_allowed_a for r in rows], "number", "A", scaled=False
        ),
        Column("description", "In words", [r.description or None for r in rows], width=40, blank=True),
    ]
    write_table(sheet, pen, columns)


def _band(band: tuple[float, float] | None) -> str | None:
    return f"{band[0]:.3g} to {band[1]:.3g} Ω" if band else None


def write_shorts(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Dead shorts."""
    note = (
        "Least current: hot, aged, lowest voltage; greatest: cold, new, highest; at its source end: what the "
        "conductor gets in a short just behind it, which the I²t counts as well. Withstand is k²S². Beyond 5 s the "
        "adiabatic test is out of its range. While off: joined outputs without which it is cleared last, or never."
    )
    start_sheet(sheet, pen, at.SHORTS, note)
    rows = results.shorts
    words = {True: "yes", False: "no", None: None}
    while_off = [", ".join(r.outputs_off) or None for r in rows]
    # Only joined outputs can be off while others feed the short.
    off = [Column("off", "While off", while_off, width=12, blank=True)] if any(while_off) else []
    columns = [
        Column("conductor", "Conductor", [places.part(r.conductor) for r in rows], bold=True),
        Column("at", "From", [r.at for r in rows], width=14),
        Column("to", "To", [r.to for r in rows], width=14),
        Column("case", "Case", [r.case for r in rows], width=16),
        Column("least", "Least current", [r.least_a for r in rows], "number", "A", scaled=False),
        Column("greatest", "Greatest current", [r.greatest_a for r in rows], "number", "A", scaled=False),
        Column(
            "origin",
            "At its source end",
            [r.at_source_end_a for r in rows],
            "number",
            "A",
            scaled=False,
            blank=True,
        ),
        Column(
            "cleared",
            "Cleared by",
            [places.part(r.cleared_by) if r.cleared_by else "▲ NOTHING" for r in rows],
            width=13,
        ),
        Column("slowest", "Slowest time", [r.slowest_s for r in rows], "number", "s"),
        *off,
        Column("i2t", "I²t of it", [r.i2t_a2s for r in rows], "number", "A²s"),
        Column("withstand", "Withstand", [r.withstand_a2s for r in rows], "number", "A²s"),
        Column(
            "range",
            "Adiabatic test in its range",
            [words[r.adiabatic_in_range] if r.adiabatic_in_range is not None else None for r in rows],
            width=12,
        ),
        Column("heat", "Heat in the loop", [r.loop_heat_w for r in rows], "number", "W"),
        Column("findings", "Findings", [places.found(r.conductor, r.findings) for r in rows], width=26, blank=True),
    ]
    write_table(sheet, pen, columns)


def write_arrangements(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Arrangements side by side."""
    start_sheet(
        sheet,
        pen,
        at.ARRANGEMENTS,
        "The arrangements of the protection side by side; which is right follows from wire, contact and trip.",
    )
    rows = results.arrangements
    columns = [
        Column("name", "Arrangement", [r.arrangement for r in rows], bold=True, width=18),
        Column("trips", "Trips on load", [_joined(r.trips) or "none" for r in rows], width=20),
        Column("unprotected", "Not protected", [_joined(r.unprotected) or "none" for r in rows], width=28),
        Column("not_said", "Can't be said", [_joined(r.not_said) or "none" for r in rows], width=20),
        Column("fault", "Worst fault", [places.fault(r.worst_fault) for r in rows], width=10),
        Column("power", "Its power", [r.worst_fault_power_w for r in rows], "number", "W", scaled=False),
        Column(
            "part",
            "Greatest let-through over allowed, on",
            [places.part(r.worst_let_through) for r in rows],
            width=16,
        ),
        Column("ratio", "Let-through over allowed", [r.worst_ratio for r in rows], "share"),
        Column("words", "In words", [r.narrative or None for r in rows], width=56, blank=True),
    ]
    write_table(sheet, pen, columns)


def write_fault_power(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Fault power against the published classes."""
    start_sheet(
        sheet,
        pen,
        at.FAULT_POWER,
        "Power that a fault could draw at a place, against published classes: information, no verdict.",
    )
    rows = results.fault_powers
    columns = [
        Column("at", "Place", [places.part(r.at) for r in rows], bold=True, width=22),
        Column("case", "Case", [r.case for r in rows], width=20),
        Column("power", "Power", [r.power_w for r in rows], "number", "W", scaled=False, width=11),
        Column("held", "Held by", [places.part(r.held_by) for r in rows], width=14),
        Column("within", "Within", [_joined(r.within) or "none" for r in rows], width=44),
        Column("exceeds", "Exceeds", [_joined(r.exceeds) or "none" for r in rows], width=44),
    ]
    write_table(sheet, pen, columns)


def write_sources(sheet: Worksheet, pen: Pen, results: Results) -> None:
    """Every source used, with edition."""
    start_sheet(
        sheet,
        pen,
        at.SOURCES,
        "Every source that a rating, a curve or a finding leans on. Hold your own edition against it.",
    )
    used = sorted(results.sources.items())
    columns = [
        Column("id", "Source", [name for name, _ in used], bold=True, width=24),
        Column("citation", "Citation, with edition", [text for _, text in used], width=110),
    ]
    write_table(sheet, pen, columns)


def write_assumptions(sheet: Worksheet, pen: Pen, results: Results) -> None:
    """What was assumed, and what is still open."""
    start_sheet(
        sheet,
        pen,
        at.ASSUMPTIONS,
        "Nothing is assumed silently. Open points are what could not be judged; a blank is not a pass.",
    )
    entries: list[tuple[str, str]] = [("assumed", text) for text in results.assumptions]
    entries += [("open", text) for text in open_points(results)]
    columns = [
        Column("kind", "Kind", [kind for kind, _ in entries], width=12, bold=True),
        Column("text", "Text", [text for _, text in entries], width=110),
        Column("closed", "Closed by, date", ["" for _ in entries], width=26, blank=True),
    ]
    write_table(sheet, pen, columns)


def open_points(results: Results) -> list[str]:
    """What could not be judged, one sentence each."""
    unjudged = [f for f in results.findings if grades.grade(f) == grades.NOT_EVALUATED]
    points = [f.message if f.subject.id in f.message else f"{f.subject.id}: {f.message}" for f in unjudged]
    for name, rows in (("conductor", results.conductors), ("contact", results.contacts)):
        for row in rows:
            if row.allowed_a is None:
                why = row.rating.missing if row.rating and row.rating.missing else "no rating"
                points.append(f"{name.capitalize()} {row.id} is not rated: {why}.")
            elif row.protected is None:
                points.append(
                    f"Whether {name} {row.id} is protected can't be said: {row.protected_note or 'not judged'}."
                )
    points += [f"Device {d.id} has no known setting." for d in results.devices if d.setting_a is None]
    return points


SHEETS: dict[str, Callable[[Worksheet, Pen, Results, Places], Any]] = {
    at.FINDINGS: write_findings,
    at.OUTPUTS: write_outputs,
    at.LOADS: write_loads,
    at.DEVICES: write_devices,
    at.SPLICES: write_splices,
    at.BREAKS: write_breaks,
    at.FAULTS: write_faults,
    at.SHORTS: write_shorts,
    at.ARRANGEMENTS: write_arrangements,
    at.FAULT_POWER: write_fault_power,
}
"""Sheets that need nothing but the results and the places."""
