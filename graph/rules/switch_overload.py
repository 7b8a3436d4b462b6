"""A switch or a blocking diode carries more steady current than it is rated for.

Formula: utilisation = steady current / (``Rating`` less the margin) > 1.

Source: the part's own ``Rating`` on the drawing.

Passes: a switch rated 10 A in a way that carries 8 A.

Fails: the same switch in a way that carries 12 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.overload import exceeds

RULE = Rule("switch-overload", Severity.ERROR, "Switch or diode over its rating", "must fix")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every switch and diode with its rating."""
    for part in (*facts.harness.switches, *facts.harness.diodes):
        allowed_a = facts.ratings[part.id].allowed_a
        if allowed_a is None:
            continue
        case, current_a = facts.currents[part.id].worst_steady
        if exceeds(current_a, allowed_a):
            yield RULE.finding(
                part.subject,
                f"{part.id} carries {figures(current_a)} A, {figures(current_a / allowed_a)} times its allowed "
                f"{figures(allowed_a)} A.",
                "Use a part of a higher rating, or move load to another way.",
                case=case,
                value=current_a,
                limit=allowed_a,
                unit="A",
            )
