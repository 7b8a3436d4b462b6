"""A load has no return to the output that feeds it.

Formula: the copper at the load's minus terminal holds no minus terminal of an output whose plus terminal
reaches the load, itself or through other outputs in series.

Source: Kirchhoff's current law: no current without a return.

Passes: a load whose return wire ends at the output's minus.

Fails: the same load with its return wire left out, or ended at another output's minus.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("return-missing", Severity.ERROR, "No return")


def check(facts: Facts) -> Iterator[Finding]:
    """Look for loads that an output reaches and that have no return to it."""
    where = facts.topology
    for load in facts.harness.loads:
        if not load.fitted or load.node_plus == load.node_minus:  # the latter is ``load-unfed``, with the reason
            continue
        outputs = where.feeds(load.node_plus)
        if outputs and not where.fed_by(load.node_plus, load.node_minus):
            yield RULE.finding(
                load.subject,
                f"Load {load.id} is reached by {', '.join(outputs)} but has no return to its minus terminal.",
                "Draw the return: wire, contacts and joints, from the load to the output's minus.",
            )
