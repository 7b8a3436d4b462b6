"""A splice carries more continuous current than it is rated for.

Formula: current of a splice = half the sum of the magnitudes of the currents at it; fails above ``Rating``
less the margin.

Source: the splice's own ``Rating`` on the drawing.

Passes: a splice rated 20 A that feeds three loads of 5 A.

Fails: a splice rated 10 A that feeds the same.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import own_overloads
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("splice-overload", Severity.ERROR, "Splice over its rating")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every splice with its rating."""
    remedy = "Use a larger splice, or split the joint in two."
    yield from own_overloads(facts, RULE, facts.harness.splices, "Splice {} passes", remedy)
