"""Which role a symbol plays, and which fields each role reads: the public drawing interface.

A role comes from the symbol's own field ``Role``, else from the library symbol's, else from the rules of the
settings, which match by library id, then by reference prefix, then by value. Among patterns of one kind an
exact one comes first, then the longer before the shorter.
"""

from __future__ import annotations

import enum
import fnmatch
import re
from collections.abc import Mapping
from dataclasses import dataclass


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
    CONNECTOR = "connector"
    THROUGH = "through"
    SPLICE = "splice"
    LOAD = "load"
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
    *("Gauge", "Length", "Insulation", "Bundle", "Layout", "Zone", "Rating", "Voltage rating", "Resistance"),
    *("Terminal", "Material"),
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
            "Retry on",
            "Retry off",
            "Zone",
        ),
        main="Voltage",
        whole=frozenset(
            {"Supply", "Supply power", "Power derating", "Mounting derating", "Efficiency", "Fanless below"}
        ),
    ),
    Role.LIMITER: RoleFields(
        ("Trip", "Delay", "Behaviour", "Retry on", "Retry off", "Resistance", "Voltage rating", "Zone"), main="Trip"
    ),
    Role.FUSE: RoleFields(_BREAKING, main="Rating"),
    Role.BREAKER: RoleFields(_BREAKING, main="Rating"),
    Role.RESETTABLE: RoleFields(
        ("Hold", "Trip", "Resistance", "Curve", "Voltage rating", "Breaking capacity", "Zone")
    ),
    Role.SWITCH: RoleFields(("Rating", "Voltage rating", "Resistance", "State", "Zone")),
    Role.DIODE: RoleFields(("Forward drop", "Rating", "Resistance", "Zone")),
    Role.WIRE: RoleFields(_WIRE, main="Gauge"),
    Role.CABLE: RoleFields(_WIRE, main="Gauge", per_part=True),
    Role.CONNECTOR: RoleFields(("Mates", *_CONTACT), per_part=True, whole=frozenset({"Mates", "Rows"})),
    Role.THROUGH: RoleFields(_CONTACT, per_part=True, whole=frozenset({"Rows"})),
    Role.SPLICE: RoleFields(("Rating",)),
    Role.LOAD: RoleFields(
        ("Load", "Minimum voltage", "Maximum voltage", "Duration", "Duty", "Period", "Zone", "Heat share"),
        main="Load",
    ),
    Role.CHASSIS: RoleFields(()),
    Role.IGNORE: RoleFields(()),
}
"""What every role reads, beside ``Role`` itself."""


def role_of_word(text: str) -> Role | None:
    """The role that a text names, without regard to case; None where there is no such role."""
    word = " ".join(text.split()).casefold()
    return Role(word) if word in set(Role) else None


def role_by_rule(
    library_id: str,
    reference: str,
    value: str,
    by_library: Mapping[str, Role],
    by_reference: Mapping[str, Role],
    by_value: Mapping[str, Role],
) -> Role | None:
    """The role that the settings give to a symbol without one of its own."""
    prefix = re.match(r"[^0-9?]*", reference)
    return (
        _matching(library_id, by_library)
        or by_reference.get(prefix[0] if prefix else "")
        or _matching(value, by_value)
    )


def _matching(text: str, patterns: Mapping[str, Role]) -> Role | None:
    if text in patterns:
        return patterns[text]
    fitting = [pattern for pattern in patterns if fnmatch.fnmatchcase(text, pattern)]
    return patterns[max(fitting, key=len)] if fitting else None
