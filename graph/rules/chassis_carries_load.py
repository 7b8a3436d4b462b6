"""Load current flows through a chassis bond.

Formula: current through any chassis bond, with the chassis as a joint of 0 Ω, above 0.1 % of the harness'
greatest current.

Source: common practice, no published source: the chassis is a protective conductor, not a return.

Passes: a chassis bonded to the return at one point.

Fails: a chassis bonded at both ends of a return wire.
"""

from collections.abc import Iterator

import numpy as np

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("chassis-carries-load", Severity.WARNING, "Chassis carries load current")


def check(facts: Facts) -> Iterator[Finding]:
    """Look at the current of every chassis bond in every case."""
    for bond in facts.harness.chassis:
        worst_a, worst_case = 0.0, ""
        for case in facts.cases:
            solution = facts.loaded[case.id][0]
            current_a = abs(solution.current_a(f"bond {bond.id}"))
            greatest_a = float(np.max(np.abs(solution.source_a), initial=0.0))
            if current_a > max(1e-6, 1e-3 * greatest_a, worst_a):
                worst_a, worst_case = current_a, case.id
        if worst_case:
            yield RULE.finding(
                bond.subject,
                f"Chassis bond {bond.id} carries {figures(worst_a)} A of load current.",
                "Bond the chassis to the return at one point only.",
                case=worst_case,
                value=worst_a,
                unit="A",
            )
