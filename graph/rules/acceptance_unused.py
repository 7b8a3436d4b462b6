"""An acceptance in the settings covers nothing: its finding is gone or has got worse, or its last day is over.

Formula: no finding of the rule on the subject with a value no worse than the accepted one, up to the day ``until``.

Source: common practice, no published source: a waiver stays visible, and one that is not needed goes.

Passes: ``[[accept]]`` for ``open-circuit-overload`` on ``P1.3``, which has that finding.

Fails: the same after the contact has been changed for a larger one; or with ``value`` = ``"10 A"`` and 11 A found.
"""

from collections.abc import Mapping

from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Acceptance, Finding, Rule, Severity, Subject

RULE = Rule("acceptance-unused", Severity.NOTE, "Acceptance that covers nothing")


def unused(entry: Acceptance, findings: Mapping[Finding, Acceptance | None], *, run_out: bool) -> Finding:
    """The finding for an acceptance that covers none of these, each with what covers it; ``run_out``: its last day
    is over.
    """
    named = [finding for finding in findings if finding.rule == entry.rule and finding.subject.id == entry.subject]
    left = next((finding for finding in named if findings[finding] is None), None)
    if not named:
        why, remedy = "there is no such finding", "Correct its rule and subject, or remove it from the settings."
    elif left is None:
        why, remedy = "another one covers it", "Remove one of the two from the settings."
    elif run_out:
        why = f"its last day was {entry.until}"
        remedy = "Correct the design, or accept the finding again with a reason and a later day."
    else:
        why = f"it accepts {_shown(entry.value, left.unit)}, and the finding is now {_shown(left.value, left.unit)}"
        remedy = "Correct the design, or accept the new value with a reason."
    return RULE.finding(
        Subject(entry.subject),
        f"The acceptance of {entry.rule} on {entry.subject} by {entry.by} of {entry.date} covers nothing: {why}.",
        remedy,
    )


def _shown(value: float | None, unit: str | None) -> str:
    if value is None:
        return "an unknown value"
    return f"{figures(value)} {unit}" if unit and unit != "1" else figures(value)
