"""A fuse, breaker or resettable device opens, or may open, under its loads.

Formula: continuous current > non-tripping current of the device; or an event that lasts longer than the fastest
opening time at its current.

Source: the device's curve (gates of UL 248-14, IEC 60127-2 or IEC 60898-1, or the user's own), named on its row.

Passes: a fuse of 10 A by UL 248-14 gates, a continuous load of 7 A.

Fails: the same fuse, a continuous load of 12 A: above 100 % nothing says that it carries, above 135 % it opens.
"""

from collections.abc import Iterator

from loadloom.graph.devices.device_bands import curve_source
from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.trips import Outcome, find_trips
from loadloom.graph.model.elements import Device, DeviceKind
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("fuse-would-open", Severity.ERROR, "Device opens under its loads")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold every fuse, breaker and resettable device against its demands."""
    for trip in find_trips(facts):
        part = trip.part
        if not isinstance(part, Device) or part.kind is DeviceKind.LIMITER or trip.outcome is Outcome.NOT_STATED:
            continue
        opens = "opens" if trip.outcome is Outcome.OPENS else "may open"
        yield RULE.finding(
            part.subject,
            f"{part.kind.value.capitalize()} {part.id} has to carry {trip.asked} "
            f"{trip.how_long}; it is certain to carry only {trip.carries} continuously, and {opens}.",
            "Use a higher rating if what lies behind allows it, a slower curve for a short event, or move loads to "
            "another path.",
            case=trip.demand.case,
            value=trip.demand.current_a,
            limit=trip.limits.non_tripping_a,
            unit="A",
            source=curve_source(part, facts.settings),
        )
