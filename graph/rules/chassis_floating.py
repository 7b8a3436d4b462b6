"""The chassis is bonded to no return.

Formula: no chassis symbol stands on copper that holds an output's minus terminal; where one holds a plus terminal,
the finding says so.

Source: common practice, no published source: without a bond the first fault to chassis flows nowhere and
goes unseen, and the second one meets it.

Passes: a chassis symbol on the return at the supply.

Fails: chassis symbols on enclosures only.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("chassis-floating", Severity.NOTE, "Chassis bonded to no return")


def check(facts: Facts) -> Iterator[Finding]:
    """Report a drawn chassis that no return reaches, once."""
    bonds = facts.harness.chassis
    if bonds and not any(facts.topology.returns(bond.node) for bond in bonds):
        plus = next((name for bond in bonds for name in facts.topology.feeds(bond.node)), None)
        message = "The chassis is bonded to no return, so that a first fault to it flows nowhere and goes unseen."
        if plus is not None:
            message = f"The chassis is bonded to the plus side of {plus}: returns are what can short circuit to it."
        yield RULE.finding(
            bonds[0].subject,
            message,
            "Bond the chassis to the return at one point, or state why it floats."
            if plus is None
            else "Nothing, where the plus side is meant to be the one that is bonded.",
        )
