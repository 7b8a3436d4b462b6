"""Whether wires fit the contact that they are crimped into is not determined.

The size of a wire is not stated. Or several wires end at a joint of a contact at which another part has a terminal
as well (a device, a load, an output): all of them would not fit the contact, and which of them end at the terminal
instead is on no drawing.

Formula: for the second, sum of the sections of all wires at the joint against the contact's crimp range.

Source: the family's crimp range, as the settings give it.

Passes: a wire with ``Gauge`` in a contact of a family with ``wire_range``; a wire with ``Rating`` and
``Resistance`` alone in a contact of a family without it.

Fails: a wire with ``Rating`` and ``Resistance`` alone in a contact of a family with ``wire_range``; three wires of
1.5 mm² on a joint of a fuse and a contact for 0.5…1.5 mm².
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.naming import all_of
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.ratings.crimps import Crimp, Range, can_share, crimps_of

RULE = Rule("crimp-not-determined", Severity.WARNING, "Fit of a wire in its contact unknown", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each wire of unknown size in a contact with a range; a missing gauge was told when read."""
    told: set[str] = set()
    for word in (None, *facts.harness.arrangements()):
        for crimp in crimps_of(facts.harness, word):
            kinds = [contact_type_of(contact.contact_type, facts.settings) for contact in crimp.contacts]
            ranged = next((k for k in kinds if k is not None and k.wire_area_mm2 is not None), None)
            if ranged is not None and crimp.perhaps:
                yield from _perhaps(crimp, [k.wire_area_mm2 if k is not None else None for k in kinds], told)
                continue
            for wire in crimp.wires if ranged is not None else ():
                if wire.gauge is not None or "gauge" in wire.placeholders or wire.id in told:
                    continue
                told.add(wire.id)
                assert ranged is not None
                yield RULE.finding(
                    wire.subject,
                    f"{wire.id} states no Gauge, so whether it fits the crimp range of {crimp.contacts[0].id} "
                    f"({ranged.name}) is not determined.",
                    "State the field Gauge, such as 18 AWG or 0.75 mm².",
                )


def _perhaps(crimp: Crimp, ranges: list[Range], told: set[str]) -> Iterator[Finding]:
    """A finding where the wires at a joint with another part's terminal would not all fit its contacts."""
    areas = [wire.gauge.area_mm2 for wire in crimp.wires if wire.gauge is not None]
    contact = crimp.contacts[0]
    if contact.id in told or len(areas) < len(crimp.wires) or can_share(areas, ranges):
        return
    told.add(contact.id)
    yield RULE.finding(
        contact.subject,
        f"{all_of([wire.id for wire in crimp.wires])} end at a joint of "
        f"{all_of([c.id for c in crimp.contacts])} and of "
        "another part's terminal. Not all of them fit the contact, and which of them end in it is not determined.",
        "Draw a wire from the contact to the other part, or a splice where the wires meet.",
    )
