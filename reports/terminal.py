"""The short table on the terminal: verdict, what was found, what is worst. Colour only on a terminal."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.style import Style
from rich.table import Table
from rich.text import Text

from loadloom.graph.model.findings import Finding, Severity, Verdict
from loadloom.graph.model.naming import some_of
from loadloom.graph.model.results import CurrentRow, Results
from loadloom.reports.about_words import banner, marked_verdict
from loadloom.reports.ends import joints, subject_said
from loadloom.reports.next_step import causes_first, is_unprepared, next_step
from loadloom.reports.numbers import UNKNOWN, aligned, column_scale, share
from loadloom.reports.safe_text import terminal_text
from loadloom.reports.sensitivity_words import worse
from loadloom.reports.verdict_words import meaning

RULES_SHOWN, OF_A_RULE_SHOWN, _NAMES_SHOWN = 10, 1, 8
_FULL_WIDTH = 76
"""Columns of a terminal from which the tables of parts are shown whole."""
ROWS_SHOWN = 8
_LONGEST = 1200
"""Characters of a sentence on the terminal; the longest of the rules has about half of that."""
_WHOLE = 12_000
"""Of an assumption: room for the names of some 2,000 parts; a longer one says that it is cut."""
_VERDICT_STYLE = {Verdict.PASS: "bold green", Verdict.FAIL: "bold red", Verdict.INCOMPLETE: "bold yellow"}
_SEVERITY_STYLE = {Severity.ERROR: "bold red", Severity.WARNING: "yellow", Severity.NOTE: "cyan"}


def print_results(results: Results, console: Console | None = None, *, only_errors: bool = False) -> None:
    """Print the short table; plain text where the output is no terminal.

    ``only_errors``: the verdict and every error that is open, each with its remedy, and nothing else.
    """
    target = console or Console(highlight=False, soft_wrap=False)
    with target.capture() as capture:
        for part in _errors(results) if only_errors else _parts(results, target.width >= _FULL_WIDTH):
            target.print(part)
    shown = capture.get()
    if not target.is_terminal:
        shown = "".join(f"{line.rstrip()}\n" for line in shown.splitlines())
    target.file.write(shown)


def text(results: Results, width: int = 80) -> str:
    """The short table as plain text of a width."""
    stream = io.StringIO()
    print_results(results, Console(file=stream, width=width, color_system=None, highlight=False))
    return stream.getvalue()


def _errors(results: Results) -> Iterable[RenderableType]:
    yield _headline(results)
    named = joints(results)
    for finding in results.findings:
        if finding.severity is Severity.ERROR and finding.accepted is None:
            yield from _finding(finding, named)


def _parts(results: Results, wide: bool) -> Iterable[RenderableType]:
    yield _headline(results)
    yield from _findings(
        results.findings, joints(results), causes_first(results.findings) if is_unprepared(results) else ()
    )
    sign = str(results.settings.get("decimal_sign", "."))
    yield from _currents("Conductors, worst first", results.conductors, sign, wide)
    yield from _currents("Contacts, worst first", results.contacts, sign, wide)
    if results.outputs:
        yield Text()
        yield _outputs(results, sign)
    if results.sensitivity:
        yield Text("\nUnder worse conditions", style="bold")
        for row in results.sensitivity:
            yield Padding(Text(f"- {terminal_text(worse(row), _LONGEST)}"), (0, 0, 0, 2), expand=False)
    if results.assumptions:
        yield Text("\nAssumptions", style="bold")
        for sentence in results.assumptions:
            yield Padding(Text(f"- {terminal_text(sentence, _WHOLE)}"), (0, 0, 0, 2), expand=False)


def _headline(results: Results) -> Text:
    where = results.provenance
    head = Text()
    head.append(marked_verdict(results), style=_VERDICT_STYLE[results.verdict])
    named = " ".join(filter(None, (where.title or where.file, f"rev {where.revision}" if where.revision else "")))
    head.append(f"  {terminal_text(named, 120)}\n" if named else "\n")
    step = next_step(results)
    if step is not None:
        head.append(f"Next step: {terminal_text(step, _LONGEST)}\n", style="bold")
    if said := banner(results):
        head.append(f"{terminal_text(said, 1200)}\n", style="bold")
    accepted = sum(1 for f in results.findings if f.accepted is not None)
    counts = [_count(results.count(severity), severity) for severity in Severity]
    counts += [f"{accepted} accepted"] if accepted else []
    assumed = " (assumed)" if results.settings.get("basis_stated") is False else ""
    unrated = sum(1 for r in (*results.conductors, *results.contacts) if r.allowed_a is None)
    unsaid = sum(1 for r in (*results.conductors, *results.contacts) if r.protected is None)
    head.append(f"{', '.join(counts)}: {terminal_text(meaning(results))}.\n")
    head.append(
        f"{_plural(len(results.conductors), 'conductor')}, {_plural(len(results.contacts), 'contact')}, "
        f"{_plural(len(results.cases), 'case')}; {unrated} not rated, {unsaid} whose protection is not determined; "
        f"basis {terminal_text(str(results.settings.get('basis', UNKNOWN)), 60)}{assumed}; "
        f"{_plural(len(results.assumptions), 'assumption')}."
    )
    return head


def _findings(
    findings: Sequence[Finding], named: Mapping[str, str], order: Sequence[str] = ()
) -> Iterable[RenderableType]:
    """The first finding of each rule with its sentence, gravest rules first; the others by their subjects.

    ``named``: what joints are called. ``order``: names of rules that stand in this order instead.
    """
    open_ones = [f for f in findings if f.accepted is None]
    groups: dict[tuple[Severity, str], list[Finding]] = {}
    for finding in open_ones:
        groups.setdefault((finding.severity, finding.rule), []).append(finding)
    listed = sorted(groups.items(), key=lambda item: item[0][0].rank)
    if order:
        listed.sort(key=lambda item: order.index(item[0][1]))
    for (severity, rule), group in listed[:RULES_SHOWN]:
        for finding in group[:OF_A_RULE_SHOWN]:
            yield from _finding(finding, named)
        rest = list(dict.fromkeys(subject_said(f.subject.id, named) for f in group[OF_A_RULE_SHOWN:]))
        if rest:
            names = some_of([terminal_text(name, 40) for name in rest], _NAMES_SHOWN)
            yield Padding(
                Text(f"{severity} {rule} on {names} too", style=Style(dim=True)), (0, 0, 0, 2), expand=False
            )
    left = sum(len(group) for _, group in listed[RULES_SHOWN:])
    if left:
        yield Text(f"\n… and {_plural(left, 'more finding')} of {_plural(len(listed) - RULES_SHOWN, 'more rule')}.")
    if open_ones:
        yield Text(
            "A report (-o) lists all findings and assumptions; `loadloom rules RULE` says what one means.",
            style=Style(dim=True),
        )


def _finding(finding: Finding, named: Mapping[str, str]) -> Iterable[RenderableType]:
    line = Text("\n")
    line.append(f"{finding.severity.upper()} ", style=_SEVERITY_STYLE[finding.severity])
    line.append(f"{terminal_text(finding.rule, 60)}  ", style=Style(bold=True))
    line.append(terminal_text(subject_said(finding.subject.id, named), 60))
    if finding.case:
        line.append(f"  ({terminal_text(finding.case, 60)})", style=Style(dim=True))
    yield line
    yield Padding(Text(terminal_text(finding.message, _LONGEST)), (0, 0, 0, 2), expand=False)
    if finding.remedy:
        yield Padding(Text(f"→ {terminal_text(finding.remedy, _LONGEST)}"), (0, 0, 0, 2), expand=False)


def _currents(title: str, rows: Sequence[CurrentRow], sign: str, wide: bool) -> Iterable[RenderableType]:
    """The worst rows; a narrow terminal gets no sustained fault current and no devices, but still what is
    protected."""
    worst = sorted(rows, key=_badness, reverse=True)[:ROWS_SHOWN]
    if not worst:
        return
    yield Text()
    table = _table(title)
    table.add_column("part", overflow="fold", min_width=4)
    for head in ("A", "allowed\nA", "of it", *(("sustained\nfault A", "of\nallowed") if wide else ())):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("protected", no_wrap=True)
    if wide:
        table.add_column("by", overflow="fold")
    continuous = aligned((r.continuous_a if r.continuous_a is not None else r.current_a for r in worst), sign)
    allowed = aligned((r.allowed_a for r in worst), sign)
    through = aligned((r.sustained_fault_a for r in worst), sign)
    for n, row in enumerate(worst):
        over = row.utilisation is not None and row.utilisation > 1.0
        used = Text(f"{'! ' if over else ''}{share(row.utilisation, sign)}", style="bold red" if over else "")
        cells = [Text(terminal_text(row.id, 80)), Text(continuous[n]), Text(allowed[n]), used]
        if wide:
            cells += [Text(through[n]), Text(share(_sustained_fault_ratio(row), sign))]
        cells.append(
            {True: Text("yes"), False: Text("NO", style="bold red"), None: Text("not determined")}[row.protected]
        )
        if wide:
            cells.append(Text(terminal_text(", ".join(row.protected_by), 80)))
        table.add_row(*cells)
    yield table
    if len(rows) > ROWS_SHOWN:
        yield Text(f"  the worst {ROWS_SHOWN} of {len(rows)}", style=Style(dim=True))


def _sustained_fault_ratio(row: CurrentRow) -> float | None:
    return row.sustained_fault_a / row.allowed_a if row.sustained_fault_a is not None and row.allowed_a else None


def _badness(row: CurrentRow) -> tuple[bool, float, float]:
    """Orders rows: unprotected ones first, then by the worse of load and sustained fault current over the allowed
    current; unrated ones last."""
    ratio = _sustained_fault_ratio(row) or 0.0
    return row.protected is False, max(row.utilisation or 0.0, ratio), row.utilisation or 0.0


def _outputs(results: Results, sign: str) -> Table:
    table = _table("Outputs")
    table.add_column("output", overflow="fold", min_width=4)
    table.add_column("case", overflow="fold")
    scale = column_scale((o.power_w for o in results.outputs), "W")
    for head in ("V", "A", "limit A", "trip A", scale.unit, "used"):
        table.add_column(head, justify="right", no_wrap=True)
    columns = [
        aligned((o.voltage_v for o in results.outputs), sign),
        aligned((o.current_a for o in results.outputs), sign),
        aligned((o.limit_a for o in results.outputs), sign),
        aligned((o.trip_a for o in results.outputs), sign),
        aligned((scale.of(o.power_w) for o in results.outputs), sign),
        [share(o.utilisation, sign) for o in results.outputs],
    ]
    for n, output in enumerate(results.outputs):
        case = terminal_text(output.case or UNKNOWN, 60)
        table.add_row(Text(terminal_text(output.id, 60)), Text(case), *(Text(column[n]) for column in columns))
    return table


def _table(title: str) -> Table:
    return Table(
        title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, padding=(0, 1, 0, 0)
    )


def _count(number: int, severity: Severity) -> str:
    return _plural(number, str(severity))


def _plural(number: int, one: str, many: str | None = None) -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"
