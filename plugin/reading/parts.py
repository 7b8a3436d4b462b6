"""Placed units put together to parts: one for each reference, checked for what a netlist would hide."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.reading.expansion import Expander, PlacedUnit
from loadloom.plugin.reading.files import shown
from loadloom.plugin.reading.netlist import refuse_unnumbered
from loadloom.plugin.reading.sheet import no_tilde

STANDARD_FIELDS = frozenset({"Reference", "Value", "Footprint", "Datasheet", "Description"})


@dataclass(frozen=True, slots=True)
class Part:
    """All placed units of one reference, by unit number."""

    reference: str
    units: tuple[PlacedUnit, ...]
    value: str
    fields: dict[str, str]
    field_lines: dict[str, int]
    library_fields: dict[str, str]

    @property
    def first(self) -> PlacedUnit:
        """The unit with the lowest number."""
        return self.units[0]

    @property
    def dnp(self) -> bool:
        """Whether a unit, or a sheet it stands on, is marked "do not populate"."""
        return any(unit.symbol.dnp or unit.sheet.dnp for unit in self.units)


def read_parts(expander: Expander) -> dict[str, Part]:
    """Parts by reference, without power symbols and other references that begin with ``#``.

    Raises UnusableError for a symbol without a number, and for one reference and unit used twice.
    """
    by_reference: dict[str, list[PlacedUnit]] = defaultdict(list)
    for unit in expander.units:
        if not unit.reference.startswith("#"):
            refuse_unnumbered(unit.reference, shown(unit.sheet.file.path), unit.symbol.line)
            by_reference[unit.reference].append(unit)
    return {reference: _part(reference, units, expander) for reference, units in by_reference.items()}


def _part(reference: str, units: list[PlacedUnit], expander: Expander) -> Part:
    units = sorted(units, key=lambda unit: unit.unit)
    for before, unit in pairwise(units):
        where, line = shown(unit.sheet.file.path), unit.symbol.line
        first = f"{shown(before.sheet.file.path).name}:{before.symbol.line}"
        if before.unit == unit.unit:
            cause = f"two symbols have this reference and are both unit {unit.unit}; the other is in {first}"
            raise UnusableError(cause, where, line, symbol=reference, hint="annotate the drawing in KiCad")
    fields: dict[str, str] = {}
    lines: dict[str, int] = {}
    for unit in units:
        for name, field in unit.symbol.fields.items():
            if name not in STANDARD_FIELDS and not field.private and name not in fields:
                fields[name] = expander.of_symbol(field.text, unit)
                lines[name] = field.line
    value_field = units[0].symbol.fields.get("Value")
    if value_field is not None:
        lines["Value"] = value_field.line
    library = {
        name: text
        for name, text in units[0].library.fields.items()
        if name not in STANDARD_FIELDS and name not in fields and not name.startswith("ki_")
    }
    values = [no_tilde(expander.value(unit)) for unit in units]
    return Part(reference, tuple(units), next(filter(None, values), ""), fields, lines, library)
