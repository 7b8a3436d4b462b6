"""The sheets of conductors and contacts: what flows, what is allowed, what protects; and all else about them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from openpyxl.formatting.rule import DataBarRule, FormulaRule
from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.results import ConductorRow, ContactRow, CurrentRow, JunctionRow, Results
from loadloom.reports.guards import why_unprotected
from loadloom.reports.titles import leaves_open
from loadloom.reports.workbook import style
from loadloom.reports.workbook.conditions import Conditions
from loadloom.reports.workbook.places import (
    CONDUCTORS,
    CONDUCTORS_FULL,
    CONTACTS,
    CONTACTS_FULL,
    RATINGS,
    Places,
    chain_rows,
)
from loadloom.reports.workbook.table import (
    FIRST_ROW,
    STATE,
    UNKNOWN,
    Column,
    Content,
    Formula,
    Pen,
    cell_of,
    quotient,
    ratios,
    start_sheet,
    warn_of_edits,
    write_table,
)

OVER = "▲ OVER"
HIGH = "● high"
OK = "ok"
NOT_RATED = "? not rated"
ANEW = "? solve anew"
YES, NO, OPEN = "yes", "NO", "not determined"
CHANGED = "≠ tool"
JUST_OVER = "1.000000001"
"""Above one by more than rounding, as the tool's own comparison."""
NEAR = 0.05
"""How near to its limit a part can't be judged once ambients were changed by hand: resistances, and with them
currents, are then others by a few percent. Devices and outputs hold most currents, whatever the copper does."""

NOTE = (
    "Allowed, utilisation, marks and “Protected” are live: they follow “Conditions” and “Ratings used”. Currents "
    "are not re-solved here. “–” is not known, and is not a pass. All else is on the sheet “… in full”."
)
NOTE_IN_FULL = "What the tool's run found beside the table for review; a part leads to its row there."


def write_conductors(
    sheet: Worksheet,
    pen: Pen,
    results: Results,
    places: Places,
    conditions: Conditions,
    chain: dict[str, str],
    named: Mapping[str, tuple[str, str]],
) -> dict[str, str]:
    """Write the sheet of conductors; the letters of its columns by key. ``named``: both ends of each."""
    rows = results.conductors
    start_sheet(sheet, pen, CONDUCTORS, NOTE)
    columns = [
        Column("id", "Conductor", [places.in_full(r.id) for r in rows], bold=True, width=10.5),
        Column("from", "From", [named[r.id][0] for r in rows], width=13),
        Column("to", "To", [named[r.id][1] for r in rows], width=13),
        Column("size", "Size", [r.gauge for r in rows], width=10),
        *_shared(rows, results, places, conditions, chain),
    ]
    return _finish(sheet, pen, columns, len(rows))


def write_contacts(
    sheet: Worksheet, pen: Pen, results: Results, places: Places, conditions: Conditions, chain: dict[str, str]
) -> dict[str, str]:
    """Write the sheet of contacts; the letters of its columns by key."""
    rows = results.contacts
    start_sheet(sheet, pen, CONTACTS, NOTE)
    columns = [
        Column("id", "Contact", [places.in_full(r.id) for r in rows], bold=True, width=11),
        Column("type", "Contact type", [r.contact_type for r in rows], width=18),
        Column("loaded", "Loaded positions", [r.loaded_positions for r in rows], "number", width=9),
        *_shared(rows, results, places, conditions, chain),
    ]
    return _finish(sheet, pen, columns, len(rows))


def write_conductors_in_full(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Write all else about the conductors."""
    rows = results.conductors
    start_sheet(sheet, pen, CONDUCTORS_FULL, NOTE_IN_FULL)
    columns = [
        Column("id", "Conductor", [places.part(r.id) for r in rows], bold=True, width=11),
        Column("role", "Kind", [r.role or None for r in rows], width=8),
        Column("length", "Length one way", [r.length_m for r in rows], "number", "m", scaled=False),
        Column("bundle", "Bundle", [r.bundle for r in rows], blank=True, width=9),
        *_worst(rows, results, places),
        Column("resistance", "R", [r.resistance_ohm for r in rows], "number", "Ω"),
        Column("drop", "Drop", [r.drop_v for r in rows], "number", "V"),
        Column("loss", "Loss", [r.loss_w for r in rows], "number", "W"),
        Column("temperature", "Conductor at", [r.temperature_c for r in rows], "number", "°C"),
        *_closing(rows, CONDUCTORS),
        _unprotected(rows, results),
    ]
    write_table(sheet, pen, columns)


def write_contacts_in_full(sheet: Worksheet, pen: Pen, results: Results, places: Places) -> None:
    """Write all else about the contacts."""
    rows = results.contacts
    start_sheet(sheet, pen, CONTACTS_FULL, NOTE_IN_FULL)
    columns = [
        Column("id", "Contact", [places.part(r.id) for r in rows], bold=True, width=11),
        Column("role", "Kind", [r.role or None for r in rows], width=8),
        *_worst(rows, results, places),
        Column("resistance", "R", [r.resistance_ohm for r in rows], "number", "Ω"),
        Column("loss", "Loss", [r.loss_w for r in rows], "number", "W"),
        Column("rise", "Temperature rise", [r.temperature_rise_k for r in rows], "number", "K"),
        Column("share", "Share of its parallel set, 5 % to 95 %", [_spread(r) for r in rows], width=13, blank=True),
        Column(
            "chance", "Chance of overload by spread", [r.overload_probability for r in rows], "share", blank=True
        ),
        *_closing(rows, CONTACTS),
        _unprotected(rows, results),
    ]
    write_table(sheet, pen, columns)


def _shared(
    rows: Sequence[CurrentRow], results: Results, places: Places, conditions: Conditions, chain: dict[str, str]
) -> list[Column]:
    """Columns of current, allowed current and protection."""
    chains = chain_rows(results)
    allowed: list[Content] = [
        Formula(f"={cell_of(RATINGS, chain['allowed'], chains[r.id], '{id}')}", _text_or(r.allowed_a)) for r in rows
    ]
    continuous = [_continuous(r) for r in rows]
    used = ratios("continuous", "allowed", [(_continuous(r), r.allowed_a) for r in rows])
    mark = (
        f'=IF({STATE}>2,"{ANEW}",IF(ISNUMBER({{used}}),IF({{used}}>{JUST_OVER},"{OVER}",'
        f'IF(AND({STATE}=2,{{used}}>{1 - NEAR!r}),"{ANEW}",'
        f'IF({{used}}>={conditions.cells["high"]},"{HIGH}","{OK}"))),"{NOT_RATED}"))'
    )
    sure = follows(results)
    return [
        Column("continuous", "Load current", continuous, "number", "A", scaled=False, width=8.5),
        Column("allowed", "Allowed", allowed, "number", "A", bold=True, scaled=False, width=9),
        Column("used", "Utilisation", used, "share", bold=True, width=10.5),
        Column("mark", "By load", [Formula(mark, expected_mark(r)) for r in rows], bold=True, width=11),
        Column(
            "through",
            "Sustained fault current",
            [r.sustained_fault_a for r in rows],
            "number",
            "A",
            scaled=False,
            width=10,
        ),
        Column(
            "times",
            "Fault over allowed",
            ratios("through", "allowed", [(r.sustained_fault_a, r.allowed_a) for r in rows]),
            "share",
            width=10,
        ),
        Column(
            "protected",
            "Protected",
            [_protected(r, sure, results) for r in rows],
            bold=True,
            width=12,
        ),
        Column("band", "Within band", [Formula(_BAND, in_band(r)) for r in rows], width=7),
        Column("by", "Protected by", [", ".join(r.protected_by) or None for r in rows], width=10),
        Column("findings", "Findings", [places.found(r.id, r.findings) for r in rows], width=17, blank=True),
    ]


def _protected(row: CurrentRow, sure: bool, results: Results) -> Content:
    """What is not determined stays so, whatever is changed here."""
    said = protected_mark(row)
    return OPEN if said == OPEN else Formula(protected_formula(row, sure, results), said)


def follows(results: Results) -> bool:
    """Whether a part that is not protected would be once it may carry its sustained fault current.

    Where something is left open, as a trip that is only assumed, the tool may still not say so.
    """
    return not any(leaves_open(finding.rule) for finding in results.findings)


def protected_formula(row: CurrentRow, sure: bool, results: Results) -> str:
    """Whether the part is protected, as a formula: the tool's own word while nothing was changed.

    Afterwards its sustained fault current is held against the allowed current of this sheet. A part that is over it
    within the band counts as protected only where the tool said so and no less is allowed than then.
    """
    said = protected_mark(row)
    guard = f"{{through}}*IF({STATE}=2,{1 + NEAR!r},1)"
    within = YES if said == YES or (sure and not row.protected_note) else OPEN
    beyond = f'IF({{through}}>{{allowed}}*{JUST_OVER},"{NO}","{OPEN}")'
    if isinstance(row, ConductorRow) and said == YES:
        band = results.settings.get("overload_band")
        most = float(band) if isinstance(band, int | float) else 1.45
        covered = f'"{OPEN}"'
        if in_band(row) and row.allowed_a is not None:
            covered = f'IF(AND({STATE}=1,{{allowed}}>={row.allowed_a!r}*0.999999999),"{YES}","{OPEN}")'
        beyond = f'IF({{through}}>{{allowed}}*{most!r},"{NO}",{covered})'
    known = f"AND(ISNUMBER({{allowed}}),ISNUMBER({{through}}),{STATE}<3)"
    after = f'IF({known},IF({guard}<={{allowed}}*{JUST_OVER},"{within}",{beyond}),"{OPEN}")'
    return f'=IF({STATE}=0,"{said}",{after})'


def junction_protected(row: JunctionRow, sure: bool) -> Content:
    """The same for a splice, switch or diode, which have no band and no table behind their rating."""
    said = protected_mark(row)
    within = YES if said == YES or sure else OPEN
    known = f"AND(ISNUMBER({{allowed}}),ISNUMBER({{through}}),{STATE}=1)"
    after = f'IF({{through}}<={{allowed}}*{JUST_OVER},"{within}","{NO}")'
    return OPEN if said == OPEN else Formula(f'=IF({STATE}=0,"{said}",IF({known},{after},"{OPEN}"))', said)


_BAND = f'=IF(AND({STATE}<3,{{protected}}="{YES}",ISNUMBER({{times}})),IF({{times}}>{JUST_OVER},"in band",""),"")'


def in_band(row: CurrentRow) -> str:
    """The mark of a part that is protected although more than it is allowed can flow: the device covers it."""
    times = quotient(row.sustained_fault_a, row.allowed_a)
    return "in band" if row.protected and isinstance(times, float) and times > float(JUST_OVER) else ""


def _worst(rows: Sequence[CurrentRow], results: Results, places: Places) -> list[Column]:
    """Columns of the worst cases of the load and of faults."""
    nominal = results.cases[0].id if results.cases else ""
    return [
        Column(
            "nominal", f"Current, {nominal}", [r.currents_a.get(nominal) for r in rows], "number", "A", scaled=False
        ),
        Column("worst", "Current, worst case", [r.current_a for r in rows], "number", "A", scaled=False),
        Column("case", "Worst case", [r.case for r in rows], width=11),
        Column("corner", "Corner of tolerances", [_corner(r) for r in rows], width=12),
        Column("uneven", "Uneven sharing", [r.uneven_a for r in rows], "number", "A", blank=True, scaled=False),
        Column(
            "broken", "One open circuit", [r.open_circuit_a for r in rows], "number", "A", blank=True, scaled=False
        ),
        Column("fault", "By fault", [places.fault(r.sustained_fault) for r in rows], blank=True, width=8),
        Column(
            "combined_overload",
            "Combined overload",
            [r.combined_overload_a for r in rows],
            "number",
            "A",
            scaled=False,
        ),
    ]


def _closing(rows: Sequence[CurrentRow], sheet: str) -> list[Column]:
    """The tool's own values beside those of the table for review, which may have moved."""
    changed, margin = [], []
    for n, r in enumerate(rows, FIRST_ROW):
        live = cell_of(sheet, ALLOWED_LETTER[sheet], n, "{id}")
        same = f"IF(ISNUMBER({{tool}}),ABS({live}-{{tool}})<=1E-9*ABS({{tool}}),ISNUMBER({live})=FALSE)"
        changed.append(Formula(f'=IF(IFERROR({same},FALSE),"","{CHANGED}")', ""))
        left = UNKNOWN if r.allowed_a is None or _continuous(r) is None else r.allowed_a - (_continuous(r) or 0.0)
        margin.append(Formula(f'=IF(AND(ISNUMBER({live}),ISNUMBER({{held}})),{live}-{{held}},"{UNKNOWN}")', left))
    return [
        Column("held", "Load current", [_continuous(r) for r in rows], "number", "A", scaled=False),
        Column("margin", "Margin", margin, "number", "A", scaled=False),
        Column("tool", "Allowed, tool's run", [r.allowed_a for r in rows], "number", "A", scaled=False),
        Column("tool_used", "Utilisation, tool's run", [r.utilisation for r in rows], "share"),
        Column("tool_protected", "Protected, tool's run", [protected_mark(r) for r in rows], width=12),
        Column("changed", "Changed", changed, width=9),
    ]


def _unprotected(rows: Sequence[CurrentRow], results: Results) -> Column:
    """Why a part is not protected, in the tool's run."""
    why = why_unprotected(results)
    return Column("why", "Why not protected", [why.get(r.id) for r in rows], width=34, blank=True)


ALLOWED_LETTER = {CONDUCTORS: "F", CONTACTS: "E"}
"""The column of the allowed current on the sheets for review."""


def _finish(sheet: Worksheet, pen: Pen, columns: list[Column], rows: int) -> dict[str, str]:
    letters = write_table(sheet, pen, columns)
    assert letters["allowed"] == ALLOWED_LETTER[sheet.title]
    warn_of_edits(sheet, pen)
    if rows:
        _mark_up(sheet, letters, rows)
    return letters


def _mark_up(sheet: Worksheet, letters: dict[str, str], rows: int) -> None:
    """Bars behind load and fault over allowed; marks are words in bold, so that black and white shows them too."""
    last = FIRST_ROW + rows - 1
    mark = letters["mark"]
    for letter in (letters["used"], letters["times"]):
        bar = DataBarRule("num", 0, "num", 1, color=style.BAR, showValue=True)  # type: ignore[no-untyped-call]
        sheet.conditional_formatting.add(f"{letter}{FIRST_ROW}:{letter}{last}", bar)
    loud, quiet = (style.RED, style.RED_FILL), (style.AMBER, style.AMBER_FILL)
    marks: dict[str, tuple[tuple[str, tuple[str, str]], ...]] = {
        mark: ((OVER, loud), (HIGH, quiet), (NOT_RATED, quiet), (ANEW, quiet)),
    }
    marks[letters["protected"]] = ((NO, loud), (OPEN, quiet))
    for letter, words in marks.items():
        for text, (colour, fill) in words:
            rule = FormulaRule(  # type: ignore[no-untyped-call]
                [f'{letter}{FIRST_ROW}="{text}"'],
                font=style.font(bold=True, colour=colour),
                fill=style.fill(fill),
            )
            sheet.conditional_formatting.add(f"{letter}{FIRST_ROW}:{letter}{last}", rule)
    over = FormulaRule(  # type: ignore[no-untyped-call]
        [f"AND(ISNUMBER({letters['times']}{FIRST_ROW}),{letters['times']}{FIRST_ROW}>{JUST_OVER})"],
        font=style.font(bold=True, colour=style.RED),
    )
    sheet.conditional_formatting.add(f"{letters['times']}{FIRST_ROW}:{letters['times']}{last}", over)


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
