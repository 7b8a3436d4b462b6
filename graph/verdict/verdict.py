"""From raw findings to what the report says: own severities, accepted findings, order, and the verdict."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Iterable
from dataclasses import replace

from loadloom.graph.model.findings import Acceptance, Finding, Severity, Verdict
from loadloom.graph.model.naming import as_drawn, natural_key
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.rules import acceptance_unused
from loadloom.graph.verdict.registry import all_rules


def settle_findings(findings: Iterable[Finding], settings: AnalysisSettings, date: str) -> tuple[Finding, ...]:
    """Apply the settings' severities and acceptances, drop repetitions, and put the gravest first.

    An acceptance that covers nothing is a finding of its own.
    """
    today = datetime.date.fromisoformat(date)
    listed = tuple(findings)
    clauses: dict[tuple[str, str], set[str | None]] = {}
    for finding in listed:
        clauses.setdefault((finding.rule, finding.subject.id), set()).add(finding.source)
    several = {key for key, sources in clauses.items() if len(sources) > 1}
    accepted = {finding: _acceptance(finding, settings.accepted, today, several) for finding in listed}
    used = set(accepted.values())
    stale = [
        acceptance_unused.unused(entry, accepted, today, run_out=entry.until is not None and today > entry.until)
        for entry in settings.accepted
        if entry not in used
    ]
    settled = dict.fromkeys(
        replace(
            finding,
            message=as_drawn(finding.message),
            remedy=as_drawn(finding.remedy),
            severity=settings.severity.get(finding.rule, finding.severity),
            accepted=accepted.get(finding),
        )
        for finding in (*listed, *stale)
    )
    over = {f: f.times_over for f in settled}
    worst_of_rule: dict[tuple[Severity, str], float] = {}
    for f, times in over.items():
        worst_of_rule[f.severity, f.rule] = max(times, worst_of_rule.get((f.severity, f.rule), 0.0))
    return tuple(
        sorted(
            settled,
            key=lambda f: (
                f.accepted is not None,
                f.severity.rank,
                -worst_of_rule[f.severity, f.rule],
                f.rule,
                -over[f],
                natural_key(f.subject.id),
                f.case or "",
                f.message,
            ),
        )
    )


def _acceptance(
    finding: Finding, accepted: tuple[Acceptance, ...], today: datetime.date, several: Collection[tuple[str, str]]
) -> Acceptance | None:
    """The acceptance that covers a finding: same rule and subject, of no day to come and not run out, and
    the value no worse.

    Values in different units can't be compared, so that such an acceptance covers nothing. ``several``: rule and
    subject of findings by more than one clause, of which an acceptance has to name the one that it is for.
    """
    for entry in accepted:
        if entry.rule != finding.rule or entry.subject != finding.subject.id:
            continue
        if entry.not_yet(today) or (entry.until is not None and today > entry.until):
            continue
        if entry.value is not None and _is_worse(finding, entry.value):
            continue
        if entry.unit is not None and entry.unit != finding.unit:
            continue
        if not entry.names_clause_of(finding) or (entry.clause is None and (entry.rule, entry.subject) in several):
            continue
        return entry
    return None


def _is_worse(finding: Finding, accepted_value: float) -> bool:
    """Whether the finding's value is further beyond its limit than the accepted one; unknown counts as worse."""
    if finding.value is None:
        return True
    if finding.limit is not None and finding.value < finding.limit:
        return finding.value < accepted_value
    return finding.value > accepted_value


def verdict(findings: Iterable[Finding], *, something_unrated: bool) -> Verdict:
    """Fail with any error that is not accepted; else incomplete where something was not determined; else pass."""
    listed = tuple(findings)
    if any(f.severity is Severity.ERROR and f.accepted is None for f in listed):
        return Verdict.FAIL
    rules = all_rules()
    if something_unrated or any(f.rule in rules and rules[f.rule].rule.incomplete for f in listed):
        return Verdict.INCOMPLETE
    return Verdict.PASS
