"""Outputs of different voltages are joined through no resistance, so that their currents can't be told.

Formula: a loop of 0 Ω around which the voltages of outputs and diodes do not add up to zero; solved with a
placeholder of 1 mΩ for each. Looked at as drawn and at every end of their tolerances: two outputs of 12 V ± 1 %
on one joint may stand at 12.12 V and 11.88 V.

Source: Kirchhoff's voltage law.

Passes: outputs of 12.0 V and 12.1 V joined through wires.

Fails: outputs of 12 V and 5 V on one joint.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.load_cases.corners import NOMINAL
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("outputs-conflict", Severity.ERROR, "Voltages disagree through 0 Ω", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """Report every part in such a loop, in the first case where it is in one."""
    parts = facts.harness.by_id
    seen: set[str] = set()
    for case in facts.cases:
        states = [(solution, NOMINAL) for solution in facts.loaded[case.id]]
        states += [(state.solution, state.corner) for state in facts.loaded_corners.get(case.id, ())]
        for solution, corner in states:
            for name in solution.conflicts:
                if name in seen or name not in parts:
                    continue
                seen.add(name)
                within = "" if corner == NOMINAL else f" within their tolerances ({corner})"
                yield RULE.finding(
                    parts[name].subject,
                    f"{name} is joined through 0 Ω to a part of another voltage{within}, so its current rests on a "
                    "placeholder of 1 mΩ.",
                    "Draw what lies between them, or give the output its internal resistance.",
                    case=case.id,
                )
