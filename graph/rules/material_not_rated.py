"""A conductor is of another material than copper, and no rating is known for it.

Every rating table, resistance and short-circuit constant that ships is copper's. A conductor of aluminium has 1.64
times the resistance and carries less at the same size, so that neither its allowed current nor its voltage drop nor
what it withstands in a short circuit is judged, even where it states a ``Rating``.

Formula: none.

Source: resistivity of aluminium 0.0283 Ω·mm²/m (IEC 60889, value from memory) against copper 0.017241 (IEC 60028).

Passes: a wire with no field ``Material``, or with ``Material`` = ``copper`` or ``tinned copper``.

Fails: ``Material`` = ``aluminium``, ``Al``, ``CCA``, ``copper-clad aluminium`` or ``bronze``.
"""

from collections.abc import Iterator
from dataclasses import replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.material import is_copper

RULE = Rule("material-not-rated", Severity.WARNING, "Conductor of another material", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """Every conductor that is not of copper, in any arrangement."""
    for conductor in facts.harness.conductors:
        other = next((c.material for c in conductor.variants() if not is_copper(c.material)), None)
        if other is not None:
            yield RULE.finding(
                replace(conductor.subject, field="Material"),
                f"{conductor.id} is of “{other}”, and all resistances, ratings and short-circuit limits that "
                "loadloom has are copper's.",
                "Use copper; if it is copper, write Material = copper.",
            )
