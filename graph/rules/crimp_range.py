"""The wire or wires in one contact are thinner or thicker than its crimp range.

Formula: sum of the sections of all wires in one contact outside the family's crimp range in ``[contact.NAME]`` of
the settings. Where wires end at several contacts of one connector, at least one distribution of the wires over the
contacts has to fit. A joint of several connectors is a bus: no wire is crimped there.

Source: the family's data sheet, as the settings give it; a crimp outside its range has neither the resistance nor
the rating of that sheet. That sections add up: common practice, no published source.

Passes: 20 AWG (0.519 mm²) in a contact for 0.5…1.5 mm²; two wires of 0.75 mm² in the same contact.

Fails: 24 AWG (0.205 mm²) in the same contact; three wires of 1.5 mm² in it; 18 AWG with 1 mm² (1.82 mm²).
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Conductor, Contact, Gauge, GaugeSystem
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.naming import all_of, some_of
from loadloom.graph.model.settings import ContactType
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.ratings.crimps import Crimp, can_share, crimps_of, takes

RULE = Rule("crimp-range", Severity.ERROR, "Wire does not fit the contact")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each wire in each connector that does not take it, and for each crimp of several wires."""
    told: set[tuple[str, str]] = set()
    for word in (None, *facts.harness.arrangements()):
        for crimp in crimps_of(facts.harness, word):
            for key, finding in _of_crimp(facts, crimp):
                if key not in told:
                    told.add(key)
                    yield finding


def _of_crimp(facts: Facts, crimp: Crimp) -> Iterator[tuple[tuple[str, str], Finding]]:
    if crimp.perhaps:  # crimp-not-determined
        return
    sized = [(wire, wire.gauge) for wire in crimp.wires if wire.gauge is not None]
    kinds = [contact_type_of(contact.contact_type, facts.settings) for contact in crimp.contacts]
    if not crimp.shared:
        for wire, gauge in sized:
            for contact, kind in zip(crimp.contacts, kinds, strict=True):
                limits = kind.wire_area_mm2 if kind is not None else None
                if kind is not None and limits is not None and not takes(limits, gauge.area_mm2):
                    yield (wire.id, contact.connector), _alone(wire, gauge, contact, kind, limits)
                    break
        return
    ranges = [kind.wire_area_mm2 if kind is not None else None for kind in kinds]
    if sized and not can_share((gauge.area_mm2 for _, gauge in sized), ranges):
        contact, kind = crimp.contacts[0], next(kind for kind in kinds if kind is not None)
        assert kind.wire_area_mm2 is not None
        yield (contact.id, ""), _together(crimp, sized, contact, kind, kind.wire_area_mm2)


def _alone(
    wire: Conductor, gauge: Gauge, contact: Contact, kind: ContactType, limits: tuple[float, float]
) -> Finding:
    least, most = limits
    return RULE.finding(
        wire.subject,
        f"{wire.id} of {_size(gauge)} is crimped into {contact.id}, "
        f"which takes {figures(least)} to {figures(most)} mm² ({kind.name}).",
        "Use a wire within the range, or contacts of a family that takes it.",
        value=gauge.area_mm2,
        limit=most if gauge.area_mm2 > most else least,
        unit="mm²",
        source=kind.source,
    )


def _together(
    crimp: Crimp,
    sized: list[tuple[Conductor, Gauge]],
    contact: Contact,
    kind: ContactType,
    limits: tuple[float, float],
) -> Finding:
    least, most = limits
    total_mm2 = sum(gauge.area_mm2 for _, gauge in sized)
    wires = some_of([f"{wire.id} ({_size(gauge)})" for wire, gauge in sized], len(sized))
    contacts = all_of([c.id for c in crimp.contacts])
    each = "which takes" if len(crimp.contacts) == 1 else "each of which takes"
    return RULE.finding(
        contact.subject,
        f"{wires}, {figures(total_mm2)} mm² together, are crimped into {contacts}, "
        f"{each} {figures(least)} to {figures(most)} mm² ({kind.name}).",
        "Join the wires in a splice and lead one into the contact, use thinner wires or more contacts, or use "
        "contacts of a family that takes them together.",
        value=total_mm2,
        limit=most if total_mm2 > most else least,
        unit="mm²",
        source=kind.source,
    )


def _size(gauge: Gauge) -> str:
    """The size as it is written, with its area where that is not the size itself."""
    return str(gauge) if gauge.system is GaugeSystem.MM2 else f"{gauge} ({figures(gauge.area_mm2)} mm²)"
