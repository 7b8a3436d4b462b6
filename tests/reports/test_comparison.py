"""Comparing two analyses: what changed is found, what got worse stands first, and texts stay harmless."""

import datetime
import json
from dataclasses import replace
from pathlib import Path

import pytest
from observatory_sample import hostile, sample
from openpyxl import load_workbook

from loadloom.graph.model.findings import Acceptance, Finding, Severity, Subject, Verdict
from loadloom.graph.model.results import Results
from loadloom.reports.comparison.changes import Effect, compare
from loadloom.reports.comparison.writers import headline, rendered, text
from loadloom.reports.safe_file import WriteError


def test_the_same_results_differ_in_nothing() -> None:
    comparison = compare(sample(), sample())
    assert comparison.changes == ()
    assert comparison.new_findings == ()


def test_a_greater_current_is_worse_and_stands_first() -> None:
    old = sample()
    first = old.conductors[0]
    assert first.current_a is not None
    heavier = replace(first, current_a=1.5 * first.current_a, length_m=9.0)
    new = replace(old, conductors=(heavier, *old.conductors[1:]))
    comparison = compare(old, new)
    assert [(c.effect, c.what, c.note) for c in comparison.changes] == [
        (Effect.WORSE, "current", "+50 %"),
        (Effect.CHANGED, "length", comparison.changes[1].note),
    ]


def test_a_new_finding_is_new_once_and_a_gone_one_is_better() -> None:
    old = sample()
    extra = Finding("wire-overload", Severity.ERROR, Subject("W2"), "W2 carries too much.", "Thicker.", "nominal")
    new = replace(old, findings=(extra, replace(extra, case="slew"), *old.findings[1:]))
    comparison = compare(old, new)
    assert comparison.new_findings == (extra,)
    assert {(c.effect, c.part) for c in comparison.changes if c.kind == "finding"} == {
        (Effect.WORSE, "W2"),
        (Effect.BETTER, old.findings[0].subject.id),
    }
    assert comparison.changes[0].part == "W2"


def one_finding(**values: object) -> Results:
    """The sample with one finding: 12 A at an allowed current of 10 A."""
    found = Finding(
        "wire-overload", Severity.ERROR, Subject("W2"), "W2 carries too much.", "Thicker.", None, 12.0, 10.0, "A"
    )
    return replace(sample(), findings=(replace(found, **values),))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("now", "effect", "after"),
    [
        ({"value": 13.0}, Effect.WORSE, "13.0 A"),
        ({"value": 11.0}, Effect.BETTER, "11.0 A"),
        # less current on a wire that is allowed far less: 1.2 times as drawn before, 2.2 times now
        ({"value": 11.0, "limit": 5.0}, Effect.WORSE, "11.0 A at 5.00 A"),
        ({"limit": 6.0}, Effect.WORSE, "12.0 A at 6.00 A"),
        ({"limit": 11.0}, Effect.BETTER, "12.0 A at 11.0 A"),
        ({"value": None}, Effect.WORSE, "–"),
    ],
)
def test_a_finding_is_worse_by_how_far_it_is_beyond_its_limit(
    now: dict[str, float | None], effect: Effect, after: str
) -> None:
    (change,) = compare(one_finding(), one_finding(**now)).changes
    assert (change.effect, change.kind, change.new) == (effect, "finding", after)
    assert compare(one_finding(**now), one_finding(**now)).changes == ()


def test_a_second_clause_and_a_second_field_are_new_findings() -> None:
    """Of one part: another rule book that it does not keep, and another field that can't be read."""
    for name, other in (
        ("rule-book", {"source": "school robotics game manual, R622"}),
        ("field-unreadable", {"subject": Subject("W2", field="Length")}),
    ):
        old = one_finding(rule=name, source="33 CFR 183.425", subject=Subject("W2", field="Gauge"))
        again = replace(old.findings[0], message="W2 is wrong in another way.", **other)  # type: ignore[arg-type]
        comparison = compare(old, replace(old, findings=(*old.findings, again)))
        assert comparison.new_findings == (again,)
        assert [c.effect for c in compare(old, replace(old, findings=(again,))).changes] == [
            Effect.WORSE,
            Effect.BETTER,
        ]


def test_what_the_settings_changed_is_told_and_makes_nothing_better() -> None:
    """A lowered severity, a warmer band, a zone: settings, not mends of the harness."""
    old = replace(one_finding(), settings={"severity": {}, "overload_band": 1.45, "decimal_sign": "."})
    settings = {"severity": {"wire-overload": "note"}, "overload_band": 2.0, "decimal_sign": ",", "younger": 1}
    new = replace(one_finding(severity=Severity.NOTE), settings=settings)
    changes = {(c.effect, c.kind, c.part, c.new) for c in compare(old, new).changes}
    assert changes == {
        (Effect.CHANGED, "finding", "W2", "note"),
        (Effect.CHANGED, "setting", "severity.wire-overload", "note"),
        (Effect.CHANGED, "setting", "overload_band", "2.0"),
    }


def test_a_finding_that_is_new_and_accepted_is_told() -> None:
    old = replace(sample(), findings=())
    accepted = Acceptance("wire-overload", "W2", "short", "A. Reviewer", datetime.date(2025, 1, 1))
    (change,) = compare(old, one_finding(accepted=accepted)).changes
    assert (change.effect, change.old) == (Effect.CHANGED, "–") and "accepted by A. Reviewer" in change.new


def test_what_differs_by_less_than_is_printed_is_counted_only() -> None:
    old = sample()
    first = old.conductors[0]
    assert first.current_a is not None
    new = replace(old, conductors=(replace(first, current_a=1.00001 * first.current_a), *old.conductors[1:]))
    comparison = compare(old, new)
    assert (comparison.changes, comparison.slight) == ((), 1)
    assert "1 more differ" in text(comparison)


def test_the_terminal_tells_findings_first_and_then_what_changed_most() -> None:
    """However many numbers got worse, a finding that is gone and a number that got better are shown."""
    old = sample()
    rows = [row for row in old.conductors if row.current_a]
    extra = Finding("wire-overload", Severity.ERROR, Subject("W2"), "W2 carries too much.", "Thicker.", "nominal")
    worse = [replace(rows[0], id=f"X{k}", current_a=(2.0 + k) * (rows[0].current_a or 0.0)) for k in range(40)]
    before = [replace(row, current_a=rows[0].current_a) for row in worse]
    better = replace(rows[1], current_a=0.5 * (rows[1].current_a or 0.0))
    shown = text(
        compare(
            replace(old, conductors=(*before, rows[1])),
            replace(old, conductors=(*worse, better), findings=(extra, *old.findings[1:])),
        )
    )
    order = ("new, error wire-overload: W2", f"gone, {old.findings[0].severity}", "X39", "−50 %")
    places = [shown.index(word) for word in order]
    assert places == sorted(places)
    assert "W2 carries too much." in shown and " X0 " not in shown and "25 that changed less" in shown


def test_added_removed_and_verdict() -> None:
    old = sample()
    new = replace(old, loads=old.loads[1:], verdict=Verdict.PASS)
    comparison = compare(old, new)
    assert {(c.kind, c.what, c.effect) for c in comparison.changes} == {
        ("verdict", "verdict", Effect.BETTER),
        ("load", "removed", Effect.CHANGED),
    }
    assert {(c.what, c.effect) for c in compare(new, old).changes} == {
        ("verdict", Effect.WORSE),
        ("added", Effect.CHANGED),
    }


def test_protection_that_can_no_longer_be_said_is_worse() -> None:
    old = sample()
    k, row = next((k, row) for k, row in enumerate(old.conductors) if row.protected is True)
    rows = list(old.conductors)
    rows[k] = replace(row, protected=None)
    (change,) = compare(old, replace(old, conductors=tuple(rows))).changes
    assert (change.effect, change.what) == (Effect.WORSE, "protected")


@pytest.mark.parametrize("text_in", ["=1+1", "<script>alert(1)</script>", "a\x1b[31mb", "\u202eabc"])
def test_texts_from_a_drawing_stay_harmless(text_in: str, tmp_path: Path) -> None:
    comparison = compare(sample(), hostile(text_in))
    assert comparison.changes
    for name in ("c.html", "c.xlsx", "c.json"):
        (tmp_path / name).write_bytes(rendered(comparison, tmp_path / name))
    page = (tmp_path / "c.html").read_text(encoding="utf-8")
    assert "<script" not in page
    sheet = load_workbook(tmp_path / "c.xlsx").active
    assert sheet is not None
    assert not any(cell.data_type == "f" for row in sheet.iter_rows() for cell in row)
    assert json.loads((tmp_path / "c.json").read_text(encoding="utf-8"))["changes"]
    assert "\x1b" not in text(comparison)
    assert "\u202e" not in text(comparison) + page


def test_that_few_parts_bear_the_same_reference_is_said() -> None:
    """Nothing is left of a sample whose conductors are all renamed and whose other parts are gone."""
    old = sample()
    renamed = [replace(row, id=f"X{row.id}") for row in old.conductors]
    names = ("contacts", "splices", "switches", "loads", "devices", "outputs", "supplies")
    tables: dict[str, tuple[()]] = dict.fromkeys(names, ())
    other = replace(old, conductors=tuple(renamed), **tables)  # type: ignore[arg-type]
    assert headline(compare(old, other)).startswith("Only 0 of ")
    one = replace(old, conductors=(renamed[0], *old.conductors[1:]))
    assert not headline(compare(old, one)).startswith("Only")


def test_an_unknown_suffix_is_refused() -> None:
    with pytest.raises(WriteError, match="suffix must be one of"):
        rendered(compare(sample(), sample()), Path("c.pdf"))
