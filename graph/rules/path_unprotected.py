"""One fault can hold more current on a conductor than it is allowed, and nothing opens.

Formula: sustained fault current / allowed current > 1, the sustained fault current being the most over every place
of fault, every fault resistance and every state of the loads at which no device and no output passes more than it
can hold continuously. Overloads within the band of ``overload-band`` are exempt.

Source: IEC 60364-4-43 433.1 asks that a device's certain operation lies below what the conductor withstands (value
of the band from memory); the search itself is circuit analysis.

Passes: a wire of 18 AWG with ``Rating`` 20 A behind a limiter with ``Trip`` 20 A.

Fails: the same wire with ``Rating`` 10 A straight at an output with ``Trip`` 125 A, though its load draws 3 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.fault_words import unprotected
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("path-unprotected", Severity.ERROR, "Conductor that nothing protects")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every conductor's sustained fault current with its allowed current."""
    yield from unprotected(facts, RULE, facts.harness.conductors, "Conductor")
