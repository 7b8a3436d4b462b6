"""Each suffix has its writer."""

import subprocess
import sys
from pathlib import Path

import pytest
from observatory_sample import sample

from loadloom.reports.safe_file import WriteError
from loadloom.reports.writers import WRITERS, check_suffix, rendered, writer_for


def test_every_suffix_that_is_promised_has_a_writer() -> None:
    assert {".xlsx", ".html", ".json", ".sarif", ".junit.xml", ".csv"} <= set(WRITERS)


def test_the_longest_suffix_counts() -> None:
    assert writer_for(Path("a.findings.csv")) is WRITERS[".findings.csv"]
    assert writer_for(Path("a.CSV")) is WRITERS[".csv"]
    assert writer_for(Path("a.junit.xml")) is WRITERS[".junit.xml"]


@pytest.mark.parametrize("name", ["a.txt", "a", "a.xml", "a.json.gz", ""])
def test_an_unknown_suffix_is_refused_before_any_work(name: str) -> None:
    with pytest.raises(WriteError, match="suffix must be one of"):
        check_suffix(Path(name))


@pytest.mark.parametrize("suffix", [s for s in WRITERS if s != ".html"])
def test_every_writer_writes_the_same_bytes_twice(suffix: str) -> None:
    first, second = (rendered(sample(), Path(name + suffix)) for name in "ab")
    assert first == second
    assert len(first) > 50


def test_asking_for_a_writer_imports_nothing_heavy() -> None:
    code = (
        "import sys; from pathlib import Path; from loadloom.reports.writers import check_suffix; "
        "check_suffix(Path('x.xlsx')); "
        "print([m for m in ('openpyxl', 'rich', 'numpy', 'scipy', 'networkx') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
