"""From a Harness to Results: solve, rate, judge, and put it into rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from loadloom.graph import rows
from loadloom.graph.facts import Facts
from loadloom.graph.findings import Finding, Subject
from loadloom.graph.harness import Harness
from loadloom.graph.load_states import LoadStates, all_currents, solve_load_states
from loadloom.graph.registry import all_rules
from loadloom.graph.results import Results
from loadloom.graph.rules import not_solved
from loadloom.graph.settings import AnalysisSettings
from loadloom.graph.topology import topology
from loadloom.graph.verdict import settle_findings, verdict

Tell = Callable[[str], None]


def analyse(
    harness: Harness,
    settings: AnalysisSettings,
    *,
    tool_version: str,
    date: str,
    settings_echo: dict[str, Any],
    progress: Tell,
) -> Results:
    """Analyse a harness.

    ``date`` is ISO 8601 and is printed in reports; ``settings_echo`` goes into the results as it stands;
    ``progress`` is told in words what is being done. Deterministic: the same input gives the same results.
    """
    states = solve_load_states(harness, settings, harness.cases(settings), progress)
    facts = gather(harness, settings, states, progress)
    progress("judging")
    raw = (*harness.findings, *_unsolved(harness, states), *_checked(facts))
    findings = settle_findings(raw, settings, date)
    names = rows.rule_names(findings)
    conductors, contacts = rows.conductor_rows(facts, names), rows.contact_rows(facts, names)
    devices = rows.device_rows(facts, names)
    return Results(
        verdict=verdict(findings, something_unrated=rows.something_unrated(conductors, contacts, devices)),
        provenance=harness.provenance,
        tool_version=tool_version,
        date=date,
        settings=settings_echo,
        cases=facts.cases,
        residual_a=max((s.residual_a for each in facts.loaded.values() for s in each), default=0.0),
        outputs=rows.output_rows(facts, names),
        supplies=tuple(replace(row, findings=names.get(row.id, ())) for row in facts.supplies),
        devices=devices,
        conductors=conductors,
        contacts=contacts,
        splices=rows.splice_rows(facts, names),
        switches=rows.switch_rows(facts, names),
        loads=rows.load_rows(facts, names),
        breaks=(),
        faults=(),
        shorts=(),
        arrangements=(),
        fault_powers=(),
        findings=findings,
        assumptions=(),
        sources={},
        links=(),
    )


def gather(harness: Harness, settings: AnalysisSettings, states: LoadStates, progress: Tell) -> Facts:
    """Everything the rules look at."""
    raise NotImplementedError


def _unsolved(harness: Harness, states: LoadStates) -> Iterator[Finding]:
    for case_id, reason in states.not_solved.items():
        subject = harness.outputs[0].subject if harness.outputs else Subject(case_id)
        yield not_solved.RULE.finding(
            subject,
            f"Case {case_id} can't be solved: {reason}.",
            "Give the ways that join these outputs their resistance.",
            case=case_id,
        )


def _checked(facts: Facts) -> Iterator[Finding]:
    """Findings of every rule that has a check; none without a solved case."""
    if facts.cases:
        for registered in all_rules().values():
            if registered.check is not None:
                yield from registered.check(facts)
