"""Loading the tables that stand beside this module, with the source and status of every row.

Lines that start with ``#`` say what a table holds and where it comes from. A row's ``status`` is VERIFIED (read
in a copy of the source), PARTLY_VERIFIED, REPRODUCED (a remembered value matched by a formula), COMPUTED or
FROM_MEMORY; ``source_id`` leads to a citation in ``sources.csv``.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from importlib import resources
from typing import TypeAlias

Row: TypeAlias = Mapping[str, str]

CHECK_EDITION = "check your edition"


@cache
def rows(name: str) -> tuple[Row, ...]:
    """The rows of the table ``name`` (file name without ``.csv``), as text by column name."""
    text = (resources.files(__package__) / f"{name}.csv").read_text(encoding="utf-8")
    lines = (line for line in text.splitlines() if line and not line.startswith("#"))
    return tuple(csv.DictReader(lines))


@cache
def by_size(name: str, column: str = "size") -> Mapping[str, Row]:
    """The rows of a table by conductor size as written in ``Gauge.size``."""
    return {row[column]: row for row in rows(name)}


def number(row: Row, column: str) -> float | None:
    """A cell as a number; None where the table has no value there."""
    text = row.get(column, "")
    return float(text) if text else None


def citation(source_ids: str) -> str:
    """Citations with edition for one or more source ids (``S08;S10``); an id without one stands for itself."""
    known = {row["source_id"]: row["citation"] for row in rows("sources")}
    return "; ".join(known.get(name, name) for name in source_ids.split(";"))


def needs_edition_check(status: str) -> bool:
    """Whether a row of this status is shown with the mark "check your edition": all but those read in a copy."""
    return not (status.startswith(("VERIFIED", "COMPUTED", "REPRODUCED")) and "FROM_MEMORY" not in status)
