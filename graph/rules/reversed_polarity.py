"""A load is drawn with plus and minus swapped.

Formula: the load's minus terminal is reached by an output's plus, its plus terminal by the same output's minus.

Source: the pins' names on the drawing.

Passes: a load with ``+`` on the feed and ``-`` on the return.

Fails: the same load with the two wires swapped.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("reversed-polarity", Severity.ERROR, "Plus and minus swapped")


def check(facts: Facts) -> Iterator[Finding]:
    """Look for loads that are fed the wrong way round and not the right way."""
    where = facts.topology
    for load in facts.harness.loads:
        swapped = where.fed_by(load.node_minus, load.node_plus)
        if load.fitted and swapped and not where.fed_by(load.node_plus, load.node_minus):
            yield RULE.finding(
                load.subject,
                f"Load {load.id} has its minus on the feed of {', '.join(swapped)} and its plus on the return.",
                "Swap the two wires, or the pins of the symbol.",
            )
