"""A wire is thinner or thicker than the contact that it is crimped into takes.

Formula: area of the conductor outside the family's crimp range in ``[contact.NAME]`` of the settings. A joint of
several connectors is a bus: no wire is crimped there.

Source: the family's data sheet, as the settings give it; a crimp outside its range has neither the resistance nor
the rating of that sheet.

Passes: 20 AWG (0.519 mm²) in a contact for 0.5…1.5 mm².

Fails: 24 AWG (0.205 mm²) in the same contact.
"""

from collections.abc import Iterator

from loadloom.graph.crimps import crimped, takes
from loadloom.graph.elements import Gauge, GaugeSystem
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.ratings.contact_rating import contact_type_of

RULE = Rule("crimp-range", Severity.ERROR, "Wire does not fit the contact")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each wire in each connector that does not take it."""
    for wire in facts.harness.conductors:
        if wire.gauge is None:
            continue
        seen: set[str] = set()
        for contact in crimped(facts.harness, (wire,)):
            kind = contact_type_of(contact.contact_type, facts.settings)
            if kind is None or kind.wire_area_mm2 is None or contact.connector in seen:
                continue
            if takes(kind.wire_area_mm2, wire.gauge.area_mm2):
                continue
            seen.add(contact.connector)
            least, most = kind.wire_area_mm2
            yield RULE.finding(
                wire.subject,
                f"{wire.id} of {_size(wire.gauge)} is crimped into {contact.id}, "
                f"which takes {figures(least)} to {figures(most)} mm² ({kind.name}).",
                "Use a wire within the range, or contacts of a family that takes it.",
                value=wire.gauge.area_mm2,
                limit=most if wire.gauge.area_mm2 > most else least,
                unit="mm²",
                source=kind.source,
            )


def _size(gauge: Gauge) -> str:
    """The size as it is written, with its area where that is not the size itself."""
    return str(gauge) if gauge.system is GaugeSystem.MM2 else f"{gauge} ({figures(gauge.area_mm2)} mm²)"
