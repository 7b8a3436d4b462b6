"""Where everything stands in the workbook: sheets by name, rows by id, so that links can be made both ways."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from loadloom.graph.results import Results
from loadloom.reports.workbook.table import FIRST_ROW, Content, Link

SUMMARY = "Summary"
FINDINGS = "Findings"
CONDITIONS = "Conditions"
OUTPUTS = "Outputs & supplies"
LOADS = "Loads"
CONDUCTORS = "Conductors"
CONTACTS = "Contacts"
DEVICES = "Devices"
SPLICES = "Splices & switches"
OPEN_CIRCUITS = "Open circuits"
FAULTS = "Faults"
SHORTS = "Shorts"
ARRANGEMENTS = "Arrangements"
POWER_AVAILABLE_TO_FAULT = "Power available to fault"
RATINGS = "Ratings used"
BY_HAND = "By hand"
SOURCES = "Sources"
ASSUMPTIONS = "Assumptions & open points"
CHARTS = "Charts"

PURPOSE = {
    SUMMARY: "title block, verdict, signatures, change record, cautions",
    FINDINGS: "everything found, gravest first, with what would mend it",
    CONDITIONS: "ambient, altitude and margin: change them here",
    OUTPUTS: "what every output and unit gives, state by state",
    LOADS: "what every load gets, state by state",
    CONDUCTORS: "current, allowed current and protection of every conductor",
    CONTACTS: "the same for every contact",
    DEVICES: "what every protective device carries, clears and may be set to",
    SPLICES: "splices, switches and diodes against their ratings",
    OPEN_CIRCUITS: "what one broken conductor or contact does to the others",
    FAULTS: "faults that something holds continuously",
    SHORTS: "short circuits at the far end of every conductor",
    ARRANGEMENTS: "arrangements of the protection side by side",
    POWER_AVAILABLE_TO_FAULT: "power that a fault could draw, for information",
    RATINGS: "base, factors and caps behind every allowed current",
    BY_HAND: "allowed and sustained fault current of every part, as one would write it by hand",
    SOURCES: "every source used, with edition",
    ASSUMPTIONS: "what was assumed and what is still open",
    CHARTS: "utilisation, and current by output",
}
"""Every sheet in its order, and what it is for."""

SUPPLY_GAP = 3
"""Empty rows between the two tables of the sheet of outputs and supplies, the second one's title included."""


@dataclass(frozen=True)
class Places:
    """Where rows stand: ``rows`` by element id, ``units`` by name, ``findings`` the first one by subject id."""

    rows: Mapping[str, tuple[str, int]]
    units: Mapping[str, int]
    findings: Mapping[str, int]
    faults: Mapping[str, int]

    @classmethod
    def of(cls, results: Results) -> Places:
        """The places of all rows of a results set."""
        rows: dict[str, tuple[str, int]] = {}

        def add(sheet: str, listed: tuple[Any, ...], first: int = FIRST_ROW) -> None:
            for number, row in enumerate(listed):
                rows.setdefault(row.id, (sheet, first + number))

        add(CONDUCTORS, results.conductors)
        add(CONTACTS, results.contacts)
        add(DEVICES, results.devices)
        add(OUTPUTS, results.outputs)
        first = supplies_header_row(results) + 1
        units = {row.id: first + number for number, row in enumerate(results.supplies)}
        add(LOADS, results.loads)
        add(SPLICES, (*results.splices, *results.switches))
        findings: dict[str, int] = {}
        for number, finding in enumerate(results.findings):
            findings.setdefault(finding.subject.id, FIRST_ROW + number)
        return cls(rows, units, findings, {fault.id: FIRST_ROW + n for n, fault in enumerate(results.faults)})

    def part(self, part_id: str | None) -> Content:
        """An id as a link to its row, where it has one."""
        if part_id is not None and part_id not in self.rows and part_id in self.units:
            return self.unit(part_id)
        if part_id is None or part_id not in self.rows:
            return part_id
        sheet, row = self.rows[part_id]
        return Link(part_id, sheet, row)

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
        text = rules[0] if len(rules) == 1 else f"{rules[0]} and {len(rules) - 1} more"
        return Link(text, FINDINGS, self.findings[part_id]) if part_id in self.findings else text


def supplies_header_row(results: Results) -> int:
    """Header row of the supplies' table, below the outputs'."""
    return FIRST_ROW + max(len(results.outputs), 1) + SUPPLY_GAP


def chain_rows(results: Results) -> dict[str, int]:
    """Row of every part on the sheet of ratings: conductors first, then contacts."""
    return {row.id: FIRST_ROW + n for n, row in enumerate((*results.conductors, *results.contacts))}
