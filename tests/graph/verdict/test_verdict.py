"""The verdict from a list of findings, against a table written by hand; and the order in which they are read.

A verdict is *fail* with an error that nobody accepted, else *incomplete* where something could not be judged, else
*pass*. Source: common practice, no published source.
"""

from __future__ import annotations

import datetime
import itertools
from dataclasses import replace

import pytest

from loadloom.graph.model.findings import Acceptance, Finding, Severity, Subject
from loadloom.graph.model.results import Verdict
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.verdict.verdict import settle_findings, verdict

ACCEPTED = Acceptance("x", "W1", "short and in the open", "A. Reviewer", datetime.date(2025, 1, 1))


def finding(rule: str, severity: Severity, *, accepted: bool = False) -> Finding:
    made = Finding(rule, severity, Subject("W1"), "What is.", "What to do.")
    return replace(made, accepted=ACCEPTED) if accepted else made


ERROR = finding("wire-overload", Severity.ERROR)
ACCEPTED_ERROR = finding("wire-overload", Severity.ERROR, accepted=True)
ADVICE = finding("uneven-sharing", Severity.WARNING)
ACCEPTED_ADVICE = finding("uneven-sharing", Severity.WARNING, accepted=True)
GAP = finding("rating-missing", Severity.WARNING)
ACCEPTED_GAP = finding("rating-missing", Severity.WARNING, accepted=True)
NOTE = finding("curve-assumed", Severity.NOTE)

FAILS, LEAVES_OPEN = {ERROR}, {GAP, ACCEPTED_GAP}
"""A gap that is accepted is still one: nobody's word makes a number."""


@pytest.mark.parametrize("unrated", [False, True])
@pytest.mark.parametrize("count", [0, 1, 2, 3])
def test_every_combination(count: int, unrated: bool) -> None:
    all_of_them = (ERROR, ACCEPTED_ERROR, ADVICE, ACCEPTED_ADVICE, GAP, ACCEPTED_GAP, NOTE)
    for listed in itertools.combinations(all_of_them, count):
        found = verdict(iter(listed), something_unrated=unrated)
        if FAILS & set(listed):
            assert found is Verdict.FAIL, listed
        elif unrated or LEAVES_OPEN & set(listed):
            assert found is Verdict.INCOMPLETE, listed
        else:
            assert found is Verdict.PASS, listed


def test_a_warning_that_the_settings_make_an_error_fails_and_an_error_made_a_note_does_not() -> None:
    for drawn, severity, expected in ((ADVICE, Severity.ERROR, Verdict.FAIL), (ERROR, Severity.NOTE, Verdict.PASS)):
        settings = AnalysisSettings(severity={drawn.rule: severity})
        assert verdict(settle_findings((drawn,), settings, "2025-06-01"), something_unrated=False) is expected


def test_the_worst_is_read_first_on_whichever_side_of_its_limit_it_is() -> None:
    """24 A of 10 are 2.4 times; 10 V of 20 twice; heat of 9 is three times the current (I²·t goes with I²)."""

    def over(subject: str, value: float | None, limit: float | None, unit: str = "A") -> Finding:
        return Finding("wire-overload", Severity.ERROR, Subject(subject), "What.", "Do.", value=value, limit=limit,
                       unit=unit)  # fmt: skip

    given = (
        over("half", 10.0, 20.0, "V"),
        over("heat", 9.0, 1.0, "A²s"),
        over("unknown", None, 10.0),
        over("most", 24.0, 10.0),
        over("none", 5.0, 0.0),
    )
    for order in itertools.permutations(given):
        found = settle_findings(order, AnalysisSettings(), "2025-06-01")
        assert [f.subject.id for f in found] == ["heat", "most", "half", "none", "unknown"]
