"""The columns of a wire list: what they are called, and under which other names people have them.

A column that is none of these is a field of the wire or part, by its own name: ``Voltage rating``, ``Load@idle``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

LABEL, KIND, FROM, TO, CABLE = "Label", "Kind", "From", "To", "Cable"
PART, ROLE, VALUE, LIBRARY, PINS, FITTED = "Part", "Role", "Value", "Library", "Pins", "Fitted"

WIRE_HEADS = (LABEL, KIND, FROM, TO, "Gauge", "Length", "Insulation", "Bundle", "Cable", "Colour", "Part number")
PART_HEADS = (PART, ROLE, VALUE, LIBRARY, PINS, "Mates", FITTED)

JOINT, JOINED, NOT_DRAWN = "joint", "joined", "not drawn"
"""Kinds of rows that are no wire: pins known to be one joint; pins drawn on one net; the same by a power symbol."""

ASSUMED = "assumed"
"""Kind of a wire that was assumed where a drawing does not say how a net of several pins runs."""

RULE, SEVERITY, SUBJECT, MESSAGE, REMEDY = "Rule", "Severity", "Subject", "Message", "Remedy"
NOTE_HEADS = (RULE, SEVERITY, SUBJECT, MESSAGE, REMEDY)

_ALSO = {
    LABEL: ("wire", "wire no", "wire number", "wire id", "id", "no", "number", "nr", "mark", "name"),
    FROM: ("from pin", "source", "start", "end a", "from terminal"),
    TO: ("to pin", "destination", "target", "end b", "to terminal"),
    "Gauge": ("size", "wire size", "cross section", "cross-section", "section", "area", "awg"),
    "Length": ("len", "wire length"),
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
    """What each column is; None for one without a head. ``Length (mm)`` gives bare numbers their unit."""
    taken: set[str] = set()
    found: list[Head | None] = []
    for text in texts:
        match = re.fullmatch(r"(.*?)\s*[(\[]\s*([^)\]]*)\s*[)\]]", text.strip(), re.DOTALL)
        plain, unit = (match[1], match[2]) if match else (text.strip(), "")
        if plain.casefold() == "awg":
            unit = "AWG"
        name = _name(plain, known, taken)
        taken.add(name)
        found.append(Head(name, unit) if name else None)
    return found


def _name(text: str, known: tuple[str, ...], taken: set[str]) -> str:
    plain = " ".join(text.replace("_", " ").split())
    folded = plain.casefold().rstrip(".")
    exact = next((name for name in known if name.casefold() == folded), None)
    other = next((name for name in known if folded in _ALSO.get(name, ())), None)
    name = exact or other
    return name if name is not None and name not in taken else plain


def is_wires(texts: list[str]) -> bool:
    """Whether a row of heads is that of a table of wires."""
    names = {head.name for head in heads_of(texts, WIRE_HEADS) if head}
    return {FROM, TO} <= names


def is_notes(texts: list[str]) -> bool:
    """Whether a row of heads is that of what was found when a drawing was read."""
    return set(NOTE_HEADS) <= set(texts)


def is_parts(texts: list[str]) -> bool:
    """Whether a row of heads is that of a table of parts."""
    names = {head.name for head in heads_of(texts, PART_HEADS) if head}
    return {PART, ROLE} <= names
