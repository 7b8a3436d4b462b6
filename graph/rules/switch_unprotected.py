"""One fault can hold more current through a switch or diode than it is allowed, and nothing opens.

Formula: let-through / allowed current > 1, the let-through being the greatest of the conductors and contacts that
only this part joins to the outputs; the overload band counts as for conductors. A part that is not alone (side by
side with another, or between two outputs) is judged by its load current only.

Source: as for ``path-unprotected``.

Passes: a switch of ``Rating`` 10 A behind a limiter of 8 A.

Fails: a switch of ``Rating`` 3 A there, though its load takes 2 A.
"""

from collections.abc import Iterator

from loadloom.graph.beyond import switches, unprotected
from loadloom.graph.facts import Facts
from loadloom.graph.findings import Finding, Rule, Severity

RULE = Rule("switch-unprotected", Severity.ERROR, "Switch or diode that nothing protects", "must fix")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare what a fault can hold on every switch and diode with its rating."""
    yield from unprotected(RULE, switches(facts), "Switch or diode", facts.settings.overload_band)
