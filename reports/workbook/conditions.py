"""The sheet of conditions: the cells that a reviewer may change, and on which every rating formula leans."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from openpyxl.worksheet.worksheet import Worksheet

from loadloom.graph.model.results import ConductorRow, ContactRow, Factor, Results
from loadloom.reports.workbook import style
from loadloom.reports.workbook.places import CONDITIONS
from loadloom.reports.workbook.table import FIRST_ROW, Column, Edit, Formula, Pen, start_sheet, write_table

WARMER = f"{CONDITIONS}!$B$3"
"""The cell that counts changes of ambient and altitude."""

HIGH = 0.8
"""Utilisation from which the mark column says ``high``; a reading aid, no verdict."""

NOTE = (
    "Change the yellow cells: allowed current, utilisation, protection and counts follow. Currents and setting "
    "ranges are not re-solved in this workbook: from then on it is no longer loadloom's result. Run the tool again."
)


@dataclass(frozen=True)
class Conditions:
    """Cells of the conditions by what they hold. Keys: ``("ambient", zone)``, ``margin``, ``altitude``, ``high``.

    ``values`` are the numbers in force in the tool's run; a chain whose number differs keeps its own cell.
    """

    cells: dict[Any, str]
    values: dict[Any, float]
    entries: tuple[tuple[str, float, str, str], ...]

    @classmethod
    def of(cls, results: Results) -> Conditions:
        """Collect the conditions from the rating chains and the settings."""
        ambient: dict[str | None, float] = {}
        altitude: float | None = None
        margin: float | None = None
        for row in _rated(results):
            for factor in row.rating.factors if row.rating else ():
                if factor.kind == "ambient" and factor.input_value is not None:
                    ambient.setdefault(row.zone, factor.input_value)
                elif factor.kind == "altitude" and altitude is None:
                    altitude = factor.input_value
                elif factor.kind == "margin" and margin is None:
                    margin = 1.0 - factor.factor
        stated = results.settings.get("margin")
        if isinstance(stated, int | float) and margin is not None and abs(1.0 - stated - (1.0 - margin)) < 1e-12:
            margin = float(stated)
        entries: list[tuple[str, float, str, str]] = []
        keys: list[Any] = []
        for zone, value in sorted(ambient.items(), key=lambda item: (item[0] is None, item[0] or "")):
            name = f"Greatest ambient, zone {zone}" if zone else "Greatest ambient where no zone is stated"
            entries.append((name, value, "°C", "ratings hold at the greatest ambient of the zone"))
            keys.append(("ambient", zone))
        if altitude is not None:
            entries.append(("Altitude", altitude, "m", "above sea level"))
            keys.append("altitude")
        if margin is not None:
            entries.append(
                ("Margin kept free by policy", margin, "share", "of every allowed current; apart from physics")
            )
            keys.append("margin")
        entries.append(("Utilisation marked as high from", HIGH, "share", "a reading aid, no verdict"))
        keys.append("high")
        cells = {key: f"{CONDITIONS}!$B${FIRST_ROW + n}" for n, key in enumerate(keys)}
        return cls(cells, {key: entries[n][1] for n, key in enumerate(keys)}, tuple(entries))

    def shifted(self, key: Any, value: float | None) -> str | None:
        """A value that lies above or below a condition's as an expression that moves with it."""
        if key not in self.values or value is None:
            return None
        return f"{self.cells[key]}+({value - self.values[key]!r})"

    def cell(self, key: Any, value: float | None) -> str | None:
        """The cell that holds a condition, if it holds just this value."""
        return self.cells[key] if key in self.values and value is not None and self.values[key] == value else None


def _rated(results: Results) -> Iterable[ConductorRow | ContactRow]:
    yield from results.conductors
    yield from results.contacts


def first_factor(factors: tuple[Factor, ...], kinds: tuple[str, ...]) -> Factor | None:
    """The first factor of some kinds."""
    return next((f for f in factors if f.kind in kinds), None)


def write(sheet: Worksheet, pen: Pen, conditions: Conditions) -> None:
    """Write the sheet."""
    start_sheet(sheet, pen, "Conditions", NOTE)
    names, values, units, remarks = zip(*conditions.entries, strict=True)
    warm = [isinstance(key, tuple) or key == "altitude" for key in conditions.cells]
    columns = [
        Column("name", "Condition", names, width=44),
        Column("value", "Value", values, kind="number", look="input", scaled=False, width=12, edit=Edit.RATING),
        Column("unit", "Unit", units, width=10),
        Column("remark", "Remark", remarks, width=50),
        Column(
            "changed", "Changed", [Formula(_changed(v, w), "") for v, w in zip(values, warm, strict=True)], width=20
        ),
    ]
    letters = write_table(sheet, pen, columns)
    area = f"${letters['changed']}${FIRST_ROW}:${letters['changed']}${FIRST_ROW + len(names) - 1}"
    pen.put(sheet, 3, 1, "Changes of ambient or altitude made here", colour=style.GREY, border=None)
    count = Formula(f'=COUNTIF({area},"{_WARMER}")', 0)
    pen.put(sheet, 3, 2, count, border=None, horizontal="right", number_format="0")


_WARMER, _OTHER = "≠ tool: solve anew", "≠ tool"


def _changed(value: float, warm: bool) -> str:
    """The mark of a condition that is not the tool's own any more."""
    other = _WARMER if warm else _OTHER
    return f'=IF(ISNUMBER({{value}}),IF({{value}}={value!r},"","{other}"),"{_WARMER}")'
