"""One line for what to do about a part, and one for each setting: nothing said twice, nothing against it."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from observatory_sample import sample

from loadloom.graph.model.findings import End, Finding, Inactive, Quantity, Severity, Subject, Target, Verdict
from loadloom.graph.model.results import DeviceRow, Results
from loadloom.graph.model.settings import Case
from loadloom.reports.do_this import SETTING_RULES, do_this, steps
from loadloom.reports.open_points import open_points, worst_rows
from loadloom.reports.order_list import rounded_up
from loadloom.reports.setting_words import range_said, setting_lines

RAISE = (
    "Raise the allowed current of P2.3 to 13.1 A (a larger one, or more paths in parallel), split the loads so "
    "that at most 5.73 A go through CH2, or use a device with a narrower tolerance."
)

ROOM = Target("P2.3", Quantity.ALLOWED_CURRENT, End.AT_LEAST, 13.1)


def found(rule: str, part: str, remedy: str, value: float | None = None, target: Target | None = None) -> Finding:
    message = f"{rule} on {part}."
    return Finding(rule, Severity.ERROR, Subject(part), message, remedy, value=value, unit="A", target=target)


def no_range() -> Results:
    """CH2 carries 10.7 A and certainly carries 0.9 of its setting; P2.3 behind it is allowed 7 A, of 1.1 times."""
    row = DeviceRow(id="CH2", kind="limiter", case="slew", setting_a=10.0, current_a=10.7)
    row = replace(row, setting_low_a=10.7 / 0.9, setting_high_a=7.0 / 1.1, setting_high_by="P2.3")
    row = replace(row, setting_low_because="10.7 A in slew ÷ 0.9", setting_high_because="7 A allowed on P2.3 ÷ 1.1")
    cases = (Case("slew", "slew"), Case("slew / pooled", "slew", "pooled"))
    row = replace(row, settings_a={"slew": 10.0, "slew / pooled": None}, needs_a={"P2.3": 10.7 * 1.1 / 0.9})
    contact = replace(sample().contacts[0], id="P2.3", allowed_a=7.0)
    findings = (
        found("contact-unprotected", "P2.3", "P2.3 carries 10.7 A of load alone: use one that is allowed 110 A."),
        found("no-setting-range", "CH2", RAISE, target=ROOM),
        found("return-overload", "P2.3", "Give the return as many paths as the feeds, or use a larger one.", 10.7),
        found("limiter-would-trip", "CH2", "Set CH2 higher if what lies behind allows it."),
    )
    return replace(sample(), devices=(row,), outputs=(), cases=cases, contacts=(contact,), findings=findings)


def test_where_no_setting_does_both_nothing_says_set_it_higher() -> None:
    assert do_this(no_range())["CH2"] == RAISE
    (line,) = setting_lines(no_range())
    # By hand: 10.7 A / 0.9 = 11.89 A, and 7 A / 1.1 = 6.36 A.
    assert line.range == "no setting does both: at least 11.9 A to carry the load, at most 6.36 A to protect P2.3"
    assert line.set_to == "10 A; not active in pooled" and line.stands == "no range" and line.remedy == RAISE


def test_a_part_over_by_its_load_and_by_a_fault_gets_its_load_first() -> None:
    """With the one number that the device before it asks for: 10.7 A × 1.1 / 0.9 = 13.08 A."""
    said = do_this(no_range())["P2.3"]
    assert (
        said.startswith("1. Let it be allowed at least 13.1 A (now 7 A): ") and "2. Then set CH2 to 11.9 A" in said
    )
    assert said.count("larger one") == 1 and "110 A" not in said


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
    within_band = {row.id for row in results.conductors if row.protected and (row.utilisation or 0.0) <= 1.0}
    over = [part for part, times, _ in worst_rows(results, 10_000) if times > 1.0 and part in points]
    worst = [part for part in over if part not in within_band]
    assert over[: len(worst)] == worst, "what is over and protected all the same comes behind"
    assert [part for part in points if part in worst] == worst and len(worst) > 20


def test_every_channel_fuse_and_output_has_one_line(demo_results: Callable[[str], Results]) -> None:
    results = demo_results("flawed")
    lines = {line.id: line for line in setting_lines(results)}
    wanted = {row.id for row in results.devices} | {row.id for row in results.outputs}
    assert set(lines) == wanted and len(setting_lines(results)) == len(wanted)
    for line in lines.values():
        texts = (line.set_to, line.range, line.stands, line.low_why, line.high_why, line.remedy)
        assert all(texts) and "–" not in texts, line
    # A channel that is off says what hangs on it: the least allowed current behind it is 6.035 A.
    ch4 = lines["CH4"]
    assert ch4.set_to == "not active in any arrangement: it never opens" and ch4.stands == "not active"
    assert ch4.range == "if made active: certain to carry 0.2 A and certain to open above 6.03 A"
    assert ch4.remedy.startswith("Make it active and certain to open above 6.03 A") and "W3 and W4" in ch4.remedy


def test_a_fuse_below_its_load_is_too_low_though_its_upper_end_is_not_known() -> None:
    """A fuse of 7.5 A carries 15.1 A, which asks for 15.1 / 0.8 = 18.875 A."""
    row = DeviceRow(id="FU7", kind="fuse", case="slew", setting_a=7.5, current_a=15.1, setting_low_a=15.1 / 0.8)
    row = replace(row, setting_range_note="not determined: too much hangs together", settings_a={"slew": 7.5})
    (line,) = setting_lines(replace(sample(), devices=(row,), outputs=(), findings=()))
    assert line.stands == "too low" and line.remedy.startswith("Choose a rating of at least 18.9 A")


def test_every_remedy_stands_beside_what_it_answers(demo_results: Callable[[str], Results]) -> None:
    results = demo_results("flawed")
    found = {(f.subject.id, f.in_short) for f in results.findings}
    for part, lines in steps(results).items():
        for step in lines:
            # A device that is off and answers a fault and a short circuit at once has both reasons in one step.
            pairs = {f"{one} {other}" for name, one in found for also, other in found if name == also == part}
            assert (part, step.why) in found or step.why in pairs, part


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
    assert seen > 10


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


def test_words_of_another_rule_lose_no_merge() -> None:
    """The figure comes from the row of the device: however the remedy is worded, and whichever rule says it."""
    other = replace(no_range().findings[1], rule="converter-range", remedy="Let P2.3 be larger.")
    results = no_range()
    changed = replace(results, findings=(results.findings[0], other, *results.findings[2:]))
    said = do_this(changed)["P2.3"]
    assert said.startswith("1. Let it be allowed at least 13.1 A (now 7 A): ") and "110 A" not in said


def test_a_channel_that_is_off_is_found_by_the_field_and_not_by_the_words() -> None:
    row = DeviceRow(id="CH4", kind="limiter", case=None, setting_a=None, current_a=0.2, settings_a={"slew": None})
    opens = Target("CH4", Quantity.TRIPPING_CURRENT, End.AT_MOST, 6.03)
    finding = replace(
        found("contact-unprotected", "C4.1", "Worded otherwise.", 16.0, opens),
        limit=6.035,
        inactive=Inactive("CH4", "slew"),
    )
    (line,) = setting_lines(replace(sample(), devices=(row,), outputs=(), findings=(finding,)))
    assert line.range == "if made active: certain to carry 0.2 A and certain to open above 6.03 A"
    assert "Make it active in slew and certain to open above 6.03 A" in line.remedy and "C4.1" in line.remedy


@pytest.mark.parametrize("version", ["flawed", "cart_flawed"])
def test_no_remedy_asks_a_device_for_more_than_its_range(
    version: str, demo_results: Callable[[str], Results]
) -> None:
    """Who follows any one remedy on a device has not to follow another one for the same device."""
    results = demo_results(version)
    seen = 0
    for finding in results.findings:
        target = finding.target
        row = next((d for d in results.devices if target is not None and d.id == target.id), None)
        if target is None or row is None or (target.quantity, target.end) != (Quantity.SETTING, End.AT_MOST):
            continue
        if row.setting_high_a is not None and (row.setting_low_a or 0.0) <= row.setting_high_a:
            assert target.value <= row.setting_high_a * (1.0 + 1e-2), (finding.rule, finding.subject.id)
            seen += 1
    assert seen > 1
