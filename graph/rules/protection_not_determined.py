"""Whether a splice, switch or diode is protected against what a fault can hold on it is not determined.

Formula: none. The harness is too large to search every path through the splice and the bound from the conductors at
it is above its allowed current; or an output states no voltage; or only an assumed trip keeps the part within its
allowed current.

Source: common practice, no published source.

Passes: a switch of ``Rating`` 10 A behind an output with ``Trip`` 8 A.

Fails: the same switch behind an output with ``Limit`` 5 A and no ``Trip``: that it shuts down at 7.5 A is assumed.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.beyond import not_known, splices, switches
from loadloom.graph.model.figures import figures, floored
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule(
    "protection-not-determined",
    Severity.WARNING,
    "Protection of a part is not determined",
    incomplete=True,
)


def check(facts: Facts) -> Iterator[Finding]:
    """Name every splice, switch and diode of which it is not determined whether a fault overloads it."""
    for noun, found in (("splice", splices(facts)), ("switch or diode", switches(facts))):
        for beyond in not_known(facts, found):
            own = facts.faults.parts.get(beyond.part.id)
            why = f" ({own.note})" if own is not None and own.note else ""
            yield RULE.finding(
                beyond.part.subject,
                f"Whether a fault can hold more than the allowed {figures(beyond.allowed_a)} A on {noun} "
                f"{beyond.part.id} is not determined{why}.",
                f"Put a device before it that is certain to open above {figures(floored(beyond.allowed_a))} A, or "
                "state what is missing.",
                limit=beyond.allowed_a,
                unit="A",
            )
