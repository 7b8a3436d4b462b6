"""Open points keep their owner, date and state from one revision to the next."""

from __future__ import annotations

import datetime
import io
import json
import re
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest
from observatory_sample import sample
from programs import need

from loadloom.graph.model.findings import Assigned
from loadloom.plugin.cli import main
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.settings_file import read_settings
from loadloom.reports import page
from loadloom.reports.open_points import carried_over, open_points
from loadloom.reports.results_json import read_results, render
from loadloom.reports.workbook import book
from loadloom.reports.workbook.table import FIRST_ROW, HEADER_ROW

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
DUE = datetime.date(2026, 12, 18)


def test_an_entry_for_one_rule_stands_before_one_for_the_part() -> None:
    results = sample()
    first = open_points(results)[0]
    assert first.rule is not None
    whole, one = Assigned(first.part, "whole"), Assigned(first.part, "one", DUE, "asked", first.rule)
    points = open_points(replace(results, assigned=(whole, one)))
    assert (points[0].owner, points[0].due, points[0].state) == ("one", "2026-12-18", "asked")
    others = [p for p in points if p.part == first.part and p.rule != first.rule]
    assert all(p.owner == "whole" and p.state == "open" for p in others)
    assert all(p.owner == "" for p in points if p.part != first.part)


def test_an_owner_closes_nothing() -> None:
    results = sample()
    everything = tuple(Assigned(p.part, "A. Example", DUE, "closed") for p in open_points(results))
    after = replace(results, assigned=everything)
    assert after.verdict is results.verdict
    assert [p.text for p in open_points(after)] == [p.text for p in open_points(results)]


def test_the_last_revision_is_taken_over_and_the_settings_stand_before_it(tmp_path: Path) -> None:
    results = sample()
    first, second = (p.part for p in open_points(results)[:2])
    old = replace(results, assigned=(Assigned(first, "old"), Assigned(second, "old", DUE), Assigned("gone", "old")))
    path = tmp_path / "old.json"
    path.write_bytes(render(old))
    new = carried_over(replace(results, assigned=(Assigned(first, "new"),)), read_results(path))
    owners = {p.part: p.owner for p in open_points(new)}
    assert (owners[first], owners[second]) == ("new", "old")
    assert "gone" not in owners


def test_workbook_page_and_results_file_show_the_same() -> None:
    results = sample()
    part = open_points(results)[0].part
    results = replace(results, assigned=(Assigned(part, "A. Example", DUE, "asked"),))
    sheet = openpyxl.load_workbook(io.BytesIO(book.render(results)))["Open points"]
    heads = {str(c.value).split("\n")[0]: c.column for c in sheet[HEADER_ROW]}
    shown = [sheet.cell(FIRST_ROW, heads[name]).value for name in ("Part", "Owner", "Due", "State")]
    assert shown == [part, "A. Example", "2026-12-18", "asked"]
    written = json.loads(render(results))["open_points"][0]
    assert [written[key] for key in ("part", "owner", "due", "state")] == shown
    on_page = page.render(results).decode()
    assert re.search(r'"owner": ?"A. Example", ?"due": ?"2026-12-18", ?"state": ?"asked"', on_page)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[[open_point]]\nowner = "A"\n', "part"),
        ('[[open_point]]\npart = "W1"\n', "owner, due or state"),
        ('[[open_point]]\npart = "W1"\nowner = "A"\nwhen = 1\n', "when"),
        ('[[open_point]]\npart = "W1"\ndue = "soon"\n', "due"),
        ('[[open_point]]\npart = "W1"\nowner = "A"\nrule = "no-such-rule"\n', "rule"),
    ],
)
def test_an_entry_that_says_too_little_or_too_much_is_refused(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "loadloom.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UnusableError, match=said):
        read_settings(path)


def test_the_command_line_carries_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The owner of an open error stands in the next report, although the settings no longer name one."""
    need("kicad-cli")
    root = next((FIXTURES / "case_05_thin_pair_pooled").glob("*.kicad_sch"))
    text = (root.parent / "loadloom.toml").read_text(encoding="utf-8")
    plain, owned = tmp_path / "plain.toml", tmp_path / "owned.toml"
    plain.write_text(text, encoding="utf-8")
    old, new = tmp_path / "old.json", tmp_path / "new.json"
    main(["report", str(root), "--settings", str(plain), "-o", str(old), "--fail-on", "never"])
    part = json.loads(old.read_text())["open_points"][0]["part"]
    owned.write_text(f'{text}\n[[open_point]]\npart = "{part}"\nowner = "A. Example"\n', encoding="utf-8")
    main(["report", str(root), "--settings", str(owned), "-o", str(old), "--fail-on", "never", "--force"])
    main(["report", str(root), "--settings", str(plain), "--since", str(old), "-o", str(new), "--fail-on", "never"])
    capsys.readouterr()
    assert json.loads(new.read_text())["open_points"][0]["owner"] == "A. Example"
