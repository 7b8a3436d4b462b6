"""A conductor or contact in the return carries more continuous current than it is allowed.

Formula: utilisation = continuous current / allowed current > 1; every return is solved like a feed, and checked
with and without chassis bonds.

Source: the rating basis of the conductor or contact, named on its row.

Passes: returns of 12 A + 10 A shared by three contacts rated 9 A.

Fails: the same returns shared by two contacts: 11 A each.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import overloads
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("return-overload", Severity.ERROR, "Return over its rating")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every conductor and contact of the return with its rating."""
    for noun, parts in (
        ("Return conductor", facts.harness.conductors),
        ("Return contact", facts.harness.contacts),
    ):
        yield from overloads(
            facts,
            RULE,
            parts,
            on_return=True,
            noun=noun,
            remedy="Give the return as many paths as the feeds that share it, or use a larger one.",
        )
