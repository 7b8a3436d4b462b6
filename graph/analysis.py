"""From a Harness to Results: solve, rate, judge, and put it into rows."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import replace
from typing import Any

from loadloom.graph.facts.facts import Facts
from loadloom.graph.facts.find_facts import find_facts, settle_enclosures
from loadloom.graph.facts.load_states import LoadStates, solve_load_states
from loadloom.graph.load_cases.starts import with_starts
from loadloom.graph.model.findings import Finding
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.result_rows import part_rows as rows
from loadloom.graph.result_rows.arrangement_rows import arrangement_rows
from loadloom.graph.result_rows.converter_rows import converter_rows
from loadloom.graph.result_rows.sources_used import sources_used
from loadloom.graph.result_rows.start_rows import start_rows
from loadloom.graph.verdict.assumptions import assumptions, strict_findings
from loadloom.graph.verdict.registry import all_rules
from loadloom.graph.verdict.sensitivity import sensitivity_rows
from loadloom.graph.verdict.verdict import settle_findings, verdict

Tell = Callable[[str], None]


def analyse(
    harness: Harness,
    settings: AnalysisSettings,
    *,
    tool_version: str,
    date: str,
    settings_echo: dict[str, Any],
    progress: Tell,
    explain: Collection[str] = (),
    sensitivity: bool = False,
) -> Results:
    """Analyse a harness. ``explain``: ids of conductors and contacts that are explained however many there are.

    ``sensitivity`` asks for the load states under worse conditions as well, which takes five more solves of them.

    ``date`` is ISO 8601 and is printed in reports; ``settings_echo`` goes into the results as it stands;
    ``progress`` is told in words what is being done. Deterministic: the same input gives the same results.
    """
    facts, states = explore(harness, settings, progress)
    progress("judging")
    results = results_of(
        facts, states, tool_version=tool_version, date=date, settings_echo=settings_echo, explain=explain
    )
    if not sensitivity or not facts.cases:
        return results
    progress("judging worse conditions")
    return replace(results, sensitivity=sensitivity_rows(facts))


def explore(harness: Harness, settings: AnalysisSettings, progress: Tell) -> tuple[Facts, LoadStates]:
    """Find out everything about a harness that rules and rows look at."""
    harness, settings = with_starts(harness, settings)
    cases = harness.cases(settings)
    settings, inside = settle_enclosures(harness, settings, cases, progress)
    states = solve_load_states(harness, settings, cases, progress)
    return find_facts(harness, settings, cases, states, inside, progress), states


def results_of(
    facts: Facts,
    states: LoadStates,
    *,
    tool_version: str,
    date: str,
    settings_echo: dict[str, Any],
    explain: Collection[str] = (),
) -> Results:
    """Judge what was found out, and put it into rows; arguments as ``analyse``."""
    harness, settings = facts.harness, facts.settings
    assumed = assumptions(facts, states)
    raw = (*harness.findings, *_checked(facts), *strict_findings(assumed, facts))
    findings = settle_findings(raw, settings, date)
    names = rows.rule_names(findings)
    conductors, contacts = rows.conductor_rows(facts, names), rows.contact_rows(facts, names)
    conductors, contacts = rows.explained(facts, conductors, explain), rows.explained(facts, contacts, explain)
    splices, switches = rows.splice_rows(facts, names), rows.switch_rows(facts, names)
    unrated = rows.something_unrated(conductors, contacts, splices, switches)
    return Results(
        verdict=verdict(findings, something_unrated=unrated),
        provenance=harness.provenance,
        tool_version=tool_version,
        date=date,
        settings=settings_echo,
        cases=facts.cases,
        residual_a=max((s.residual_a for each in facts.loaded.values() for s in each), default=0.0),
        outputs=rows.output_rows(facts, names),
        supplies=tuple(replace(row, findings=names.get(row.id, ())) for row in facts.supplies),
        devices=rows.device_rows(facts, names),
        conductors=conductors,
        contacts=contacts,
        splices=splices,
        switches=switches,
        loads=rows.load_rows(facts, names),
        starts=start_rows(facts),
        converters=converter_rows(facts, names),
        open_circuits=rows.open_circuit_rows(facts),
        faults=facts.faults.faults,
        short_circuits=rows.short_rows(facts, names),
        arrangements=arrangement_rows(facts),
        fault_powers=facts.faults.powers,
        findings=findings,
        assigned=settings.assigned,
        assumptions=assumed,
        sources=sources_used(facts, findings),
        links=rows.links(harness),
    )


def _checked(facts: Facts) -> Iterator[Finding]:
    """Findings of every rule that has a check."""
    for registered in all_rules().values():
        if registered.check is not None:
            yield from registered.check(facts)
