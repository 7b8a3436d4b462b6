"""The cover note of page and workbook: the worst part, why, what to change, the settings, and what to order.

Five lines in plain English, each the one answer to one question; the tables behind them have all the rest.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.naming import all_of, some_of
from loadloom.graph.model.results import ConductorRow, ContactRow, CurrentRow, JunctionRow, Results
from loadloom.reports.do_this import Step, steps
from loadloom.reports.numbers import of_allowed, quantity
from loadloom.reports.open_points import copper, open_points, worst_rows
from loadloom.reports.order_list import TO_ORDER, WIRE, OrderList
from loadloom.reports.setting_words import LIMITER, SettingLine, setting_lines

SETTINGS, WIRE_TO_ORDER = "settings", "wire"
"""What a line leads to, where that is no part."""
_ALIKE = 4
"""How many parts are named that are as badly off as the worst; more are counted."""
EACH_TOLD = 6
"""Up to so many channels or fuses are told one by one."""
_STANDS = {
    "inside": "within {their} range",
    "too low": "too low to carry {their} load",
    "too high": "too high to protect what is behind",
    "no range": "no setting both carries the load and protects what is behind",
    "not active": "not active, so that {they} never {open}",
    "not determined": "range not determined",
    "not set": "not stated",
}


@dataclass(frozen=True, slots=True)
class CoverLine:
    """One line: what it answers, and the answers, numbered where there are several.

    Settings have one for each part. ``to``: what it leads to, a part by its id, ``SETTINGS`` or ``WIRE_TO_ORDER``;
    empty: nothing.
    """

    head: str
    texts: tuple[str, ...]
    to: str = ""


def cover_note(results: Results, order: OrderList | None = None) -> tuple[CoverLine, ...]:
    """The lines; none where the harness has nothing that is rated."""
    part, errs = _worst(results)
    lines: list[CoverLine] = []
    if part is not None:
        row = next((row for row in copper(results) if row.id == part), None)
        found = steps(results).get(part) or ((Step(_holds(row), "Nothing."),) if row is not None else ())
        lines += [
            CoverLine(
                "Worst part" if errs else "Nearest to its limit",
                (f"{_named(part, row)}{_alike(part, results)}",),
                part,
            ),
            CoverLine("Why", tuple(step.why for step in found)),
            CoverLine("What to change", tuple(step.do for step in found)),
        ]
    settings = _settings(setting_lines(results))
    if settings:
        lines.append(CoverLine("Settings", settings, SETTINGS))
    if order is not None and (wire := _wire(order, results.verdict)):
        lines.append(CoverLine("Wire to order", (wire,), WIRE_TO_ORDER))
    return tuple(lines)


def part_words(row: object) -> str:
    """What a conductor, contact, splice or switch is, in a few words."""
    if isinstance(row, ConductorRow):
        length = quantity(row.length_m, "m") if row.length_m is not None else None
        return ", ".join(filter(None, (f"{row.role} conductor", row.gauge, length)))
    if isinstance(row, ContactRow):
        return ", ".join(filter(None, (f"{row.role} contact", row.contact_type)))
    return str(getattr(row, "kind", "splice"))


def _worst(results: Results) -> tuple[str | None, bool]:
    """The part that the open points begin with, or the one nearest to its limit; and whether it is an error."""
    point = next((point for point in open_points(results) if point.kind == "error"), None)
    if point is not None:
        return point.part, True
    worst = worst_rows(results, 1)
    return (worst[0][0] if worst else None), False


def _named(part: str, row: CurrentRow | JunctionRow | None) -> str:
    if row is None:
        return f"{part.removeprefix('@')}."
    fault = row.sustained_fault_a / row.allowed_a if row.sustained_fault_a is not None and row.allowed_a else None
    shares = [share for share in (row.utilisation, fault) if share is not None]
    named = f"{part}, {part_words(row)}"
    if not shares:
        return f"{named}."
    most = f"{of_allowed(max(shares))} its allowed current".replace(" × its", " times its").replace(
        " % its", " % of its"
    )
    by_fault = fault is not None and fault > (row.utilisation or 0.0)
    return f"{named}: a fault can hold {most} on it." if by_fault else f"{named}: carries {most}."


def _alike(part: str, results: Results) -> str:
    """The parts that are as badly off as the worst one, by the same figure."""
    rows = worst_rows(results, len(copper(results)))
    mine = next(((share, by) for name, share, by in rows if name == part), None)
    if mine is None:
        return ""
    same = [
        name
        for name, share, by in rows
        if name != part and (of_allowed(share), by) == (of_allowed(mine[0]), mine[1])
    ]
    if not same:
        return ""
    return f" The same holds for {some_of(same, _ALIKE) if len(same) > _ALIKE else all_of(same)}."


def _holds(row: CurrentRow | JunctionRow) -> str:
    """Why a part on which nothing was found is within what it may carry."""
    fault = row.sustained_fault_a
    if fault is None or row.protected is not True:
        return "Nothing was found on it."
    by = ", ".join(row.protected_by) if isinstance(row, CurrentRow) else ""
    since = f", since {by} lets no more pass without opening" if by else ""
    most, allowed = quantity(fault, "A"), quantity(row.allowed_a, "A")
    return f"A fault can hold at most {most} on it{since}; it is allowed {allowed}."


def _settings(lines: tuple[SettingLine, ...]) -> tuple[str, ...]:
    """Channels where there are any, else fuses: each with its range, or many by where they stand, gravest first."""
    channels = [line for line in lines if line.kind == LIMITER]
    told = channels or [line for line in lines if line.kind != "output"]
    if len(told) <= EACH_TOLD:
        return tuple(_setting(line) for line in told)
    by: dict[str, list[str]] = defaultdict(list)
    for line in told:
        by[line.stands].append(line.id)
    grave = ("no range", "too high", "too low", "not active", "not determined", "not set", "inside")
    said = []
    for stands in sorted(by, key=lambda s: grave.index(s) if s in grave else len(grave)):
        several = len(by[stands]) > 1
        grammar = ("their", "they", "open") if several else ("its", "it", "opens")
        words = _STANDS.get(stands, stands).format(**dict(zip(("their", "they", "open"), grammar, strict=True)))
        said.append(f"{all_of(by[stands])}: {words}")
    return (f"{'; '.join(said)}.",)


def _setting(line: SettingLine) -> str:
    """``FU2 (40 A): too high; may be 15.7 to 21.1 A.``"""
    said = line.range.replace("does both: ", "does both, ")
    if line.stands in ("inside", "too low", "too high"):
        range_words = line.range if line.range.startswith("from ") else f"may be {line.range}"
        said = f"{line.stands}{' its range' if line.stands == 'inside' else ''}; {range_words}"
    return f"{line.id} ({line.set_to}): {said}."


def _wire(order: OrderList, verdict: Verdict) -> str:
    """How much of each size, allowance included."""
    table = next((table for table in order.tables if table.name == WIRE), None)
    if table is None or not table.rows:
        return ""
    lengths = next(column.values for column in table.columns if column.title == TO_ORDER)
    sizes: dict[str, float] = defaultdict(float)
    for size, length_m in zip(table.columns[0].values, lengths, strict=True):
        if isinstance(length_m, float | int):
            sizes[str(size)] += length_m
    said = [f"{size}: {length_m:.2f} m" for size, length_m in sizes.items()]
    as_drawn = "" if verdict is Verdict.PASS else " Sizes as drawn: mending what is open may change them."
    return f"{'; '.join(said)}. Feeds and returns are both counted.{as_drawn}" if said else ""
