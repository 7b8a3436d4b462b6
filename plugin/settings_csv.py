"""Tables that lie beside the settings as CSV: the user's own ampacities and time–current bands.

The first row that is not a comment (``#``) names the columns. Columns are separated by commas, or by semicolons,
in which case numbers may have a decimal comma.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TypeVar

from loadloom.graph.model.settings import CurvePoint, OwnTableRow
from loadloom.plugin import values
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import read_text
from loadloom.plugin.values import GREATEST, UnreadableValue, quoted

T = TypeVar("T")

LARGEST_FILE = 16 * 1024**2

AMBIENT_C = (-200.0, 500.0)
"""Temperatures in °C that an ambient can have: deep space to beside an engine; common practice."""

HOT_C = (20.0, 500.0)
"""Temperatures in °C that an insulation or a contact can be made for; common practice."""

MULTIPLES = (0.01, 1e4)
"""Multiples of a device's rating that a time–current band can have points at."""


def read_ampacities(file: Path) -> tuple[OwnTableRow, ...]:
    """Columns ``size`` (as ``18 AWG``), ``allowed_a``, ``ambient_c``; if known ``insulation_c``, ``note``.

    Raises:
        UnusableError: the file can't be read, lacks a column, or has a value that can't be read (with its line).
    """
    rows: list[OwnTableRow] = []
    for row in _rows(file, ("size", "allowed_a", "ambient_c"), ("insulation_c", "note")):
        gauge = row.read("size", values.gauge)
        rows.append(
            OwnTableRow(
                system=gauge.system.value,
                size=gauge.size,
                allowed_a=row.read("allowed_a", _between(1e-3, GREATEST["current"], "A")),
                insulation_c=row.read("insulation_c", _between(*HOT_C, "°C")) if row.text("insulation_c") else None,
                ambient_c=row.read("ambient_c", _between(*AMBIENT_C, "°C")),
                note=row.text("note"),
            )
        )
        for other in rows[:-1]:
            cooler, warmer = sorted((other, rows[-1]), key=lambda one: one.ambient_c)
            alike = (other.system, other.size, other.insulation_c) == (
                gauge.system.value,
                gauge.size,
                rows[-1].insulation_c,
            )
            if alike and warmer.ambient_c > cooler.ambient_c and warmer.allowed_a > cooler.allowed_a:
                raise row.refused(
                    f"allows {gauge} more at {warmer.ambient_c:g} °C than at {cooler.ambient_c:g} °C", "allowed_a"
                )
    return tuple(rows)


def read_curve(file: Path) -> tuple[CurvePoint, ...]:
    """Columns ``multiple`` (of the rating), ``min_s`` and ``max_s`` (empty = not stated).

    Raises:
        UnusableError: as for ``read_ampacities``.
    """
    return tuple(
        CurvePoint(
            multiple=row.read("multiple", _between(*MULTIPLES, "times the rating")),
            min_s=row.read("min_s", _between(0.0, GREATEST["time"], "s")) if row.text("min_s") else None,
            max_s=row.read("max_s", _between(0.0, GREATEST["time"], "s")) if row.text("max_s") else None,
        )
        for row in _rows(file, ("multiple", "min_s", "max_s"), ())
    )


class _Row:
    def __init__(self, file: Path, line: int, cells: Mapping[str, str]) -> None:
        self._file = file
        self._line = line
        self._cells = cells

    def text(self, column: str) -> str:
        return self._cells.get(column, "").strip()

    def refused(self, cause: str, column: str) -> UnusableError:
        return UnusableError(cause, file=self._file, line=self._line, field=column)

    def read(self, column: str, parse: Callable[[str], T]) -> T:
        try:
            return parse(self.text(column))
        except UnreadableValue as unreadable:
            raise UnusableError(
                f"{quoted(self.text(column))}: {unreadable.reason}", file=self._file, line=self._line, field=column
            ) from None


def _rows(file: Path, needed: tuple[str, ...], optional: tuple[str, ...]) -> Iterator[_Row]:
    text = read_text(file, LARGEST_FILE, "a table of settings").text
    lines = [(k, line) for k, line in enumerate(text.splitlines(), 1) if line.strip() and not line.startswith("#")]
    if not lines:
        raise UnusableError("is empty", file=file)
    separator = ";" if ";" in lines[0][1] else ","
    header, *rest = (
        (k, [cell.strip() for cell in next(csv.reader([line], delimiter=separator))]) for k, line in lines
    )
    columns = [name.casefold() for name in header[1]]
    missing = [name for name in needed if name not in columns]
    unknown = [name for name in columns if name not in (*needed, *optional)]
    if missing or unknown:
        what = f"has no column {missing[0]}" if missing else f"has an unknown column {quoted(unknown[0])}"
        raise UnusableError(what, file=file, line=header[0], hint=f"columns are {', '.join((*needed, *optional))}")
    for k, cells in rest:
        if len(cells) > len(columns):
            raise UnusableError("has more cells than columns", file=file, line=k)
        yield _Row(file, k, dict(zip(columns, cells, strict=False)))


def _between(least: float, most: float, unit: str) -> Callable[[str], float]:
    """Reads a number, which may have a sign, and refuses what lies outside a range; the column names its unit."""

    def read(text: str) -> float:
        sign = -1.0 if text.startswith("-") else 1.0
        value = sign * values.number(text.removeprefix("-").removeprefix("+"))
        if not least <= value <= most:
            raise UnreadableValue(f"it is not within {least:.7g}…{most:.7g} {unit}")
        return value

    return read
