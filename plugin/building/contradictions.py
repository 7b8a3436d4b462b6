"""Finds fields of one part that can't both be true, in the plain state and under every word."""

from __future__ import annotations

import math
from collections.abc import Iterator

from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Conductor, Contact, Device, DeviceKind, Element, Load, LoadKind, Output
from loadloom.graph.model.figures import figures
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.ratings.insulation import insulation_of
from loadloom.graph.ratings.resistance import COPPER_RESISTIVITY_OHM_MM2_PER_M
from loadloom.graph.rules import fields_contradict
from loadloom.plugin.notes import Notes
from loadloom.plugin.values import quoted


def report_contradictions(harness: Harness, settings: AnalysisSettings, notes: Notes) -> None:
    """Add a finding for every pair of fields that contradict each other."""
    for contact in harness.contacts:
        _report_contact(contact, settings, notes)
    for element in (*harness.loads, *harness.outputs, *harness.devices, *harness.conductors):
        for word in (None, *element.by_word):
            there = element.under(word)
            over = (*_pairs(there), *(_ratings(there, settings) if isinstance(there, Conductor) else ()))
            for lower, upper in over:
                where = f" ({word})" if word is not None else ""
                notes.find(
                    fields_contradict.RULE.finding(
                        element.subject,
                        f"{element.id}{where}: {lower} is more than {upper}.",
                        "Correct one of the two.",
                    )
                )


def _report_contact(contact: Contact, settings: AnalysisSettings, notes: Notes) -> None:
    """A finding where a contact's own rating is more than its family carries with a single position loaded."""
    for word in (None, *contact.by_word):
        there = contact.under(word)
        family = contact_type_of(there.contact_type, settings)
        if family is None or there.own_rating_a is None or not family.rated_a:
            continue
        most_a = max(rated_a for _, rated_a in family.rated_a)
        if exceeds(there.own_rating_a, most_a):
            notes.find(
                fields_contradict.RULE.finding(
                    contact.subject,
                    f"{contact.id}: Contact rating, {figures(there.own_rating_a, 4)} A, is more than contacts of "
                    f"family {quoted(family.name)} carry at most, {figures(most_a, 4)} A.",
                    "Correct one of the two, or name no family.",
                )
            )


LEAST_COPPER = 0.5
"""No copper of the drawn area and length has less than this share of annealed copper's resistance at 20 °C: at
-40 °C it has 0.76 of it (common practice, no published source)."""

BARE_K_AS05_PER_MM2 = 226.0 * math.sqrt(math.log((234.5 + 1083.0) / (234.5 + 20.0)))
"""Copper from 20 °C to where it melts: IEC 60949's k, melting point from a handbook of physics (from memory)."""
SAME_TIME = 0.05
"""Two texts of one time differ by rounding within this share (common practice, no published source)."""


def _resistances(conductor: Conductor) -> Iterator[tuple[str, str]]:
    """Whether a stated resistance is less than copper of the drawn size and length can have: it would hide a drop.

    More than the copper's own is not told: what else lies in a wire may be stated with it.
    """
    if conductor.resistance_ohm is None or conductor.gauge is None or not conductor.length_m:
        return
    stated_ohm = conductor.resistance_ohm.upper
    least_ohm = LEAST_COPPER * COPPER_RESISTIVITY_OHM_MM2_PER_M * conductor.length_m / conductor.gauge.area_mm2
    if stated_ohm < least_ohm:
        drawn = f"{figures(conductor.length_m)} m of {conductor.gauge}"
        yield (
            f"the least resistance of {drawn}, {least_ohm * 1e3:.3g} mΩ,",
            f"Resistance, {stated_ohm * 1e3:.3g} mΩ",
        )


def _ratings(conductor: Conductor, settings: AnalysisSettings) -> Iterator[tuple[str, str]]:
    """Whether a conductor's own rating is more than a short circuit of one second may put on its size: no size
    carries that continuously. Its insulation's k counts (IEC 60949), bare copper's where that is not known.
    """
    rating_a, area_mm2 = conductor.own_rating_a, conductor.area_mm2
    if rating_a is None or area_mm2 is None:
        return
    k = insulation_of(conductor, settings).k_as05_per_mm2 or BARE_K_AS05_PER_MM2
    if rating_a > k * area_mm2:
        yield (
            f"Rating, {figures(rating_a, 4)} A,",
            f"the {figures(k * area_mm2)} A that {figures(area_mm2)} mm² withstand for one second",
        )


def _on_times(load: Load) -> Iterator[tuple[str, str]]:
    """Whether a load states for how long it is on at once, and a share of its period that says another time."""
    if load.duration_s is None or load.duty is None or load.period_s is None:
        return
    by_duty_s = load.duty * load.period_s
    stated = f"Duration, {figures(load.duration_s, 4)} s,"
    of_period = f"Duty of Period, {figures(by_duty_s, 4)} s"
    if load.duration_s > by_duty_s * (1.0 + SAME_TIME):
        yield stated, of_period
    elif by_duty_s > load.duration_s * (1.0 + SAME_TIME):
        yield f"{of_period},", stated.rstrip(",")


def _pairs(element: Element) -> Iterator[tuple[str, str]]:
    """The pairs of which the first is greater than the second and should not be."""
    found: list[tuple[str, float | None, str, float | None, str]] = []
    if isinstance(element, Conductor):
        yield from _resistances(element)
    if isinstance(element, Load):
        yield from _on_times(element)
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
            yield f"{low_name}, {figures(low, 4)} {unit},", f"{high_name}, {figures(high, 4)} {unit}"
