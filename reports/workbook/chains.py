"""The sheet of ratings: base, factors and caps of every part, and the allowed current as a formula."""

from __future__ import annotations

import math
from dataclasses import dataclass

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.results import ConductorRow, ContactRow, Factor, FactorFormula, Rating, Results
from loadloom.graph.ratings.status_words import checked_words
from loadloom.reports.workbook.conditions import WARMER, Conditions, first_factor
from loadloom.reports.workbook.places import RATINGS, RATINGS_FULL, Places
from loadloom.reports.workbook.table import (
    FIRST_ROW,
    UNKNOWN,
    Column,
    Content,
    Edit,
    Formula,
    Link,
    Pen,
    start_sheet,
    warn_of_edits,
    write_table,
)

NOTE = (
    "Allowed = base × factors, at most the cap. Grey cells are live formulas, yellow ones may be changed (see "
    "Conditions). Currents are not re-solved. “–” is not known, and is not a pass."
)
EQUAL = 1e-9
_COUNTED = ("bundle", "positions")


@dataclass(frozen=True, slots=True)
class Chain:
    """One part's rating as cells."""

    base: Content
    ambient: Content
    ambient_factor: Content
    count: Content
    count_factor: Content
    altitude_factor: Content
    other_factor: Content
    margin_factor: Content
    cap: Content
    allowed: Content
    remark: str


def factor_formula(formula: FactorFormula, cell: str, least: float | None = None) -> str:
    """A factor's formula over a cell, as a spreadsheet expression without the equals sign.

    ``FactorFormula.at`` is the definition; where it says nothing, or the cell holds no number or less than
    ``least``, the cell shows ``#N/A``.
    """
    text = _unbounded(formula, cell)
    bounded = f"MIN({formula.greatest!r},{text})" if formula.greatest is not None else text
    sound = f"ISNUMBER({cell})" if least is None else f"IF(ISNUMBER({cell}),{cell}>={least!r},FALSE)"
    return f"IF({sound},{bounded},NA())"


def _unbounded(formula: FactorFormula, cell: str) -> str:
    if formula.kind == "temperature":
        limit, base = formula.limit, formula.base
        return f"IF({cell}<{limit!r},SQRT(({limit!r}-{cell})/({limit!r}-{base!r})),0)"
    text = "NA()"
    if formula.kind == "steps":
        for most, factor in reversed(formula.points):
            text = f"IF({cell}<={most!r},{factor!r},{text})"
        return text
    for (x0, y0), (x1, y1) in reversed(list(zip(formula.points, formula.points[1:], strict=False))):
        text = f"IF({cell}<={x1!r},{y0!r}+({y1 - y0!r})*({cell}-{x0!r})/{x1 - x0!r},{text})"
    return f"IF({cell}<{formula.points[0][0]!r},NA(),{text})" if formula.points else "NA()"


def chain(row: ConductorRow | ContactRow, conditions: Conditions) -> Chain:
    """A part's rating as cells; what the chain does not explain stays a plain value and says so."""
    rating = row.rating
    if rating is None:
        known = row.allowed_a is not None
        remark = "allowed current as given, no chain" if known else "not rated"
        base = None if row.allowed_a is None else _held(row.allowed_a)
        return Chain(base, *(None,) * 8, Formula(_allowed(("base",) if known else ()), row.allowed_a), remark)
    factors = rating.factors
    ambient = first_factor(factors, ("ambient",))
    count = first_factor(factors, _COUNTED)
    altitude = first_factor(factors, ("altitude",))
    margin = first_factor(factors, ("margin",))
    others = [f for f in factors if all(f is not taken for taken in (ambient, count, altitude, margin))]
    other = math.prod(f.factor for f in others) if others else None
    cap_a = min((cap.limit_a for cap in rating.caps), default=None)
    zone_cell = conditions.cell(("ambient", row.zone), ambient.input_value if ambient else None)
    ambient_cell: Content = ambient.input_value if ambient else None
    if zone_cell and ambient:
        ambient_cell = Formula(f"={zone_cell}", ambient.input_value)
    elif ambient and (shifted := conditions.shifted(("ambient", row.zone), ambient.input_value)):
        ambient_cell = Formula(f"={shifted}", ambient.input_value)
    links = {
        "base": rating.base_a,
        "ambient_factor": ambient,
        "count_factor": count,
        "altitude_factor": altitude,
        "other_factor": other,
        "margin_factor": margin,
        "cap": cap_a,
    }
    present = tuple(name for name, link in links.items() if link is not None)
    return Chain(
        base=rating.base_a,
        ambient=ambient_cell,
        ambient_factor=_factor(ambient, "{ambient}"),
        count=count.input_value if count else None,
        count_factor=_factor(count, "{count}", 1.0),
        altitude_factor=_factor(altitude, conditions.cell("altitude", altitude.input_value if altitude else None)),
        other_factor=other,
        margin_factor=_margin(margin, conditions),
        cap=cap_a,
        allowed=_allowed_content(rating, cap_a, present),
        remark=_remark(rating, others),
    )


def _allowed_content(rating: Rating, cap_a: float | None, present: tuple[str, ...]) -> Content:
    """The allowed current as a formula where the chain gives the tool's value, else the value itself, which holds
    for the tool's own conditions only."""
    if rating.allowed_a is None:
        blank = rating.base_a is None and cap_a is None
        return Formula(_allowed(()), None) if blank else None
    only_cap = rating.base_a is None
    product = math.inf if only_cap else (rating.base_a or 0.0) * math.prod(f.factor for f in rating.factors)
    computed = min(product, math.inf if cap_a is None else cap_a)
    if abs(computed - rating.allowed_a) > EQUAL * abs(rating.allowed_a):
        return _held(rating.allowed_a)
    return Formula(_allowed(("cap",) if only_cap else present), rating.allowed_a)


def _held(value: float) -> Formula:
    """A value that no formula here gives: it says nothing once ambient or altitude are others."""
    return Formula(f'=IF({WARMER}=0,{value!r},"{UNKNOWN}")', value)


_PRODUCT = "PRODUCT({base},{ambient_factor},{count_factor},{altitude_factor},{other_factor},{margin_factor})"


def _allowed(present: tuple[str, ...]) -> str:
    """The allowed current over the cells of a chain; every link that was there must still be a number.

    A product passes over texts and empty cells, which would leave a factor out without a word.
    """
    if present == ("cap",):
        value = f"MIN(IF(ISNUMBER({{base}}),{_PRODUCT},{{cap}}),{{cap}})"
    else:
        value = f"MIN({_PRODUCT},{{cap}})"
    sound = ",".join(f"ISNUMBER({{{name}}})" for name in present or ("base",))
    return f'=IF(AND({sound}),IFERROR({value},"{UNKNOWN}"),"{UNKNOWN}")'


def _factor(factor: Factor | None, cell: str | None, least: float | None = None) -> Content:
    if factor is None:
        return None
    formula = factor.formula
    if cell is None or factor.input_value is None:
        return factor.factor
    at_input = formula.at(factor.input_value) if formula is not None else None
    if formula is None or at_input is None or abs(at_input - factor.factor) > EQUAL * abs(factor.factor):
        return Formula(f"=IF({cell}={factor.input_value!r},{factor.factor!r},NA())", factor.factor)
    return Formula(f"={factor_formula(formula, cell, least)}", factor.factor)


def _margin(margin: Factor | None, conditions: Conditions) -> Content:
    if margin is None:
        return None
    held = conditions.values.get("margin")
    if held is None or abs((1.0 - held) - margin.factor) > 1e-12:
        return margin.factor
    cell = conditions.cells["margin"]
    return Formula(f"=IF(ISNUMBER({cell}),IF(AND({cell}>=0,{cell}<1),1-{cell},NA()),NA())", margin.factor)


def _remark(rating: Rating, others: list[Factor]) -> str:
    parts = []
    if rating.missing:
        parts.append(f"not rated: {rating.missing}")
    if rating.estimate:
        parts.append("estimate")
    parts += [f"{f.kind} {f.factor:.3g} ({f.reason})" for f in others]
    parts += [f"cap {cap.limit_a:.3g} A: {cap.reason}" for cap in rating.caps]
    parts += [f"no formula for {f.kind}" for f in rating.factors if f.kind == "ambient" and f.formula is None]
    parts += list(rating.assumptions)
    return "; ".join(parts)


def write(sheet: Worksheet, pen: Pen, results: Results, places: Places, conditions: Conditions) -> dict[str, str]:
    """Write the sheet; the letters of its columns by key."""
    start_sheet(sheet, pen, RATINGS, NOTE)
    warn_of_edits(sheet, pen)
    rows: tuple[ConductorRow | ContactRow, ...] = (*results.conductors, *results.contacts)
    chains = [chain(row, conditions) for row in rows]
    columns = [
        Column("id", "Part", [Link(row.id, RATINGS_FULL, FIRST_ROW + n) for n, row in enumerate(rows)]),
        Column("size", "Size or contact type", [_size(row) for row in rows], width=15),
        Column("zone", "Zone", [row.zone for row in rows], blank=True),
        *_links(chains),
    ]
    return write_table(sheet, pen, columns)


def write_in_full(sheet: Worksheet, pen: Pen, results: Results, places: Places, conditions: Conditions) -> None:
    """Write all else about the ratings: what they rest on."""
    start_sheet(sheet, pen, RATINGS_FULL, "What the ratings rest on; a part leads to its row in the load table.")
    rows: tuple[ConductorRow | ContactRow, ...] = (*results.conductors, *results.contacts)
    ratings = [row.rating for row in rows]
    columns = [
        Column("id", "Part", [places.part(row.id) for row in rows]),
        Column(
            "kind", "Kind", ["conductor" if isinstance(row, ConductorRow) else "contact" for row in rows], width=10
        ),
        Column(
            "insulation", "Insulation", [getattr(row, "insulation", None) for row in rows], blank=True, width=14
        ),
        Column("basis", "Basis", [r.basis if r else None for r in ratings], width=17),
        Column(
            "tool", "Allowed, tool's run", [row.allowed_a for row in rows], "number", "A", scaled=False, width=10
        ),
        Column("status", "Checked against", [_status(r) for r in ratings], width=34, blank=True),
        Column("source", "Source", [r.source if r else None for r in ratings], width=34),
        Column("remark", "Remark", [chain(row, conditions).remark for row in rows], width=30, blank=True),
    ]
    write_table(sheet, pen, columns)


def _links(chains: list[Chain]) -> list[Column]:
    """The columns of the chains: everything that a reader may change, and what follows from it."""
    rating, ambient = Edit.RATING, Edit.AMBIENT
    return [
        Column("base", "Base current", [c.base for c in chains], "number", "A", "input", scaled=False, edit=rating),
        Column(
            "ambient",
            "Ambient",
            [c.ambient for c in chains],
            "number",
            "°C",
            "input",
            blank=True,
            scaled=False,
            edit=ambient,
        ),
        Column(
            "ambient_factor",
            "Ambient factor",
            [c.ambient_factor for c in chains],
            "number",
            blank=True,
            edit=ambient,
        ),
        Column(
            "count",
            "Loaded together",
            [c.count for c in chains],
            "number",
            look="input",
            blank=True,
            edit=rating,
        ),
        Column(
            "count_factor",
            "Bundle or position factor",
            [c.count_factor for c in chains],
            "number",
            blank=True,
            edit=rating,
        ),
        Column(
            "altitude_factor",
            "Altitude factor",
            [c.altitude_factor for c in chains],
            "number",
            blank=True,
            edit=ambient,
        ),
        Column(
            "other_factor", "Other factors", [c.other_factor for c in chains], "number", blank=True, edit=rating
        ),
        Column(
            "margin_factor", "Margin factor", [c.margin_factor for c in chains], "number", blank=True, edit=rating
        ),
        Column(
            "cap", "Cap", [c.cap for c in chains], "number", "A", "input", blank=True, scaled=False, edit=rating
        ),
        Column(
            "allowed", "Allowed", [c.allowed for c in chains], "number", "A", bold=True, scaled=False, edit=rating
        ),
    ]


def _size(row: ConductorRow | ContactRow) -> str | None:
    return row.gauge if isinstance(row, ConductorRow) else row.contact_type


def _status(rating: Rating | None) -> str | None:
    if rating is None:
        return None
    return checked_words(rating.status, check_edition=rating.check_edition) or None
