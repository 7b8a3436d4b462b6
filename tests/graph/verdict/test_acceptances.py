"""Accepted findings: what they cover, and what is said of one that covers nothing."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from loadloom.graph.model.findings import Acceptance, Finding, Severity, Subject
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.verdict.verdict import settle_findings

OVER = Finding(
    "wire-overload", Severity.ERROR, Subject("W1"), "W1 carries 12 A.", "Thicker.", value=12.0, limit=10.0, unit="A"
)
ENTRY = Acceptance("wire-overload", "W1", "short and in the open", "A. Reviewer", datetime.date(2025, 1, 1))


def settled(*entries: Acceptance, findings: tuple[Finding, ...] = (OVER,)) -> tuple[Finding, ...]:
    return settle_findings(findings, AnalysisSettings(accepted=entries), "2025-06-01")


def unused(found: tuple[Finding, ...]) -> list[str]:
    return [f.message.split("covers nothing: ")[1] for f in found if f.rule == "acceptance-unused"]


@pytest.mark.parametrize("value", [None, 12.0, 12.5])
@pytest.mark.parametrize("until", [None, datetime.date(2025, 6, 1)])
def test_what_is_covered(value: float | None, until: datetime.date | None) -> None:
    found = settled(replace(ENTRY, value=value, until=until))
    assert [f.accepted is not None for f in found] == [True]


@pytest.mark.parametrize(
    ("entry", "why"),
    [
        (replace(ENTRY, subject="W2"), "there is no such finding."),
        (replace(ENTRY, rule="contact-overload"), "there is no such finding."),
        (replace(ENTRY, until=datetime.date(2025, 5, 31)), "its last day was 2025-05-31."),
        (
            replace(ENTRY, date=datetime.date(2025, 6, 3)),
            "it is of a day to come, and this report is of 2025-06-01.",
        ),
        (replace(ENTRY, value=11.9), "it accepts 11.9 A, and the finding is now 12 A."),
    ],
)
def test_an_acceptance_that_covers_nothing_says_why(entry: Acceptance, why: str) -> None:
    found = settled(entry)
    assert unused(found) == [why]
    assert [f.accepted for f in found if f.rule == "wire-overload"] == [None]


def test_tomorrow_may_be_today_further_east() -> None:
    found = settled(replace(ENTRY, date=datetime.date(2025, 6, 2)))
    assert [f.accepted is not None for f in found] == [True]


BOOK = replace(OVER, rule="rule-book", subject=Subject("W1"), source="33 CFR 183.425 (2026), 183.425(d), (e), (g)")
MANUAL = replace(BOOK, source="school robotics game manual 2025 and 2026, R622", message="W1 asks for 18 AWG.")
OF_BOOK = replace(ENTRY, rule="rule-book")


def test_an_acceptance_of_a_rule_book_covers_one_clause() -> None:
    """Who accepted that a wire is thinner than one book asks did not accept what another one finds later."""
    assert [f.accepted for f in settled(OF_BOOK, findings=(BOOK,))] == [OF_BOOK]
    both = settled(OF_BOOK, findings=(BOOK, MANUAL))
    assert [f.accepted for f in both if f.rule == "rule-book"] == [None, None]
    assert unused(both) == [f"there is more than one such finding: {BOOK.source}; {MANUAL.source}."]
    named = replace(OF_BOOK, clause="r622")
    assert {f.source: f.accepted for f in settled(named, findings=(BOOK, MANUAL))} == {
        BOOK.source: None,
        MANUAL.source: named,
    }
    assert unused(settled(replace(OF_BOOK, clause="R7"), findings=(BOOK,))) == ["no such finding is of clause R7."]
    assert [
        f.accepted for f in settled(replace(named, value=11.0), findings=(MANUAL,)) if f.rule == "rule-book"
    ] == [None]


def test_a_second_acceptance_of_one_finding() -> None:
    assert unused(settled(ENTRY, replace(ENTRY, reason="another reason"))) == ["another one covers it."]
