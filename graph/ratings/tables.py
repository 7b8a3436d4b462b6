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

SECOND_HAND = ("second-hand", "from memory", "edition not stated")
"""Words of a citation whose values or edition were not read in the publication itself."""


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


@cache
def _sources() -> Mapping[str, Row]:
    return {row["source_id"]: row for row in rows("sources")}


def citation(source_ids: str) -> str:
    """Citations with edition for one or more source ids (``S08;S10``); an id without one stands for itself."""
    known = _sources()
    return "; ".join(known[name]["citation"] if name in known else name for name in source_ids.split(";") if name)


def needs_edition_check(source_ids: str, status: str = "") -> bool:
    """Whether a value is shown with the mark "check your edition".

    So are values of sources that were seen second-hand only, and values from memory that no formula reproduces.
    """
    known = _sources()
    marked = any(known[name]["check_edition"] == "yes" for name in source_ids.split(";") if name in known)
    return marked or ("FROM_MEMORY" in status and not status.startswith("REPRODUCED"))


def marked(text: str) -> str:
    """A citation with the mark, where it has one or says itself that it was read in a copy or comes from memory."""
    return f"{text}; {CHECK_EDITION}" if has_mark(text) and CHECK_EDITION not in text else text


def has_mark(text: str) -> bool:
    """Whether a citation is to be shown with the mark."""
    known = (row["citation"] for row in _sources().values() if row["check_edition"] == "yes")
    return any(words in text for words in (CHECK_EDITION, *SECOND_HAND)) or any(
        citation in text for citation in known
    )


def citations() -> dict[str, str]:
    """Every citation by its id, with the mark where it applies."""
    return {
        name: row["citation"] + (f"; {CHECK_EDITION}" if row["check_edition"] == "yes" else "")
        for name, row in _sources().items()
    }
