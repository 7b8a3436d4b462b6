"""Loads that last for a time only, held against what conductors and contacts stand for that time."""

from __future__ import annotations

import enum
import math
from collections.abc import Iterator
from dataclasses import dataclass

from loadloom.graph.demands import Demand
from loadloom.graph.elements import Conductor, Contact
from loadloom.graph.facts import Facts
from loadloom.graph.one_body import rise_share
from loadloom.graph.overload import exceeds
from loadloom.graph.shorts import ADIABATIC_LIMIT_S


class Heat(enum.Enum):
    """What an event does to a part."""

    TOO_MUCH = "too much"
    NOT_STATED = "not stated"


@dataclass(frozen=True, slots=True)
class Event:
    """The gravest event on one part. ``rise`` is the rise at its end as a share of the one at the allowed current;
    None for a contact and where it can't be said. ``withstand_a2s`` is a contact's own I²t.
    """

    part: Conductor | Contact
    demand: Demand
    allowed_a: float
    heat: Heat
    rise: float | None = None
    withstand_a2s: float | None = None


def find_events(facts: Facts) -> Iterator[Event]:
    """The gravest event of every conductor and contact on which one is too hot, or can't be judged.

    A part whose steady current is over the allowed one already has a finding and is left out.
    """
    parts: tuple[Conductor | Contact, ...] = (*facts.harness.conductors, *facts.harness.contacts)
    for part in parts:
        rating = facts.ratings.get(part.id)
        if rating is None or not rating.allowed_a:
            continue
        worst: Event | None = None
        for demand in facts.protection.demands.get(part.id, ()):
            if math.isinf(demand.duration_s) or not exceeds(demand.current_a, rating.allowed_a):
                continue
            before_a = facts.currents[part.id].steady_a[demand.case]
            if exceeds(before_a, rating.allowed_a):
                continue
            found = _judge(facts, part, demand, rating.allowed_a, before_a)
            if found is not None and (worst is None or _gravity(found) > _gravity(worst)):
                worst = found
        if worst is not None:
            yield worst


def _gravity(event: Event) -> tuple[bool, float]:
    return event.heat is Heat.TOO_MUCH, event.rise or event.demand.current_a


def _judge(
    facts: Facts, part: Conductor | Contact, demand: Demand, allowed_a: float, before_a: float
) -> Event | None:
    if isinstance(part, Conductor):
        rise = rise_share(
            part,
            facts.settings,
            allowed_a,
            before_a=before_a,
            current_a=demand.current_a,
            duration_s=demand.duration_s,
        )
        if rise is None:
            late = demand.duration_s > ADIABATIC_LIMIT_S
            return Event(part, demand, allowed_a, Heat.NOT_STATED) if late else None
        return Event(part, demand, allowed_a, Heat.TOO_MUCH, rise) if exceeds(rise, 1.0) else None
    kind = facts.settings.contact_types.get(part.contact_type or "")
    withstand_a2s = kind.i2t_a2s if kind is not None else None
    if withstand_a2s is not None and exceeds(demand.current_a**2 * demand.duration_s, withstand_a2s):
        return Event(part, demand, allowed_a, Heat.TOO_MUCH, withstand_a2s=withstand_a2s)
    if demand.duration_s > ADIABATIC_LIMIT_S:
        return Event(part, demand, allowed_a, Heat.NOT_STATED)
    return None
