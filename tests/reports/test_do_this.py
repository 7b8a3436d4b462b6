"""One line for what to do about a part, and one for each setting: nothing said twice, nothing against it."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from observatory_sample import sample

from loadloom.graph.model.findings import Finding, Severity, Subject, Verdict
from loadloom.graph.model.results import DeviceRow, Results
from loadloom.reports.do_this import SETTING_RULES, do_this, steps
from loadloom.reports.open_points import open_points, worst_rows
from loadloom.reports.order_list import rounded_up
from loadloom.reports.setting_words import range_said, setting_lines


def test_where_no_setting_does_both_nothing_says_set_it_higher(demo_results: Callable[[str], Results]) -> None:
    results = demo_results("flawed")
    found = [f for f in results.findings if f.subject.id == "CH2"]
    assert {f.rule for f in found} == {"no-setting-range", "limiter-would-trip"}
    assert do_this(results)["CH2"] == next(f.remedy for f in found if f.rule == "no-setting-range")


def test_a_part_over_by_its_load_and_by_a_fault_gets_its_load_first(demo_results: Callable[[str], Results]) -> None:
    said = do_this(demo_results("flawed"))["P2.3"]
    # 10.7 A of load; CH2 needs 13.1 A of it to carry that and protect it: 7 A × (10.7 / 0.9) / (7 / 1.1) = 13.08 A.
    assert said.startswith("1. Let it be allowed at least 13.1 A (now 7 A), since CH2") and "2. Then" in said
    assert "Raise the allowed current of P2.3 to 13.1 A" in do_this(demo_results("flawed"))["CH2"]
    assert said.count("larger one") == 1


def test_every_open_error_has_a_line_and_no_remedy_stands_twice(demo_results: Callable[[str], Results]) -> None:
    results = demo_results("flawed")
    lines = do_this(results)
    for f in results.findings:
        if f.severity is Severity.ERROR and f.accepted is None:
            assert lines[f.subject.id], f
            assert f.remedy not in lines[f.subject.id] or lines[f.subject.id].count(f.remedy) == 1


def test_open_points_stand_in_the_order_of_the_worst_parts(demo_results: Callable[[str], Results]) -> None:
    results = demo_results("flawed")
    points = list(dict.fromkeys(point.part for point in open_points(results) if point.kind == "error"))
    worst = [part for part, times, _ in worst_rows(results, 10_000) if times > 1.0 and part in points]
    assert [part for part in points if part in worst] == worst and len(worst) > 20


def test_every_channel_fuse_and_output_has_one_line(demo_results: Callable[[str], Results]) -> None:
    results = demo_results("flawed")
    lines = {line.id: line for line in setting_lines(results)}
    wanted = {row.id for row in results.devices} | {row.id for row in results.outputs}
    assert set(lines) == wanted and len(setting_lines(results)) == len(wanted)
    for line in lines.values():
        texts = (line.set_to, line.range, line.stands, line.low_why, line.high_why, line.remedy)
        assert all(texts) and "–" not in texts, line
    # By hand: 10.7 A / 0.9 = 11.89 A, and 7 A / 1.1 = 6.36 A.
    ch2 = lines["CH2"]
    assert ch2.range == "no setting does both: at least 11.9 A to carry the load, at most 6.36 A to protect P2.3"
    assert ch2.set_to == "10 A; off in pooled" and "10.7 A in slew ÷ 0.9" in ch2.low_why
    # A channel that is off says what hangs on it: the least allowed current behind it is 6.035 A.
    ch4 = lines["CH4"]
    assert ch4.set_to == "switched off in every arrangement" and ch4.stands == "switched off"
    assert ch4.range == "if made active: certain to carry 0.2 A and certain to open above 6.03 A"
    assert ch4.remedy.startswith("Make it active and certain to open above 6.03 A") and "W3 and W4" in ch4.remedy


def test_a_fuse_below_its_load_is_too_low_though_its_upper_end_is_not_known(
    demo_results: Callable[[str], Results],
) -> None:
    """FU7 of 7.5 A carries 15.1 A, which asks for 15.1 / 0.8 = 18.9 A."""
    fu7 = next(line for line in setting_lines(demo_results("flawed")) if line.id == "FU7")
    assert fu7.stands == "too low" and fu7.remedy.startswith("1. Choose a rating of at least 18.9 A")


def test_every_remedy_stands_beside_what_it_answers(demo_results: Callable[[str], Results]) -> None:
    results = demo_results("flawed")
    found = {(f.subject.id, f.message) for f in results.findings}
    for part, lines in steps(results).items():
        assert all((part, step.why) in found for step in lines), part


def test_a_range_is_never_said_wider_than_it_is(demo_results: Callable[[str], Results]) -> None:
    """Both ends in words lie inside of the ends in numbers, however many figures those have."""
    seen = 0
    for version in ("sound", "flawed", "cart_flawed"):
        for row in demo_results(version).devices:
            low, high = row.setting_low_a, row.setting_high_a
            if low is None or high is None or low > high:
                continue
            found = re.fullmatch(r"([0-9.]+) to ([0-9.]+) A", range_said(row))
            assert found, range_said(row)
            assert low * (1 - 1e-9) <= float(found[1]) and float(found[2]) <= high * (1 + 1e-9)
            assert float(found[1]) == pytest.approx(low, rel=0.01) and float(found[2]) == pytest.approx(
                high, rel=0.01
            )
            seen += 1
    assert seen > 20


@pytest.mark.parametrize(
    ("setting", "low", "high", "words"),
    [
        (3.0, 3.125, 5.0, "Choose a rating within the range, 3.13 to 5 A."),
        (9.0, 3.125, 5.0, "Choose a rating within the range, 3.13 to 5 A."),
        (4.0, 3.125, 5.0, "Nothing."),
    ],
)
def test_a_setting_outside_of_its_range_is_told_to_come_in(
    setting: float, low: float, high: float, words: str
) -> None:
    row = DeviceRow(id="F9", kind="fuse", case=None, setting_a=setting, current_a=2.0, setting_low_a=low)
    row = replace(row, setting_high_a=high, settings_a={"run": setting})
    about = Finding("fuse-above-wire", Severity.WARNING, Subject("F9"), "F9 is high.", "Use a smaller one.")
    other = Finding("not-selective", Severity.WARNING, Subject("F9"), "F9 is slow.", "Choose a faster one.")
    inside = words == "Nothing."
    results = replace(sample(), devices=(row,), outputs=(), findings=() if inside else (about, other))
    (line,) = setting_lines(replace(results, verdict=Verdict.FAIL))
    assert about.rule in SETTING_RULES
    assert line.remedy == (words if inside else f"1. {words} 2. Choose a faster one.")


def test_what_is_ordered_is_never_short() -> None:
    """To the next centimetre; rounding of the sum itself (0.1 + 0.2) adds none."""
    for length in (1.364, 1.3601, 79.112, 3.7, 0.0, 0.1 + 0.2, 1e-7):
        up = rounded_up(length)
        assert length - 1e-6 <= up < length + 0.01 and math.isclose(100 * up, round(100 * up), abs_tol=1e-9)
    assert rounded_up(0.1 + 0.2) == 0.3 and rounded_up(1.364) == 1.37
