"""Fields that no role reads: each name is told once, with how many symbols have it.

A field that could be meant for loadloom and is not read makes the verdict incomplete, since what it was to say is
not known: one that another role reads, one whose name is like a known one, and one whose text is a quantity with a
unit. Any other is a note, and taken to be for people. Names that the settings list in ``fields_for_people`` are
let pass, and so are KiCad's own.
"""

from __future__ import annotations

import difflib
import fnmatch
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache

from loadloom.graph.devices.curves import shipped_curves
from loadloom.graph.model.naming import with_article
from loadloom.graph.rules import field_for_people, field_not_read, field_unknown
from loadloom.plugin import values
from loadloom.plugin.building.context import Context, Part, listed
from loadloom.plugin.building.pins import core_pins
from loadloom.plugin.fields import FieldKey, WrittenField, folded
from loadloom.plugin.roles import FIELDS, Role
from loadloom.plugin.values import UnreadableValue, quoted

ALIKE = 0.75
"""Similarity (difflib's ratio) from which an unknown field name counts as a misspelt known one."""

SHORTEST_BEGINNING = 3
"""Letters from which an unknown name counts as short for a known one that begins with it, as ``Tol``."""

KICADS_OWN = (
    *("reference", "value", "footprint", "datasheet", "description", "intersheetrefs", "sheetname", "sheetfile"),
    *("ki_*", "sim.*", "spice_*", "dnp", "exclude_from_*", "in_bom", "on_board", "netclass", "net class"),
)
"""Names of fields that KiCad writes or reads itself, casefolded; ``*`` stands for any text."""


_TRADE_WORDS = frozenset(
    {
        *("current", "ampacity", "amp", "amps", "ampere", "amperes", "fuse", "breaker", "power"),
        *("watt", "watts", "volt", "volts", "wattage", "temperature", "temp", "ambient", "rated"),
        *("derating", "awg", "gage", "size", "section", "area", "conductor", "trips"),
    }
)
"""Words for values that a role could state, though no field is called so, as ``Ampacity`` = ``3``."""


@dataclass(frozen=True, slots=True)
class _Unread:
    """A field that is not read: whose, which, and why; ``near`` is what it could be meant for."""

    part: Part
    field: WrittenField
    kind: str
    why: str = ""
    near: str | None = None


def report_unread_fields(context: Context) -> None:
    """One finding for each name of a field that is not read, and each reason."""
    groups: dict[tuple[str, str, str, str | None], list[_Unread]] = {}
    known_texts = _known_texts(context)
    for part in context.parts.values():
        for unread in _unread(part, context, known_texts):
            key = (unread.kind, folded(unread.field.written) or "", unread.why, unread.near)
            groups.setdefault(key, []).append(unread)
    for group in groups.values():
        _tell(group, context)


def _unread(part: Part, context: Context, known_texts: frozenset[str]) -> Iterator[_Unread]:
    spec = FIELDS[part.role]
    own = {name.casefold(): name for name in (*spec.names, "Role")}
    whole = {name.casefold() for name in spec.whole} | {"role"}
    numbers = {folded(number) for number in _numbers(part, context)}
    people = [folded(pattern) for pattern in context.drawing_settings.fields_for_people]
    for key, field in part.fields.written_fields():
        name = " ".join(field.written.split()).casefold()
        if _is_any(name, KICADS_OWN):
            continue
        if key.name in own:
            if key.name in whole and (key.part is not None or key.word is not None):
                why = f"{own[key.name]} holds for the whole {part.role}, in every state and arrangement"
                yield _Unread(part, field, "suffix", why)
            elif key.part is not None and (not spec.per_part or key.part not in numbers):
                kind = "core or pin" if spec.per_part else "part"
                yield _Unread(part, field, "suffix", f"{part.reference} has no {kind} of that number")
        elif _is_any(name, people) or _is_any(key.name, people):
            continue
        elif key.name in _read_by_any():
            yield _Unread(part, field, "other role", str(part.role))
        else:
            yield _Unread(part, field, *_meant(key, field, own, known_texts))


def _numbers(part: Part, context: Context) -> Iterable[str]:
    if part.role in (Role.CABLE, Role.THROUGH):
        return list(core_pins(part, context))
    return [pin.number for pin in part.pins] if FIELDS[part.role].per_part else []


def _meant(
    key: FieldKey, field: WrittenField, own: dict[str, str], known_texts: frozenset[str]
) -> tuple[str, str, str | None]:
    """What an unknown field could be meant for: kind, why, and the known field that it is like."""
    near = _nearest(key.name, tuple(own)) or _shares_a_word(key.name, tuple(own))
    if near is not None:
        return "alike", f"it is like {own[near]}", own[near]
    if key.name == "value":
        return "alike", "a symbol's value holds in every state and arrangement", None
    if _TRADE_WORDS.intersection(_words(key.name)):
        return "alike", "its name is a word for what a role could state", None
    if key.word is not None:
        return "alike", "it is written for a state or arrangement", None
    if _is_value(field.text):
        return "alike", "its text is a value that loadloom could read", None
    if folded(field.text) in known_texts:
        return "alike", "its text is a name that other fields or the settings have", None
    return "people", "", None


def _tell(group: list[_Unread], context: Context) -> None:
    first = group[0]
    names = listed(dict.fromkeys(unread.part.reference for unread in group), 5)
    count = "" if len(group) == 1 else f" on {len(group)} symbols"
    written = quoted(first.field.written)
    subject = first.part.subject(field=first.field.written)
    listing = "or list it in fields_for_people of the settings"
    if first.kind == "people":
        finding = field_for_people.RULE.finding(
            subject,
            f"{names}: field {written}{count} is read by no role, so it is taken as a note for people.",
            f"Correct the name if it is meant for loadloom, {listing}.",
        )
    elif first.kind == "other role":
        finding = field_not_read.RULE.finding(
            subject,
            f"{names}: {with_article(first.why)} does not read the field {written}{count}.",
            f"Remove the field, check the symbol's role, {listing}.",
        )
    elif first.kind == "suffix":
        finding = field_unknown.RULE.finding(
            subject,
            f"{names}: field {written}{count} was not read: {first.why}.",
            "Correct the part of the name after the dot or @, or remove it.",
        )
    elif first.near is not None:
        finding = field_unknown.RULE.finding(
            subject,
            f"{names}: field {written}{count} is not known and was not read; "
            f"the nearest known one is {first.near}.",
            f"Rename the field to {first.near} or to something less alike, {listing}.",
        )
    else:
        finding = field_unknown.RULE.finding(
            subject,
            f"{names}: field {written}{count} is not known and was not read, though {first.why}.",
            f"Correct the name, {listing}.",
        )
    context.notes.find(finding)


@cache
def _read_by_any() -> frozenset[str]:
    return frozenset(name.casefold() for spec in FIELDS.values() for name in spec.names)


def _is_any(name: str, patterns: Iterable[str]) -> bool:
    return any(fnmatch.fnmatchcase(name, pattern) for pattern in patterns)


@cache
def _nearest(name: str, known: tuple[str, ...]) -> str | None:
    """The known name that this one is a slip of, or short for: the role's own before those of other roles."""
    for names in (known, tuple(sorted(_read_by_any()))):
        if close := difflib.get_close_matches(name, names, n=1, cutoff=ALIKE):
            return close[0] if close[0] in known else None
    begun = name.rstrip(". ")
    fitting = [each for each in known if len(begun) >= SHORTEST_BEGINNING and each.startswith(begun)]
    return min(fitting, key=len) if fitting else None


@cache
def _shares_a_word(name: str, known: tuple[str, ...]) -> str | None:
    """The known name that stands as a word in this one (``Wire gauge``, ``Length_mm``), if there is one."""
    words = set(_words(name))
    return next((each for each in known if each != "role" and set(_words(each)) <= words), None)


def _words(name: str) -> list[str]:
    return "".join(c if c.isalnum() else " " for c in name).split()


def _known_texts(context: Context) -> frozenset[str]:
    """Names that fields of loadloom's own hold, or that the settings describe: zones, bundles, curves and so on."""
    settings = context.settings
    found = {*settings.zones, *settings.enclosures, *settings.curves, *settings.contact_types, *shipped_curves()}
    for part in context.parts.values():
        for key, field in part.fields.written_fields():
            if key.name in _NAMES:
                found.add(field.text)
    return frozenset(folded(text) for text in found)


_NAMES = frozenset({"zone", "bundle", "supply", "curve", "contact", "mates", "insulation"})
"""Own fields that hold a name, casefolded."""


@cache
def _is_value(text: str) -> bool:
    """Whether a text is a quantity with a unit, a conductor's size, points of a curve or a closed word."""
    for read in _READERS:
        try:
            read(text)
        except UnreadableValue:
            continue
        return True
    return False


_READERS: tuple[Callable[[str], object], ...] = (
    values.gauge,
    values.current_band_a,
    values.voltage_band_v,
    values.resistance_band_ohm,
    values.power_w,
    values.distance_m,
    values.delay_s,
    values.temperature_c,
    values.any_share,
    values.joule_integral_a2s,
    values.capacity_ah,
    values.capacitance_f,
    values.vias,
    values.gauge_range_mm2,
    values.power_derating,
    values.mounting_derating,
    values.efficiency,
    values.behaviour,
    values.closed,
)
