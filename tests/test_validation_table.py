"""The validation table of the documentation: every number as loadloom says it now, and near what is published."""

import pytest
import validation_table as table

ROWS = list(table.rows())


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.case)
def test_near_the_published_value_or_on_the_safe_side(row: table.Row) -> None:
    assert row.holds(row.ours()), (row.ours(), row.published, row.citation)


def test_the_page_says_what_loadloom_says_now() -> None:
    assert table.PAGE.read_text(encoding="utf-8") == table.page(), "run python tests/validation_table.py and look"


def test_what_the_table_has_to_have() -> None:
    kinds = [row.kind for row in ROWS]
    assert len(ROWS) >= 60
    assert len({row.citation for row in ROWS}) >= 15
    assert kinds.count(table.LOOK_UP) <= 30
    assert kinds.count(table.HARNESS) >= 8
    assert len({row.case for row in ROWS}) == len(ROWS)


def test_a_number_that_drifts_is_seen() -> None:
    row = table.Row(table.LOOK_UP, "drifted", "S08", 10.0, "A", lambda: 10.2, 0.01)
    assert not row.holds(row.ours())
    assert table.Row(table.LOOK_UP, "safe", "S08", 10.0, "A", lambda: 9.0, 0.01, "less").holds(9.0)
    assert not table.Row(table.LOOK_UP, "safe", "S08", 10.0, "A", lambda: 11.0, 0.01, "less").holds(11.0)
