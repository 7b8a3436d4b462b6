"""The reviewer's word for a finding, and the title of its rule."""

from __future__ import annotations

from loadloom.graph.findings import Finding, Severity
from loadloom.graph.registry import all_rules

MUST_FIX, JUSTIFY, FUNCTION, NOT_EVALUATED = "must fix", "justify", "function", "not evaluated"
GRADES = (MUST_FIX, JUSTIFY, FUNCTION, NOT_EVALUATED)
MEANINGS = {
    MUST_FIX: "unprotected or over its rating",
    JUSTIFY: "margin, one open circuit, uneven sharing: needs a reason",
    FUNCTION: "a nuisance trip, a voltage, no fast clearing: works badly, does not burn",
    NOT_EVALUATED: "data missing or assumed: not a pass",
}


def grade(finding: Finding) -> str:
    """The grade of a finding's rule; by severity where the rule is not registered."""
    known = all_rules().get(finding.rule)
    if known is not None:
        return known.rule.grade
    return MUST_FIX if finding.severity is Severity.ERROR else JUSTIFY


def title(rule: str) -> str:
    """The title of a rule; its name in words where it is not registered."""
    known = all_rules().get(rule)
    return known.rule.title if known is not None else rule.replace("-", " ").capitalize()
