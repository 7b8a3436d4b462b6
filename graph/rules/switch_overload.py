"""A switch or a blocking diode carries more continuous current than it is rated for.

Formula: utilisation = continuous current / (``Rating`` less the margin) > 1.

Source: the part's own ``Rating`` on the drawing.

Passes: a switch rated 10 A in a path that carries 8 A.

Fails: the same switch in a path that carries 12 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import own_overloads
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("switch-overload", Severity.ERROR, "Switch or diode over its rating")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every switch and diode with its rating."""
    parts = (*facts.harness.switches, *facts.harness.diodes)
    remedy = "Use a part of a higher rating, or move loads to another path."
    yield from own_overloads(facts, RULE, parts, "{} carries", remedy)
