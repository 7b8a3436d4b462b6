"""A limiter, or an output's own shutdown, does not ride through the loads behind it.

Formula: current > lower end of `Trip` for at least as long as `Delay` (no `Delay`: at once). Short states count
with their duration, everything else as lasting continuously.

Source: the device's own `Trip`, `Delay` and `Behaviour` on the drawing; the rule itself is common practice, no
published source.

Passes: a load of 40 A on a limiter with `Trip` = `40 A`; a state of 30 A for 0.1 ms on a limiter of 12 A with a
delay of 1 ms.

Fails: loads of 25 A + 25 A behind a limiter of 40 A; the same state lasting 100 ms.
"""

import math
from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.trips import Outcome, Trip, find_trips
from loadloom.graph.model.elements import Behaviour, Device, DeviceKind, Output
from loadloom.graph.model.figures import duration
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("limiter-would-trip", Severity.ERROR, "Limit does not ride through its loads")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold every limiter and output against its demands."""
    for trip in find_trips(facts):
        if isinstance(trip.part, Device) and trip.part.kind is not DeviceKind.LIMITER:
            continue
        yield RULE.finding(
            trip.part.subject,
            f"{_noun(trip)} {trip.part.id} has to carry {trip.asked} {trip.how_long}, but is certain to carry only "
            f"{trip.carries} and {_verb(trip)}.",
            f"Set {trip.part.id} higher if what lies behind allows it, or move loads to another "
            f"channel{_delay(trip)}.",
            case=trip.demand.case,
            value=trip.demand.current_a,
            limit=trip.limits.non_tripping_a,
            unit="A",
        )


def _delay(trip: Trip) -> str:
    """What else helps against an event; nothing against a continuous current."""
    duration_s = trip.demand.duration_s
    return "" if math.isinf(duration_s) else f", or use a delay longer than {duration(duration_s)}"


def _noun(trip: Trip) -> str:
    return "Output" if isinstance(trip.part, Output) else "Limiter"


def _verb(trip: Trip) -> str:
    may = "" if trip.outcome is Outcome.OPENS else "may "
    if trip.part.behaviour in (Behaviour.CONSTANT_CURRENT, Behaviour.FOLDBACK):
        return f"{may}limit the current, so that the voltage falls" if may else "limits the current"
    return f"{may}trip" if may else "trips"
