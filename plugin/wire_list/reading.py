"""A wire list as a Drawing: a symbol for every wire, cable and part, a net for every place where ends meet.

A wire runs ``From`` one end ``To`` another. An end is a part and its pin, ``J1.3`` or ``J1:3``; a part without
pins of its own, as a splice or busbar, by its name alone; or the end of another wire, ``W7.2``. Parts have their
role and fields in a second sheet, or in a second file: ``NAME.parts.csv`` beside ``NAME.csv``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import networkx as nx

from loadloom.graph.model.findings import Finding, Severity, Subject
from loadloom.graph.model.harness import Provenance
from loadloom.graph.model.naming import natural_key, with_article
from loadloom.graph.rules import net_ambiguous
from loadloom.plugin.drawing import WIRE_LIST, Drawing, LeftOut, Net, Pin, PinRef, Symbol
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import hashed, is_there, shown, where_of
from loadloom.plugin.roles import FIELDS, Role, role_of_word
from loadloom.plugin.wire_list.columns import (
    ASSUMED,
    CABLE,
    FITTED,
    FROM,
    FROM_PIN,
    JOINED,
    JOINT,
    KIND,
    LABEL,
    LIBRARY,
    MESSAGE,
    NOT_DRAWN,
    NOTE_HEADS,
    PART,
    PART_HEADS,
    PINS,
    READ_HEADS,
    REMEDY,
    ROLE,
    RULE,
    SEVERITY,
    SUBJECT,
    TO,
    TO_PIN,
    VALUE,
    Head,
    heads_of,
    in_two_rows,
    is_notes,
    is_parts,
    is_wires,
)
from loadloom.plugin.wire_list.tables import Grid, read_grids

_TWO = ("1", "2")
_USUAL_PINS: Mapping[Role, tuple[tuple[str, ...], ...]] = {
    **dict.fromkeys(
        (Role.LIMITER, Role.FUSE, Role.BREAKER, Role.RESETTABLE, Role.SWITCH, Role.WIRE, Role.TRACK), (_TWO,)
    ),
    **dict.fromkeys((Role.OUTPUT, Role.BATTERY, Role.SOLAR, Role.LOAD), (_TWO, ("+", "-"))),
    Role.DIODE: (("A", "K"),),
    Role.CONVERTER: (("1", "2", "3", "4"), ("IN+", "IN-", "OUT+", "OUT-")),
}
"""The pins of parts whose pins are not listed, where only some of them are in use."""

_BARE_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_DECIMAL_COMMA = re.compile(r"(?<![\w.,])\d+,(?:\d{1,2}|\d{4,})(?![\d,.])")
_POINT_OF_THREE = re.compile(r"[1-9]\d{0,2}(?:\.\d{3})+(?![\d.,])")
_QUANTITIES = frozenset(name.casefold() for spec in FIELDS.values() for name in spec.names)


@dataclass(frozen=True, slots=True)
class Row:
    """One row by column name, empty cells left out; ``line`` is its number in the file."""

    texts: Mapping[str, str]
    line: int

    def get(self, name: str) -> str:
        """The text of a column, empty where there is none."""
        return self.texts.get(name, "")

    def fields(self, *others: str) -> dict[str, str]:
        """All columns but these."""
        return {name: text for name, text in self.texts.items() if name not in others}


def read_wire_list(path: Path) -> Drawing:
    """Read a wire list (``.xlsx`` or ``.csv``) with its parts.

    What is wrong with one row leaves that row out and is told. Raises UnusableError for a file that is no wire
    list.
    """
    grids = read_grids(path)
    files = [path]
    for kind in ("parts", "notes") if path.suffix.lower() == ".csv" else ():
        beside = path.with_name(f"{path.stem}.{kind}.csv")
        if is_there(beside):
            grids += read_grids(beside)
            files.append(beside)
    wires = [rows for grid in grids if (rows := _rows(grid, is_wires, READ_HEADS)) is not None]
    if not wires:
        raise UnusableError(
            "is no wire list: no table in it has the columns From and To", shown(path), hint="name the two ends so"
        )
    parts = [rows for grid in grids if (rows := _rows(grid, is_parts, PART_HEADS)) is not None]
    used = tuple(hashed("wire list", file, file.name) for file in files)
    provenance = Provenance(
        file=where_of(path), sha256=used[0].sha256, title=path.stem, route=WIRE_LIST, files=used
    )
    maker = _Maker(path.name, [row for rows in parts for row in rows])
    notes = [rows for grid in grids if (rows := _rows(grid, is_notes, NOTE_HEADS)) is not None]
    maker.notices += [found for rows in notes for row in rows if (found := _notice(row)) is not None]
    for rows in wires:
        for row in rows:
            maker.add(row)
    return maker.drawing(provenance)


def _notice(row: Row) -> Finding | None:
    """What was found when the drawing was read that the list was made from."""
    from loadloom.graph.verdict.registry import all_rules

    rule = all_rules().get(row.get(RULE))
    if rule is None:
        return None
    found = rule.rule.finding(Subject(id=row.get(SUBJECT)), row.get(MESSAGE), row.get(REMEDY))
    severity = row.get(SEVERITY).casefold()
    return replace(found, severity=Severity(severity)) if severity in set(Severity) else found


def _assumed(label: str, row: Row, file: str) -> Finding:
    return net_ambiguous.RULE.finding(
        Subject(id=label, file=file, line=row.line),
        f"{label}: the wire list says that this wire was assumed, since the drawing did not say how its net runs.",
        "Correct the wire's ends if need be, and empty its column Kind.",
    )


def _rows(grid: Grid, fits: object, known: tuple[str, ...]) -> list[Row] | None:
    """The rows of a table whose heads fit; the heads stand in one of its first rows. None where they don't."""
    assert callable(fits)
    for at, (_, texts) in enumerate(grid.rows[:20]):
        below = grid.rows[at + 1][1] if at + 1 < len(grid.rows) else ()
        both = in_two_rows(texts, below)
        for heads, first in ((both, at + 2), (list(texts), at + 1)):
            if heads is not None and fits(heads):
                found = heads_of(heads, known)
                commas = _has_decimal_commas(found, grid.rows[first:])
                return [_row(number, cells, found, commas) for number, cells in grid.rows[first:]]
    return None


def _has_decimal_commas(heads: list[Head | None], rows: Iterable[tuple[int, tuple[str, ...]]]) -> bool:
    """Whether a quantity somewhere in a table is written with a decimal comma."""
    return any(
        head is not None and _is_quantity(head) and _DECIMAL_COMMA.match(text)
        for _, cells in rows
        for head, text in zip(heads, cells, strict=False)
    )


def _is_quantity(head: Head) -> bool:
    return bool(head.unit) or head.name.casefold() in _QUANTITIES


def _row(number: int, cells: tuple[str, ...], heads: list[Head | None], commas: bool) -> Row:
    """One row. What can't be told stays in its text, which then is no value: two columns of one name that differ,
    and a point before three digits where the table has decimal ``commas``.
    """
    texts: dict[str, str] = {}
    for head, text in zip(heads, cells, strict=False):
        if head is None or not text:
            continue
        name, unit = head.name, head.unit
        bare = unit and (_BARE_NUMBER.fullmatch(text) or (unit == "AWG" and re.fullmatch(r"\d+/0|0{2,4}", text)))
        text = f"{text} {unit}" if bare else text
        if commas and _is_quantity(head) and _POINT_OF_THREE.match(text):
            text = f"{text} (thousands or decimals?)"
        if texts.setdefault(name, text) != text:
            texts[name] = f"{texts[name]} or {text}?"
    names = {head.name for head in heads if head is not None}
    for end, pin in ((FROM, FROM_PIN), (TO, TO_PIN)):
        if {end, pin} <= names and (at := texts.pop(pin, "")) and texts.get(end):
            texts[end] = f"{texts[end]}.{at}"
    return Row(texts, number)


@dataclass
class _Part:
    row: Row
    pins: dict[str, str] = field(default_factory=dict)
    ends: dict[str, tuple[str, ...]] = field(default_factory=dict)


class _Maker:
    def __init__(self, file: str, parts: list[Row]) -> None:
        self.file = file
        self.parts: dict[str, _Part] = {}
        self.symbols: dict[str, Symbol] = {}
        self.cables: dict[str, dict[str, Row]] = {}
        self.left: list[LeftOut] = []
        self.notices: list[Finding] = []
        self.joined: nx.Graph = nx.Graph()
        self.names: dict[PinRef, str] = {}
        self.kinds: dict[PinRef, str] = {}
        self.ends: list[tuple[Row, str, PinRef]] = []
        for row in parts:
            reference = row.get(PART)
            if reference and reference not in self.parts:
                self.parts[reference] = self.part(row)
            elif reference:
                cause = f"is listed twice among the parts, in lines {self.parts[reference].row.line} and {row.line}"
                self.leave_out(reference, row, cause, "Give each part a name of its own.")

    def part(self, row: Row) -> _Part:
        """``Pins`` names pins as ``1=+, 2=-``, or gives ends of the role their pins as ``K1: +=11``."""
        part = _Part(row)
        for text in filter(None, re.split(r"[,;]\s*|\s+", row.get(PINS))):
            number, equals, name = text.partition("=")
            if number.startswith("@") and equals:
                part.ends[number[1:]] = (*part.ends.get(number[1:], ()), name)
            else:
                part.pins[number] = name
        return part

    def leave_out(self, reference: str, row: Row, cause: str, remedy: str) -> None:
        symbol = Symbol(reference, "", "", (Pin("1"), Pin("2")), {}, file=self.file, line=row.line)
        self.left.append(LeftOut(symbol, cause, remedy))

    def add(self, row: Row) -> None:
        """One row of the table of wires."""
        kind = row.get(KIND).casefold()
        label = row.get(LABEL) or f"{row.get(FROM)}-{row.get(TO)}"
        lacks = [name for name in (FROM, TO) if not row.get(name)]
        if lacks:
            if len(row.texts) > 1:
                self.leave_out(
                    label, row, f"names no end in the column {lacks[0]} (line {row.line})", "Name both ends."
                )
            return
        if kind in (JOINT, JOINED, NOT_DRAWN):
            self.ends.append((row, kind, PinRef("", "")))
            return
        if kind not in ("", "wire", "core", ASSUMED):
            self.leave_out(
                label, row, f"is of the kind {kind!r}, which is not known", f"Leave Kind empty, or {JOINT}."
            )
            return
        if kind == ASSUMED:
            self.notices.append(_assumed(label, row, self.file))
        cable, _, core = label.rpartition(".")
        if row.get(CABLE) and (row.get(CABLE) == cable or not cable):
            self.cables.setdefault(row.get(CABLE), {})
        if row.get(CABLE):
            core = core if cable == row.get(CABLE) else label
            if core in self.cables.setdefault(row.get(CABLE), {}):
                self.twice(f"{row.get(CABLE)}.{core}", row)
                return
            self.cables[row.get(CABLE)][core] = row
            pins = [PinRef(row.get(CABLE), f"{core}{side}") for side in "AB"]
        else:
            if label in self.symbols:
                self.twice(label, row)
                return
            fields = {**row.fields(LABEL, KIND, FROM, TO, CABLE, FITTED), "Role": "wire"}
            self.symbols[label] = self.symbol(label, ("1", "2"), fields, row)
            pins = [PinRef(label, number) for number in ("1", "2")]
        for pin, end in zip(pins, (FROM, TO), strict=True):
            self.ends.append((row, end, pin))

    def twice(self, label: str, row: Row) -> None:
        first = self.symbols.get(label)
        where = f", the other in line {first.line}" if first is not None else ""
        cause = f"is the label of two wires, one in line {row.line}{where}"
        self.leave_out(label, row, cause, "Give each wire a label of its own.")

    def symbol(self, reference: str, pins: Iterable[str], fields: dict[str, str], row: Row) -> Symbol:
        return Symbol(
            reference=reference,
            value=row.get(VALUE),
            library_id=row.get(LIBRARY),
            pins=tuple(Pin(number) for number in pins),
            fields=fields,
            dnp=_is_unfitted(row),
            file=self.file,
            line=row.line,
            uuids=(f"{self.file}:{reference}",),
        )

    def drawing(self, provenance: Provenance) -> Drawing:
        """Everything put together; call it once, after all rows."""
        for name in sorted(self.parts.keys() & (self.symbols.keys() | self.cables.keys())):
            row = self.parts[name].row
            cause = f"is the name of a part (line {row.line}) and of a wire or cable"
            self.leave_out(name, row, cause, "Give each a name of its own.")
            self.cables.pop(name, None)
        self.leave_out_ends_without_pin()
        twice = {left.symbol.reference for left in self.left}
        for name in twice & self.symbols.keys():
            del self.symbols[name]
        for cable, cores in self.cables.items():
            self.symbols[cable] = self.cable(cable, cores)
        first_of: dict[str, PinRef] = {}
        for row, kind, pin in self.ends:
            if kind in (FROM, TO):
                if pin.reference in self.symbols:
                    self.joined.add_edge(pin, self.end(row.get(kind)))
                continue
            one, other = self.end(row.get(FROM)), self.end(row.get(TO))
            self.joined.add_edge(one, other)
            self.kinds[one] = kind
            if row.get(LABEL):
                self.names[one] = row.get(LABEL)
                # Rows of one name are one net, as labels of one name are on a drawing.
                self.joined.add_edge(one, first_of.setdefault(row.get(LABEL), one))
        self.share_pins_of_mates()
        for reference, part in self.parts.items():
            if reference not in self.symbols and reference not in twice:
                self.symbols[reference] = self.of_part(reference, part)
        return Drawing(
            symbols=tuple(sorted(self.symbols.values(), key=lambda s: natural_key(s.reference))),
            nets=self.nets(),
            provenance=provenance,
            route=WIRE_LIST,
            left_out=tuple(self.left),
            notices=tuple(self.notices),
        )

    def leave_out_ends_without_pin(self) -> None:
        """Rows that name a part of several pins and none of them: any pin would be a guess."""
        told: set[int] = set()
        for row, _, _ in self.ends:
            bare = next((row.get(end) for end in (FROM, TO) if self.lacks_pin(row.get(end))), None)
            if bare is not None and row.line not in told:
                told.add(row.line)
                label = row.get(LABEL) or f"{row.get(FROM)}-{row.get(TO)}"
                role = self.parts[bare].row.get(ROLE)
                cause = f"ends at {bare}, {with_article(role)}, and names no pin of it (line {row.line})"
                self.leave_out(label, row, cause, f"Name the pin, as {bare}.1.")
        self.ends = [one for one in self.ends if one[0].line not in told]

    def lacks_pin(self, text: str) -> bool:
        """Whether an end is the bare name of a part that has several pins by its role."""
        if text not in self.parts or self.split(text) is not None:
            return False
        role = role_of_word(self.parts[text].row.get(ROLE).removesuffix("?"))
        return role is not None and role not in (Role.SPLICE, Role.CHASSIS, Role.IGNORE)

    def cable(self, cable: str, cores: Mapping[str, Row]) -> Symbol:
        fields = {"Role": "cable"}
        absent = [core for core, row in cores.items() if _is_unfitted(row)]
        if absent and len(absent) < len(cores):
            for core in absent:
                cause = f"is a core that is marked as not fitted, of a cable that is (line {cores[core].line})"
                self.leave_out(
                    f"{cable}.{core}", cores[core], cause, "Remove the row, or mark the whole cable as not fitted."
                )
            cores = {core: row for core, row in cores.items() if core not in absent}
        for core, row in cores.items():
            for name, text in row.fields(LABEL, KIND, FROM, TO, CABLE, FITTED).items():
                head, at, word = name.partition("@")
                fields[f"{head}.{core}{at}{word}"] = text
        pins = [f"{core}{side}" for core in cores for side in "AB"]
        first = next(iter(cores.values()))
        return self.symbol(cable, pins, fields, first)

    def of_part(self, reference: str, part: _Part) -> Symbol:
        for usual in _USUAL_PINS.get(role_of_word(part.row.get(ROLE).removesuffix("?")) or Role.IGNORE, ()):
            if not part.row.get(PINS) and part.pins and part.pins.keys() <= set(usual):
                part.pins.update((number, "") for number in usual if number not in part.pins)
        fields = part.row.fields(PART, ROLE, VALUE, LIBRARY, PINS, FITTED)
        role = part.row.get(ROLE)
        if role:
            fields["Role"] = role.removesuffix("?").strip()
        pins = sorted(part.pins, key=natural_key)
        made = self.symbol(reference, (), fields, part.row)
        return Symbol(
            reference=made.reference,
            value=made.value,
            library_id=made.library_id,
            pins=tuple(Pin(number, part.pins[number]) for number in pins),
            fields=made.fields,
            dnp=made.dnp,
            file=made.file,
            line=made.line or None,
            uuids=made.uuids,
            ends=part.ends,
            guessed=role.endswith("?"),
        )

    def end(self, text: str) -> PinRef:
        """The pin that an end names; a part that is not listed is one without a role."""
        known = self.split(text)
        if known is not None:
            return self.pin(*known)
        if text in self.parts:
            return self.pin(text, "1")
        match = re.fullmatch(r"(.+?)\s*[.:]\s*([^.:\s]+)", text)
        return self.pin(match[1], match[2]) if match else self.pin(text, "1")

    def split(self, text: str) -> tuple[str, str] | None:
        """The part or wire, and its pin, where an end names one that is listed."""
        for separator in (".", ":", "/", "-", " "):
            reference, _, number = text.rpartition(separator)
            reference, number = reference.strip(), number.strip()
            if reference and number and (reference in self.parts or reference in self.symbols):
                return reference, number
        return None

    def pin(self, reference: str, number: str) -> PinRef:
        if reference in self.symbols:
            return PinRef(reference, number)
        part = self.parts.setdefault(reference, _Part(Row({PART: reference}, 0)))
        if number not in part.pins:
            named = [known for known, name in part.pins.items() if name == number]
            if len(named) == 1:
                return PinRef(reference, named[0])
            part.pins[number] = ""
        return PinRef(reference, number)

    def share_pins_of_mates(self) -> None:
        """A connector whose pins are not listed has those of its mate too: a wire list names only those in use."""
        for part in self.parts.values():
            mate = self.parts.get(part.row.get("Mates"))
            if mate is not None and not part.row.get(PINS) and not mate.row.get(PINS):
                shared = {**part.pins, **mate.pins}
                part.pins, mate.pins = dict(shared), dict(shared)

    def nets(self) -> tuple[Net, ...]:
        found = []
        known = {PinRef(symbol.reference, pin.number) for symbol in self.symbols.values() for pin in symbol.pins}
        for pins in nx.connected_components(self.joined):
            there = sorted(
                (pin for pin in pins if pin in known),
                key=_order,
            )
            if not there:
                continue
            names = sorted({self.names[pin] for pin in pins if pin in self.names}, key=natural_key)
            kinds = {self.kinds[pin] for pin in pins if pin in self.kinds}
            name = names[0] if names else f"Net-({there[0].reference}-{there[0].number})"
            found.append(
                Net(
                    name=name,
                    pins=tuple(there),
                    named_by_user=bool(names),
                    power_symbol=NOT_DRAWN in kinds,
                    sheets=("/",),
                    joint=JOINT in kinds,
                )
            )
        return tuple(sorted(found, key=lambda net: _order(net.pins[0])))


def _is_unfitted(row: Row) -> bool:
    return row.get(FITTED).casefold() in ("no", "false", "dnp")


def _order(pin: PinRef) -> tuple[object, object]:
    return natural_key(pin.reference), natural_key(pin.number)
