"""An acceptance in the settings covers nothing: its finding is gone or has got worse, its last day is over, or
its day is still to come.

Formula: no finding of the rule on the subject with a value no worse than the accepted one, from the day ``date`` (a
day early, for who is further east) up to the day ``until``.
Where a part does not keep several clauses of rule books, an acceptance covers the one that its ``clause`` names.

Source: common practice, no published source: a waiver stays visible, and one that is not needed goes.

Passes: ``[[accept]]`` for ``open-circuit-overload`` on ``P1.3``, which has that finding.

Fails: the same after the contact has been changed for a larger one; or with ``value`` = ``"10 A"`` and 11 A found;
``[[accept]]`` for ``rule-book`` on ``W1`` without ``clause``, where ``W1`` is too thin for two rule books.
"""

import datetime
from collections.abc import Iterable, Mapping

from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Acceptance, Finding, Rule, Severity, Subject

RULE = Rule("acceptance-unused", Severity.NOTE, "Acceptance that covers nothing")


def unused(
    entry: Acceptance, findings: Mapping[Finding, Acceptance | None], today: datetime.date, *, run_out: bool
) -> Finding:
    """The finding for an acceptance that covers none of these, each with what covers it; ``run_out``: its last day
    is over.
    """
    named = [finding for finding in findings if finding.rule == entry.rule and finding.subject.id == entry.subject]
    left = next((finding for finding in named if findings[finding] is None), None)
    if not named:
        why, remedy = "there is no such finding", "Correct its rule and subject, or remove it from the settings."
    elif left is None:
        why, remedy = "another one covers it", "Remove one of the two from the settings."
    elif entry.not_yet(today):
        why = f"it is of a day to come, and this report is of {today}"
        remedy = "Write the day on which it was accepted."
    elif run_out:
        why = f"its last day was {entry.until}"
        remedy = "Correct the design, or accept the finding again with a reason and a later day."
    elif entry.clause is not None and not any(entry.names_clause_of(f) for f in named):
        why = f"no such finding is of clause {entry.clause}"
        remedy = f"Write a clause that the part does not keep: {_clauses(named)}."
    elif entry.clause is None and len({f.source for f in named}) > 1:
        why = f"there is more than one such finding: {_clauses(named)}"
        remedy = "Say in clause which of them is accepted, each in an entry of its own."
    else:
        why = f"it accepts {_shown(entry.value, left.unit)}, and the finding is now {_shown(left.value, left.unit)}"
        remedy = "Correct the design, or accept the new value with a reason."
    return RULE.finding(
        Subject(entry.subject),
        f"The acceptance of {entry.rule} on {entry.subject} by {entry.by} of {entry.date} covers nothing: {why}.",
        remedy,
    )


def _clauses(findings: Iterable[Finding]) -> str:
    return "; ".join(sorted({f.source or "without a clause" for f in findings}))


def _shown(value: float | None, unit: str | None) -> str:
    if value is None:
        return "an unknown value"
    return f"{figures(value)} {unit}" if unit and unit != "1" else figures(value)
