"""The columns of a wire list: what they are called, and under which other names people have them.

A column that is none of these is a field of the wire or part, by its own name: ``Voltage rating``, ``Load@idle``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

LABEL, KIND, FROM, TO, CABLE = "Label", "Kind", "From", "To", "Cable"
FROM_PIN, TO_PIN = "From pin", "To pin"
PART, ROLE, VALUE, LIBRARY, PINS, FITTED = "Part", "Role", "Value", "Library", "Pins", "Fitted"

WIRE_HEADS = (LABEL, KIND, FROM, TO, "Gauge", "Length", "Insulation", "Bundle", "Cable", "Colour", "Part number")
READ_HEADS = (*WIRE_HEADS, FROM_PIN, TO_PIN)
PART_HEADS = (PART, ROLE, VALUE, LIBRARY, PINS, "Mates", FITTED)

JOINT, JOINED, NOT_DRAWN = "joint", "joined", "not drawn"
"""Kinds of rows that are no wire: pins known to be one joint; pins drawn on one net; the same by a power symbol."""

ASSUMED = "assumed"
"""Kind of a wire that was assumed where a drawing does not say how a net of several pins runs."""

RULE, SEVERITY, SUBJECT, MESSAGE, REMEDY = "Rule", "Severity", "Subject", "Message", "Remedy"
NOTE_HEADS = (RULE, SEVERITY, SUBJECT, MESSAGE, REMEDY)

_END_WORDS = ("connector", "conn", "part", "ref", "reference", "device", "component", "unit", "end", "item")
_PIN_WORDS = ("pin", "contact", "cavity", "terminal", "position", "pos", "way", "pin no", "pin number", "pin #")


def _ends_of(side: str) -> tuple[str, ...]:
    return tuple(f"{side} {word}" for word in _END_WORDS)


def _pins_of(side: str) -> tuple[str, ...]:
    return tuple(f"{side} {word}" for word in _PIN_WORDS)


_ALSO = {
    LABEL: ("wire", "wire no", "wire number", "wire id", "id", "no", "number", "nr", "mark", "name"),
    FROM: ("source", "start", "end a", *_ends_of("from"), *_ends_of("source"), *_ends_of("end a")),
    FROM_PIN: (*_pins_of("from"), *_pins_of("source"), *_pins_of("end a"), *_pins_of("start")),
    TO: ("destination", "target", "end b", *_ends_of("to"), *_ends_of("destination"), *_ends_of("end b")),
    TO_PIN: (*_pins_of("to"), *_pins_of("destination"), *_pins_of("end b"), *_pins_of("target")),
    "Gauge": (
        *("size", "wire size", "wire gauge", "cross section", "cross-section", "section", "area", "awg"),
        *("mm²", "mm2", "csa", "conductor size", "wire"),
    ),
    "Length": ("len", "wire length", "l", "cut length"),
    "Insulation": ("wire type", "type", "jacket"),
    "Bundle": ("harness", "loom", "branch", "route"),
    CABLE: ("multicore", "sheath"),
    "Colour": ("color", "wire colour", "wire color"),
    "Part number": ("part no", "p/n", "pn", "part nr", "wire part number"),
    PART: ("reference", "ref", "designator", "refdes", "component", "connector", "id", "name"),
    ROLE: ("is", "function"),
    "Mates": ("mate", "mates with", "mating connector", "plugs into"),
    FITTED: ("fit",),
    PINS: ("pin names",),
}


@dataclass(frozen=True, slots=True)
class Head:
    """A column: its name as ours or as a field's, and the unit that bare numbers in it have."""

    name: str
    unit: str = ""


def heads_of(texts: list[str], known: tuple[str, ...]) -> list[Head | None]:
    """What each column is; None for one without a head. ``Length (mm)`` gives bare numbers their unit.

    A column ``Pin`` belongs to the end before it. The pins of an end without a column of its own are the
    whole end.
    """
    taken: set[str] = set()
    found: list[Head | None] = []
    for text in texts:
        plain, unit = _unit_apart(" ".join(text.split()), known)
        name = _name(plain, known, taken)
        before = found[-1].name if found and found[-1] is not None else ""
        if plain.casefold() in _PIN_WORDS and before in (FROM, TO) and FROM_PIN in known:
            name = FROM_PIN if before == FROM else TO_PIN
        taken.add(name)
        found.append(Head(name, unit) if name else None)
    for pin, end in ((FROM_PIN, FROM), (TO_PIN, TO)):
        if pin in taken and end not in taken:
            found = [Head(end, head.unit) if head is not None and head.name == pin else head for head in found]
    return found


def in_two_rows(above: tuple[str, ...], below: tuple[str, ...]) -> list[str] | None:
    """Heads that stand in two rows, as one: ``Conn`` and ``Pin`` below ``From``, ``mm²`` below ``Size``.

    None where the second row is something else than words for ends, pins and units.
    """
    words = [" ".join(text.split()).strip("[]()").casefold().rstrip(".:") for text in below]
    if not any(words) or not all(
        not word or word in (*_PIN_WORDS, *_END_WORDS) or re.fullmatch(_UNITS, word, re.IGNORECASE)
        for word in words
    ):
        return None
    heads, last = [], ""
    for k, text in enumerate(above + ("",) * (len(below) - len(above))):
        word = words[k] if k < len(words) else ""
        last = text or (last if word in (*_PIN_WORDS, *_END_WORDS) else "")
        is_unit = re.fullmatch(_UNITS, word, re.IGNORECASE) is not None
        heads.append(f"{last} ({word})" if is_unit else f"{last} {word}".strip())
    return heads


_UNITS = r"mm²|mm2|mm\^2|sq\.? ?mm|mm|cm|m|ft|feet|inch|AWG"


def _unit_apart(text: str, known: tuple[str, ...]) -> tuple[str, str]:
    """A head and the unit in it: ``Length (mm)``, ``Length [mm]``, ``Length in mm``, ``mm²``."""
    match = re.fullmatch(r"(.*?)\s*[(\[]\s*([^)\]]*)\s*[)\]]", text)
    if match is None:
        match = re.fullmatch(rf"(.+?)(?:,|\s)\s*(?:in\s+)?({_UNITS})\.?", text, re.IGNORECASE)
        if match is not None and _name(match[1], known, set()) not in ("Gauge", "Length"):
            match = None
    plain, unit = (match[1], match[2]) if match else (text, "")
    if plain.casefold() in ("awg", "mm²", "mm2"):
        unit = plain
    if unit.casefold() == "awg":
        return plain, "AWG"
    return plain, "mm²" if re.fullmatch(r"mm2|mm\^2|sq\.? ?mm", unit, re.IGNORECASE) else unit


def _name(text: str, known: tuple[str, ...], taken: set[str]) -> str:
    plain = " ".join(text.replace("_", " ").split())
    folded = plain.casefold().rstrip(".:")
    exact = next((name for name in known if name.casefold() == folded), None)
    also = [name for name in known if folded in _ALSO.get(name, ())]
    free = [name for name in (exact, *also) if name is not None and name not in taken]
    return free[0] if free else plain


def is_wires(texts: list[str]) -> bool:
    """Whether a row of heads is that of a table of wires."""
    names = {head.name for head in heads_of(texts, READ_HEADS) if head}
    return {FROM, TO} <= names


def is_notes(texts: list[str]) -> bool:
    """Whether a row of heads is that of what was found when a drawing was read."""
    return set(NOTE_HEADS) <= set(texts)


def is_parts(texts: list[str]) -> bool:
    """Whether a row of heads is that of a table of parts."""
    names = {head.name for head in heads_of(texts, PART_HEADS) if head}
    return {PART, ROLE} <= names
