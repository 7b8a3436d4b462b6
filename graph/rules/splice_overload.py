"""A splice carries more steady current than it is rated for.

Formula: current of a splice = half the sum of the magnitudes of the currents at it; fails above ``Rating``
less the margin.

Source: the splice's own ``Rating`` on the drawing.

Passes: a splice rated 20 A that feeds three loads of 5 A.

Fails: a splice rated 10 A that feeds the same.
"""

from collections.abc import Iterator

from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.overload import exceeds

RULE = Rule("splice-overload", Severity.ERROR, "Splice over its rating", "must fix")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every splice with its rating."""
    for splice in facts.harness.splices:
        allowed_a = facts.ratings[splice.id].allowed_a
        if allowed_a is None:
            continue
        case, current_a = facts.currents[splice.id].worst_steady
        if exceeds(current_a, allowed_a):
            yield RULE.finding(
                splice.subject,
                f"Splice {splice.id} passes {figures(current_a)} A, {figures(current_a / allowed_a)} "
                "times its allowed "
                f"{figures(allowed_a)} A.",
                "Use a larger splice, or split the joint in two.",
                case=case,
                value=current_a,
                limit=allowed_a,
                unit="A",
            )
