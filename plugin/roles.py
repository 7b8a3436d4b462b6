"""Which role a symbol plays, and which fields each role reads: the public drawing interface.

A role comes from the settings of that one part, else from the symbol's own field ``Role``, else from the library
symbol's, else from the rules of the settings, which match by whole reference, then by library id, then by the
letters of the reference, then by value. Among patterns of one kind an exact one comes first, then the longer before
the shorter.
"""

from __future__ import annotations

import enum
import fnmatch
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import TypeVar


class Role(enum.StrEnum):
    """What a symbol is in the harness."""

    OUTPUT = "output"
    LIMITER = "limiter"
    FUSE = "fuse"
    BREAKER = "breaker"
    RESETTABLE = "resettable"
    SWITCH = "switch"
    DIODE = "diode"
    WIRE = "wire"
    CABLE = "cable"
    TRACK = "track"
    CONNECTOR = "connector"
    THROUGH = "through"
    SPLICE = "splice"
    LOAD = "load"
    BATTERY = "battery"
    SOLAR = "solar"
    CONVERTER = "converter"
    CONTACTOR = "contactor"
    CHASSIS = "chassis"
    IGNORE = "ignore"


@dataclass(frozen=True, slots=True)
class RoleFields:
    """The fields that a role reads. ``main`` falls back on the symbol's ``Value``.

    ``per_part``: fields may be ``Name.k`` for core or pin k, and ``Name@word``. ``whole`` are those that hold for
    the whole symbol and whatever the arrangement: they are written without either.
    """

    names: tuple[str, ...]
    main: str | None = None
    per_part: bool = False
    whole: frozenset[str] = frozenset()


_BREAKING = ("Rating", "Curve", "Voltage rating", "Breaking capacity", "Resistance", "Zone")
_WIRE = (
    *(
        "Gauge",
        "Wire class",
        "Strands",
        "Tinned",
        "Class",
        "Material",
        "Length",
        "Insulation",
        "Bundle",
        "Layout",
        "Zone",
    ),
    *("Rating", "Voltage rating", "Resistance", "Terminal"),
)
_START = (
    *("Starting current", "Starting time", "Start every", "Start together", "Stated at"),
    *("Stalled current", "Stalled time", "Inrush", "Inrush time"),
    *("Capacitance", "Series resistance", "Pre-charge", "Pre-charge time"),
    *("Feed-back current", "Feed-back time"),
)
_CONTACT = ("Contact", "Contact rating", "Contact resistance", "Rows", "Voltage rating", "Zone")

FIELDS: Mapping[Role, RoleFields] = {
    Role.OUTPUT: RoleFields(
        (
            "Voltage",
            "Limit",
            "Trip",
            "Behaviour",
            "Tolerance",
            "Resistance",
            "Supply",
            "Supply power",
            "Power derating",
            "Mounting derating",
            "Efficiency",
            "Fanless below",
            "Delay",
            "Fast trip",
            "Fast delay",
            "Retry on",
            "Retry off",
            "Sense limit",
            "Zone",
        ),
        main="Voltage",
        whole=frozenset(
            {"Supply", "Supply power", "Power derating", "Mounting derating", "Efficiency", "Fanless below"}
        ),
    ),
    Role.BATTERY: RoleFields(
        (
            *("Voltage", "Resistance", "Prospective current", "Limit", "Trip", "Delay", "Capacity", "Usable"),
            *("Charge limit", "Series", "Parallel", "Zone"),
        ),
        main="Voltage",
        whole=frozenset({"Capacity", "Usable", "Charge limit", "Series", "Parallel"}),
    ),
    Role.SOLAR: RoleFields(
        (
            *("Open-circuit voltage", "Short-circuit current", "Working voltage", "Working current"),
            *("Reverse current", "Series", "Parallel", "Zone"),
        ),
        main="Open-circuit voltage",
        whole=frozenset({"Series", "Parallel"}),
    ),
    Role.CONVERTER: RoleFields(
        (
            *("Voltage", "Limit", "Trip", "Behaviour", "Tolerance", "Resistance", "Delay", "Retry on", "Retry off"),
            *("Fast trip", "Fast delay", "Efficiency", "No-load power"),
            *("Input minimum", "Input maximum", "Input limit", "Hold-up time", "Zone"),
        ),
        main="Voltage",
        whole=frozenset(
            {"Efficiency", "No-load power", "Input minimum", "Input maximum", "Input limit", "Hold-up time"}
        ),
    ),
    Role.LIMITER: RoleFields(
        (
            *("Trip", "Delay", "Fast trip", "Fast delay", "Fuse", "Fuse curve"),
            *("Behaviour", "Retry on", "Retry off", "Resistance", "Voltage rating", "Zone"),
        ),
        main="Trip",
    ),
    Role.FUSE: RoleFields((*_BREAKING, "Melting I2t"), main="Rating"),
    Role.BREAKER: RoleFields((*_BREAKING, "Magnetic trip", "Magnetic delay"), main="Rating"),
    Role.RESETTABLE: RoleFields(
        ("Hold", "Trip", "Delay", "Resistance", "Curve", "Voltage rating", "Breaking capacity", "Zone")
    ),
    Role.SWITCH: RoleFields(("Rating", "Voltage rating", "Resistance", "State", "Zone")),
    Role.CONTACTOR: RoleFields(
        (
            *("Path", "Rating", "Breaking capacity", "Voltage rating", "Resistance", "State", "Body diode"),
            *("Coil", "Coil minimum", "Hold-up time", "Zone"),
        ),
        whole=frozenset({"Path", "Body diode", "Coil", "Coil minimum", "Hold-up time"}),
    ),
    Role.DIODE: RoleFields(("Forward drop", "Rating", "Resistance", "Zone")),
    Role.WIRE: RoleFields(_WIRE, main="Gauge"),
    Role.CABLE: RoleFields(_WIRE, main="Gauge", per_part=True),
    Role.TRACK: RoleFields(
        (
            *("Width", "Copper", "Length", "Layer", "Board limit", "Vias", "Via plating"),
            *("Bundle", "Zone", "Voltage rating"),
        ),
        main="Width",
    ),
    Role.CONNECTOR: RoleFields(("Mates", *_CONTACT), per_part=True, whole=frozenset({"Mates", "Rows"})),
    Role.THROUGH: RoleFields(_CONTACT, per_part=True, whole=frozenset({"Rows"})),
    Role.SPLICE: RoleFields(("Rating",)),
    Role.LOAD: RoleFields(
        (
            *("Load", "Minimum voltage", "Maximum voltage", "Hold-up time", "Duration", "Duty", "Period", "Zone"),
            *("Heat share", *_START),
        ),
        main="Load",
    ),
    Role.CHASSIS: RoleFields(()),
    Role.IGNORE: RoleFields(()),
}
"""What every role reads, beside ``Role`` itself."""


SOURCES = frozenset({Role.OUTPUT, Role.BATTERY, Role.SOLAR})
"""Roles that feed a harness by themselves; a converter's output only hands on what its input draws."""


def role_of_word(text: str) -> Role | None:
    """The role that a text names, without regard to case; None where there is no such role."""
    word = " ".join(text.split()).casefold()
    return Role(word) if word in set(Role) else None


@dataclass(frozen=True, slots=True)
class RoleRule:
    """What the settings say of the symbols that a rule matches, or of one part.

    ``role`` None: the symbol's own counts. ``pins`` gives the ends of the role by number or name of the symbol's
    pins (``"+": ("2",)``); the symbol's other pins take no part. ``fields`` are fields of the drawing.
    ``confirmed`` is false for a guess that nobody has confirmed.
    """

    role: Role | None = None
    pins: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    fields: Mapping[str, str] = field(default_factory=dict)
    confirmed: bool = True


@dataclass(frozen=True, slots=True)
class RoleRules:
    """The settings' rules by what they match: whole references or their letters, library ids, values."""

    by_library: Mapping[str, RoleRule] = field(default_factory=dict)
    by_reference: Mapping[str, RoleRule] = field(default_factory=dict)
    by_value: Mapping[str, RoleRule] = field(default_factory=dict)
    parts: Mapping[str, RoleRule] = field(default_factory=dict)


def letters_of(reference: str) -> str:
    """The letters that a reference begins with, ``FU`` of ``FU7``."""
    found = re.match(r"[^0-9?]*", reference)
    return found[0] if found else ""


def rule_for(library_id: str, reference: str, value: str, rules: RoleRules) -> RoleRule | None:
    """The rule that gives a role to a symbol without one of its own; the most particular one counts.

    That is one for the whole reference, then for the library symbol, then for the reference's letters, then for the
    value.
    """
    whole = {pattern: rule for pattern, rule in rules.by_reference.items() if pattern != letters_of(pattern)}
    letters = {pattern: rule for pattern, rule in rules.by_reference.items() if pattern not in whole}
    tried = (
        (reference, whole),
        (library_id, rules.by_library),
        (letters_of(reference), letters),
        (value, rules.by_value),
    )
    return next((found for text, patterns in tried if (found := best_match(text, patterns)) is not None), None)


T = TypeVar("T")


def best_match(text: str, patterns: Mapping[str, T]) -> T | None:
    """What the best fitting pattern gives: the text itself, else the longest with ``*`` and ``?``."""
    if text in patterns:
        return patterns[text]
    fitting = [pattern for pattern in patterns if matches(pattern, text)]
    return patterns[max(fitting, key=len)] if fitting else None


def matches(pattern: str, text: str) -> bool:
    """Whether a text is of a pattern: ``*`` stands for any text, ``?`` for one character, all else for itself."""
    return _expression(pattern).fullmatch(text) is not None


@cache
def _expression(pattern: str) -> re.Pattern[str]:
    return re.compile(fnmatch.translate(pattern.replace("[", "[[]")))
