"""Settings and families that were changed on the way to sizes and that the sizes found don't ask for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from loadloom.graph.design.contact_families import Family, connectors
from loadloom.graph.design.device_settings import Setting, Slot, slot_windows
from loadloom.graph.design.groups import crimped
from loadloom.graph.facts import Facts
from loadloom.graph.harness import Harness
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.settings import AnalysisSettings


def unneeded_settings(
    facts: Facts, devices: Mapping[Slot, Setting], together: Iterable[frozenset[str]]
) -> list[dict[Slot, float]]:
    """Drawn settings in A that may do with the sizes of ``facts``, all slots of one field in one entry: the window
    of each is open at it. A channel that is off as drawn stays on.
    """
    allowed = {name: rating.allowed_a for name, rating in facts.ratings.items()}
    parts = (*facts.harness.conductors, *facts.harness.contacts)
    windows = slot_windows(facts, {part.id: allowed.get(part.id) for part in parts})
    fields: dict[tuple[frozenset[str], str | None], dict[Slot, float]] = {}
    narrow: set[tuple[frozenset[str], str | None]] = set()
    shared = tuple(together)
    for slot, setting in devices.items():
        if not setting.changed or setting.drawn_a is None:
            continue
        key = (next((names for names in shared if slot[0] in names), frozenset({slot[0]})), slot[1])
        fields.setdefault(key, {})[slot] = setting.drawn_a
        window = windows.get(slot)
        low_a = window.low.setting_a if window is not None and window.low is not None else 0.0
        high_a = window.high.setting_a if window is not None and window.high is not None else setting.drawn_a
        if not low_a * (1.0 - 1e-9) <= setting.drawn_a <= high_a * (1.0 + 1e-9):
            narrow.add(key)
    return [values for key, values in fields.items() if key not in narrow]


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
    return [drawn for drawn in fields.values() if all(_does(facts, name, drawn[name], families) for name in drawn)]


def _does(facts: Facts, connector: str, drawn: str, families: Mapping[str, Family]) -> bool:
    allowed_a = families[connector].allowed_drawn_a
    contacts = connectors(facts.harness)[connector]
    carried_a = max((facts.currents[c.id].worst_steady[1] for c in contacts if c.id in facts.currents), default=0.0)
    if allowed_a is None or carried_a > allowed_a * (1.0 + 1e-9):
        return False
    return crimps(facts.harness, facts.settings, connector, drawn)


def crimps(harness: Harness, settings: AnalysisSettings, connector: str, family: str) -> bool:
    """Whether a family takes all wires that are crimped into a connector."""
    kind = contact_type_of(family, settings)
    if kind is None or kind.wire_area_mm2 is None:
        return True
    least, most = kind.wire_area_mm2
    return all(
        wire.gauge is None or least * (1.0 - 1e-6) <= wire.gauge.area_mm2 <= most * (1.0 + 1e-6)
        for wire in harness.conductors
        if any(contact.connector == connector for contact in crimped(harness, (wire,)))
    )
