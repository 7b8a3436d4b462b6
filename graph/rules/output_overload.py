"""An output has to give more continuous current than its limit.

Formula: continuous current of the output / ``Limit`` > 1.

Source: the output's own ``Limit`` on the drawing.

Passes: loads of 50 A on an output with ``Limit`` 83.3 A.

Fails: loads of 90 A on the same output.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures, raised
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("output-overload", Severity.ERROR, "Output over its limit")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every output with its limit, as it is in each arrangement."""
    for output in facts.harness.outputs:
        if output.id not in facts.currents:
            continue
        worst: tuple[float, str, float, float] | None = None
        for case in facts.cases:
            limit_a = output.under(case.arrangement).limit_a
            current_a = facts.currents[output.id].continuous_a[case.id]
            if limit_a is not None and exceeds(current_a, limit_a):
                worst = max(worst or (0.0, "", 0.0, 0.0), (current_a / limit_a, case.id, current_a, limit_a))
        if worst is not None:
            ratio, case_id, current_a, limit_a = worst
            yield RULE.finding(
                output.subject,
                f"Output {output.id} has to give {figures(current_a)} A"
                f"{facts.currents[output.id].continuous_words(case_id)}, {figures(ratio)} times its limit of "
                f"{figures(limit_a)} A.",
                "Move loads to another output, or use a unit with a limit of at least "
                f"{figures(raised(current_a))} A.",
                case=case_id,
                value=current_a,
                limit=limit_a,
                unit="A",
            )
