"""What a rating's numbers were compared with is said in words, and never more than was done."""

import csv
import re
from pathlib import Path

import pytest

from loadloom.graph.ratings import tables
from loadloom.graph.ratings.status_words import checked_words

TABLES = Path(__file__).resolve().parents[3] / "graph" / "ratings"
MARK = "check your edition"


@pytest.mark.parametrize(
    ("status", "check_edition", "says"),
    [
        ("VERIFIED", False, "numbers compared with the publication itself"),
        ("VERIFIED", True, f"numbers compared with a second-hand copy of the publication, not with the "
         f"publication itself: {MARK}"),
        ("FROM_MEMORY", True, f"numbers from memory, compared with nothing: {MARK}"),
        ("COMPUTED", False, "computed by a published formula, in no table"),
        ("VERIFIED against one digitisation", True, f"numbers: compared with one digitisation: {MARK}"),
        ("90C VERIFIED; 60C FROM_MEMORY", True, f"numbers: 90C compared with a copy; 60C from memory: {MARK}"),
        ("stated by the user", False, "stated by the user"),
        ("", True, MARK),
        ("", False, ""),
    ],
)  # fmt: skip
def test_the_words_of_a_status(status: str, check_edition: bool, says: str) -> None:
    assert checked_words(status, check_edition=check_edition) == says


def test_every_status_of_the_tables_has_words_and_keeps_its_mark() -> None:
    """Over all files of tables: no code word is left, and what comes from memory says so."""
    found = set()
    for file in TABLES.glob("*.csv"):
        lines = [line for line in file.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
        found |= {row["status"] for row in csv.DictReader(lines) if row.get("status")}
    assert len(found) > 10
    for status in found:
        said = checked_words(status, check_edition=True)
        assert not re.search("VERIFIED|MEMORY|REPRODUCED|COMPUTED", said), said
        assert MARK in said and ("FROM_MEMORY" not in status or "memory" in said)


def test_either_the_words_or_the_source_give_a_citation_its_mark() -> None:
    """A copy, a memory, or a source listed as not looked up in its own edition: each by itself is enough."""
    for words in ("read second-hand", "value from memory", "edition not stated"):
        assert tables.has_mark(words) and tables.marked(words) == f"{words}; {MARK}"
    listed = next(text.removesuffix(f"; {MARK}") for text in tables.citations().values() if text.endswith(MARK))
    assert tables.marked(f"clause 5 of {listed}") == f"clause 5 of {listed}; {MARK}"
    assert not tables.has_mark("own measurement") and tables.marked("own measurement") == "own measurement"
    assert tables.marked(f"a book; {MARK}") == f"a book; {MARK}"
