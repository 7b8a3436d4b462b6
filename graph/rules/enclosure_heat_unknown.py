"""A supply stands in an enclosure, and nothing says how much heat it makes there.

Formula: the heat of a unit is power × (1 / ``Efficiency`` − 1), or I² × ``Resistance`` of outputs that are
batteries; one of the two is missing, or the power can't be told.

Source: energy balance; without it the inside is warmer than computed, and everything in it is allowed less.

Passes: a unit in the cabinet that states ``Efficiency`` = 92 %.

Fails: a unit in the cabinet that states neither efficiency nor internal resistance.
"""

from collections.abc import Iterator
from dataclasses import replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.heat.zone_heat import unknown_heat
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("enclosure-heat-unknown", Severity.WARNING, "Heat in an enclosure not known", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """Report every unit in an enclosure whose heat is missing."""
    subjects = {name: o.subject for o in reversed(facts.harness.outputs) for name in (o.id, o.supply) if name}
    for zone, names in unknown_heat(facts.harness, facts.supplies).items():
        if zone not in facts.inside:
            continue
        for name in names:
            yield RULE.finding(
                replace(subjects[name], id=name),
                f"Zone {zone} gets warmer than computed: the heat that {name} makes in it is not determined.",
                f"State Efficiency of {name}, or Resistance where it is a battery.",
            )
