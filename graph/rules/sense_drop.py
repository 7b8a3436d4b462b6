"""The drop on the leads of an output with remote sense is more than the output makes up for.

Formula: voltage between the terminals minus voltage between the points where the sense leads join the load's
copper, the greatest over all cases at the ends of the tolerances, against ``Sense limit``. Beyond its limit an
output no longer holds the voltage at its load; many shut down then, or go to their highest voltage.

Source: the unit's own data on the drawing.

Passes: 0.3 V between the terminals of a unit and its load, ``Sense limit`` 0.5 V.

Fails: the same with leads of three times the length.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.load_cases.compensation import sensed_drop_v
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("sense-drop", Severity.ERROR, "Drop on the leads above what remote sense makes up for")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare the greatest drop between terminals and sense points with the limit of every sensing output."""
    worst: dict[str, tuple[float, float, str]] = {}
    for case in facts.cases:
        solutions = list(facts.lowest.get(case.id, ()))
        solutions += [state.solution for state in facts.loaded_corners.get(case.id, ()) if not state.bound]
        for output in (each.under(case.arrangement) for each in facts.harness.outputs):
            if output.sense_limit_v is None:
                continue
            for solution in solutions:
                drop_v = sensed_drop_v(solution, output) if output.id in solution.network.source_ids else None
                if drop_v is not None and (output.id not in worst or drop_v > worst[output.id][0]):
                    worst[output.id] = (drop_v, output.sense_limit_v, case.id)
    for name, (drop_v, limit_v, case_id) in worst.items():
        if drop_v > limit_v * (1.0 + 1e-6) + 1e-9:
            yield RULE.finding(
                facts.harness.by_id[name].subject,
                f"{name} would have to add {figures(drop_v)} V for the drop on its leads, more than its Sense "
                f"limit of {figures(limit_v)} V.",
                "Shorten the leads, make feed and return thicker, or join the sense leads nearer to the output.",
                case=case_id,
                value=drop_v,
                limit=limit_v,
                unit="V",
            )
