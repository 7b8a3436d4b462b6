"""Ratings that a part needs and does not have: the least value, or the next one that parts are made for."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from loadloom.graph.model.elements import Conductor, Contact, Element
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.settings import AnalysisSettings

FIELD_OF: Mapping[str, tuple[str, str, str]] = {
    "voltage-rating": ("voltage_rating_v", "Voltage rating", "V"),
    "breaking-capacity": ("breaking_capacity_a", "Breaking capacity", "A"),
    "switch-overload": ("rating_a", "Rating", "A"),
    "switch-unprotected": ("rating_a", "Rating", "A"),
    "splice-overload": ("rating_a", "Rating", "A"),
    "splice-unprotected": ("rating_a", "Rating", "A"),
}
"""By rule: the attribute that has to be greater, the field that states it, its unit."""


@dataclass(frozen=True, slots=True)
class NeededRating:
    """Choose a part of at least ``proposed`` (in ``unit``) for a part or, of a connector or cable, all of it.

    ``attribute`` names the value of the element; ``drawn`` is what it is now.
    """

    id: str
    attribute: str
    field: str
    drawn: float | None
    needed: float
    proposed: float
    unit: str
    reason: str


def find_ratings(
    harness: Harness,
    findings: Iterable[Finding],
    settings: AnalysisSettings,
    together: Sequence[frozenset[str]] = (),
) -> tuple[NeededRating, ...]:
    """What the open findings on ratings ask for. ``together``: ids that share a field of the drawing."""
    worst: dict[tuple[str, str], Finding] = {}
    for finding in findings:
        if finding.rule in FIELD_OF and finding.accepted is None and finding.value is not None:
            owner = owner_of(harness.by_id[finding.subject.id])
            for name in _instances(owner, together):
                key = (name, FIELD_OF[finding.rule][0])
                if key not in worst or (worst[key].value or 0.0) < finding.value:
                    worst[key] = finding
    found = []
    for (name, attribute), finding in worst.items():
        _, field, unit = FIELD_OF[finding.rule]
        assert finding.value is not None
        kept = 1.0 - settings.margin if attribute == "rating_a" else 1.0
        needed = finding.value / kept
        made = settings.design.voltage_ratings_v if attribute == "voltage_rating_v" else ()
        made = settings.design.breaking_capacities_a if attribute == "breaking_capacity_a" else made
        proposed = next((x for x in sorted(made) if x >= needed * (1.0 - 1e-9)), None)
        listed = proposed is not None
        if proposed is None:
            proposed = _up(needed)
        why = f"{finding.rule}: it has to stand {figures(finding.value)} {unit}; choose a part of at least this"
        if made and not listed:
            why += ", which is above all that the settings list"
        found.append(NeededRating(name, attribute, field, finding.limit, needed, proposed, unit, why))
    return tuple(sorted(found, key=lambda row: (natural_key(row.id), row.field)))


def owner_of(part: Element) -> str:
    """The symbol that states the rating: a contact's connector, a core's cable, else the part itself."""
    if isinstance(part, Contact):
        return part.connector
    return part.cable if isinstance(part, Conductor) and part.cable is not None else part.id


def with_ratings(harness: Harness, ratings: Iterable[NeededRating]) -> Harness:
    """The harness with these ratings; a part that is rated higher already keeps its own."""
    wanted: dict[str, dict[str, float]] = {}
    for row in ratings:
        wanted.setdefault(row.id, {})[row.attribute] = row.proposed

    def rated(part: Any) -> Any:
        values = {
            name: value
            for name, value in wanted.get(owner_of(part), {}).items()
            if (old := getattr(part, name, None)) is not None and old < value
        }
        return replace(part, **values) if values else part

    def those(parts: Iterable[Any]) -> tuple[Any, ...]:
        return tuple(rated(part) for part in parts)

    return replace(
        harness,
        conductors=those(harness.conductors),
        contacts=those(harness.contacts),
        devices=those(harness.devices),
        switches=those(harness.switches),
        diodes=those(harness.diodes),
        splices=those(harness.splices),
    )


def _instances(name: str, together: Sequence[frozenset[str]]) -> frozenset[str]:
    return next((names for names in together if name in names), frozenset({name}))


def _up(value: float) -> float:
    """The next value of three figures, so that what is written is not less than what is needed."""
    step = 10.0 ** (math.floor(math.log10(value)) - 2)
    return round(math.ceil(value / step - 1e-9) * step, 12)
