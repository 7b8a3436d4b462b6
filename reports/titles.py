"""The title of a rule, for reports that group findings by rule."""

from __future__ import annotations

from loadloom.graph.verdict.registry import all_rules


def title(rule: str) -> str:
    """The title of a rule; its name in words where it is not registered."""
    known = all_rules().get(rule)
    return known.rule.title if known is not None else rule.replace("-", " ").capitalize()


def leaves_open(rule: str) -> bool:
    """Whether a finding of this rule means that something was not determined; False where it is not registered."""
    known = all_rules().get(rule)
    return known is not None and known.rule.incomplete
