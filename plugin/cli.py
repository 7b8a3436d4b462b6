"""The command line: thin, and quick to answer, since nothing heavy is imported before it is needed."""

from __future__ import annotations

import argparse
import contextlib
import datetime
import difflib
import errno
import gc
import io
import os
import sys
import traceback
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.say import complain, say
from loadloom.reports.safe_text import terminal_text

if TYPE_CHECKING:
    from loadloom.graph.model.results import Results
    from loadloom.plugin.pipeline import Analysed
    from loadloom.reports.order_list import OrderList

EXIT_PASS, EXIT_FINDING, EXIT_UNUSABLE = 0, 1, 2
FAIL_ON = ("error", "warning", "note", "never")

CAUTION = (
    "A calculation, not a certification: local codes and licensed practice come first, and measure before you "
    "trust. A bad crimp burns at a legal current, and no device sees it."
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; the exit code is 0 (pass), 1 (finding or incomplete) or 2 (can't be used)."""
    # One analysis makes millions of small objects that live to its end: looking for garbage among them is a waste.
    gc.set_threshold(200_000, 20, 50)
    # A harness gives small matrices, where the threads of a linear algebra library cost more than they bring.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    _ready_the_terminal()
    parsed = parser().parse_args(arguments)
    try:
        _check_epoch()
        code = int(parsed.run(parsed))
        sys.stdout.flush()
        return code
    except UnusableError as error:
        complain(f"loadloom: {error}")
    except BrokenPipeError:  # the reader of our output went away, e.g. `| head`
        _print_no_more()
    except KeyboardInterrupt:
        complain("loadloom: stopped; nothing was written")
    except Exception as error:
        if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EIO):
            complain(f"loadloom: the output can't be written: {error.strerror}")
            _print_no_more()
            return EXIT_UNUSABLE
        if isinstance(error, OSError) and error.filename is not None and error.strerror:
            complain(f"loadloom: {error.filename}: {error.strerror[:1].lower()}{error.strerror[1:]}")
            return EXIT_UNUSABLE
        if os.environ.get("LOADLOOM_DEBUG"):
            for line in traceback.format_exc().splitlines():
                complain(line)
        complain(
            f"loadloom: internal error ({type(error).__name__}: {str(error)[:600]}); please report it with the "
            "drawing, and with what LOADLOOM_DEBUG=1 prints"
        )
    return EXIT_UNUSABLE


def _ready_the_terminal() -> None:
    """A closed stream takes what is printed and shows nothing; one that knows few characters shows ``?``."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - open to the end
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def _check_epoch() -> None:
    """Libraries read ``SOURCE_DATE_EPOCH`` as well, when they are loaded, and say nothing that helps."""
    if os.environ.get("SOURCE_DATE_EPOCH") == "":
        del os.environ["SOURCE_DATE_EPOCH"]
    elif "SOURCE_DATE_EPOCH" in os.environ:
        from loadloom.plugin.pipeline import report_date

        report_date()


def _print_no_more() -> None:
    """Nothing that is still to be printed is tried again when the interpreter ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints pass the gate: they repeat what was typed, which a script may have put together."""

    def error(self, message: str) -> NoReturn:
        super().error(terminal_text(message, 1000))


def parser() -> argparse.ArgumentParser:
    """The command line's grammar."""
    top = _Parser(
        prog="loadloom",
        description="Reads a drawn power harness and says, with numbers, whether every wire and every connector "
        "pin survives what the supply can push through it.",
        epilog=CAUTION,
    )
    top.add_argument("--version", action="version", version=_Version())
    commands = top.add_subparsers(metavar="COMMAND", required=True)

    report = commands.add_parser("report", help="analyse a drawing or netlist and write reports")
    _add_input(report)
    _add_outputs(
        report,
        "write a report; the suffix says which: .xlsx, .html, .json, .sarif, .junit.xml, .csv; wires.xlsx or "
        "wires.csv is the wire list, order.xlsx the order list, labels.csv the labels of the wires",
    )
    _add_what_if(report)
    _add_strict(report)
    report.add_argument(
        "--explain",
        metavar="PART",
        action="append",
        default=[],
        help="print how the allowed current and the sustained fault current of a conductor or contact come about "
        "(repeatable)",
    )
    report.add_argument(
        "--sensitivity",
        action="store_true",
        help="say what would fail under worse conditions (always done for .xlsx and .html, which show it)",
    )
    report.add_argument(
        "--since",
        metavar="OLD.json",
        type=Path,
        help="results of the last revision: workbook and page say what changed since then",
    )
    report.add_argument(
        "--only",
        choices=("errors",),
        help="print only the verdict and the open errors; files are written in full",
    )
    report.set_defaults(run=_report)

    first = commands.add_parser("setup", help="ask what a drawing's symbols are, and write its first settings file")
    first.add_argument(
        "input",
        metavar="INPUT",
        type=Path,
        help=".kicad_sch, .kicad_pro, .net or .xml; a wire list as .xlsx or .csv",
    )
    first.add_argument(
        "--settings",
        metavar="FILE",
        type=Path,
        help="settings file to write (else loadloom.toml beside the drawing)",
    )
    first.add_argument(
        "--yes", action="store_true", help="ask nothing: every proposal is written as a guess not yet confirmed"
    )
    first.set_defaults(run=_setup)

    table = commands.add_parser("fields", help="all fields of a drawing as a spreadsheet, and back")
    table.add_argument("input", metavar="INPUT", type=Path, help=".kicad_sch or .kicad_pro")
    table.add_argument(
        "--settings", metavar="FILE", type=Path, help="settings file (else loadloom.toml beside the drawing)"
    )
    table.add_argument(
        "--from",
        dest="table",
        metavar="TABLE",
        type=Path,
        help="write what was changed in this table (.xlsx or .csv)",
    )
    target = table.add_mutually_exclusive_group(required=True)
    target.add_argument(
        "-o", dest="target", metavar="FILE", type=Path, help="the table; with --from, the copy of the drawing"
    )
    target.add_argument("--in-place", action="store_true", help="with --from, write into the drawing itself")
    _add_force(table)
    table.set_defaults(run=_fields)

    lay = commands.add_parser("draw", help="lay a wire list out as a KiCad schematic")
    lay.add_argument("input", metavar="INPUT", type=Path, help="a wire list as .xlsx or .csv, or any drawing")
    lay.add_argument(
        "--settings", metavar="FILE", type=Path, help="settings file (else loadloom.toml beside the input)"
    )
    lay.add_argument(
        "-o", dest="drawing", metavar="FILE", type=Path, required=True, help="the schematic to be made, .kicad_sch"
    )
    lay.set_defaults(run=_draw)

    size = commands.add_parser("size", help="find the smallest stocked sizes and the settings that pass")
    _add_input(size)
    _add_outputs(
        size, "write the advice; the suffix says how: .xlsx and .html (with the review of what is proposed), .json"
    )
    size.add_argument(
        "--apply",
        dest="copy",
        metavar="COPY",
        type=Path,
        help="write what is proposed into a copy of the schematic",
    )
    _add_what_if(size)
    _add_strict(size)
    size.set_defaults(run=_size)

    compare = commands.add_parser("compare", help="say what changed between two drawings or results files")
    for name, what in (("old", "before"), ("new", "after")):
        compare.add_argument(
            name, metavar=name.upper(), type=Path, help=f"{what}: a drawing, netlist or .json results"
        )
    _add_outputs(compare, "write the comparison; the suffix says how: .xlsx, .html, .json")
    compare.add_argument(
        "--date", metavar="YYYY-MM-DD", type=_iso_date, help="date of the analyses (default: today)"
    )
    _add_what_if(compare, "in NEW")
    compare.set_defaults(run=_compare)

    note = commands.add_parser(
        "annotate", help="write currents and verdicts beside the symbols, in a copy of the drawing"
    )
    note.add_argument("input", metavar="INPUT", type=Path, help=".kicad_sch or .kicad_pro")
    note.add_argument(
        "--settings", metavar="FILE", type=Path, help="settings file (else loadloom.toml beside the drawing)"
    )
    where = note.add_mutually_exclusive_group(required=True)
    where.add_argument("-o", dest="copy", metavar="COPY", type=Path, help="the copy: a .kicad_sch, or a folder")
    where.add_argument("--in-place", action="store_true", help="write into the drawing itself, not into a copy")
    _add_force(note)
    _add_what_if(note)
    note.set_defaults(run=_annotate)

    kicad = commands.add_parser(
        "kicad", help="put the symbol library, the script entries and the button into KiCad"
    )
    kicad.add_argument("action", choices=("add", "remove", "status"))
    kicad.add_argument(
        "--project", metavar="FOLDER", type=Path, help="only for this project: symbol library and field columns"
    )
    kicad.add_argument(
        "--no-button",
        action="store_true",
        help="set up no button; the button needs KiCad's own server, which this leaves switched off",
    )
    kicad.set_defaults(run=_kicad)

    rules = commands.add_parser("rules", help="print what every finding means, with its formula and source")
    rules.add_argument("names", metavar="RULE", nargs="*", help="only these rules")
    rules.set_defaults(run=_rules)

    insulation = commands.add_parser("insulation", help="list what a field Insulation may name, with its classes")
    insulation.set_defaults(run=_insulation)

    demo = commands.add_parser("demo", help="write the observatory project and its reports")
    demo.add_argument("folder", metavar="FOLDER", type=Path, nargs="?", default=Path("observatory"))
    _add_force(demo)
    demo.set_defaults(run=_demo)
    return top


def _iso_date(text: str) -> str:
    try:
        return datetime.date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"“{text}” is no date such as 2026-01-31") from error


class _Version(str):
    """The version, looked up only when it is printed."""

    def __new__(cls) -> _Version:
        return super().__new__(cls, "%(prog)s")  # argparse fills in only what has this in it

    def __mod__(self, _: object) -> str:
        from loadloom.plugin.pipeline import tool_version

        return f"loadloom {tool_version()}"


def _add_input(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "input",
        metavar="INPUT",
        type=Path,
        help=".kicad_sch, .kicad_pro, .net or .xml; a wire list as .xlsx or .csv",
    )
    command.add_argument(
        "--settings", metavar="FILE", type=Path, help="settings file (else loadloom.toml beside the drawing)"
    )
    command.add_argument(
        "--fail-on",
        choices=FAIL_ON,
        default="error",
        help="exit with 1 where a finding has this severity or a graver one (default: error); an incomplete "
        "verdict is 1 as well, except with never",
    )
    command.add_argument(
        "--date", metavar="YYYY-MM-DD", type=_iso_date, help="date printed in the reports (default: today)"
    )


def _add_strict(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--strict",
        action="store_true",
        help="every assumption that a result rests on makes the verdict incomplete",
    )


def _add_what_if(command: argparse.ArgumentParser, where: str = "in the analysis") -> None:
    command.add_argument(
        "--set",
        dest="what_if",
        metavar="REF.FIELD=VALUE",
        action="append",
        default=[],
        help=f'replace a field {where}, not in the drawing: --set W7.Gauge="14 AWG" (repeatable)',
    )


def _add_outputs(command: argparse.ArgumentParser, what: str) -> None:
    command.add_argument(
        "-o",
        dest="outputs",
        metavar="FILE",
        type=Path,
        action="append",
        default=[],
        help=f"{what} (repeatable)",
    )
    _add_force(command)


def _add_force(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--force",
        action="store_true",
        help="replace a file even where loadloom did not write it, or where it was edited since",
    )


def exit_code(results: Results, fail_on: str) -> int:
    """1 for a finding at or above ``fail_on`` that is not accepted, or an incomplete verdict; else 0."""
    from loadloom.graph.model.findings import Severity, Verdict

    if fail_on == "never":
        return EXIT_PASS
    limit = Severity(fail_on).rank
    found = any(f.severity.rank <= limit and f.accepted is None for f in results.findings)
    return EXIT_FINDING if found or results.verdict is Verdict.INCOMPLETE else EXIT_PASS


def _report(parsed: argparse.Namespace) -> int:
    from loadloom.plugin.order import is_labels, is_order, order_of
    from loadloom.plugin.wire_list.writing import is_wire_list
    from loadloom.plugin.writing import write_files
    from loadloom.reports.writers import check_suffix, rendered

    inputs = _inputs(parsed)
    _check(check_suffix, parsed, inputs)
    for_wires = [output for output in parsed.outputs if is_wire_list(output)]
    for_order = [output for output in parsed.outputs if is_order(output) or is_labels(output)]
    reports = [output for output in parsed.outputs if output not in (*for_wires, *for_order)]
    since = None if parsed.since is None else _old_results(parsed.since)
    shown = any(output.suffix.lower() in (".xlsx", ".html") for output in reports)
    analysed = _analyse(
        parsed.input,
        parsed.settings,
        parsed.date,
        parsed.what_if,
        strict=parsed.strict,
        explain=parsed.explain,
        sensitivity=shown or parsed.sensitivity,
    )
    results = analysed.results
    if since is not None:
        from loadloom.reports.open_points import carried_over

        results = carried_over(results, since)
    explained = _explained(results, parsed.explain)
    order = order_of(analysed) if for_order or shown else None
    files = {output: rendered(results, output, since, order) for output in reports}
    files |= _wire_lists(analysed, for_wires)
    if order is not None:
        files |= _order_files(order, results, for_order)
    write_files(files, inputs, force=parsed.force)
    from loadloom.reports.terminal import print_results  # loads the rules, which reading must not wait for

    if not explained:
        print_results(results, only_errors=parsed.only == "errors")
    elif parsed.what_if:
        print(terminal_text(f"WHAT IF, not as drawn: {', '.join(parsed.what_if)}", 2000))
    for line in explained:
        print(terminal_text(line, 2000))
    return exit_code(results, parsed.fail_on)


def _order_files(order: OrderList, results: Results, outputs: Sequence[Path]) -> dict[Path, bytes]:
    from loadloom.plugin.order import is_labels
    from loadloom.reports.order_list import labels_csv, workbook

    return {o: labels_csv(order) if is_labels(o) else workbook(order, results) for o in outputs}


def _fields(parsed: argparse.Namespace) -> int:
    from loadloom.plugin.annotate import check_places
    from loadloom.plugin.fields_table import fields_file, write_back
    from loadloom.plugin.pipeline import settings_beside
    from loadloom.plugin.reading import read_drawing
    from loadloom.plugin.settings_file import read_settings
    from loadloom.plugin.writing import check_place, write_files

    _, settings = read_settings(parsed.settings or settings_beside(parsed.input))
    if parsed.table is None:
        if parsed.target is None or parsed.target.suffix.lower() not in (".xlsx", ".csv"):
            raise UnusableError(
                "the table of fields is an .xlsx or .csv", file=parsed.target, hint="name it with -o"
            )
        check_place(parsed.target, [parsed.input], force=parsed.force)
        content = fields_file(read_drawing(parsed.input), settings, parsed.target)
        write_files({parsed.target: content}, [parsed.input], force=parsed.force)
        print(f"Fields written to {parsed.target}")
        return EXIT_PASS
    check_places(parsed.input, parsed.target)
    written = write_back(
        read_drawing(parsed.input), settings, parsed.table, parsed.input, parsed.target, force=parsed.force
    )
    files = ", ".join(str(file) for file in written.files)
    print(f"{written.fields} fields of {written.symbols} symbols written to {files}")
    return EXIT_PASS


def _draw(parsed: argparse.Namespace) -> int:
    from loadloom.plugin.draw.schematic import draw_project

    made = draw_project(parsed.input, parsed.drawing, parsed.settings)
    print(f"Drawn: {made.symbols} symbols in {', '.join(str(file) for file in made.files)}")
    for sentence in made.left_out:
        print(f"Left out: {sentence}")
    return EXIT_PASS


def _wire_lists(analysed: Analysed, outputs: Sequence[Path]) -> dict[Path, bytes]:
    """The wire list of the drawing, with the changes of ``--set``, by the files it is written to."""
    if not outputs:
        return {}
    from loadloom.plugin.wire_list.writing import files_of, wire_list

    found = wire_list(analysed.drawing, analysed.settings, analysed.drawing_settings)
    return {file: content for output in outputs for file, content in files_of(found, output).items()}


def _explained(results: Results, names: Sequence[str]) -> list[str]:
    """The lines that explain some conductors and contacts.

    Raises:
        UnusableError: a name is no conductor or contact of the drawing.
    """
    rows = {row.id: row for row in (*results.conductors, *results.contacts)}
    lines: list[str] = []
    for name in names:
        row = rows.get(name)
        if row is None:
            near = difflib.get_close_matches(name, rows, n=1, cutoff=0.0)
            hint = f"the nearest is {near[0]}" if near else "it has none"
            raise UnusableError(
                f"--explain {name}: the drawing has no conductor or contact of that name", hint=hint
            )
        lines += ["", *row.explanation] if lines else row.explanation
    return lines


def _setup(parsed: argparse.Namespace) -> int:
    from loadloom.plugin.setup.run import prepare
    from loadloom.reports.next_step import next_step
    from loadloom.reports.safe_text import terminal_text
    from loadloom.reports.terminal import print_results

    def say(text: str) -> None:
        print(terminal_text(text, 2000))

    def ask(question: str) -> str:
        try:
            return input(terminal_text(question, 2000) + " ")
        except EOFError:
            print()
            return ""

    asks = not parsed.yes and sys.stdin.isatty() and sys.stdout.isatty()
    made = prepare(parsed.input, parsed.settings, ask if asks else None, say)
    results = _analyse(parsed.input, made.settings).results
    step = next_step(results)
    print("Next step: " + terminal_text(step or "none: nothing that the drawing lacks stands in the way.", 2000))
    groups = made.proposals.groups
    open_ones = sum(1 for decided in made.answers.decided if decided.role is None)
    what = f"{len(groups)} groups of symbols, {open_ones} left open, {made.questions} questions asked"
    print(f"{'Written' if made.written else 'Unchanged'}: {terminal_text(str(made.settings), 400)} ({what})")
    if groups and not asks:
        print(
            "Nothing was asked: the proposals are guesses until confirmed, and the verdict is at best incomplete."
        )
    print()
    print_results(results)
    return EXIT_PASS


def _size(parsed: argparse.Namespace) -> int:
    from loadloom.plugin.advise import advise_drawing
    from loadloom.plugin.apply import apply_advice, check_copy
    from loadloom.plugin.writing import write_files
    from loadloom.reports.advice import check_suffix, print_advice, rendered

    inputs = _inputs(parsed)
    _check(check_suffix, parsed, inputs)
    if parsed.copy is not None:
        check_copy(parsed.input, parsed.copy)
    with _progress() as tell, _nothing_from_solvers():
        found = advise_drawing(
            parsed.input, parsed.settings, tell, parsed.date, parsed.what_if, strict=parsed.strict
        )
    files = {output: rendered(found.advised, output) for output in parsed.outputs}
    write_files(files, inputs, force=parsed.force)
    # Files first: who reads the terminal through a pipe may stop before its end.
    applied = None
    if parsed.copy is not None:
        applied = apply_advice(found, parsed.input, parsed.copy, parsed.settings, force=parsed.force)
    print_advice(found.advised)
    if applied is not None:
        say(f"Proposals written to {applied.symbols} symbols in " + ", ".join(str(f) for f in applied.files))
        if applied.settings is not None:
            say(f"Settings of {parsed.settings} copied to {applied.settings}, so that the copy is read by them")
        if applied.not_written:
            say("Not in the copy: " + ", ".join(applied.not_written))
    return exit_code(found.advised.results, parsed.fail_on)


def _compare(parsed: argparse.Namespace) -> int:
    from loadloom.plugin.writing import write_files
    from loadloom.reports.comparison.changes import compare
    from loadloom.reports.comparison.writers import check_suffix, print_comparison, rendered

    inputs = [parsed.old, parsed.new]
    _check(check_suffix, parsed, inputs)
    if parsed.what_if and parsed.new.suffix.lower() == ".json":
        raise UnusableError("can't be changed by --set", file=parsed.new, hint="give the drawing, not its results")
    old, new = _results_of(parsed.old, parsed.date), _results_of(parsed.new, parsed.date, parsed.what_if)
    comparison = compare(old, new)
    files = {output: rendered(comparison, output) for output in parsed.outputs}
    write_files(files, inputs, force=parsed.force)
    print_comparison(comparison)
    return EXIT_FINDING if comparison.new_findings else EXIT_PASS


def _old_results(path: Path) -> Results:
    from loadloom.reports.results_json import read_results

    with _sentences():
        return read_results(path)


def _results_of(path: Path, date: str | None, what_if: Sequence[str] = ()) -> Results:
    if path.suffix.lower() != ".json":
        return _analyse(path, None, date, what_if).results
    return _old_results(path)


def _annotate(parsed: argparse.Namespace) -> int:
    from loadloom.plugin.annotate import annotate, check_places

    check_places(parsed.input, parsed.copy)
    if parsed.in_place and parsed.what_if:
        raise UnusableError("--in-place writes into the drawing, which --set leaves as it is", hint="use -o COPY")
    analysed = _analyse(parsed.input, parsed.settings, what_if=parsed.what_if)
    written = annotate(analysed.drawing, analysed.results, parsed.input, parsed.copy, force=parsed.force)
    for change in analysed.results.settings.get("what_if", ()):
        say(f"What if: the values hold for {change['part']}.{change['field']} = {change['tried']}")
    say(f"Values written beside {written.symbols} symbols in " + ", ".join(str(file) for file in written.files))
    return EXIT_PASS


def _kicad(parsed: argparse.Namespace) -> int:
    from loadloom.plugin.kicad.setup import run

    for line in run(parsed.action, parsed.project, button=not parsed.no_button):
        say(line)
    return EXIT_PASS


def _rules(parsed: argparse.Namespace) -> int:
    from loadloom.graph.verdict.registry import all_rules
    from loadloom.plugin.renamed import RULES, nearest_hint
    from loadloom.reports.rule_reference import markdown, page

    known = all_rules()
    for name in parsed.names:
        if name not in known:
            near = difflib.get_close_matches(name, known, 1, 0.0)
            raise UnusableError(f"there is no rule “{name}”", hint=nearest_hint(name, near[0], RULES))
    print("\n".join(page(known[name]) for name in parsed.names) or markdown(), end="")
    return EXIT_PASS


def _insulation(_: argparse.Namespace) -> int:
    from loadloom.graph.ratings.insulation import known_classes_page

    print(known_classes_page(), end="")
    return EXIT_PASS


def _demo(parsed: argparse.Namespace) -> int:
    from loadloom.plugin.demo import write_demo

    # Page and workbook of every run hold the table of worse conditions.
    return write_demo(parsed.folder, partial(_analyse, sensitivity=True), force=parsed.force)


def _analyse(
    path: Path,
    settings: Path | None = None,
    date: str | None = None,
    what_if: Sequence[str] = (),
    *,
    strict: bool = False,
    explain: Sequence[str] = (),
    sensitivity: bool = False,
) -> Analysed:
    from loadloom.plugin.pipeline import analyse_drawing

    with _progress() as tell, _nothing_from_solvers():
        return analyse_drawing(
            path, settings, tell, date, what_if, strict=strict, explain=explain, sensitivity=sensitivity
        )


@contextlib.contextmanager
def _nothing_from_solvers() -> Iterator[None]:
    """What libraries written in C print on the process's own stdout is thrown away: reports alone stand there."""
    try:
        sys.stdout.flush()
        kept = os.dup(1)
    except OSError:  # a closed stdout takes nothing anyway
        yield
        return
    sink = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(sink, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(sink)


@contextlib.contextmanager
def _progress() -> Iterator[Callable[[str], None]]:
    """A line on the terminal that says what is being done; silent where stderr is none."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.live import Live
    from rich.text import Text

    # Nothing that turns by itself: it would be a thread, and the analysis is copied to a second core only without.
    with Live(console=Console(stderr=True), auto_refresh=False, transient=True) as line:
        yield lambda text: line.update(Text(f"… {terminal_text(text)}", style="dim"), refresh=True)


def _inputs(parsed: argparse.Namespace) -> list[Path]:
    """The files named on the command line that are read."""
    others = (parsed.settings, getattr(parsed, "since", None))
    return [parsed.input, *(other for other in others if other is not None)]


def _check(check_suffix: Callable[[Path], None], parsed: argparse.Namespace, inputs: Sequence[Path]) -> None:
    """Refuse, before any work is done, outputs that could not be written."""
    from loadloom.plugin.writing import check_place

    for output in parsed.outputs:
        with _sentences():
            check_suffix(output)
        check_place(output, inputs, force=parsed.force)


@contextlib.contextmanager
def _sentences() -> Iterator[None]:
    """Errors of the reports, which know no command line, as the one kind that ends a run."""
    from loadloom.reports.errors import UnreadableResultsError
    from loadloom.reports.safe_file import WriteError

    try:
        yield
    except (WriteError, UnreadableResultsError) as error:
        raise UnusableError(str(error)) from error


if __name__ == "__main__":
    sys.exit(main())
