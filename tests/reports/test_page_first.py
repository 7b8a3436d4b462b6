"""What the page leads with: worst parts with reason and remedy, margins, voltages along a path, what changed."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from observatory_sample import sample
from test_page import Opener, browser, opened  # noqa: F401 - fixtures

from loadloom.graph.model.results import Results
from loadloom.reports.open_points import open_points, worst_rows
from loadloom.reports.page import render
from loadloom.reports.workbook.book import drawn


def test_the_worst_five_are_by_the_worse_of_both_currents() -> None:
    """Recounted here by brute force over all rows."""
    results = sample()
    shares = {}
    for row in (*results.conductors, *results.contacts, *results.splices, *results.switches):
        both = [row.utilisation or 0.0]
        if row.sustained_fault_a is not None and row.allowed_a:
            both.append(row.sustained_fault_a / row.allowed_a)
        shares[row.id] = max(both)
    worst = worst_rows(results)
    assert [share for _, share, _ in worst] == sorted(shares.values(), reverse=True)[:5]
    assert all(shares[part] == share for part, share, _ in worst)


def name_of(row: list[str]) -> str:
    return row[0].split("\n")[0].split(" (")[0]


def test_the_page_leads_with_them_and_says_why_and_what_to_do(opened: Opener) -> None:  # noqa: F811
    results = sample()
    page = opened(results)
    shown = page.evaluate(
        "[...document.querySelectorAll('#worst tbody tr')].map((tr) => [...tr.cells].map((c) => c.innerText))"
    )
    # A load bears its name behind its id: “M1 (Mount)”.
    parts, worst = [name_of(row) for row in shown], [part for part, _, _ in worst_rows(results)]
    # None of the five worst by current has an open error here: parts that have one stand before them.
    errors = list(dict.fromkeys(point.part for point in open_points(results) if point.kind == "error"))
    assert not set(worst) & set(errors)
    assert parts == [*errors[:5], *worst]
    found = {f.subject.id: f for f in reversed(results.findings) if f.accepted is None}
    for row in shown:
        part = name_of(row)
        if part in found:
            assert row[5] and row[6] and "Nothing" not in row[5]
    mount = next(load for load in results.loads if load.id == "M1")
    assert any(row[0].startswith(f"M1 ({mount.function})") for row in shown)
    tops = page.evaluate(
        "['worst', 'harness'].map((id) => document.getElementById(id).getBoundingClientRect().top)"
    )
    assert tops[0] < tops[1]


def test_bars_end_where_the_numbers_say(opened: Opener) -> None:  # noqa: F811
    """Linear up to 100 % at half the width; beyond it by the logarithm, up to the last tick."""
    results = sample()
    page = opened(results)
    rows, ticks = page.evaluate(
        """() => {
          const width = (element) => element.getBoundingClientRect().width;
          const read = (line) => [width(line.querySelector('.margin-bar')) / width(line),
            line.querySelector('.margin-number').textContent];
          const rows = [...document.querySelectorAll('.margin-row:not(.margin-axis)')];
          const ticks = [...document.querySelectorAll('.margin-tick')];
          return [rows.map((row) => [...row.querySelectorAll('.margin-line')].map(read)),
            ticks.map((tick) => tick.textContent)];
        }"""
    )
    assert ticks[-1].endswith("×")
    end = float(ticks[-1].split()[0])
    checked, beyond = 0, 0
    for row in rows:
        for width, said in row:
            if said == "not determined":
                continue
            share = float(said.split()[0]) * (1.0 if said.endswith("×") else 0.01)
            assert share <= end
            at = share / 2 if share <= 1.0 else 0.5 + 0.5 * math.log(share) / math.log(end)
            assert width == pytest.approx(at, abs=0.012)
            checked, beyond = checked + 1, beyond + (share > 1.0)
    assert checked >= 10 and beyond


def test_parts_of_the_same_shares_have_one_bar(opened: Opener) -> None:  # noqa: F811
    """Every part stands in one row and no two rows say the same: twenty equal stripes tell nothing."""
    results = sample()
    page = opened(results)
    rows = page.evaluate(
        """() => [...document.querySelectorAll('.margin-row:not(.margin-axis)')].map((row) =>
          [[...row.querySelectorAll('button')].map((b) => b.textContent),
           [...row.querySelectorAll('.margin-number')].map((n) => n.textContent).join(' ')])"""
    )
    assert len({said for _, said in rows}) == len(rows) > 1
    names = [name for parts, _ in rows for name in parts]
    assert len(names) == len(set(names))


def test_a_voltage_profile_is_drawn_from_the_output_to_the_load_and_back(opened: Opener) -> None:  # noqa: F811
    results = sample()
    load = results.loads[0]
    profile = (("CH1", 12.0), ("W1", 11.5), (load.id, 0.3), ("W2", 0.0), ("CH1", 0.0))
    page = opened(replace(results, loads=(replace(load, profile=profile, minimum_v=11.4), *results.loads[1:])))
    said = page.inner_text("#profile-figure p")
    assert f"{load.id} gets 11.2 V, needs 11.4 V" in said
    assert "0.500 V is lost in the feed and 0.300 V in the return" in said
    assert page.locator("#profile-figure circle").count() == len(profile)


def test_without_profiles_there_is_no_section(opened: Opener) -> None:  # noqa: F811
    assert opened(sample()).locator("#profiles").is_hidden()


def test_what_changed_since_stands_on_page_and_in_the_workbook() -> None:
    new = sample()
    first = new.conductors[0]
    old = replace(new, conductors=(replace(first, current_a=0.5 * (first.current_a or 0.0)), *new.conductors[1:]))
    assert b'"since":{' in render(new, since=old) and b'"since":null' in render(new)
    workbook, pen = drawn(new, old)
    assert workbook.sheetnames.index("Changes") < workbook.sheetnames.index("Findings")
    texts = " ".join(pen.sheets["Summary"].data().split())
    assert "Changed since" in texts and "Changes" not in drawn(new)[0].sheetnames


def test_open_points_are_every_open_error_and_all_that_is_not_determined() -> None:
    results = sample()
    points = open_points(results)
    assert [point.number for point in points] == list(range(1, len(points) + 1))
    errors = [f for f in results.findings if f.severity == "error" and f.accepted is None]
    assert sum(point.kind == "error" for point in points) == len({(f.subject.id, f.message) for f in errors})
    undetermined = {row.id for row in (*results.conductors, *results.contacts) if row.protected is None}
    assert undetermined <= {point.part for point in points}


def nothing(results: Results) -> Results:
    return replace(results, conductors=(), contacts=(), splices=(), switches=(), loads=(), findings=())


def test_an_empty_harness_has_a_page(opened: Opener) -> None:  # noqa: F811
    page = opened(nothing(sample()))
    assert page.locator("#first").is_hidden() and page.locator("#margins").is_hidden()


def test_settings_and_wire_to_order_stand_open_before_the_picture(opened: Opener) -> None:  # noqa: F811
    """What a reader asks first is reached from the first line of links, and nothing of it has to be unfolded."""
    results = sample()
    page = opened(results)
    assert page.evaluate(
        "document.getElementById('settings').open || document.getElementById('fuse_settings').open"
    )
    for name in ("settings", "fuse_settings"):
        for row in page.evaluate(
            f"[...document.querySelectorAll('#{name} tbody tr')].map((tr) => [...tr.cells].map((c) => c.innerText))"
        ):
            assert len(row) == 7 and all(row)
    tops = page.evaluate(
        "['first-tables', 'harness'].map((id) => document.getElementById(id).getBoundingClientRect().top)"
    )
    assert tops[0] < tops[1]
    wanted = page.evaluate("[...document.querySelectorAll('#contents .wanted a')].map((a) => a.textContent)")
    assert {"Worst parts", "Settings", "Findings"} <= set(wanted)
    for href in page.evaluate("[...document.querySelectorAll('#contents a')].map((a) => a.getAttribute('href'))"):
        assert page.locator(f'[id="{href[1:]}"]').count() == 1, href


def test_a_part_in_its_overload_band_is_not_told_as_unprotected(opened: Opener) -> None:  # noqa: F811
    """A part that its band protects has a colour and words of its own: 13 times as much would be red elsewhere."""
    results = sample()
    first, second, *_ = results.conductors
    banded = replace(first, id="WB", allowed_a=10.0, sustained_fault_a=130.0, protected=True, utilisation=0.5)
    bare = replace(second, id="WN", allowed_a=10.0, sustained_fault_a=140.0, protected=False, utilisation=0.5)
    alone = replace(results, conductors=(banded, bare), contacts=(), splices=(), switches=(), findings=())
    page = opened(alone)
    cells = page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll('#worst tbody tr')].map((tr) =>
          [tr.cells[0].innerText.split("\\n")[0], [tr.cells[4].className, tr.cells[4].innerText]]))"""
    )
    assert "grade-warning" in cells["WB"][0] and "within the overload band" in cells["WB"][1]
    assert "grade-error" in cells["WN"][0] and "not protected" in cells["WN"][1]
    bars = page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll('.margin-row:not(.margin-axis)')].map((row) =>
          [row.querySelector('button').textContent, row.querySelector('.margin-bar.fault').className]))"""
    )
    assert "u-band" in bars["WB"] and "u-over" in bars["WN"]
