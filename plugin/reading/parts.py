"""Placed units put together to parts: one for each reference, checked for what a netlist would hide.

A symbol that can't be told from others, or whose pins nobody knows, is left out and said so; it stops nothing.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise

from loadloom.plugin.incoming import shown
from loadloom.plugin.reading.expansion import Expander, PlacedUnit
from loadloom.plugin.reading.netlist import NO_NUMBER, is_unnumbered
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


@dataclass(frozen=True, slots=True)
class LeftPart:
    """A part that takes no part: why, and what mends it. ``unnumbered`` ones are a placed symbol each."""

    part: Part
    cause: str
    remedy: str
    unnumbered: bool = False


def read_parts(expander: Expander) -> tuple[dict[str, Part], tuple[LeftPart, ...]]:
    """Parts by reference, without power symbols and other references that begin with ``#``; and what is left out.

    A power symbol is left out, and told, only where its library symbol is missing: then nobody knows what it joins.
    """
    parts: dict[str, Part] = {}
    left: list[LeftPart] = []
    by_reference: dict[str, list[PlacedUnit]] = defaultdict(list)
    for unit in expander.units:
        if unit.reference.startswith("#"):
            if unit.library.missing:
                left.append(_without_library(_part(unit.reference, [unit], expander)))
        elif is_unnumbered(unit.reference):
            part = _part(unit.reference or "?", [unit], expander)
            left.append(LeftPart(part, "has no number yet", NO_NUMBER, unnumbered=True))
        else:
            by_reference[unit.reference].append(unit)
    for reference, units in by_reference.items():
        part = _part(reference, units, expander)
        cause = _drawn_twice(part)
        if cause is not None:
            left.append(LeftPart(part, cause, "Annotate the drawing in KiCad, so that each has its own reference."))
        elif any(unit.library.missing for unit in part.units):
            left.append(_without_library(part))
        else:
            parts[reference] = part
    return parts, tuple(left)


def _without_library(part: Part) -> LeftPart:
    name = next(unit.symbol.library_name for unit in part.units if unit.library.missing)
    cause = f"has the library symbol {name}, which is missing from the sheet, so that its pins are not known"
    return LeftPart(part, cause, "Open the drawing in KiCad, add the symbol to its library and save the drawing.")


def _drawn_twice(part: Part) -> str | None:
    for before, unit in pairwise(part.units):
        if before.unit == unit.unit:
            places = [f"{shown(u.sheet.file.path).name}:{u.symbol.line}" for u in (before, unit)]
            which = f"both unit {unit.unit}, " if len({u.unit for u in part.units}) > 1 else ""
            return f"is the reference of two symbols, {which}in {places[0]} and {places[1]}"
    return None


def _part(reference: str, units: list[PlacedUnit], expander: Expander) -> Part:
    units = sorted(units, key=lambda unit: unit.unit)
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
