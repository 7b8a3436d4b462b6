"""Advice on sizes, settings and ways: on the terminal, as JSON, and in the page and workbook of the harness that is
proposed.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loadloom.reports.numbers import figures, quantity, share
from loadloom.reports.safe_text import html_text, terminal_text
from loadloom.reports.writers import WriteError, write_bytes

if TYPE_CHECKING:
    from rich.console import Console

    from loadloom.graph.design.advice import Advice
    from loadloom.graph.design.advise import Advised
    from loadloom.graph.design.assignment import Assignment
    from loadloom.graph.design.device_settings import Setting

_NAMES_SHOWN = 12
"""Parts that the terminal names for one rule."""

FORMAT, FORMAT_VERSION = "loadloom-advice", "1.0"


@dataclass(frozen=True, slots=True)
class _Field:
    """A column of a table: its title, the unit of its numbers ("" = text or a count) and its values."""

    title: str
    unit: str
    values: Sequence[str | float | int | None]


@dataclass(frozen=True, slots=True)
class _Table:
    name: str
    note: str
    fields: tuple[_Field, ...]

    @property
    def rows(self) -> int:
        return max((len(f.values) for f in self.fields), default=0)


def headline(advice: Advice) -> str:
    """One sentence: verdicts, sizes changed, copper and losses."""
    changed = sum(1 for row in advice.sizes if row.changed)
    reset = sum(1 for device in advice.devices if device.changed)
    swapped = sum(1 for family in advice.families if family.changed)
    others = [
        f"{words}: {count}"
        for count, words in (
            (swapped, "contact families changed"),
            (len({row.id for row in advice.ratings}), "parts with a higher rating"),
            (len(advice.openings), "switches to open"),
        )
        if count
    ]
    more = f"; {', '.join(others)}" if others else ""
    copper, loss = advice.copper_g - advice.copper_drawn_g, advice.loss_w - advice.loss_drawn_w
    return (
        f"{advice.verdict_drawn} as drawn, {advice.verdict} as proposed: {changed} of {len(advice.sizes)} "
        f"conductors get another size, {reset} of {len(advice.devices)} devices another setting{more}; copper "
        f"{quantity(advice.copper_g / 1000.0, 'kg')} ({_more(copper / 1000.0, 'kg')}), losses "
        f"{quantity(advice.loss_w, 'W')} ({_more(loss, 'W')}); {len(advice.mended)} findings mended, "
        f"{len(advice.remaining)} remain."
    )


def _more(value: float, unit: str) -> str:
    return f"{quantity(abs(value), unit)} {'more' if value > 0 else 'less'}"


def _tables(advice: Advice) -> Iterable[_Table]:
    sizes, devices, contacts = advice.sizes, advice.devices, advice.contacts
    yield _Table(
        "Sizes",
        "The smallest stocked size of every conductor, found together; one size less would break what governs it.",
        (
            _Field("Conductor", "", [r.id for r in sizes]),
            _Field("Drawn", "", [r.drawn for r in sizes]),
            _Field("Proposed", "", [r.proposed for r in sizes]),
            _Field("Governed by", "", [r.governed_by for r in sizes]),
            _Field("Length", "m", [r.length_m for r in sizes]),
            _Field("Steady current", "A", [r.current_a for r in sizes]),
            _Field("Let-through", "A", [r.let_through_a for r in sizes]),
            _Field("Allowed", "A", [r.allowed_a for r in sizes]),
            _Field("Copper drawn", "g", [r.copper_drawn_g for r in sizes]),
            _Field("Copper proposed", "g", [r.copper_g for r in sizes]),
            _Field("Loss drawn", "W", [r.loss_drawn_w for r in sizes]),
            _Field("Loss proposed", "W", [r.loss_w for r in sizes]),
            _Field("Why", "", [r.why for r in sizes]),
        ),
    )
    yield _settings(
        "Settings",
        "The drawn setting where it is inside its window, else the nearest standard rating or setting that is. The "
        "high end is that of contacts with the best family stated, and of conductors at the size that is drawn or "
        "that their load asks for; only where nothing is left they may grow. A channel drawn as off shows no "
        "drawn value.",
        devices,
    )
    families, ratings, openings = advice.families, advice.ratings, advice.openings
    yield _Table(
        "Contact families",
        "The smallest family stated in the settings that does on every contact of the connector and takes its "
        "wires. None proposed: none does, and why.",
        (
            _Field("Connector", "", [f.connector for f in families]),
            _Field("Drawn", "", [f.drawn for f in families]),
            _Field("Proposed", "", [f.proposed for f in families]),
            _Field("Needed", "A", [f.needed_a for f in families]),
            _Field("Allowed drawn", "A", [f.allowed_drawn_a for f in families]),
            _Field("Allowed proposed", "A", [f.allowed_a for f in families]),
            _Field("Why", "", [f.reason for f in families]),
        ),
    )
    yield _Table(
        "Parts to choose",
        "Choose a part of at least the value proposed: the next one that the settings list, else the least that is "
        "needed.",
        (
            _Field("Part", "", [r.id for r in ratings]),
            _Field("Field", "", [r.field for r in ratings]),
            _Field("Drawn", "", [_with_unit(r.drawn, r.unit) for r in ratings]),
            _Field("At least", "", [_with_unit(r.proposed, r.unit) for r in ratings]),
            _Field("Why", "", [r.reason for r in ratings]),
        ),
    )
    yield _Table(
        "Switches to open",
        "Switches that join outputs and that no load needs closed.",
        (
            _Field("Switch", "", [o.id for o in openings]),
            _Field("Mends", "", [", ".join(o.mends) for o in openings]),
            _Field("Why", "", [o.reason for o in openings]),
        ),
    )
    yield _settings(
        "Trip plan",
        "The channels that can be set, with the sizes as proposed: a setting that rides through all cases and "
        "keeps all that it guards, or the part that prevents it.",
        advice.trip_plan,
    )
    yield _spread(advice.spread)
    yield _Table(
        "Ways",
        "Contacts side by side that the current needs: shared evenly, with one new among aged ones, with one open.",
        (
            _Field("Contacts", "", [", ".join(w.contacts) for w in contacts]),
            _Field("Case", "", [w.case for w in contacts]),
            _Field("Current", "A", [w.total_a for w in contacts]),
            _Field("Allowed each", "A", [w.allowed_a for w in contacts]),
            _Field("Drawn", "", [w.drawn for w in contacts]),
            _Field("For the load", "", [w.for_load for w in contacts]),
            _Field("Uneven", "", [w.uneven for w in contacts]),
            _Field("One open", "", [w.one_open for w in contacts]),
            _Field("Needed", "", [w.needed for w in contacts]),
            _Field("Note", "", [w.note for w in contacts]),
        ),
    )
    yield _Table(
        "Thicken first",
        "Voltage drop budget: one stocked size more, by volts gained at the load per gram of copper.",
        (
            _Field("Load", "", [g.load for g in advice.budget]),
            _Field("Conductor", "", [g.conductor for g in advice.budget]),
            _Field("To", "", [g.to for g in advice.budget]),
            _Field("Drop now", "V", [g.drop_v for g in advice.budget]),
            _Field("Gained", "V", [g.gained_v for g in advice.budget]),
            _Field("Copper added", "g", [g.added_g for g in advice.budget]),
            _Field("Gained per gram", "V/g", [g.v_per_g for g in advice.budget]),
        ),
    )
    yield _Table(
        "Not by size",
        "What no stocked size mends, and what would.",
        (
            _Field("Rule", "", [r.rule for r in advice.left]),
            _Field("Part", "", [r.subject for r in advice.left]),
            _Field("Why", "", [r.why for r in advice.left]),
            _Field("What would", "", [r.remedy for r in advice.left]),
        ),
    )
    for name, note, findings in (
        ("Remaining", "What the full analysis still finds with everything as proposed.", advice.remaining),
        ("Mended", "What the full analysis found as drawn and no longer finds.", advice.mended),
    ):
        yield _Table(
            name,
            note,
            (
                _Field("Severity", "", [str(f.severity) for f in findings]),
                _Field("Rule", "", [f.rule for f in findings]),
                _Field("Part", "", [f.subject.id for f in findings]),
                _Field("Finding", "", [f.message for f in findings]),
                _Field("Remedy", "", [f.remedy for f in findings]),
            ),
        )
    yield _Table("Assumptions", "What this rests on.", (_Field("Assumption", "", advice.assumptions),))


def _with_unit(value: float | None, unit: str) -> str | None:
    return None if value is None else quantity(value, unit)


def _settings(name: str, note: str, devices: Sequence[Setting]) -> _Table:
    return _Table(
        name,
        note,
        (
            _Field("Device", "", [d.id for d in devices]),
            _Field("Kind", "", [d.kind for d in devices]),
            _Field("Arrangement", "", [d.arrangement or "as drawn" for d in devices]),
            _Field("Drawn", "A", [d.drawn_a for d in devices]),
            _Field("Proposed", "A", [d.proposed_a for d in devices]),
            _Field("Window from", "A", [d.low_a for d in devices]),
            _Field("Asked by", "", [d.low_by for d in devices]),
            _Field("Window to", "A", [d.high_a for d in devices]),
            _Field("Limited by", "", [d.high_by for d in devices]),
            _Field("Why", "", [d.reason for d in devices]),
        ),
    )


def _spread(found: Assignment | None) -> _Table:
    uses = found.uses if found is not None else ()
    return _Table(
        "Spread of the loads",
        spread_words(found),
        (
            _Field("Channel", "", [u.channel for u in uses]),
            _Field("Loads today", "", [", ".join(u.loads_today) for u in uses]),
            _Field("Loads proposed", "", [", ".join(u.loads) for u in uses]),
            _Field("Worst case", "", [u.case for u in uses]),
            _Field("Current", "A", [u.current_a for u in uses]),
            _Field("Carries", "A", [u.limit_a for u in uses]),
            _Field("Margin today", "", [share(u.margin_today) for u in uses]),
            _Field("Margin proposed", "", [share(u.margin) for u in uses]),
        ),
    )


def spread_words(found: Assignment | None) -> str:
    """One sentence on the spread of the loads over the channels."""
    if found is None:
        return "There are not two channels with loads: nothing to spread."
    if found.margin is None:
        return found.reason
    fewest = "no number of channels carries them" if found.fewest is None else f"{found.fewest} channels at least"
    today = f"today {share(found.margin_today)}" if found.margin_today is not None else "today not all on a channel"
    moved = f"by moving {', '.join(found.moved)}" if found.moved else "as it is today"
    text = f"Largest worst-case margin {share(found.margin)} ({today}), {moved}; {fewest}."
    return f"{text} {found.reason}" if found.reason else text


_TERMINAL: dict[str, tuple[str, ...]] = {
    "Sizes": ("Conductor", "Drawn", "Proposed", "Governed by"),
    "Settings": ("Device", "Arrangement", "Drawn", "Proposed", "Window from", "Window to", "Why"),
    "Contact families": ("Connector", "Drawn", "Proposed", "Needed", "Why"),
    "Parts to choose": ("Part", "Field", "Drawn", "At least"),
    "Switches to open": ("Switch", "Mends", "Why"),
    "Ways": ("Contacts", "Current", "Drawn", "Needed", "Note"),
}
"""What the terminal shows of which table."""


def print_advice(advised: Advised, console: Console | None = None) -> None:
    """Print what changes, what can't be mended by sizes, and what remains; files have everything."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    target = console or Console(highlight=False)
    advice = advised.advice
    sign = str(advice.settings.get("decimal_sign", "."))
    target.print(Text(terminal_text(headline(advice), 600)))
    for table in _tables(advice):
        chosen = _TERMINAL.get(table.name)
        rows = _shown_rows(table, advice)
        if chosen is None or not rows:
            continue
        target.print(Text(f"\n{table.name}", style="bold"))
        shown = Table(box=None, pad_edge=False, header_style="bold")
        fields = [f for f in table.fields if f.title in chosen]
        for f in fields:
            shown.add_column(f"{f.title} {f.unit}".strip(), overflow="fold", justify="right" if f.unit else "left")
        for k in rows:
            shown.add_row(*(Text(terminal_text(_cell(f.values[k], sign), 400)) for f in fields))
        target.print(shown)
    for title, pairs in (
        ("No stocked size mends", [(row.rule, row.subject) for row in advice.left]),
        ("Remaining after this", [(f"{f.severity} {f.rule}", f.subject.id) for f in advice.remaining]),
    ):
        if pairs:
            target.print(Text(f"\n{title}", style="bold"))
            for rule in dict.fromkeys(rule for rule, _ in pairs):
                parts = list(dict.fromkeys(part for name, part in pairs if name == rule))
                more = f" and {len(parts) - _NAMES_SHOWN} more" if len(parts) > _NAMES_SHOWN else ""
                named = ", ".join(parts[:_NAMES_SHOWN]) + more
                target.print(Text(f"  {rule}: {terminal_text(named, 400)}"))
    if advice.spread is not None:
        target.print(Text("\nSpread of the loads", style="bold"))
        target.print(Text(f"  {terminal_text(spread_words(advice.spread), 600)}"))
    target.print(Text(f"\n{terminal_text(advice.assumptions[0], 600)}"))
    target.print(Text("A file (-o) says why, and what would mend the rest.", style="dim"))


def _shown_rows(table: _Table, advice: Advice) -> list[int]:
    if table.name == "Sizes":
        return [k for k, row in enumerate(advice.sizes) if row.changed]
    if table.name == "Settings":
        return [k for k, d in enumerate(advice.devices) if d.changed or d.proposed_a is None]
    if table.name == "Ways":
        return [k for k, w in enumerate(advice.contacts) if w.needed is None or w.needed > w.drawn]
    return list(range(table.rows))


def _cell(value: str | float | int | None, sign: str) -> str:
    if isinstance(value, float):
        return figures(value, sign) if math.isfinite(value) else "–"
    return "–" if value is None else str(value)


def _html(advised: Advised) -> bytes:
    """The page of the harness as proposed, with the advice as its first section."""
    from loadloom.reports.page import data_element, render

    tables = [_on_the_page(table) for table in _tables(advised.advice) if table.rows]
    section = (
        '<section id="advice" aria-labelledby="advice-title"><h2 id="advice-title">Advice</h2>'
        f"<p><strong>{html_text(headline(advised.advice))}</strong></p>"
        '<p class="hint">Everything below this section is the harness as proposed.</p>'
        f'<div id="advice-tables"></div>{data_element("advice-data", tables)}</section>'
    )
    return render(advised.results, section)


_LONG_TEXT = (
    "Why",
    "Finding",
    "Remedy",
    "What would",
    "Note",
    "Assumption",
    "Loads today",
    "Loads proposed",
    "Mends",
)


def _on_the_page(table: _Table) -> dict[str, Any]:
    """A table for the page's script: its columns with what they hold, and its rows as lists."""
    columns = []
    for number, f in enumerate(table.fields):
        if all(value is None or isinstance(value, str) for value in f.values):
            kind = "words" if f.title in _LONG_TEXT else "id" if number == 0 else "text"
        else:
            kind = "number" if any(isinstance(value, float) for value in f.values) else "count"
        columns.append({"title": f"{f.title}, {f.unit}" if f.unit else f.title, "kind": kind})
    rows = [[_finite(f.values[k]) for f in table.fields] for k in range(table.rows)]
    return {"name": table.name, "note": table.note, "columns": columns, "rows": rows}


def _finite(value: str | float | int | None) -> str | float | int | None:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _xlsx(advised: Advised) -> bytes:
    """The review workbook of the harness as proposed, with a sheet of advice for every table behind it."""
    from loadloom.reports.workbook.book import drawn, moment, set_up_page
    from loadloom.reports.workbook.package import repeatable
    from loadloom.reports.workbook.table import Column, Pen, start_sheet, write_table

    workbook, stored = drawn(advised.results)
    pen = Pen()
    for number, table in enumerate(_tables(advised.advice)):
        sheet = workbook.create_sheet(f"Advice {table.name.lower()}")
        note = f"{headline(advised.advice)} {table.note}" if number == 0 else table.note
        start_sheet(sheet, pen, f"Advice: {table.name.lower()}", note)
        columns = []
        for k, f in enumerate(table.fields):
            text = all(v is None or isinstance(v, str) for v in f.values)
            columns.append(Column(f"c{k}", f.title, f.values, kind="text" if text else "number", unit=f.unit))
        write_table(sheet, pen, columns)
        set_up_page(sheet, advised.results)
    workbook.properties.title = "Load table for review, with advice"
    return repeatable(workbook, moment(advised.advice.date), stored)


def _json(advised: Advised) -> bytes:
    from loadloom.reports.results_json import finding_object, plain

    advice = advised.advice
    document = {"format": FORMAT, "format_version": FORMAT_VERSION, **plain(advice)}
    for name, findings in (("mended", advice.mended), ("remaining", advice.remaining)):
        document[name] = [finding_object(finding) for finding in findings]
    return (json.dumps(document, ensure_ascii=True, indent=1) + "\n").encode()


WRITERS: dict[str, Callable[[Advised], bytes]] = {".html": _html, ".xlsx": _xlsx, ".json": _json}


def check_suffix(path: Path) -> None:
    """Refuse a suffix that no advice has.

    Raises:
        WriteError: it is none of ``WRITERS``.
    """
    if path.suffix.lower() not in WRITERS:
        raise WriteError(path, f"no advice is written as that; the suffix must be one of {', '.join(WRITERS)}")


def write_advice(advised: Advised, path: Path) -> None:
    """Write advice in the format of the path's suffix.

    Raises:
        WriteError: unknown suffix, or the file can't be written; what stood there before is untouched.
    """
    check_suffix(path)
    write_bytes(path, WRITERS[path.suffix.lower()](advised))
