"""Where everything stands in the workbook: sheets by name, rows by id, so that links can be made both ways."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from loadloom.graph.model.results import Results
from loadloom.reports.ends import joints, subject_said
from loadloom.reports.order_list import CONTACTS as ORDER_CONTACTS
from loadloom.reports.order_list import CONTACTS_IN_ALL, LABELS, SETTINGS, WIRE, WIRE_LIST
from loadloom.reports.order_list import DEVICES as ORDER_DEVICES
from loadloom.reports.workbook.table import FIRST_ROW, Content, Formula, Link, cell_of

SUMMARY = "Summary"
OPEN_POINTS = "Open points"
CHANGES = "Changes"
FINDINGS = "Findings"
CHARTS = "Charts"
CONDUCTORS = "Conductors"
CONTACTS = "Contacts"
DEVICES = "Devices"
LOADS = "Loads"
STARTS = "Starts"
CONVERTERS = "Converters"
OUTPUTS = "Outputs & supplies"
SPLICES = "Splices & switches"
FINDINGS_FULL = "Findings in full"
CONDUCTORS_FULL = "Conductors in full"
CONTACTS_FULL = "Contacts in full"
DEVICES_FULL = "Devices in full"
LOADS_FULL = "Loads in full"
OUTPUTS_FULL = "Outputs in full"
FAULTS = "Faults"
SHORTS = "Shorts"
OPEN_CIRCUITS = "Open circuits"
ARRANGEMENTS = "Arrangements"
POWER_AVAILABLE_TO_FAULT = "Power available to fault"
CONDITIONS = "Conditions"
RATINGS = "Ratings used"
RATINGS_FULL = "Ratings in full"
BY_HAND = "By hand"
JOINED = "Joined without a wire"
RULES = "Rules"
ASSUMPTIONS = "Assumptions"
SOURCES = "Sources"
EDITS = "Changed by hand"

IN_FULL = (CONDUCTORS_FULL, CONTACTS_FULL, DEVICES_FULL, LOADS_FULL, OUTPUTS_FULL, FINDINGS_FULL, RATINGS_FULL)
"""What stands beside the tables for review: second tables with all the rest."""

PURPOSE = {
    SUMMARY: "verdict, worst parts, open points, what was accepted, title block, signatures",
    OPEN_POINTS: "every error that is open and all that is not determined, numbered, to be assigned and closed",
    FINDINGS: "everything found, gravest first, with its remedy",
    CHARTS: "load and sustained fault current against the allowed current, and current by output",
    CONDUCTORS: "current, allowed current and protection of every conductor",
    CONTACTS: "the same for every contact",
    DEVICES: "what every protective device carries, clears and may be set to, and because of what",
    LOADS: "what every load gets, and the least and greatest it may have",
    OUTPUTS: "what every output and unit gives at most",
    SPLICES: "splices, switches and diodes against their ratings",
    CONDUCTORS_FULL: "all else about every conductor: worst case, length, resistance, drop, the tool's own run",
    CONTACTS_FULL: "all else about every contact",
    DEVICES_FULL: "all else about every device: one open circuit, prospective current, voltage, curve",
    LOADS_FULL: "all else about every load, and its current in each case",
    OUTPUTS_FULL: "all else about every output and unit, and an output's current in each case",
    FINDINGS_FULL: "where each finding is drawn, its clause or source, its value and limit",
    FAULTS: "faults that something holds continuously",
    SHORTS: "short circuits at the far end of every conductor",
    OPEN_CIRCUITS: "what one broken conductor or contact does to the others",
    ARRANGEMENTS: "arrangements of the protection side by side",
    POWER_AVAILABLE_TO_FAULT: "power that a fault could draw, for information",
    CONDITIONS: "ambient, altitude and margin: change them here",
    RATINGS: "base, factors and caps behind every allowed current",
    RATINGS_FULL: "basis, source and remarks behind every allowed current",
    RULES: "what each rule that found something means, with its formula and source",
    ASSUMPTIONS: "everything that was assumed, and what would turn under worse conditions",
    SOURCES: "every source used, with edition",
    BY_HAND: "allowed and sustained fault current of every part, as one would write it by hand",
    EDITS: "whether this workbook still holds what loadloom wrote",
}
"""Every sheet that is always there, in the order of reading, and what it is for."""

SOMETIMES = {
    CHANGES: "what changed since the results that this run was held against",
    STARTS: "what starts, inrush and stalls ask for, and what opens then",
    CONVERTERS: "what every converter takes at its input and gives at its output",
    WIRE: "lengths to order by size, insulation and colour",
    ORDER_CONTACTS: "housings and contacts to order by family",
    CONTACTS_IN_ALL: "contacts to order in the whole harness, by family and wire",
    ORDER_DEVICES: "fuses and breakers to order by rating and curve",
    SETTINGS: "what is to be set, in every arrangement",
    WIRE_LIST: "every wire with both ends and its cut length",
    LABELS: "the label of each end of each wire",
    JOINED: "parts that the drawing joins with no wire between them",
}
"""Sheets that are there only where there is something to say, and what they are for."""

SUPPLY_GAP = 3
"""Empty rows between the two tables of the sheet of outputs and supplies, the second one's title included."""


@dataclass(frozen=True)
class Places:
    """Where rows stand: ``rows`` by element id, ``units`` by name, ``findings`` the first one by subject id.

    ``full``: the second row of a conductor, contact, device, load or output, on the sheet of all else about it.
    Units stand in the same rows of both sheets of outputs.
    """

    rows: Mapping[str, tuple[str, int]]
    units: Mapping[str, int]
    findings: Mapping[str, int]
    faults: Mapping[str, int]
    full: Mapping[str, tuple[str, int]]
    allowed_a: Mapping[str, float | None]
    named: Mapping[str, str]
    """What joints are called."""

    @classmethod
    def of(cls, results: Results) -> Places:
        """The places of all rows of a results set."""
        rows: dict[str, tuple[str, int]] = {}

        def add(sheet: str, listed: tuple[Any, ...], first: int = FIRST_ROW) -> None:
            for number, row in enumerate(listed):
                rows.setdefault(row.id, (sheet, first + number))

        full: dict[str, tuple[str, int]] = {}
        add(CONDUCTORS, results.conductors)
        add(CONTACTS, results.contacts)
        in_full: tuple[tuple[str, tuple[Any, ...]], ...] = (
            (CONDUCTORS_FULL, results.conductors),
            (CONTACTS_FULL, results.contacts),
            (DEVICES_FULL, results.devices),
            (OUTPUTS_FULL, results.outputs),
            (LOADS_FULL, results.loads),
        )
        for sheet, listed in in_full:
            for number, row in enumerate(listed):
                full.setdefault(row.id, (sheet, FIRST_ROW + number))
        add(DEVICES, results.devices)
        add(OUTPUTS, results.outputs)
        first = supplies_header_row(results) + 1
        units = {row.id: first + number for number, row in enumerate(results.supplies)}
        add(LOADS, results.loads)
        add(SPLICES, (*results.splices, *results.switches))
        findings: dict[str, int] = {}
        for number, finding in enumerate(results.findings):
            findings.setdefault(finding.subject.id, FIRST_ROW + number)
        faults = {fault.id: FIRST_ROW + n for n, fault in enumerate(results.faults)}
        allowed = {row.id: row.allowed_a for row in (*results.conductors, *results.contacts)}
        return cls(rows, units, findings, faults, full, allowed, joints(results))

    def part(self, part_id: str | None) -> Content:
        """An id as a link to its row, where it has one."""
        if part_id is not None and part_id not in self.rows and part_id in self.units:
            return self.unit(part_id)
        if part_id is None or part_id not in self.rows:
            return part_id if part_id is None else subject_said(part_id, self.named)
        sheet, row = self.rows[part_id]
        return Link(part_id, sheet, row)

    def allowed(self, part_id: str | None, value: float | None, name: str) -> Content:
        """The allowed current of a conductor or contact, live, where ``value`` is the one of its own row.

        ``name``: the cell of this row that names the part.
        """
        sheet, row = self.full.get(part_id or "", ("", 0))
        letters = {CONDUCTORS_FULL: (CONDUCTORS, "F"), CONTACTS_FULL: (CONTACTS, "E")}
        if sheet not in letters or value is None or value != self.allowed_a.get(part_id or ""):
            return value
        return Formula(f"={cell_of(*letters[sheet], row, name)}", value)

    def in_full(self, part_id: str) -> Content:
        """An id as a link to its row on the sheet of all else about it."""
        sheet, row = self.full[part_id]
        return Link(part_id, sheet, row)

    def unit_in_full(self, name: str) -> Content:
        """A unit's name as a link to its row on the sheet of all else about it."""
        return Link(name, OUTPUTS_FULL, self.units[name])

    def unit(self, name: str | None) -> Content:
        """A unit's name as a link to its row; it may be the id of one of its outputs as well."""
        if name is None or name not in self.units:
            return name
        return Link(name, OUTPUTS, self.units[name])

    def fault(self, fault_id: str | None) -> Content:
        """A fault's id as a link to its row."""
        if fault_id is None or fault_id not in self.faults:
            return fault_id
        return Link(fault_id, FAULTS, self.faults[fault_id])

    def found(self, part_id: str, rules: tuple[str, ...]) -> Content:
        """What was found on a part, gravest first, as a link to the first of its findings."""
        if not rules:
            return ""
        text = rules[0] if len(rules) == 1 else f"{rules[0]} +{len(rules) - 1}"
        return Link(text, FINDINGS, self.findings[part_id]) if part_id in self.findings else text


def supplies_header_row(results: Results) -> int:
    """Header row of the supplies' table, below the outputs'."""
    return FIRST_ROW + max(len(results.outputs), 1) + SUPPLY_GAP


def chain_rows(results: Results) -> dict[str, int]:
    """Row of every part on the sheet of ratings: conductors first, then contacts."""
    return {row.id: FIRST_ROW + n for n, row in enumerate((*results.conductors, *results.contacts))}
