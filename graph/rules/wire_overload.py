"""A conductor in the feed carries more continuous current than it is allowed.

Formula: utilisation = continuous current / allowed current > 1; the continuous current of a state with a duration
is its root mean square over duty and period.

Source: the rating basis chosen in the settings, named on the conductor's row.

Passes: a wire of 18 AWG with ``Rating`` 10 A, a load of 9 A.

Fails: the same wire, a load of 11 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import overloads
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("wire-overload", Severity.ERROR, "Conductor over its rating")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every conductor of the feed with its rating."""
    yield from overloads(
        facts,
        RULE,
        facts.harness.conductors,
        on_return=False,
        noun="Conductor",
        remedy="Use a thicker conductor or a second one in parallel, or move loads to another conductor.",
    )
