"""Currents, utilisation and verdict written into fields of a copy of the drawing, so that KiCad shows them."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from loadloom.graph.model.findings import Severity
from loadloom.graph.model.results import ConductorRow, ContactRow, DeviceRow, Results, SwitchRow
from loadloom.plugin.drawing import Drawing, Symbol
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.placing import LINE_HEIGHT, SheetSpace, text_width_mm
from loadloom.plugin.project_copy import project_files
from loadloom.plugin.splicing import FieldPlace, SchematicText, Span
from loadloom.plugin.writing import edit_files, make_folders, write_files
from loadloom.reports.about_words import mark

CURRENT_FIELD = "Solved current"
USE_FIELD = "Solved utilisation"
VERDICT_FIELD = "Solved verdict"
FIELDS = (CURRENT_FIELD, USE_FIELD, VERDICT_FIELD)

SIZE_MM = 1.27
"""Height of the letters of the new fields: that of KiCad's own texts."""

_LEAST_MM = (6.5, 5.0)
"""Room kept at least for a current and a utilisation, whatever stands there now."""


@dataclass(frozen=True, slots=True)
class Note:
    """What is written beside one symbol: the row it comes from, and how grave it is."""

    part: str
    """``core 2`` or ``pin 3`` of a symbol that has several, else empty."""
    current_a: float
    utilisation: float | None
    verdict: str
    gravity: int
    """0 ok, 1 warning, 2 not determined, 3 fail."""

    @property
    def rank(self) -> tuple[int, float, float]:
        """Greater is worse."""
        return self.gravity, self.utilisation or 0.0, self.current_a


@dataclass(frozen=True, slots=True)
class Annotated:
    """What was written: the files, and how many symbols carry values."""

    files: tuple[Path, ...]
    symbols: int


_MOST_NAMED = 2
"""Instances of one symbol that a text names."""

NOT_SET = "not active or not set"
"""What is said at a device that has no setting."""


def notes_by_reference(results: Results) -> dict[str, list[Note]]:
    """Notes by the reference of the symbol that they belong to (a cable or connector has several)."""
    severities: dict[tuple[str, str], Severity | None] = {}
    for finding in results.findings:
        key = (finding.subject.id, finding.rule)
        if finding.accepted is not None:
            severities.setdefault(key, None)
        elif severities.get(key) is None or finding.severity.rank < (severities[key] or Severity.NOTE).rank:
            severities[key] = finding.severity
    found: dict[str, list[Note]] = {}

    def add(
        reference: str,
        part: str,
        row: ConductorRow | ContactRow | DeviceRow | SwitchRow,
        rules: Iterable[str],
        judged: bool,
    ) -> None:
        # The share is of what lasts: 42 A of a start beside 28 % would be two numbers of two things.
        lasting_a = row.continuous_a if isinstance(row, ConductorRow | ContactRow) else None
        current_a = row.current_a if lasting_a is None else lasting_a
        if current_a is not None:
            fault_a = None if isinstance(row, DeviceRow) else row.sustained_fault_a
            verdict, gravity = _verdict({rule: severities.get((row.id, rule)) for rule in rules}, judged, fault_a)
            found.setdefault(reference, []).append(Note(part, current_a, row.utilisation, verdict, gravity))

    for conductor in results.conductors:
        judged = conductor.allowed_a is not None and conductor.protected is not None
        core = f"core {conductor.id.rpartition('.')[2]}" if conductor.cable else ""
        add(conductor.cable or conductor.id, core, conductor, conductor.findings, judged)
    for contact in results.contacts:
        judged = contact.allowed_a is not None and contact.protected is not None
        add(contact.connector, f"pin {contact.pin}", contact, contact.findings, judged)
    for switch in results.switches:
        judged = switch.allowed_a is not None and switch.protected is not None
        reference, _, pole = switch.id.partition(".")
        symbol, part = (reference, f"pole {pole}") if pole.isdecimal() else (switch.id, "")
        add(symbol, part, switch, switch.findings, judged)
    for device in results.devices:
        add(device.id, "", device, device.findings, device.setting_a is not None)
        if device.setting_a is None and not device.findings and device.id in found:
            # A channel that an arrangement takes out, or that was left off: what to look at first behind it.
            found[device.id] = [replace(note, verdict=NOT_SET) for note in found[device.id]]
    return found


def check_places(source: Path, copy: Path | None) -> None:
    """Refuse, before any work is done, what ``annotate`` would refuse about the two names.

    Raises:
        UnusableError: the source is no drawing, or the copy's root would be the drawing itself or another one.
    """
    root = _root_of(source)
    if root.is_file():
        target = root if copy is None else _target(copy, root)
        _refuse_others(SchematicText(root), target, [root.resolve()], copy is None)


def annotate(
    drawing: Drawing, results: Results, source: Path, copy: Path | None, *, force: bool = False
) -> Annotated:
    """Write an annotated copy of a schematic and its sheets.

    ``source`` is the root schematic or the project file, ``copy`` a folder or the root file of the copy; None
    writes into the drawing itself. A field is shared by all instances of a repeated sheet: the worst is written
    and said to be that. Sheets keep their names relative to the root.

    Raises:
        UnusableError: the copy would write over the drawing or another one, or a file can't be read or written.
    """
    notes = notes_by_reference(results)
    if said := mark(results):
        notes = {name: [replace(n, verdict=f"{said}: {n.verdict}") for n in each] for name, each in notes.items()}
    return edited_copy(drawing, source, copy, lambda text, by_uuid: _edit_sheet(text, by_uuid, notes), force=force)


def edited_copy(
    drawing: Drawing,
    source: Path,
    copy: Path | None,
    edit: Callable[[SchematicText, Mapping[str, list[Symbol]]], int],
    beside: Mapping[str, bytes] = MappingProxyType({}),
    *,
    force: bool = False,
) -> Annotated:
    """Write a copy of a schematic with its sheets edited, as ``annotate`` does; raises as it does.

    ``edit`` is given every sheet's text and the symbols by the uuid of their placed units, and says how many
    symbols it has edited. ``beside``: files that stand beside the copy's root, by their names. ``force`` lets a
    copy be replaced that was edited since.
    """
    root = _root_of(source)
    base = root.resolve().parent
    target_root = root if copy is None else _target(copy, root)
    sheets = sorted({root.resolve(), *((base / s.file).resolve() for s in drawing.symbols if s.file)})
    targets = {sheet: target_root.parent / sheet.relative_to(base) for sheet in sheets}
    targets[root.resolve()] = target_root
    texts = {sheet: SchematicText(sheet) for sheet in sheets}
    for sheet, text in texts.items():
        _refuse_others(text, targets[sheet], sheets, copy is None)
    by_uuid: dict[str, list[Symbol]] = {}
    for symbol in drawing.symbols:
        for uuid in symbol.uuids:
            by_uuid.setdefault(uuid, []).append(symbol)
    count = sum(edit(text, by_uuid) for text in texts.values())
    if copy is None:
        edit_files({sheet: (text.content, text.result()) for sheet, text in texts.items()})
        return Annotated(tuple(sheets), count)
    try:
        files = project_files(root, target_root)
    except (OSError, UnicodeDecodeError) as error:
        raise UnusableError(f"can't be copied: {getattr(error, 'strerror', None) or error}", file=root) from error
    files |= {target_root.parent / name: content for name, content in beside.items()}
    files |= {targets[sheet]: text.result() for sheet, text in texts.items()}
    make_folders(files)
    write_files(files, sheets, force=force)
    return Annotated(tuple(targets[sheet] for sheet in sheets), count)


def root_of_copy(source: Path, copy: Path) -> Path:
    """The root schematic of a copy. Raises UnusableError where either is no drawing's name."""
    return _target(copy, _root_of(source))


_OF_FAULTS = ("path-unprotected", "contact-unprotected", "switch-unprotected", "overload-band")
"""Rules that find the sustained fault current too great: the number that is wrong then, not the load's."""


def _verdict(
    severities: Mapping[str, Severity | None], judged: bool, fault_a: float | None = None
) -> tuple[str, int]:
    """Word and gravity of a row: its open errors, else that it was not determined, else its open warnings.

    ``fault_a``: its sustained fault current, named where that is the finding.
    """
    errors = [rule for rule, severity in severities.items() if severity is Severity.ERROR]
    if errors:
        said = f", fault {_amperes(fault_a)}" if fault_a is not None and set(errors) & set(_OF_FAULTS) else ""
        return f"FAIL {_listed(errors)}{said}", 3
    if not judged:
        return "not determined", 2
    if Severity.WARNING in severities.values():
        return "warning", 1
    return "ok", 0


def _listed(rules: list[str]) -> str:
    more = f" +{len(rules) - 1}" if len(rules) > 1 else ""
    return rules[0] + more


def _edit_sheet(text: SchematicText, by_uuid: Mapping[str, list[Symbol]], notes: Mapping[str, list[Note]]) -> int:
    space = SheetSpace(text, frozenset(name.casefold() for name in FIELDS))
    count = 0
    for span in text.symbols():
        instances = by_uuid.get(text.child_text(span, "uuid") or "", [])
        found = [note for symbol in instances for note in notes.get(symbol.reference, [])]
        if not found:
            continue
        count += 1
        worst = max(found, key=lambda note: note.rank)
        texts = _texts(worst, len(found), len(instances))
        # The same text stands on every instance of a repeated sheet, so that it has to name all of them.
        reference = ", ".join(symbol.reference for symbol in instances[:_MOST_NAMED])
        reference += ", …" if len(instances) > _MOST_NAMED else ""
        texts, places = _places(text, span, space, texts, reference)
        for name, value, place in zip(FIELDS, texts, places, strict=True):
            text.set_field(span, name, value, place)
    return count


def _texts(worst: Note, count: int, instances: int) -> tuple[str, str, str]:
    several = worst.part and count > instances
    said = [worst.verdict, worst.part if several else "", f"worst of {instances}" if instances > 1 else ""]
    use = "–" if worst.verdict.endswith(NOT_SET) else "unrated"
    if worst.utilisation is not None:
        use = f"{100 * worst.utilisation:.0f} %"
    return _amperes(worst.current_a), use, ", ".join(word for word in said if word)


def _amperes(current_a: float) -> str:
    """A current with three significant figures, in A or mA."""
    if 0 < abs(current_a) < 0.1:
        return f"{1000 * current_a:.3g} mA"
    return f"{current_a:.0f} A" if abs(current_a) >= 1000 else f"{current_a:.3g} A"


Texts = tuple[str, str, str]


def _places(
    text: SchematicText, symbol: Span, space: SheetSpace, texts: Texts, reference: str
) -> tuple[Texts, list[FieldPlace]]:
    """The texts with the middles of the three fields: all on one line, or the verdict below the numbers.

    Where the nearest free place is closer to another symbol, the text begins with the ``reference`` of its own.
    """
    if all(name in text.properties(symbol) for name in FIELDS):
        return texts, [FieldPlace(0.0, 0.0)] * 3  # they have places
    named: list[Texts] = [texts]
    if reference:
        named.append((f"{reference}: {texts[0]}", *texts[1:]))
    blocks = [_block(each) for each in named]
    sizes = [size for block in blocks for size in (block.one_line, block.two_lines)]
    choice, x, y = space.place(symbol, sizes, [number >= 2 for number in range(len(sizes))])
    block = blocks[choice // 2]
    # KiCad turns the text of a field with its symbol.
    turned = [*text.numbers(text.child(symbol, "at")), 0.0, 0.0, 0.0][2] % 180
    angle = 90.0 if turned else 0.0
    widths, verdict, line = block.widths, block.verdict, SIZE_MM * LINE_HEIGHT
    left = x - sizes[choice][0] / 2
    upper = y if choice % 2 == 0 else y - line / 2
    middles = [(left + widths[0] / 2, upper), (left + widths[0] + widths[1] / 2, upper)]
    if choice % 2 == 0:
        middles.append((left + sum(widths) + verdict / 2, upper))
    else:
        middles.append((left + max(verdict, widths[0]) / 2, y + line / 2))
    places = [FieldPlace(round(px, 2), round(py, 2), angle, SIZE_MM) for px, py in middles]
    return named[choice // 2], places


@dataclass(frozen=True, slots=True)
class _Block:
    """Widths of the two numbers and of the verdict, in mm."""

    widths: tuple[float, float]
    verdict: float

    @property
    def one_line(self) -> tuple[float, float]:
        return sum(self.widths) + self.verdict, SIZE_MM * LINE_HEIGHT

    @property
    def two_lines(self) -> tuple[float, float]:
        return max(sum(self.widths), self.verdict), 2 * SIZE_MM * LINE_HEIGHT


def _block(texts: Texts) -> _Block:
    current, use = (
        max(text_width_mm(value, SIZE_MM) + SIZE_MM, least) for value, least in zip(texts, _LEAST_MM, strict=False)
    )
    return _Block((current, use), text_width_mm(texts[2], SIZE_MM))


def _root_of(source: Path) -> Path:
    if source.suffix.lower() not in (".kicad_sch", ".kicad_pro"):
        raise UnusableError(
            "has no drawing to write into", file=source, hint="give the .kicad_sch or .kicad_pro, not a netlist"
        )
    return source.with_suffix(".kicad_sch")


def _target(copy: Path, root: Path) -> Path:
    suffix = copy.suffix.lower()
    if suffix in (".kicad_sch", ".kicad_pro"):
        return copy.with_suffix(".kicad_sch")
    if suffix and not copy.is_dir():
        raise UnusableError("is no name for a drawing", file=copy, hint="name a .kicad_sch, or a folder")
    return copy / root.name


def _refuse_others(text: SchematicText, target: Path, sheets: list[Path], in_place: bool) -> None:
    """Refuse to write over the drawing itself, over another drawing, or over one that is open in KiCad."""
    lock = target.parent / f"~{target.name}.lck"
    if lock.exists():
        raise UnusableError("is open in KiCad", file=target, hint=f"close it there first; its lock is {lock.name}")
    if in_place:
        return
    if Path(os.path.realpath(target)) in sheets:
        raise UnusableError(
            "would be written over", file=target, hint="name a copy in another folder, or say --in-place"
        )
    if target.exists():
        other = SchematicText(target)
        if other.child_text(other.root, "uuid") != text.child_text(text.root, "uuid"):
            raise UnusableError(
                "is another drawing, and is not written over", file=target, hint="name another copy"
            )
