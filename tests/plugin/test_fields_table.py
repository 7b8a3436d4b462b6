"""All fields as a spreadsheet and back: only what was changed is written, by uuid."""

from __future__ import annotations

import csv
import io
import shutil
from pathlib import Path

import pytest

from loadloom.plugin import cli
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.wire_list.tables import csv_bytes, read_grids, xlsx_bytes

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"


@pytest.fixture(autouse=True)
def _without_kicad_cli(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")


@pytest.fixture
def project(tmp_path: Path) -> Path:
    shutil.copytree(FIXTURES / "stock_symbols", tmp_path / "p")
    return tmp_path / "p" / "harness.kicad_sch"


def rows_of(table: Path) -> list[list[str]]:
    return [list(cells) for _, cells in read_grids(table)[0].rows]


@pytest.mark.parametrize("suffix", [".xlsx", ".csv"])
def test_there_and_back(project: Path, tmp_path: Path, suffix: str, capsys: pytest.CaptureFixture[str]) -> None:
    table = tmp_path / f"fields{suffix}"
    assert cli.main(["fields", str(project), "-o", str(table)]) == 0
    rows = rows_of(table)
    heads = rows[0]
    assert heads[:6] == ["Uuid", "Reference", "Sheet", "Library", "Value", "Role"] and "Contact rating" in heads
    by_reference = {row[1]: row for row in rows[1:]}
    assert by_reference["F1"][heads.index("Role")] == "fuse" and by_reference["F1"][heads.index("Value")] == "10 A"

    unchanged = tmp_path / "same"
    assert cli.main(["fields", str(project), "--from", str(table), "-o", str(unchanged)]) == 0
    assert (unchanged / project.name).read_bytes() == project.read_bytes()

    by_reference["F1"][heads.index("Value")] = "7.5 A"
    by_reference["R1"][heads.index("Zone")] = "=cabin"
    by_reference["J1"][heads.index("Contact rating")] = "13 A"
    table.write_bytes(xlsx_bytes([("Fields", rows)]) if suffix == ".xlsx" else csv_bytes(rows))
    capsys.readouterr()
    copy = tmp_path / "copy"
    assert cli.main(["fields", str(project), "--from", str(table), "-o", str(copy)]) == 0
    assert capsys.readouterr().out.startswith("3 fields of 3 symbols")
    symbols = {s.reference: s for s in read_drawing(copy / project.name).symbols}
    assert symbols["F1"].value == "7.5 A"
    assert symbols["R1"].fields["Zone"] == "=cabin" and symbols["J1"].fields["Contact rating"] == "13 A"
    before = project.read_text(encoding="utf-8").splitlines()
    after = (copy / project.name).read_text(encoding="utf-8").splitlines()
    assert len(after) - len(before) <= 10 and 1 <= sum(line not in after for line in before) <= 2
    assert "=cabin" not in project.read_text(encoding="utf-8")


def test_into_the_drawing_itself(project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = tmp_path / "fields.csv"
    assert cli.main(["fields", str(project), "-o", str(table)]) == 0
    text = table.read_text(encoding="utf-8").replace("10 A", "5 A")
    table.write_text(text, encoding="utf-8")
    lock = project.with_name(f"~{project.name}.lck")
    lock.write_text("{}", encoding="utf-8")
    assert cli.main(["fields", str(project), "--from", str(table), "--in-place"]) == 2
    assert "open" in capsys.readouterr().err
    lock.unlink()
    assert cli.main(["fields", str(project), "--from", str(table), "--in-place"]) == 0
    assert {s.value for s in read_drawing(project).symbols if s.reference == "F1"} == {"5 A"}


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ("other uuid", "no symbol with the uuid of"),
        ("twice", "stands in it twice"),
        ("no column", "has no column Uuid"),
    ],
)
def test_tables_that_do_not_fit(project: Path, tmp_path: Path, change: str, why: str, capsys) -> None:  # type: ignore[no-untyped-def]
    table = tmp_path / "fields.csv"
    assert cli.main(["fields", str(project), "-o", str(table)]) == 0
    rows = list(csv.reader(io.StringIO(table.read_text(encoding="utf-8"))))
    if change == "other uuid":
        rows[1][0] = "0" * 8
    elif change == "twice":
        rows.append(rows[1])
    else:
        rows[0][0] = "Id"
    table.write_bytes(csv_bytes(rows))
    before = project.read_bytes()
    assert cli.main(["fields", str(project), "--from", str(table), "--in-place"]) == 2
    assert why in capsys.readouterr().err and project.read_bytes() == before
