"""How a load starts is not determined: a field stands without the one that it needs, or nothing limits the inrush.

``Starting current`` says nothing without ``Starting time``, ``Inrush`` without ``Inrush time``, ``Pre-charge``
without ``Pre-charge time``. A capacitance that is charged through no resistance at all would draw an endless
current.

Formula: least resistance of the loop from the output through the capacitor < 0.1 mΩ.

Source: the load's own fields; the rule itself is common practice, no published source.

Passes: ``Starting current`` = ``30 A``, ``Starting time`` = ``2 s``; ``Capacitance`` = ``470 µF`` behind a wire.

Fails: ``Starting current`` alone; ``Capacitance`` = ``470 µF`` on the terminals of an output without resistance.
"""

from collections.abc import Iterator

from loadloom.graph.facts import Facts
from loadloom.graph.findings import Finding, Rule, Severity

RULE = Rule("start-not-determined", Severity.WARNING, "Start of a load not determined", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """Name every capacitance whose inrush nothing limits."""
    told: set[str] = set()
    for charge in facts.protection.charges:
        for load in charge.unlimited:
            if load not in told:
                told.add(load)
                yield RULE.finding(
                    facts.harness.by_id[load].subject,
                    f"Nothing between an output and the capacitance of {load} has a resistance, so its inrush "
                    "is not "
                    "determined.",
                    "State the Resistance of the output, or the Series resistance of the capacitance.",
                    case=charge.case,
                )
