"""What if: fields replaced in what was read, so that a change can be tried without redrawing.

A change is ``REF.FIELD=VALUE``. ``FIELD`` is a drawing field as the symbol's role reads it, with ``.k`` for core or
pin k and ``@word`` for a state or arrangement; ``Value`` is the symbol's own value. A wire drawn as a net goes by
its net's name or by its pins, ``/AUX1+.Gauge`` or ``J1.3-J2.3.Length``. A value without a tolerance keeps the one
that the drawing states: of ``10 A ±5 %``, ``CH1.Trip=20 A`` makes ``20 A ±5 %``.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from loadloom.graph.model.elements import Band
from loadloom.graph.model.harness import Provenance
from loadloom.graph.model.naming import with_article
from loadloom.graph.model.results import ChangeRow
from loadloom.plugin import values
from loadloom.plugin.drawing import Drawing, Symbol
from loadloom.plugin.drawing_settings import DrawingSettings, NetValues
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.fields import SymbolFields, Words
from loadloom.plugin.notes import Notes
from loadloom.plugin.roles import FIELDS, Role, best_match
from loadloom.plugin.values import UnreadableValue, quoted

FORM = 'write --set REF.FIELD=VALUE, for example --set W7.Gauge="14 AWG"'


@dataclass(frozen=True, slots=True)
class Change:
    """One field replaced: of which part, what the drawing says (None = nothing) and what is tried."""

    part: str
    field: str
    drawn: str | None
    tried: str

    @property
    def sentence(self) -> str:
        """For the assumptions of a report."""
        drawn = (
            f"instead of the drawing's {quoted(self.drawn)}"
            if self.drawn
            else "a field that the drawing does not write"
        )
        tried = quoted(self.tried) if self.tried else "left empty"
        return f"What if: {self.part}.{self.field} is {tried}, {drawn}."

    @property
    def row(self) -> ChangeRow:
        """For what the report says it is about."""
        return ChangeRow(self.part, self.field, self.drawn, self.tried or None)

    @property
    def plain(self) -> dict[str, str | None]:
        """For the echo of the settings in the results."""
        return {"part": self.part, "field": self.field, "drawn": self.drawn, "tried": self.tried}


@dataclass(frozen=True, slots=True)
class Tried:
    """A drawing and its settings with the changes made, and what these were."""

    drawing: Drawing
    settings: DrawingSettings
    changes: tuple[Change, ...]


def try_changes(texts: Sequence[str], drawing: Drawing, settings: DrawingSettings) -> Tried:
    """Make changes, in the order given; a later one to the same field counts.

    Raises:
        UnusableError: a text is no change, or names a part or field that is not there.
    """
    tried = Tried(drawing, settings, ())
    for text in texts:
        left, equals, value = text.partition("=")
        if not equals or "." not in left:
            raise UnusableError(f"--set {quoted(text)} is no change of a field", hint=FORM)
        tried = _changed(left.strip(), value.strip(), text, tried)
    return tried


def _changed(left: str, value: str, text: str, tried: Tried) -> Tried:
    symbols = {symbol.reference: symbol for symbol in tried.drawing.symbols}
    nets = _nets(tried.drawing)
    for at in range(len(left) - 1, 0, -1):  # a name may hold dots itself: the longest that is known counts
        if left[at] != ".":
            continue
        name, field = left[:at], left[at + 1 :]
        if name in symbols:
            return _symbol_changed(symbols[name], field, value, text, tried)
        if name in nets:
            return _net_changed(name, nets[name], field, value, text, tried)
    reference = left.partition(".")[0] if not left.startswith("/") else left.rpartition(".")[0]
    raise UnusableError(
        f"--set {quoted(text)}: the drawing has no {quoted(reference)}",
        hint=_nearest(reference, [*symbols, *nets]),
    )


def _symbol_changed(symbol: Symbol, field: str, value: str, text: str, tried: Tried) -> Tried:
    head = " ".join(field.partition("@")[0].partition(".")[0].split())
    if head.casefold() == "value" and head == field:
        drawn: str | None = symbol.value
        value = _keeping_tolerance(value, symbol.value)
        changed = replace(symbol, value=value)
    else:
        role = _check_field(symbol, head, text, tried.settings)
        main = FIELDS[role].main if role is not None else None
        fields = dict(symbol.fields)
        written = next((name for name in fields if _folded(name) == _folded(field)), field)
        drawn = symbol.fields.get(written)
        if drawn is None:
            drawn = next((t for n, t in symbol.library_fields.items() if _folded(n) == _folded(field)), None)
        is_main = drawn is None and main is not None and _folded(field) == _folded(main)
        in_value = is_main and _read_from_value(symbol, role, main)
        if is_main:
            drawn = symbol.value
        if _folded(head) in _WITH_TOLERANCE:
            plainly = next((t for n, t in symbol.fields.items() if _folded(n) == _folded(head)), symbol.value)
            value = _keeping_tolerance(value, drawn or plainly)
        # A Value that said the same thing would contradict a field beside it, so it is replaced itself.
        changed = replace(symbol, value=value) if in_value else symbol
        if not in_value or not _read_from_value(changed, role, main):
            fields[written] = value
            changed = replace(changed, fields=fields)
    symbols = tuple(changed if other is symbol else other for other in tried.drawing.symbols)
    settings, by_settings = _without_part_field(symbol.reference, field, tried.settings)
    change = Change(symbol.reference, field, by_settings or drawn or None, value)
    return Tried(replace(tried.drawing, symbols=symbols), settings, (*tried.changes, change))


def _read_from_value(symbol: Symbol, role: Role | None, main: str | None) -> bool:
    """Whether the symbol's ``Value`` is read as the main field of its role."""
    if role is None or main is None:
        return False
    return SymbolFields(symbol, role, Notes(), Words()).main_text(main) is not None


def _without_part_field(
    reference: str, field: str, settings: DrawingSettings
) -> tuple[DrawingSettings, str | None]:
    """The settings without what they say of a part's field, which stands before the drawing; and what it was."""
    own = best_match(reference, settings.roles.parts)
    said = {_folded(name): name for name in own.fields} if own else {}
    if own is None or _folded(field) not in said:
        return settings, None
    fields = dict(own.fields)
    was = fields.pop(said[_folded(field)])
    parts = {**settings.roles.parts, reference: replace(own, fields=fields)}
    return replace(settings, roles=replace(settings.roles, parts=parts)), was


def _check_field(symbol: Symbol, head: str, text: str, settings: DrawingSettings) -> Role | None:
    """The symbol's role. Refuses a field that the role does not read: to change it would do nothing."""
    from loadloom.plugin.building.find_roles import find_roles

    alone = Drawing((symbol,), (), Provenance())
    found = find_roles(alone, settings, Notes()).get(symbol.reference)
    role = found.role if found else None
    if role is None or role is Role.IGNORE:
        known: tuple[str, ...] = ("Role",)
    else:
        known = (*FIELDS[role].names, "Role", "Value")
    if head.casefold() not in {name.casefold() for name in known}:
        what = with_article(role) if role is not None else "a symbol without a role"
        raise UnusableError(
            f"--set {quoted(text)}: {what} such as {symbol.reference} has no field {quoted(head)}",
            hint=_nearest(head, known),
        )
    return role


_WITH_TOLERANCE = frozenset({"trip", "resistance", "voltage"})
"""Fields whose text may state a tolerance; a contact's resistance states new to aged, which is none."""


def _keeping_tolerance(value: str, drawn: str) -> str:
    """A value tried, with the drawing's tolerance unless it states one of its own (``±0 %`` takes it off)."""
    try:
        return values.with_tolerance_of(value, drawn)
    except UnreadableValue:
        return value


def _nets(drawing: Drawing) -> Mapping[str, str]:
    """The names that the settings know a net by, each with the net's own name."""
    found: dict[str, str] = {}
    for net in drawing.nets:
        if len(net.pins) == 2:
            found["-".join(f"{pin.reference}.{pin.number}" for pin in net.pins)] = net.name
        if net.named_by_user:
            found[net.name.removeprefix("/")] = net.name
            found[net.name] = net.name
    return found


def _net_changed(name: str, net: str, field: str, value: str, text: str, tried: Tried) -> Tried:
    from loadloom.plugin.settings_file import wire_readers

    readers = wire_readers()
    key = "_".join(field.split()).casefold()
    if key not in readers:
        raise UnusableError(
            f"--set {quoted(text)}: a wire drawn as a net has no field {quoted(field)}",
            hint=_nearest(field, [known.replace("_", " ").capitalize() for known in readers]),
        )
    attribute, parse = readers[key]
    try:
        read: Any = parse(value)
    except UnreadableValue as error:
        raise UnusableError(f"--set {quoted(text)}: {error.reason}") from error
    names = [n for n, own in _nets(tried.drawing).items() if own == net]
    known = next((n for n in (net, *names) if n in tried.settings.nets), name)
    # What a pattern says of the net holds on beside the value that is tried.
    fitting = (best_match(n, tried.settings.nets) for n in (known, net, *names))
    old = next((values for values in fitting if values is not None), NetValues())
    before = getattr(old.wire, attribute)
    if isinstance(read, Band) and isinstance(before, Band) and read.lower == read.upper and before.nominal:
        scale = read.nominal / before.nominal
        read = Band(read.nominal, scale * before.lower, scale * before.upper)
    wire = replace(old.wire, **{attribute: read})
    nets = {**tried.settings.nets, known: replace(old, wire=wire)}
    if attribute == "length_m":
        nets[known] = replace(nets[known], lengths_m={})
    change = Change(name, field, None if before is None else str(before), value)
    return replace(tried, settings=replace(tried.settings, nets=nets), changes=(*tried.changes, change))


def _folded(name: str) -> str:
    return " ".join(name.split()).casefold()


def _nearest(name: str, known: Sequence[str]) -> str:
    folded = {each.casefold(): each for each in reversed(list(known))}
    close = difflib.get_close_matches(name.casefold(), list(folded), n=1, cutoff=0.0)
    return f"the nearest is {folded[close[0]]}" if close else FORM
