"""Whether a wire fits the contact that it is crimped into is not determined, since its size is not stated.

Formula: none.

Source: the family's crimp range, as the settings give it.

Passes: a wire with ``Gauge`` in a contact of a family with ``wire_range``; a wire with ``Rating`` and
``Resistance`` alone in a contact of a family without it.

Fails: a wire with ``Rating`` and ``Resistance`` alone in a contact of a family with ``wire_range``.
"""

from collections.abc import Iterator

from loadloom.graph.crimps import crimps_of
from loadloom.graph.facts import Facts
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.ratings.contact_rating import contact_type_of

RULE = Rule("crimp-not-determined", Severity.WARNING, "Fit of a wire in its contact unknown", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each wire of unknown size in a contact with a range; a missing gauge was told when read."""
    told: set[str] = set()
    for word in (None, *facts.harness.arrangements()):
        for crimp in crimps_of(facts.harness, word):
            kinds = [contact_type_of(contact.contact_type, facts.settings) for contact in crimp.contacts]
            ranged = next((k for k in kinds if k is not None and k.wire_area_mm2 is not None), None)
            for wire in crimp.wires if ranged is not None else ():
                if wire.gauge is not None or "gauge" in wire.placeholders or wire.id in told:
                    continue
                told.add(wire.id)
                assert ranged is not None
                yield RULE.finding(
                    wire.subject,
                    f"{wire.id} states no Gauge, so that it can't be held against the crimp range of "
                    f"{crimp.contacts[0].id} ({ranged.name}).",
                    "State the field Gauge, such as 18 AWG or 0.75 mm².",
                )
