"""Which conductors and contacts the drawing lets touch: one cable, one bundle, one connector."""

from __future__ import annotations

from collections import defaultdict

from loadloom.graph.model.harness import Harness


def conductor_bodies(harness: Harness) -> tuple[tuple[int, ...], ...]:
    """Groups of two or more conductors that share a cable or a bundle, by position in ``Harness.conductors``."""
    groups: dict[tuple[str, str], list[int]] = defaultdict(list)
    for position, conductor in enumerate(harness.conductors):
        if conductor.cable:
            groups["cable", conductor.cable].append(position)
        if conductor.lies_in:
            groups["bundle", conductor.lies_in].append(position)
    return tuple(dict.fromkeys(tuple(members) for members in groups.values() if len(members) > 1))


def contact_bodies(harness: Harness) -> tuple[tuple[int, ...], ...]:
    """Groups of two or more contacts that share a connector, by position in ``Harness.contacts``."""
    groups: dict[str, list[int]] = defaultdict(list)
    for position, contact in enumerate(harness.contacts):
        groups[contact.connector].append(position)
    return tuple(tuple(members) for members in groups.values() if len(members) > 1)
