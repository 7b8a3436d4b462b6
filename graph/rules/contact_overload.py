"""A contact in the feed carries more continuous current than it is allowed.

Formula: utilisation = continuous current / allowed current > 1, with the currents solved, not divided by the
number of contacts.

Source: the contact's own rating, its contact type by number of loaded positions, or its derating curve.

Passes: six equal paths of a connector, contacts rated 9.2 A, a load of 50 A: 8.33 A each.

Fails: the same with five contacts of 10 mΩ and one of 1.5 mΩ: 16.9 A on the good one.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import overloads
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("contact-overload", Severity.ERROR, "Contact over its rating")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every contact of the feed with its rating."""
    yield from overloads(
        facts,
        RULE,
        facts.harness.contacts,
        on_return=False,
        noun="Contact",
        remedy="Use more contacts in parallel, a larger contact, or equal paths to them.",
    )
