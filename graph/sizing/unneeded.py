"""Settings and families that were changed on the path to sizes and that the sizes found don't ask for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Contact
from loadloom.graph.model.findings import Severity
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.ratings.crimps import crimped, takes
from loadloom.graph.setting_ranges.setting_ranges import SettingRange
from loadloom.graph.sizing.contact_families import Family, connectors, weakest_allowed_a
from loadloom.graph.sizing.device_settings import Setting, Slot, slot_setting_ranges
from loadloom.graph.sizing.sizing import SURELY


def unneeded_settings(
    facts: Facts, devices: Mapping[Slot, Setting], together: Iterable[frozenset[str]]
) -> list[dict[Slot, float]]:
    """Drawn settings in A that may do with the sizes of ``facts``, all slots of one field in one entry: each
    carries its loads and keeps what is protected now. A channel that is off as drawn stays on.
    """
    setting_ranges = rated_setting_ranges(facts)
    fields: dict[tuple[frozenset[str], str | None], dict[Slot, float]] = {}
    narrow: set[tuple[frozenset[str], str | None]] = set()
    shared = tuple(together)
    for slot, setting in devices.items():
        if not setting.changed or setting.drawn_a is None:
            continue
        key = (next((names for names in shared if slot[0] in names), frozenset({slot[0]})), slot[1])
        fields.setdefault(key, {})[slot] = setting.drawn_a
        setting_range = setting_ranges.get(slot)
        if setting_range is not None and _is_needed(setting, setting_range, facts):
            narrow.add(key)
    return [values for key, values in fields.items() if key not in narrow]


def _is_needed(setting: Setting, setting_range: SettingRange, facts: Facts) -> bool:
    """Whether the setting proposed does for sure what the drawn one does not: carries the loads, or protects what
    nothing else does.
    """
    drawn_a, proposed_a = setting.drawn_a, setting.proposed_a
    assert drawn_a is not None and proposed_a is not None
    low_a = setting_range.low.setting_a * (1.0 - 1e-9) if setting_range.low is not None else 0.0
    if drawn_a < low_a <= proposed_a:
        return True
    if setting_range.high is None or drawn_a <= setting_range.high.setting_a * (1.0 + 1e-9):
        return False
    return not facts.faults.protectors_without(setting_range.high.by, setting.id)


def rated_setting_ranges(facts: Facts) -> dict[Slot, SettingRange]:
    """The setting ranges of all slots with conductors and contacts as they are; what is not protected now sets no
    end."""
    answers = facts.faults.parts
    allowed: dict[str, float | None] = {}
    for part in (*facts.harness.conductors, *facts.harness.contacts):
        answer, rating = answers.get(part.id), facts.ratings.get(part.id)
        if rating is not None and (answer is None or (answer.protected is not False and not answer.in_band)):
            allowed[part.id] = rating.allowed_a
    return slot_setting_ranges(facts, allowed)


def unneeded_families(
    facts: Facts, families: Mapping[str, Family], together: Iterable[frozenset[str]]
) -> list[dict[str, str]]:
    """Drawn families that may do with the sizes of ``facts``, all connectors of one field in one entry: each takes
    the wires and is allowed the load.
    """
    fields: dict[frozenset[str], dict[str, str]] = {}
    shared = tuple(together)
    for name, family in families.items():
        if family.changed:
            key = next((names for names in shared if name in names), frozenset({name}))
            fields.setdefault(key, {})[name] = family.drawn
    return [drawn for drawn in fields.values() if all(_may_do(facts, *each) for each in drawn.items())]


def _may_do(facts: Facts, connector: str, family: str) -> bool:
    contacts = connectors(facts.harness)[connector]
    allowed_a = weakest_allowed_a(facts, contacts, family)
    if allowed_a is None or not crimps(facts.harness, facts.settings, connector, family):
        return False
    loads_a = (facts.currents[c.id].worst_continuous[1] for c in contacts if c.id in facts.currents)
    return max(loads_a, default=0.0) <= allowed_a * (1.0 + 1e-9) and not any(
        allowed_a < SURELY * _stood_a(facts, contact) for contact in contacts
    )


def _stood_a(facts: Facts, contact: Contact) -> float:
    """What faults bring on a contact in A where it is allowed that; 0 where it is not, or where what the user
    accepts bears on it: then less may do.
    """
    answer, settings = facts.faults.parts.get(contact.id), facts.settings
    lenient = any(a.subject == contact.id for a in settings.accepted) or Severity.NOTE in settings.severity.values()
    if answer is None or lenient or not answer.allowed_a:
        return 0.0
    most_a = max(answer.sustained_fault_a or 0.0, answer.combined_overload_a or 0.0)
    return most_a if most_a <= answer.allowed_a * (1.0 + 1e-9) else 0.0


def crimps(harness: Harness, settings: AnalysisSettings, connector: str, family: str) -> bool:
    """Whether a family takes all wires that are crimped into a connector."""
    kind = contact_type_of(family, settings)
    if kind is None or kind.wire_area_mm2 is None:
        return True
    return all(
        wire.gauge is None or takes(kind.wire_area_mm2, wire.gauge.area_mm2)
        for wire in harness.conductors
        if any(contact.connector == connector for contact in crimped(harness, (wire,)))
    )
