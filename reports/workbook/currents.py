"""The sheets of conductors and contacts: what flows, what is allowed, what protects."""

from __future__ import annotations

from collections.abc import Sequence

from openpyxl.formatting.rule import DataBarRule, FormulaRule
from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.results import ContactRow, CurrentRow, JunctionRow, Results
from loadloom.reports.workbook import style
from loadloom.reports.workbook.conditions import Conditions
from loadloom.reports.workbook.places import CONDUCTORS, CONTACTS, RATINGS, Places, chain_rows
from loadloom.reports.workbook.table import (
    FIRST_ROW,
    UNKNOWN,
    Column,
    Content,
    Formula,
    Pen,
    differences,
    quotient,
    ratios,
    start_sheet,
    write_table,
)

OVER = "▲ OVER"
HIGH = "● high"
OK = "ok"
NOT_RATED = "? not rated"
CHANGED = "≠ tool"
JUST_OVER = "1.000000001"
"""Above one by more than rounding, as the tool's own comparison."""

NOTE = (
    "Allowed, used and margin are live formulas over “Ratings used” and “Conditions”; currents are not re-solved "
    "here. “–” is not known, and is not a pass."
)


def write_conductors(
    sheet: Worksheet, pen: Pen, results: Results, places: Places, conditions: Conditions, chain: dict[str, str]
) -> dict[str, str]:
    """Write the sheet of conductors; the letters of its columns by key."""
    rows = results.conductors
    start_sheet(sheet, pen, CONDUCTORS, NOTE)
    columns = [
        Column("id", "Conductor", [r.id for r in rows], bold=True),
        Column("from", "From", [places.part(r.from_id) for r in rows]),
        Column("to", "To", [places.part(r.to_id) for r in rows]),
        Column("role", "Kind", [r.role or None for r in rows]),
        Column("size", "Size", [r.gauge for r in rows]),
        Column("length", "Length one way", [r.length_m for r in rows], "number", "m", scaled=False),
        Column("bundle", "Bundle", [r.bundle for r in rows], blank=True),
        *_shared(rows, results, places, conditions, chain),
        Column("resistance", "R", [r.resistance_ohm for r in rows], "number", "Ω"),
        Column("drop", "Drop", [r.drop_v for r in rows], "number", "V"),
        Column("loss", "Loss", [r.loss_w for r in rows], "number", "W"),
        Column("temperature", "Conductor at", [r.temperature_c for r in rows], "number", "°C"),
        *_closing(rows, places, chain),
    ]
    return _finish(sheet, pen, columns, len(rows))


def write_contacts(
    sheet: Worksheet, pen: Pen, results: Results, places: Places, conditions: Conditions, chain: dict[str, str]
) -> dict[str, str]:
    """Write the sheet of contacts; the letters of its columns by key."""
    rows = results.contacts
    start_sheet(sheet, pen, CONTACTS, NOTE)
    columns = [
        Column("id", "Contact", [r.id for r in rows], bold=True),
        Column("connector", "Connector", [r.connector for r in rows]),
        Column("position", "Position", [r.pin for r in rows]),
        Column("type", "Contact type", [r.contact_type for r in rows], width=18),
        Column("loaded", "Loaded positions", [r.loaded_positions for r in rows], "number"),
        Column("role", "Kind", [r.role or None for r in rows]),
        *_shared(rows, results, places, conditions, chain),
        Column("resistance", "R", [r.resistance_ohm for r in rows], "number", "Ω"),
        Column("loss", "Loss", [r.loss_w for r in rows], "number", "W"),
        Column("rise", "Temperature rise", [r.temperature_rise_k for r in rows], "number", "K"),
        Column("share", "Share of its parallel set, 5 % to 95 %", [_spread(r) for r in rows], width=15, blank=True),
        Column(
            "chance", "Chance of overload by spread", [r.overload_probability for r in rows], "share", blank=True
        ),
        *_closing(rows, places, chain),
    ]
    return _finish(sheet, pen, columns, len(rows))


def _shared(
    rows: Sequence[CurrentRow], results: Results, places: Places, conditions: Conditions, chain: dict[str, str]
) -> list[Column]:
    """Columns of current, allowed current and protection."""
    nominal = results.cases[0].id if results.cases else ""
    chains = chain_rows(results)
    allowed: list[Content] = [
        Formula(f"='{RATINGS}'!{chain['allowed']}{chains[r.id]}", _text_or(r.allowed_a)) for r in rows
    ]
    continuous = [_continuous(r) for r in rows]
    used = ratios("continuous", "allowed", [(_continuous(r), r.allowed_a) for r in rows])
    margin = differences("allowed", "continuous", [(r.allowed_a, _continuous(r)) for r in rows])
    mark = (
        f'=IF(ISNUMBER({{used}}),IF({{used}}>{JUST_OVER},"{OVER}",IF({{used}}>={conditions.cells["high"]},"{HIGH}",'
        f'"{OK}")),"{NOT_RATED}")'
    )
    return [
        Column(
            "nominal", f"Current, {nominal}", [r.currents_a.get(nominal) for r in rows], "number", "A", scaled=False
        ),
        Column("worst", "Current, worst case", [r.current_a for r in rows], "number", "A", scaled=False),
        Column("case", "Worst case", [r.case for r in rows], width=12),
        Column("corner", "Corner of tolerances", [_corner(r) for r in rows], width=16),
        Column("continuous", "Continuous current", continuous, "number", "A", scaled=False),
        Column("uneven", "Uneven sharing", [r.uneven_a for r in rows], "number", "A", blank=True, scaled=False),
        Column(
            "broken", "One open circuit", [r.open_circuit_a for r in rows], "number", "A", blank=True, scaled=False
        ),
        Column("allowed", "Allowed", allowed, "number", "A", bold=True, scaled=False),
        Column("used", "Utilisation", used, "share", bold=True, width=10),
        Column("mark", "By load", [Formula(mark, expected_mark(r)) for r in rows], bold=True, width=11),
        Column("margin", "Margin", margin, "number", "A", scaled=False),
        Column(
            "through", "Sustained fault current", [r.sustained_fault_a for r in rows], "number", "A", scaled=False
        ),
        Column(
            "times",
            "Sustained fault current over allowed",
            ratios("through", "allowed", [(r.sustained_fault_a, r.allowed_a) for r in rows]),
            "share",
        ),
        Column("fault", "By fault", [places.fault(r.sustained_fault) for r in rows], blank=True),
        Column(
            "combined_overload",
            "Combined overload current",
            [r.combined_overload_a for r in rows],
            "number",
            "A",
            scaled=False,
        ),
        Column("protected", "Protected", [protected_mark(r) for r in rows], width=11),
        Column("by", "Protected by", [", ".join(r.protected_by) or None for r in rows], width=14),
    ]


def _closing(rows: Sequence[CurrentRow], places: Places, chain: dict[str, str]) -> list[Column]:
    """The tool's own values and the findings."""
    changed = (
        f'=IF(AND(ISNUMBER({{allowed}}),ISNUMBER({{tool}})),IF(ABS({{allowed}}-{{tool}})<=1E-9*ABS({{tool}}),"","{CHANGED}"),'
        f'IF(ISNUMBER({{allowed}}),"{CHANGED}",""))'
    )
    return [
        Column("tool", "Allowed, tool's run", [r.allowed_a for r in rows], "number", "A", scaled=False),
        Column("tool_used", "Utilisation, tool's run", [r.utilisation for r in rows], "share"),
        Column("changed", "Changed here", [Formula(changed, "") for _ in rows], width=9),
        Column("findings", "Findings", [places.found(r.id, r.findings) for r in rows], width=26, blank=True),
    ]


def _finish(sheet: Worksheet, pen: Pen, columns: list[Column], rows: int) -> dict[str, str]:
    letters = write_table(sheet, pen, columns)
    if rows:
        _mark_up(sheet, letters, rows)
    return letters


def _mark_up(sheet: Worksheet, letters: dict[str, str], rows: int) -> None:
    """Bars behind the utilisation; marks are words in bold, so that black and white shows them too."""
    last = FIRST_ROW + rows - 1
    used, mark = letters["used"], letters["mark"]
    bar = DataBarRule("num", 0, "num", 1, color=style.BAR, showValue=True)  # type: ignore[no-untyped-call]
    sheet.conditional_formatting.add(f"{used}{FIRST_ROW}:{used}{last}", bar)
    loud, quiet = (style.RED, style.RED_FILL), (style.AMBER, style.AMBER_FILL)
    marks: dict[str, tuple[tuple[str, tuple[str, str]], ...]] = {
        mark: ((OVER, loud), (HIGH, quiet), (NOT_RATED, quiet)),
    }
    marks[letters["protected"]] = (("NO", loud), ("not determined", quiet))
    for letter, words in marks.items():
        for text, (colour, fill) in words:
            rule = FormulaRule(  # type: ignore[no-untyped-call]
                [f'{letter}{FIRST_ROW}="{text}"'],
                font=style.font(bold=True, colour=colour),
                fill=style.fill(fill),
            )
            sheet.conditional_formatting.add(f"{letter}{FIRST_ROW}:{letter}{last}", rule)


def expected_mark(row: CurrentRow) -> str:
    """The mark that the sheet shows at the tool's own values."""
    used = quotient(_continuous(row), row.allowed_a)
    if not isinstance(used, float):
        return NOT_RATED
    return OVER if used > float(JUST_OVER) else HIGH if used >= 0.8 else OK


def _corner(row: CurrentRow) -> str | None:
    """The corner of the tolerances, with a mark where the current is a bound."""
    return f"{row.corner}, bound" if row.is_bound else row.corner


def _continuous(row: CurrentRow) -> float | None:
    """The current held against the rating."""
    return row.continuous_a if row.continuous_a is not None else row.current_a


def _text_or(value: float | None) -> float | str:
    return UNKNOWN if value is None else value


def protected_mark(row: CurrentRow | JunctionRow) -> str:
    """Whether nothing can hold more on the part than it is allowed; what is not determined is no yes."""
    return {True: "yes", False: "NO", None: "not determined"}[row.protected]


def _spread(row: ContactRow) -> str | None:
    if row.share_p05 is None or row.share_p95 is None:
        return None
    return f"{100 * row.share_p05:.3g} to {100 * row.share_p95:.3g} %"
