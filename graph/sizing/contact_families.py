"""Contact families of connectors: the drawn one where it does, else the smallest stated one that does.

A family does where every contact of the connector is allowed what the analysis finds on it (load, uneven contacts,
one open circuit, what one fault or several overloads can hold) and where the wires at both ends have a stocked size
within its crimp range that carries their load.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Conductor, Contact
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Severity
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.contact_rating import contact_type_of, rate_contact
from loadloom.graph.ratings.crimps import crimped, takes
from loadloom.graph.sizing.groups import Group, Grouping, allowed_by_size
from loadloom.graph.sizing.judging import checked, guarded_above
from loadloom.graph.sizing.shelf import Shelf

OF_CONTACTS = (
    "contact-overload",
    "return-overload",
    "contact-unprotected",
    "no-setting-range",
    "open-circuit-overload",
    "uneven-sharing",
    "overload-band",
    "combined-overload",
    "fuse-above-wire",
)
"""The rules that another contact family can mend, the gravest first."""


FOR_WIRE = "has to fit its crimp range"
"""Why a family is to change that is allowed enough."""


@dataclass(frozen=True, slots=True)
class Need:
    """What a contact has to be allowed in A, the rule that says so, and whether that is an error."""

    current_a: float
    rule: str
    error: bool


@dataclass(frozen=True, slots=True)
class Family:
    """The family of one connector. ``proposed`` None: none of those to choose from does; ``reason`` says why.

    ``needed_a``: the most that one of its contacts has to be allowed; ``allowed_a``: what the weakest of them is
    allowed with the family proposed, ``allowed_drawn_a`` with the one drawn.
    """

    connector: str
    drawn: str
    proposed: str | None
    needed_a: float
    allowed_drawn_a: float | None
    allowed_a: float | None
    reason: str

    @property
    def changed(self) -> bool:
        """Whether another family than the drawn one is proposed."""
        return self.proposed is not None and self.proposed != self.drawn


def families_to_choose(settings: AnalysisSettings) -> tuple[str, ...]:
    """Names of the contact types that may be chosen."""
    return settings.design.contacts or tuple(settings.contact_types)


def best_allowed(facts: Facts) -> dict[str, float]:
    """Allowed current in A of every contact that may have another family, with the best that there is."""
    found = {}
    for names in connectors(facts.harness).values():
        if _family_of(names, facts.settings) is None:
            continue
        for contact in names:
            rated = [
                a
                for name in families_to_choose(facts.settings)
                if (a := _allowed_a(facts, contact, name)) is not None
            ]
            if rated:
                found[contact.id] = max(rated)
    return found


def find_families(
    facts: Facts,
    stock: Shelf,
    together: Sequence[frozenset[str]],
    least_mm2: Mapping[str, float] | None = None,
) -> tuple[Family, ...]:
    """Connectors whose family is to change or should, in the order of the harness.

    ``together``: sets of ids that share a field of the drawing. ``least_mm2``: by connector, the section in mm²
    that a wire there has to have and that its crimp range has to take.
    """
    needs = contact_needs(facts)
    wider = least_mm2 or {}
    by_connector = connectors(facts.harness)
    wanting = {
        name
        for name, contacts in by_connector.items()
        if name in wider or any(_short(facts, c, needs.get(c.id, ())) for c in contacts)
    }
    sets: dict[str, list[str]] = {}
    for name in by_connector:
        if name in wanting and not any(name in alike for alike in sets.values()):
            alike = next(
                (sorted(n for n in names if n in by_connector) for names in together if name in names), [name]
            )
            if _family_of([c for other in alike for c in by_connector[other]], facts.settings) is not None:
                sets[name] = alike
    short = {c.id for each in by_connector.values() for c in each if _short(facts, c, needs.get(c.id, ()))}
    for name in wider:
        # What the drawn family just does is no finding; another one has to do it as well.
        for contact in by_connector[name]:
            needs.setdefault(contact.id, []).extend(_borne(facts, contact))
    free = {other for alike in sets.values() for other in alike}
    while True:
        found = list(_found(facts, stock, sets.values(), needs, free, wider, short))
        # What no family suits stays as it is, and the others have to suit it.
        stuck = {family.connector for family in found if family.proposed is None} & free
        if not stuck:
            return tuple(found)
        free -= stuck


def _found(
    facts: Facts,
    stock: Shelf,
    sets: Iterable[list[str]],
    needs: Mapping[str, Sequence[Need]],
    free: set[str],
    wider: Mapping[str, float],
    short: set[str],
) -> Iterator[Family]:
    """The families of these sets of connectors. ``free``: connectors that may have another family; ``short``:
    contacts that are not allowed what they need.
    """
    by_connector = connectors(facts.harness)
    for alike in sets:
        contacts = [c for other in alike for c in by_connector[other]]
        drawn = _family_of(contacts, facts.settings)
        assert drawn is not None
        least = max((wider.get(other, 0.0) for other in alike), default=0.0)
        is_short = any(c.id in short for c in contacts)
        proposed, reason = _choose(facts, stock, contacts, drawn, needs, free, least, is_short)
        for other in alike:
            mine = by_connector[other]
            yield Family(
                other,
                drawn,
                proposed,
                max((n.current_a for c in mine for n in needs.get(c.id, ())), default=0.0),
                weakest_allowed_a(facts, mine, drawn),
                weakest_allowed_a(facts, mine, proposed) if proposed is not None else None,
                reason,
            )


def both_reasons(before: str, now: str) -> str:
    """The reasons of a family that was changed twice, each said once; of two sections the later, greater one."""
    kept = [each for each in before.split("; ") if each not in now and not (FOR_WIRE in each and FOR_WIRE in now)]
    return "; ".join([*kept, now])


def with_families(harness: Harness, families: Mapping[str, str]) -> Harness:
    """The harness with other families by connector. A resistance stated for the old contacts no longer counts."""
    contacts = tuple(
        replace(c, contact_type=families[c.connector], resistance_ohm=None)
        if c.connector in families and c.contact_type != families[c.connector]
        else c
        for c in harness.contacts
    )
    return replace(harness, contacts=contacts)


def connectors(harness: Harness) -> dict[str, list[Contact]]:
    """Contacts by connector."""
    found: dict[str, list[Contact]] = {}
    for contact in harness.contacts:
        found.setdefault(contact.connector, []).append(contact)
    return found


def contact_needs(facts: Facts) -> dict[str, list[Need]]:
    """By contact id: what it has to be allowed, by the findings on it."""
    contacts = {c.id for c in facts.harness.contacts}
    severity = facts.settings.severity
    found: dict[str, list[Need]] = {}

    def add(name: str, current_a: float | None, finding: Finding) -> None:
        grave = severity.get(finding.rule, finding.severity)
        if name in contacts and current_a is not None and grave is not Severity.NOTE:
            found.setdefault(name, []).append(Need(current_a, finding.rule, grave is Severity.ERROR))

    for finding in checked(facts, OF_CONTACTS):
        subject = finding.subject.id
        if finding.rule == "no-setting-range":
            setting_range = facts.protection.setting_ranges[subject]
            if setting_range.low is not None and setting_range.high is not None:
                need_a = setting_range.high.current_a * setting_range.low.setting_a / setting_range.high.setting_a
                add(setting_range.high.by, need_a, finding)
        elif finding.rule == "fuse-above-wire":
            for name, need_a in guarded_above(facts, subject):
                add(name, need_a, finding)
        elif finding.unit == "A":
            add(subject, finding.value, finding)
    return found


def _borne(facts: Facts, contact: Contact) -> Iterator[Need]:
    """What a contact bears and another one in its place has to bear."""
    currents, answer = facts.currents.get(contact.id), facts.faults.parts.get(contact.id)
    if currents is not None:
        yield Need(currents.worst_continuous[1], "contact-overload", True)
    if answer is not None and answer.sustained_fault_a is not None and answer.protected is not False:
        yield Need(answer.sustained_fault_a, "contact-unprotected", True)


def _short(facts: Facts, contact: Contact, needs: Iterable[Need]) -> bool:
    rating = facts.ratings.get(contact.id)
    allowed_a = rating.allowed_a if rating is not None else None
    return allowed_a is not None and any(need.current_a > allowed_a * (1.0 + 1e-9) for need in needs)


def _family_of(contacts: Sequence[Contact], settings: AnalysisSettings) -> str | None:
    """The one family of these contacts; None where they have several, none, an unknown one or an own rating."""
    names = {c.contact_type for c in contacts}
    if len(names) != 1 or any(c.own_rating_a is not None or "own_rating_a" in c.placeholders for c in contacts):
        return None
    (name,) = names
    return name if contact_type_of(name, settings) is not None else None


def _allowed_a(facts: Facts, contact: Contact, family: str) -> float | None:
    return rate_contact(
        replace(contact, contact_type=family),
        max(1, facts.loaded_positions.get(contact.connector, 0)),
        facts.settings.ambient(contact.zone).max_c,
        facts.settings,
    ).allowed_a


def weakest_allowed_a(facts: Facts, contacts: Sequence[Contact], family: str) -> float | None:
    """What the weakest of contacts is allowed with a family, in A, as loaded now; None where one is not rated."""
    rated = [_allowed_a(facts, c, family) for c in contacts]
    return None if None in rated else min((a for a in rated if a is not None), default=None)


def _choose(
    facts: Facts,
    stock: Shelf,
    contacts: Sequence[Contact],
    drawn: str,
    needs: Mapping[str, Sequence[Need]],
    free: set[str],
    least_mm2: float,
    short: bool,
) -> tuple[str | None, str]:
    """The smallest family that does, and why; one that leaves warnings where none does without any. ``short``: the
    drawn one is not allowed what is needed, so that its crimp range is not the only reason.
    """
    rated = {
        name: weakest
        for name in families_to_choose(facts.settings)
        if name != drawn and (weakest := weakest_allowed_a(facts, contacts, name)) is not None
    }
    order = sorted(rated, key=lambda name: (rated[name], name))
    listed = [need for c in contacts for need in needs.get(c.id, ())]
    grave = max(listed, key=lambda need: (need.error, need.current_a), default=None)
    why = (
        f"{grave.rule}: a contact has to be allowed {figures(max(n.current_a for n in listed))} A"
        if grave is not None and short
        else f"a wire of {figures(least_mm2)} mm² {FOR_WIRE}"
    )
    most_a = max((need.current_a for need in listed), default=0.0)
    for only_errors in (False, True):
        if only_errors and not any(need.error for need in listed):
            continue
        for name in order:
            enough = all(
                (a := _allowed_a(facts, c, name)) is not None and a * (1.0 + 1e-9) >= need.current_a
                for c in contacts
                for need in needs.get(c.id, ())
                if need.error or not only_errors
            )
            if enough and _fits(facts, stock, contacts, name, free, least_mm2):
                rest = "; what remains are warnings, no family does without" if only_errors else ""
                return name, why + rest
    count = max(facts.loaded_positions.get(c.connector, 0) for c in contacts)
    others = [name for name in families_to_choose(facts.settings) if name != drawn and name not in rated]
    if others:
        why += f" ({', '.join(others)}: not rated for {count} loaded positions)"
    if not order:
        return None, f"{why}; the settings state no other family{' that is' if others else ''}"
    able = [name for name in order if rated[name] >= most_a]
    if able:
        return None, f"{why}; no stocked wire size fits both the crimp range and the load with {', '.join(able)}"
    return None, f"{why}, more than any family stated; more paths or a lower device do"


def _fits(
    facts: Facts, stock: Shelf, contacts: Sequence[Contact], family: str, free: set[str], least_mm2: float
) -> bool:
    """Whether the wires at these contacts have a stocked size that the family and the contacts at their other
    ends take and that carries their load. Connectors that may have another family themselves don't count.
    """
    kind = contact_type_of(family, facts.settings)
    if kind is None or kind.wire_area_mm2 is None:
        return True
    if kind.wire_area_mm2[1] * (1.0 + 1e-6) < least_mm2:
        return False
    mine = {c.connector for c in contacts}
    for wire in facts.harness.conductors:
        ends = list(crimped(facts.harness, (wire,)))
        if not wire.fitted or not any(other.connector in mine for other in ends):
            continue
        low, high = kind.wire_area_mm2
        for other in ends:
            if other.connector not in mine | free:
                its = contact_type_of(other.contact_type, facts.settings)
                if its is not None and its.wire_area_mm2 is not None:
                    low, high = max(low, its.wire_area_mm2[0]), min(high, its.wire_area_mm2[1])
        if wire.gauge is not None and takes((low, high), wire.gauge.area_mm2):
            continue
        if wire.own_rating_a is not None or wire.resistance_ohm is not None:
            return False
        if not _carries(facts, stock, wire, low, high):
            return False
    return True


def _carries(facts: Facts, stock: Shelf, wire: Conductor, low: float, high: float) -> bool:
    sizes = tuple(s for s in stock.of(wire) if takes((low, high), s.area_mm2))
    if not sizes:
        return False
    rated = allowed_by_size(facts, Grouping((Group(wire.id, (wire.id,), sizes),), ()))[wire.id]
    load_a = facts.currents[wire.id].worst_continuous[1] if wire.id in facts.currents else 0.0
    return any(a is not None and a * (1.0 + 1e-9) >= load_a for a in rated)
