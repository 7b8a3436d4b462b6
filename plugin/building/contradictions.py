"""Finds fields of one part that can't both be true, in the plain state and under every word."""

from __future__ import annotations

from collections.abc import Iterator

from loadloom.graph.elements import Device, DeviceKind, Element, Load, LoadKind, Output
from loadloom.graph.harness import Harness
from loadloom.graph.rules import fields_contradict
from loadloom.plugin.notes import Notes


def report_contradictions(harness: Harness, notes: Notes) -> None:
    """Add a finding for every pair of fields that contradict each other."""
    for element in (*harness.loads, *harness.outputs, *harness.devices):
        for word in (None, *element.by_word):
            for lower, upper in _pairs(element.under(word)):
                where = f" ({word})" if word is not None else ""
                notes.find(
                    fields_contradict.RULE.finding(
                        element.subject,
                        f"{element.id}{where}: {lower} is more than {upper}.",
                        "Correct one of the two.",
                    )
                )


def _pairs(element: Element) -> Iterator[tuple[str, str]]:
    """The pairs of which the first is greater than the second and should not be."""
    found: list[tuple[str, float | None, str, float | None, str]] = []
    if isinstance(element, Load):
        found.append(("Minimum voltage", element.minimum_v, "Maximum voltage", element.maximum_v, "V"))
        found.append(("Duration", element.duration_s, "Period", element.period_s, "s"))
        start = element.start
        for name, lasts_s in (("Starting time", start.starting_s), ("Inrush time", start.inrush_s)):
            found.append((name, lasts_s, "Start every", start.every_s, "s"))
        if element.demand_kind is LoadKind.CURRENT:
            for name, amps in (("Starting current", start.starting_a), ("Stalled current", start.stalled_a)):
                found.append(("Load", element.demand, name, amps, "A"))
    elif isinstance(element, Output) and element.trip_a is not None and element.solar is None:
        found.append(("Limit", element.limit_a, "Trip", element.trip_a.upper, "A"))
        if element.fast_trip_a is not None:
            found.append(("Trip", element.trip_a.nominal, "Fast trip", element.fast_trip_a.nominal, "A"))
    elif isinstance(element, Device):
        if element.fast_trip_a is not None and element.trip_a is not None:
            found.append(("Trip", element.trip_a.nominal, "Fast trip", element.fast_trip_a.nominal, "A"))
            found.append(("Fast delay", element.fast_delay_s, "Delay", element.delay_s, "s"))
        if element.kind is DeviceKind.RESETTABLE and element.trip_a is not None:
            found.append(("Hold", element.hold_a, "Trip", element.trip_a.upper, "A"))
        found.append(("Rating", element.rating_a, "Breaking capacity", element.breaking_capacity_a, "A"))
    for low_name, low, high_name, high, unit in found:
        if low is not None and high is not None and low > high:
            yield f"{low_name}, {low:.3g} {unit},", f"{high_name}, {high:.3g} {unit}"
