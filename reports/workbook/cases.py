"""Columns for the cases: what flows in each."""

from __future__ import annotations

from collections.abc import Iterable

from loadloom.graph.model.results import LoadRow, OutputRow, Results
from loadloom.reports.workbook.table import Column

CASES_SHOWN = 8
"""Most cases that get a column of their own; the results file holds all."""


def case_columns(results: Results, rows: Iterable[LoadRow | OutputRow]) -> list[Column]:
    """One column for each case, with the current in it."""
    return [
        Column(
            f"case{n}",
            f"Current, {case.id}",
            [r.currents_a.get(case.id) for r in rows],
            "number",
            "A",
            scaled=False,
            width=12,
        )
        for n, case in enumerate(results.cases[:CASES_SHOWN])
    ]
