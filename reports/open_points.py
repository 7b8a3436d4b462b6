"""What a review has to close: every open error, and everything that is not determined, numbered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from loadloom.graph.model.findings import Severity
from loadloom.graph.model.results import CurrentRow, JunctionRow, Results
from loadloom.reports.numbers import NOISE, quantity
from loadloom.reports.titles import leaves_open, title


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """One point: its number, the part that it is about, what kind it is, and what is to be done about it.

    ``rule`` is that of its finding (None = it comes from a row). ``owner``, ``due`` (ISO 8601) and ``state`` are
    what a person wrote; owner and due are empty where nobody did.
    """

    number: int
    part: str
    kind: str
    rule: str | None
    text: str
    owner: str = ""
    due: str = ""
    state: str = "open"


def open_points(results: Results) -> tuple[OpenPoint, ...]:
    """All points, errors first, in the order of the worst parts; each part's cause once."""
    found = dict.fromkeys((*_errors(results), *_not_determined(results)))
    return tuple(_assigned(OpenPoint(number, *point), results) for number, point in enumerate(found, 1))


def _assigned(point: OpenPoint, results: Results) -> OpenPoint:
    """The point with what a person wrote; an entry for its rule stands before one for its whole part."""
    entries = [entry for entry in results.assigned if entry.part == point.part]
    for rule in dict.fromkeys((point.rule, None)):
        for entry in entries:
            if entry.rule == rule:
                due = entry.due.isoformat() if entry.due else ""
                return replace(point, owner=entry.owner, due=due, state=entry.state or point.state)
    return point


def carried_over(results: Results, old: Results) -> Results:
    """The results with what the last revision said of open points; what the settings say now stands before it."""
    said = {(entry.part, entry.rule) for entry in results.assigned}
    kept = tuple(entry for entry in old.assigned if (entry.part, entry.rule) not in said)
    return replace(results, assigned=(*results.assigned, *kept))


_Point = tuple[str, str, str | None, str]


def _errors(results: Results) -> Iterator[_Point]:
    """Open errors, those of one part together, in the order in which the first page names the worst parts.

    A part that nothing is rated on, or that is within its rating, comes by how far its gravest error is over.
    """
    found = [f for f in results.findings if f.severity is Severity.ERROR and f.accepted is None]
    failing = {row.id for row in copper(results) if _fails(row)}
    over = {part: times for part, times, _ in worst_rows(results, len(failing)) if part in failing}
    others: dict[str, float] = {}
    for f in found:
        if f.subject.id not in over:
            others[f.subject.id] = max(f.times_over, others.get(f.subject.id, 0.0))
    over |= others
    rank = {part: number for number, part in enumerate(sorted(over, key=lambda part: -over[part]))}
    for f in sorted(found, key=lambda f: rank[f.subject.id]):
        yield f.subject.id, "error", f.rule, f"{f.message} {f.remedy}".strip()


def _not_determined(results: Results) -> Iterator[_Point]:
    kind = "not determined"
    for f in results.findings:
        if leaves_open(f.rule) and not (f.severity is Severity.ERROR and f.accepted is None):
            yield f.subject.id, kind, f.rule, f"{f.message} {f.remedy}".strip()
    for name, rows in (("conductor", results.conductors), ("contact", results.contacts)):
        for row in rows:
            if row.allowed_a is None:
                why = row.rating.missing if row.rating and row.rating.missing else "no rating"
                yield row.id, kind, None, f"{name.capitalize()} {row.id} is not rated: {why}."
            elif row.protected is None:
                why = row.protected_note or "no reason is stated"
                yield row.id, kind, None, f"Whether {name} {row.id} is protected is not determined: {why}."
    for device in results.devices:
        if device.setting_a is None and not device.settings_a:
            yield device.id, kind, None, f"Device {device.id} has no known setting."


def in_one_line(point: OpenPoint, results: Results) -> str:
    """An open point in one line: what is wrong, how much, against which limit. Its reasons stand in the findings.

    What is not determined keeps its whole text: it is said nowhere else.
    """
    if point.kind != "error":
        return point.text
    found = next(
        f for f in results.findings if (f.subject.id, f.rule, f.accepted) == (point.part, point.rule, None)
    )
    numbers = ""
    if found.value is not None and found.limit is not None:
        side = "at least" if found.value < found.limit else "at most"
        numbers = f": {quantity(found.value, found.unit or '')}, {side} {quantity(found.limit, found.unit or '')}"
        if found.unit in (None, "1"):
            numbers = f": {found.value:.3g} times"
    return f"{title(found.rule)} ({found.rule}){numbers}"


def copper(results: Results) -> tuple[CurrentRow | JunctionRow, ...]:
    """Everything with a rating that both a load and a fault can exceed."""
    return (*results.conductors, *results.contacts, *results.splices, *results.switches)


def worst_rows(results: Results, count: int = 5) -> list[tuple[str, float, str]]:
    """The parts that are worst off: id, share of what is allowed, and by what: ``load`` or ``sustained fault``.

    By the greater of load current and sustained fault current over the allowed current; those that are over it and
    protected all the same, within the overload band, behind those that are not.
    """
    rows: list[tuple[bool, tuple[str, float, str]]] = []
    for row in copper(results):
        load = row.utilisation
        fault = (
            row.sustained_fault_a / row.allowed_a if row.sustained_fault_a is not None and row.allowed_a else None
        )
        if load is not None or fault is not None:
            by_fault = (fault or 0.0) > (load or 0.0)
            name = "sustained fault" if by_fault else "load"
            rows.append((_fails(row), (row.id, max(load or 0.0, fault or 0.0), name)))
    return [row for _, row in sorted(rows, key=lambda row: (not row[0], -row[1][1]))][:count]


def _fails(row: CurrentRow | JunctionRow) -> bool:
    """Whether a part is over what it is allowed, and not merely within the overload band."""
    return row.protected is False or (row.utilisation or 0.0) > 1.0 + NOISE
