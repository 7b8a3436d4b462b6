"""The chassis is bonded to no return.

Formula: no chassis symbol stands on copper that holds an output's minus terminal.

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
        yield RULE.finding(
            bonds[0].subject,
            "The chassis is bonded to no return, so that a first fault to it flows nowhere and goes unseen.",
            "Bond the chassis to the return at one point, or state why it floats.",
        )
