"""CSV tables: for machines, harmless in a spreadsheet."""

import csv
import io

import pytest
from observatory_sample import HOSTILE, hostile, sample

from loadloom.reports import csv_table
from loadloom.reports.writers import CSV_TABLES


def rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8"), newline="")))


def test_the_load_table_holds_every_conductor_and_contact() -> None:
    results = sample()
    table = rows(csv_table.load_table(results))
    assert [row["id"] for row in table] == [r.id for r in (*results.conductors, *results.contacts)]
    assert {row["part"] for row in table} == {"conductor", "contact"}
    for row, source in zip(table, (*results.conductors, *results.contacts), strict=True):
        assert (float(row["allowed_a"]) if row["allowed_a"] else None) == source.allowed_a
        assert row["protected"] == {True: "true", False: "false", None: ""}[source.protected]


@pytest.mark.parametrize("name", CSV_TABLES)
def test_every_table_has_a_row_for_every_row(name: str) -> None:
    results = sample()
    assert len(rows(csv_table.table(results, name))) == len(getattr(results, name))


def test_an_unknown_table_is_refused() -> None:
    with pytest.raises(ValueError, match="no table"):
        csv_table.table(sample(), "verdict")


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_starts_no_formula(text: str) -> None:
    for name in CSV_TABLES:
        content = csv_table.table(hostile(text), name).decode("utf-8")
        for row in csv.reader(io.StringIO(content, newline="")):
            for field in row:
                assert field.startswith(("=", "+", "@", "\t", "\r")) is False
                if field.startswith("-"):
                    float(field)
