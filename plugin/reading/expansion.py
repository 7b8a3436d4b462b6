"""What text variables stand for on a symbol or sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from loadloom.plugin.reading.hierarchy import Hierarchy, SheetInstance
from loadloom.plugin.reading.project import Project
from loadloom.plugin.reading.sheet import Instance, LibrarySymbol, PlacedSymbol
from loadloom.plugin.reading.text_variables import Lookup, expand, unescape

_TITLES = {"TITLE": "title", "REVISION": "rev", "ISSUE_DATE": "date", "COMPANY": "company"}
_STANDARD = ("Reference", "Value", "Footprint", "Datasheet", "Description")


@dataclass(frozen=True, slots=True)
class PlacedUnit:
    """A placed symbol on one sheet path, with the reference and unit that it has there."""

    symbol: PlacedSymbol
    sheet: SheetInstance
    reference: str
    unit: int

    @property
    def library(self) -> LibrarySymbol:
        """Its library symbol."""
        return self.sheet.file.library[self.symbol.library_name]


class Expander:
    """Expands texts of one hierarchy."""

    def __init__(self, hierarchy: Hierarchy, project: Project) -> None:
        self.hierarchy = hierarchy
        self.project = project
        self.units = tuple(placed_units(hierarchy))
        self._by_uuid: dict[str, PlacedUnit] = {}
        for unit in self.units:
            self._by_uuid.setdefault(unit.symbol.uuid, unit)
            self._by_uuid.setdefault(f"{unit.sheet.full_path}/{unit.symbol.uuid}", unit)

    def of_sheet(self, text: str, sheet: SheetInstance) -> str:
        """A text that stands on a sheet, as a label's."""
        return expand(text, self._sheet_lookup(sheet), self._cross_reference) if "${" in text else text

    def of_symbol(self, text: str, unit: PlacedUnit) -> str:
        """A text that belongs to a placed symbol; ``{slash}`` in it is ``/``, as in labels."""
        if "${" in text:
            text = expand(text, self._symbol_lookup(unit), self._sheet_lookup(unit.sheet), self._cross_reference)
        return unescape(text)

    def value(self, unit: PlacedUnit) -> str:
        """Its value, expanded."""
        field = unit.symbol.fields.get("Value")
        return self.of_symbol(field.text, unit) if field else ""

    def title(self, key: str) -> str:
        """An entry of the root's title block, expanded."""
        return self.of_sheet(self.hierarchy.root.title_block.get(key, ""), self.hierarchy.instances[0])

    def _symbol_lookup(self, unit: PlacedUnit) -> Lookup:
        def lookup(name: str) -> str | None:
            return self._symbol_variable(unit, name)

        return lookup

    def _symbol_variable(self, unit: PlacedUnit, name: str) -> str | None:
        symbol = unit.symbol
        upper = name.upper()
        if upper == "REFERENCE":
            several = len({number for number, _ in unit.library.pins if number}) > 1
            return unit.reference + (_letters(unit.unit) if several else "")
        for standard in _STANDARD:
            if upper == standard.upper():
                return symbol.fields[standard].text if standard in symbol.fields else ""
        for own in (name, upper):
            for field_name, field in symbol.fields.items():
                if own in (field_name, field_name.upper()):
                    return field.text
        library, _, part = symbol.library_id.rpartition(":")
        known = {
            "SYMBOL_LIBRARY": library,
            "SYMBOL_NAME": part,
            "UNIT": _letters(unit.unit),
            "DNP": "DNP" if symbol.dnp or unit.sheet.dnp else "",
        }
        return known.get(name)

    def _sheet_lookup(self, sheet: SheetInstance) -> Lookup:
        def lookup(name: str) -> str | None:
            return self._sheet_variable(sheet, name)

        return lookup

    def _sheet_variable(self, sheet: SheetInstance, name: str) -> str | None:
        at: SheetInstance | None = sheet
        if name == "SHEETPATH":
            return sheet.path
        if name == "##":
            return str(len(self.hierarchy.instances))
        while at is not None and at.symbol is not None:
            if name == "SHEETNAME":
                return at.symbol.name
            if name == "SHEETFILE":
                return at.symbol.file
            for field_name, field in at.symbol.fields.items():
                if name in (field_name, field_name.upper()):
                    return field.text
            at = at.parent
        if name == "SHEETNAME":
            return ""  # The root's; other versions of KiCad than 9 say Root or the project's name.
        if name == "SHEETFILE":
            return self.hierarchy.root.path.name
        return self._drawing_variable(sheet, name)

    def _drawing_variable(self, sheet: SheetInstance, name: str) -> str | None:
        if name in _TITLES:
            return sheet.file.title_block.get(_TITLES[name], "")
        if name.startswith("COMMENT") and name[7:] in set("123456789"):
            return sheet.file.title_block.get(name.lower(), "")
        if name == "PROJECTNAME":
            return self.project.name
        if name == "FILENAME":
            return sheet.file.path.name
        return self.project.text_variables.get(name)

    def _cross_reference(self, name: str) -> str | None:
        """``${uuid:FIELD}``; KiCad writes a reference to another symbol so, whatever it shows."""
        target, colon, variable = name.rpartition(":")
        if not colon or target not in self._by_uuid:
            return None
        unit = self._by_uuid[target]
        found = self._symbol_variable(unit, variable)
        return found if found is None else self.of_symbol(found, unit)


def placed_units(hierarchy: Hierarchy) -> Iterator[PlacedUnit]:
    """Every placed symbol on every sheet path, those of power symbols too.

    From KiCad 7 on a symbol says what it is called on each path; in files of KiCad 6 the root says it for all.
    """
    root = hierarchy.root
    for sheet in hierarchy.instances:
        for symbol in sheet.file.symbols:
            found = symbol.instances.get(sheet.full_path) or root.instances.get(f"{sheet.uuid_path}{symbol.uuid}")
            if found is None:
                reference = symbol.fields["Reference"].text if "Reference" in symbol.fields else ""
                found = Instance(reference, symbol.unit, symbol.line)
            yield PlacedUnit(symbol, sheet, found.reference, found.unit)


def _letters(unit: int) -> str:
    """Unit 1 is A, 27 is AA."""
    text = ""
    while unit > 0:
        unit, letter = divmod(unit - 1, 26)
        text = chr(ord("A") + letter) + text
    return text
