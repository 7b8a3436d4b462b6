"""Loads that last for a time only, held against what the parts stand for that time.

A conductor with a gauge and a contact with a stated I²t are judged. Nothing says what another part stands above
what it may carry continuously, however short the event: the finding says that.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Iterator
from dataclasses import dataclass

from loadloom.graph.facts.facts import Facts
from loadloom.graph.heat.two_body import two_bodies
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.load_cases.demands import Demand
from loadloom.graph.model.elements import Conductor, Contact, Diode, Splice, Switch
from loadloom.graph.short_circuits.short_circuits import ADIABATIC_LIMIT_S


class Heat(enum.Enum):
    """What an event does to a part."""

    TOO_MUCH = "too much"
    NOT_STATED = "not stated"


Stressed = Conductor | Contact | Splice | Switch | Diode


@dataclass(frozen=True, slots=True)
class Event:
    """The gravest event on one part. ``rise`` is the rise at its end as a share of the one at the allowed current;
    None where it is no conductor or it is not determined. ``withstand_a2s`` is a contact's own I²t.
    """

    part: Stressed
    demand: Demand
    allowed_a: float
    heat: Heat
    rise: float | None = None
    withstand_a2s: float | None = None


def find_events(facts: Facts) -> Iterator[Event]:
    """The gravest event of every part on which one is too hot, or can't be judged.

    A part whose continuous current is over the allowed one already has a finding and is left out.
    """
    harness = facts.harness
    parts: list[Stressed] = [*harness.conductors, *harness.contacts]
    parts += [*harness.splices, *harness.switches, *harness.diodes]
    for part in parts:
        rating = facts.ratings.get(part.id)
        if rating is None or not rating.allowed_a:
            continue
        worst: Event | None = None
        for demand in facts.protection.demands.get(part.id, ()):
            if math.isinf(demand.duration_s) or not exceeds(demand.current_a, rating.allowed_a):
                continue
            before_a = facts.currents[part.id].continuous_a[demand.case]
            if exceeds(before_a, rating.allowed_a):
                continue
            found = _judge(facts, part, demand, rating.allowed_a, before_a)
            if found is not None and (worst is None or _gravity(found) > _gravity(worst)):
                worst = found
        if worst is not None:
            yield worst


def _gravity(event: Event) -> tuple[bool, float]:
    return event.heat is Heat.TOO_MUCH, event.rise or event.demand.current_a


def _judge(facts: Facts, part: Stressed, demand: Demand, allowed_a: float, before_a: float) -> Event | None:
    unknown = Event(part, demand, allowed_a, Heat.NOT_STATED)
    if isinstance(part, Conductor):
        bodies = two_bodies(part, facts.settings, allowed_a)
        if bodies is None:
            return unknown
        warm_c = bodies.temperature_c(demand.current_a, demand.duration_s, before_a=before_a)
        rise = (warm_c - bodies.ambient_c) / (bodies.limit_c - bodies.ambient_c)
        return Event(part, demand, allowed_a, Heat.TOO_MUCH, rise) if exceeds(rise, 1.0) else None
    kind = facts.settings.contact_types.get(part.contact_type or "") if isinstance(part, Contact) else None
    withstand_a2s = kind.i2t_a2s if kind is not None else None
    if withstand_a2s is None:
        return unknown
    if exceeds(demand.current_a**2 * demand.duration_s, withstand_a2s):
        return Event(part, demand, allowed_a, Heat.TOO_MUCH, withstand_a2s=withstand_a2s)
    return unknown if demand.duration_s > ADIABATIC_LIMIT_S else None
