"""One fault can hold more current through a splice than it is allowed, and nothing opens.

Formula: sustained fault current / allowed current > 1, the sustained fault current being the most that one fault
makes flow into it; where the harness is too large for that, the greatest of those conductors that end at the splice
and carry the current over their whole length. The overload band counts as for conductors.

Source: as for ``path-unprotected``.

Passes: a splice of ``Rating`` 20 A behind a limiter of 16 A.

Fails: a splice of ``Rating`` 11 A behind the same limiter, though its loads take 9 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.beyond import splices, unprotected
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("splice-unprotected", Severity.ERROR, "Splice that nothing protects")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare what a fault can hold on every splice with its rating."""
    yield from unprotected(facts, RULE, splices(facts), "Splice")
