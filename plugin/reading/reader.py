"""The way from a file to a Drawing: which reading serves which suffix, with kicad-cli or without."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Literal

from loadloom.graph.model.findings import Finding, Severity, Subject
from loadloom.graph.model.harness import Provenance
from loadloom.graph.rules import file_version_untested, readings_differ, symbols_may_be_missing
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import TextFile, input_file, read_text, shown, where_of
from loadloom.plugin.reading import kicad_cli as cli
from loadloom.plugin.reading import sexpr, xml
from loadloom.plugin.reading.assembly import OwnReading, from_netlist, from_own, read_own
from loadloom.plugin.reading.hierarchy import Hierarchy, read_hierarchy
from loadloom.plugin.reading.netlist import Netlist, read_netlist
from loadloom.plugin.reading.node import Node
from loadloom.plugin.reading.project import Project, read_project
from loadloom.plugin.reading.sheet import NEWEST_KNOWN_VERSION, release

Progress = Callable[[str], None]
OWN_ROUTE = "own connectivity, without kicad-cli"
SEXPR_ROUTE = "netlist (.net)"
XML_ROUTE = "netlist (.xml)"


def read_drawing(
    path: Path, *, kicad_cli: Path | Literal["none"] | None = None, progress: Progress | None = None
) -> Drawing:
    """Read a drawing: ``.kicad_sch``, ``.kicad_pro``, ``.net``, ``.xml``, or a wire list as ``.xlsx`` or ``.csv``.

    ``kicad_cli`` is the program to use, ``"none"`` to do without it, None to take the one that the environment
    variable ``LOADLOOM_KICAD_CLI`` names (or ``none``), or else one found on this machine. ``progress`` is called
    with a short text before each longer step. Raises UnusableError, one sentence with file, line and cause, for
    input that can't be used as a whole.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix == ".net":
        return _read_netlist_file(path, sexpr.parse, SEXPR_ROUTE)
    if suffix == ".xml":
        return _read_netlist_file(path, xml.parse, XML_ROUTE)
    if suffix in (".xlsx", ".csv"):
        from loadloom.plugin.wire_list.reading import read_wire_list

        return read_wire_list(path)
    if suffix == ".kicad_pro":
        return _read_schematic(_schematic_of(path), kicad_cli, progress)
    if suffix == ".kicad_sch":
        return _read_schematic(path, kicad_cli, progress)
    cause = f"has the suffix {suffix!r}, which is no drawing" if suffix else "has no suffix"
    hint = "give a .kicad_sch, .kicad_pro, .net or .xml, or a wire list as .xlsx or .csv"
    if suffix == ".sch":
        cause, hint = "is a schematic of KiCad 5 or older", sexpr.OLD_FORMAT
    with suppress(OSError):  # A folder above it may be closed to us.
        if path.is_dir():
            raise UnusableError("is a folder, not a file", shown(path), hint=hint)
    raise UnusableError(cause, shown(path), hint=hint)


_NOT_IN_XML = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
"""Characters that XML 1.0 forbids (section 2.2, Char); lone surrogates can't be in what was read as UTF-8."""


def _schematic_of(project: Path) -> Path:
    read_text(project)
    schematic = project.with_suffix(".kicad_sch")
    if not schematic.exists():
        raise UnusableError(f"has no schematic beside it: {schematic.name} is missing", shown(project))
    return schematic


def _read_schematic(path: Path, asked: Path | Literal["none"] | None, progress: Progress | None) -> Drawing:
    read_text(path)  # Before anything else is started on it.
    program = cli.choose(asked)
    if program is None:
        own = _own_reading(path, progress)
        return from_own(own, _provenance(path, own), _version_notices(own.hierarchy), OWN_ROUTE)
    with cli.NetlistExport(program, path) as export:
        own = _own_reading(path, progress)
        if progress:
            progress("waiting for kicad-cli")
        written = export.result()
    if written is None:
        return _without_older_cli(path, program, own)
    if own.unread_buses:
        own = replace(own, nets=None)  # KiCad's own reading of these buses counts.
    netlist = _netlist_of(written, path, own)
    _refuse_lost_parts(netlist, own)
    tool = netlist.tool.removeprefix("Eeschema ")
    notices = [*_version_notices(own.hierarchy)]
    drawing = from_netlist(netlist, own, _provenance(path, own), notices, f"kicad-cli {tool}".strip())
    return replace(drawing, notices=(*notices, *_differences(drawing, own)))


def _own_reading(path: Path, progress: Progress | None) -> OwnReading:
    hierarchy = read_hierarchy(path, progress)
    project = read_project(path.with_suffix(".kicad_pro"))
    _refuse_several_roots(path, project)
    if progress:
        progress("tracing the wires")
    return read_own(hierarchy, project)


def _refuse_several_roots(path: Path, project: Project) -> None:
    """KiCad 10 lets a project have several top-level sheets; one of them is not the whole drawing."""
    others = [name for name in project.top_sheets if Path(name).name != path.name]
    if others and len(project.top_sheets) > 1:
        raise UnusableError(
            f"is one of {len(project.top_sheets)} top-level sheets of its project, beside {others[0]}",
            shown(path),
            hint="export the project's netlist in KiCad (File > Export > Netlist, KiCad XML) and give that",
        )


def _provenance(path: Path, own: OwnReading) -> Provenance:
    title = own.expander.title
    return Provenance(
        file=where_of(path),
        sha256=own.hierarchy.root.sha256,
        title=title("title"),
        revision=title("rev"),
        date=title("date"),
        company=title("company"),
        files=tuple(
            input_file("sheet", file.path, file.sha256, own.hierarchy.file_name(file))
            for file in own.hierarchy.files
        ),
    )


def _without_older_cli(path: Path, program: Path, own: OwnReading) -> Drawing:
    """The drawing by the own reading, where it is newer than the kicad-cli that could not load it.

    kicad-cli gives no reason; that the file is newer than the program is the usual one. Raises UnusableError where
    it is not, and where the own reading can't do without a kicad-cli either.
    """
    number = cli.version(program)
    newest = max(own.hierarchy.files, key=lambda file: file.version)
    if not number or release(newest.version) <= int(number.split(".")[0]):
        raise UnusableError(
            f"kicad-cli {number} could not load it and gives no reason",
            shown(path),
            hint=f"open it in KiCad, or set {cli.VARIABLE}=none to read it without",
        )
    route = f"{OWN_ROUTE}: {number} is too old for file version {newest.version}"
    try:
        return from_own(own, _provenance(path, own), _version_notices(own.hierarchy), route)
    except UnusableError as error:
        error.hint = f"kicad-cli {number} can't read file version {newest.version}; use that of the newer KiCad"
        raise


def _netlist_of(written: TextFile, path: Path, own: OwnReading) -> Netlist:
    """Read what kicad-cli wrote; a fault in it is told with the place in the drawing, not in that file."""
    # kicad-cli writes control characters of the drawing as they stand, and XML has no place for them.
    written = replace(written, text=_NOT_IN_XML.sub("", written.text))
    try:
        return read_netlist(xml.parse(written), shown(path))
    except UnusableError as error:
        part = own.parts.get(error.symbol or "")
        error.file = shown(part.first.sheet.file.path) if part else shown(path)
        error.line = part.first.symbol.line if part else None
        raise


def _refuse_lost_parts(netlist: Netlist, own: OwnReading) -> None:
    listed = {component.reference for component in netlist.components}
    listed |= {left.component.reference for left in netlist.left_out}
    for reference, part in own.parts.items():
        if reference not in listed:
            where, line = shown(part.first.sheet.file.path), part.first.symbol.line
            raise UnusableError("is drawn, but kicad-cli's netlist lacks it", where, line, symbol=reference)


def _version_notices(hierarchy: Hierarchy) -> list[Finding]:
    newest = max(hierarchy.files, key=lambda file: file.version)
    if newest.version <= NEWEST_KNOWN_VERSION:
        return []
    name = hierarchy.file_name(newest)
    return [
        file_version_untested.RULE.finding(
            Subject(id=name, file=name, line=1),
            f"{name} has file version {newest.version}, newer than {NEWEST_KNOWN_VERSION} (KiCad 10), the newest "
            "that this reading was tested with.",
            "Compare the parts and nets of the report with the drawing, or save it with KiCad 10.",
        )
    ]


def _differences(drawing: Drawing, own: OwnReading) -> list[Finding]:
    """Whether the own reading joins the same pins; one finding with an example if not."""
    if own.nets is None:
        return []
    by_cli = {frozenset((pin.reference, pin.number) for pin in net.pins): net.name for net in drawing.nets}
    taking_part = {symbol.reference for symbol in drawing.symbols}
    by_own = {
        frozenset((pin.unit.reference, pin.number) for pin in net.pins if pin.unit.reference in taking_part)
        for net in own.nets
    }
    different = [name for pins, name in by_cli.items() if pins not in by_own]
    if not different:
        return []
    return [
        readings_differ.RULE.finding(
            Subject(id=different[0]),
            f"{len(different)} of {len(by_cli)} nets join other pins by kicad-cli than by this program's own "
            f"reading, among them {different[0]}; the results rest on kicad-cli.",
            "Look at the ends of the wires and labels of that net in KiCad.",
        )
    ]


def _read_netlist_file(path: Path, parse: Callable[[TextFile], Node], route: str) -> Drawing:
    file = read_text(path)
    netlist = read_netlist(parse(file), shown(path))
    block = netlist.title_block
    provenance = Provenance(
        file=where_of(path),
        sha256=file.sha256,
        title=block.get("title", ""),
        revision=block.get("rev", ""),
        date=block.get("date", ""),
        company=block.get("company", ""),
        files=(input_file("netlist", path, file.sha256, path.name),),
    )
    return from_netlist(netlist, None, provenance, _loss_notices(netlist, path.name, route), route)


def _loss_notices(netlist: Netlist, name: str, route: str) -> list[Finding]:
    """What this kind of netlist leaves out without a word."""
    remedy = "Give the schematic (.kicad_sch or .kicad_pro) or its XML netlist instead."
    if route == SEXPR_ROUTE:
        message = f"{name} is a netlist for circuit boards; symbols excluded from the board are not in it."
        return [symbols_may_be_missing.RULE.finding(Subject(id=name, file=name), message, remedy)]
    if any(component.excluded_from_bom for component in netlist.components):
        return []  # A parts-list XML would have left this one out.
    message = (
        f"{name} lists no symbol that is excluded from the parts list; if it was made for a parts list, "
        "such symbols were left out."
    )
    finding = symbols_may_be_missing.RULE.finding(Subject(id=name, file=name), message, remedy)
    return [replace(finding, severity=Severity.NOTE)]
