"""One fault can hold more current through a switch or diode than it is allowed, and nothing opens.

Formula: sustained fault current / allowed current > 1, the sustained fault current as for ``path-unprotected``: a
switch or diode is a path like a conductor, also in parallel with others or between two outputs. The overload band
counts as for conductors.

Source: as for ``path-unprotected``.

Passes: a switch of ``Rating`` 10 A behind a limiter of 8 A.

Fails: a switch of ``Rating`` 3 A behind the same limiter, though its load takes 2 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.beyond import switches, unprotected
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("switch-unprotected", Severity.ERROR, "Switch or diode that nothing protects")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare what a fault can hold on every switch and diode with its rating."""
    yield from unprotected(facts, RULE, switches(facts), "Switch or diode")
