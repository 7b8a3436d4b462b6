"""What nobody stated and a result rests on: one sentence each, for the report's list of assumptions."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator

from loadloom.graph.devices.curves import own_named
from loadloom.graph.devices.device_bands import band_choice
from loadloom.graph.facts.facts import Facts
from loadloom.graph.facts.load_states import LoadStates
from loadloom.graph.heat.box import LEAST_SIDE_M, MOST_RISE_K, MOST_SIDE_M
from loadloom.graph.heat.conductors import resistance_assumptions
from loadloom.graph.heat.zone_heat import heat_kinds
from loadloom.graph.judging.voltages import wanted_maximum_v, wanted_minimum_v
from loadloom.graph.load_cases.mixed_lows import MOST_LOADS, MOST_STATES
from loadloom.graph.load_cases.starts import start_assumptions
from loadloom.graph.model.elements import Conductor, Contact, Device, DeviceKind, Output, Switch
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Severity, Subject
from loadloom.graph.model.naming import all_of
from loadloom.graph.model.settings import AnalysisSettings, Enclosure
from loadloom.graph.ratings.contact_rating import contact_type_of
from loadloom.graph.ratings.crimps import bus_joints, crimps_of
from loadloom.graph.rules import assumed
from loadloom.graph.short_circuits.unlike_paths import MOST_PATHS
from loadloom.graph.verdict.registry import all_rules

_OF_RATINGS = {"own_rating_a", "gauge", "insulation", "bundle", "zone", "contact_type"}
_OF_RATINGS |= {"voltage_rating_v", "breaking_capacity_a", "terminal_c", "material", "layout"}
"""Attributes that a rating follows from."""
BAND_AT_C = 25.0
"""Ambient at which the gates of fuses are measured (UL 248-14, IEC 60127: 23 to 25 °C, value from memory)."""
LEAST_SHOWN_W = 0.001
"""Heat below a milliwatt is not listed."""


def assumptions(facts: Facts, states: LoadStates) -> tuple[str, ...]:
    """All assumptions, those of reading first, each once."""
    return tuple(dict.fromkeys((*facts.harness.assumptions, *_found(facts, states))))


_STATED = re.compile(
    r"^(?:What if: |Not fitted \(DNP\)|In the fault search |Faults of \d+ conductors)"
    r"|by the settings, which stand before | is one joint, as is stated\."
    r"|, as the settings say[.;]| by the settings\.$"
    r"| V, its Sense limit, for the drop "
    r"|is a bound on the safe side|the least rating counts in all|counts for fault currents, "
)
"""Sentences that repeat what is stated, or that count on the safe side whichever is true."""

_INSIDE = re.compile(r"^Zone .* inside at most: ")


def weighs(sentence: str, facts: Facts) -> bool:
    """Whether a sentence of the list is an assumption that could be wrong on the unsafe side.

    A sentence of a kind that is not known here counts as one.
    """
    if _INSIDE.match(sentence):  # a balance of heat, in which loads of no zone take no part
        return any(load.fitted and load.zone is None for load in facts.harness.loads)
    return _STATED.search(sentence) is None


def strict_findings(sentences: Iterable[str], facts: Facts) -> Iterator[Finding]:
    """One finding for each assumption that weighs, where the settings ask for ``strict``."""
    for sentence in sentences if facts.settings.strict else ():
        if weighs(sentence, facts):
            yield assumed.RULE.finding(
                Subject("harness"),
                f"Assumed: {sentence}",
                "State it in the drawing or in the settings, or judge without strict.",
            )


def _found(facts: Facts, states: LoadStates) -> Iterator[str]:
    settings = facts.settings
    if settings.conductor_temperature_c is not None:
        yield f"All conductors are held at {settings.conductor_temperature_c:g} °C by the settings."
    yield from _of_severities(settings)
    yield from _of_cases(facts)
    for output in facts.harness.outputs:
        if output.fitted and output.sense_added_v:
            yield (
                f"{output.id} adds up to {figures(output.sense_added_v)} V, its Sense limit, for the drop between "
                "its terminals and where it senses; the fault search and the short circuits count with all of it."
            )
    yield from start_assumptions(facts.harness)
    yield from _of_resistances(facts)
    yield from _of_ratings(facts)
    yield from _of_limits(facts)
    yield from _of_rerating(facts)
    yield from _beyond_rerating(facts)
    yield from _of_ambients(facts)
    for zone, inside in facts.inside.items():
        kinds = heat_kinds(inside.heat).items()
        parts = ", ".join(f"{figures(w)} W by {kind}" for kind, w in kinds if w >= LEAST_SHOWN_W)
        off = inside.conductance_w_per_k
        carried = f", {figures(off)} W/K carry them off to {figures(inside.outside_c)} °C outside" if off else ""
        walls = _of_walls(settings.enclosures.get(zone), inside.inside_c - inside.outside_c)
        yield (
            f"Zone {zone} is {figures(inside.inside_c)} °C inside at most: {figures(inside.heat.total_w)} W are "
            f"made in it{f' ({parts})' if parts else ''}"
            f"{f', {figures(inside.sun_w)} W come from the sun' if inside.sun_w else ''}{carried}. "
            f"{walls}Loads that state no Zone give it no heat."
        )
    yield from facts.faults.assumptions
    yield from _of_two_faults(facts)
    alike = facts.protection.short_circuits.as_drawn
    if alike:
        yield (
            f"{all_of(alike)}: more than {MOST_PATHS} paths side by side are taken to be alike in a short circuit: "
            "all at the least or all at the greatest end of their bands."
        )
    shared = sorted({name for each in states.loaded.values() for s in each for name in s.equal_share})
    if shared:
        yield f"{all_of(shared)}: parallel paths of 0 Ω are taken to share equally."
    if states.lows_cut:
        yield (
            f"The lowest voltages at loads are sought over at most {MOST_STATES} mixtures of resistances within "
            f"their bands, and over none in a network of more than {MOST_LOADS} loads: another mixture may leave "
            "some load less than is told."
        )
    if states.unsettled_k > 0.05:
        yield (
            f"Conductor temperatures still changed by {figures(states.unsettled_k)} K in the last round of the "
            "solution."
        )


def _of_two_faults(facts: Facts) -> Iterator[str]:
    """Switches that a judged arrangement has open and none has closed, where outputs can be joined through them."""
    harness = facts.harness
    words = dict.fromkeys(case.arrangement for case in facts.cases)
    always_open = [
        switch.id
        for switch in harness.switches
        if switch.welds and words and not any(switch.under(word).fitted for word in words)
    ]
    if always_open and sum(output.fitted for output in harness.outputs) > 1:
        yield (
            f"{all_of(always_open)}: open in every load case; faults are searched closed as well, as if welded, "
            "but not together with an output that is shorted inside: one failure at a time. Draw an arrangement "
            "with a switch closed where a hand may close it."
        )


def _of_severities(settings: AnalysisSettings) -> Iterator[str]:
    """Rules that the settings make less grave: a verdict may pass that would fail without them."""
    lowered: dict[tuple[Severity, Severity], list[str]] = {}
    for name, severity in settings.severity.items():
        own = all_rules()[name].rule.severity
        if severity.rank > own.rank:
            lowered.setdefault((severity, own), []).append(name)
    for (severity, own), names in lowered.items():
        yield f"Findings of {all_of(sorted(names))} count as {severity}, not as {own}, by the settings."


def _of_cases(facts: Facts) -> Iterator[str]:
    """States and arrangements of the drawing that no load case of the settings is in."""
    harness, cases = facts.harness, facts.settings.cases
    if cases is None:
        return
    states, arrangements = {case.state for case in cases}, {case.arrangement for case in cases}
    left = [f"state {word}" for word in harness.states() if word not in states]
    left += ["the state nominal"] if None not in states else []
    left += [f"arrangement {word}" for word in harness.arrangements() if word not in arrangements]
    left += ["the arrangement as drawn"] if None not in arrangements else []
    if left:
        yield f"Drawn, but in no load case, so that nothing is judged in them: {all_of(left)}, by the settings."


def _of_walls(enclosure: Enclosure | None, rise_k: float) -> str:
    """How the walls' part was found, and whether the box and its rise are such as that is meant for."""
    if enclosure is None or not (enclosure.surface_m2 or enclosure.size_m):
        return ""
    if enclosure.surface_coefficient_w_per_m2k is not None:
        return f"The walls give off {figures(enclosure.surface_coefficient_w_per_m2k)} W/(m²K), as stated. "
    shape = "" if enclosure.size_m is not None else ", as of a cube of that surface"
    return (
        f"The walls are thin metal with still air and radiation on both sides, face by face{shape}; the air under "
        f"the lid is some kelvin warmer than this mean. {_beyond(enclosure, rise_k)}"
    )


def _beyond(enclosure: Enclosure, rise_k: float) -> str:
    sides_m = enclosure.size_m or (math.sqrt(enclosure.surface_m2 / 6.0),)
    if min(sides_m) >= LEAST_SIDE_M and max(sides_m) <= MOST_SIDE_M and rise_k <= MOST_RISE_K:
        return ""
    return (
        f"That is meant for boxes of {LEAST_SIDE_M:g} to {MOST_SIDE_M:g} m that get up to about {MOST_RISE_K:g} K "
        "warmer, and this one is beyond. "
    )


def _of_resistances(facts: Facts) -> Iterator[str]:
    """What the resistances of conductors rest on: each sentence with the conductors that it holds for."""
    parts: dict[str, list[str]] = {}
    for conductor in facts.harness.conductors:
        for words in resistance_assumptions(conductor, facts.settings):
            parts.setdefault(words, []).append(conductor.id)
    for words, names in parts.items():
        yield f"{all_of(names)}: {words}."


def _of_ratings(facts: Facts) -> Iterator[str]:
    """What ratings rest on: each sentence with the parts that it holds for."""
    parts: dict[str, list[str]] = {}
    for name, rating in facts.ratings.items():
        for sentence in rating.assumptions:
            parts.setdefault(sentence.rstrip("."), []).append(name)
    for sentence, names in parts.items():
        yield f"{all_of(names)}: {sentence}."
    by_table = (c for c in facts.harness.conductors if c.gauge is not None and c.own_rating_a is None)
    alone = list(dict.fromkeys(c.cable or c.id for c in by_table if not c.bundle))
    if alone and len({c.cable or c.id for c in facts.harness.conductors}) > 1:
        yield f"{all_of(alone)}: no Bundle is stated: each is rated with no other beside it."
    if facts.settings.altitude_m > 0.0:
        stated = [c.id for c in facts.harness.conductors if c.own_rating_a is not None or c.track is not None]
        stated += [p.id for p in (*facts.harness.contacts, *facts.harness.switches, *facts.harness.diodes)]
        if stated:
            yield (
                f"{all_of(stated)}: allowed currents that are stated, and those of tracks, have no factor for "
                f"altitude: they are taken to hold at {figures(facts.settings.altitude_m)} m."
            )
    unnamed: dict[str, list[str]] = {}
    for contact in facts.harness.contacts:
        rated = contact.own_rating_a is not None
        if rated and contact.contact_type and contact_type_of(contact.contact_type, facts.settings) is None:
            unnamed.setdefault(contact.contact_type, []).append(contact.id)
    for kind, names in unnamed.items():
        named = all_of(names)
        yield f"{named}: the settings describe no contact type “{kind}”: what the drawing itself states counts."
    crimped = {contact.id: contact for crimp in crimps_of(facts.harness) for contact in crimp.contacts}
    unranged = [name for name, contact in crimped.items() if not _states_range(contact, facts)]
    if unranged:
        yield f"{all_of(unranged)}: no crimp range is stated: whether the wires fit is not checked."
    untimed = [contact.id for contact in facts.harness.contacts if not _states_i2t(contact, facts)]
    if untimed:
        yield (
            f"{all_of(untimed)}: no I²t of the contact is stated: whether a short circuit damages it before it is "
            "cleared is not checked."
        )
    for word in (None, *facts.harness.arrangements()):
        for contacts, wires in bus_joints(facts.harness, word):
            joined, ending = all_of([c.id for c in contacts]), all_of([w.id for w in wires])
            yield (
                f"{joined} are joined with the end of {ending}: the joint is taken for a bus on which the wire "
                "ends, and whether a contact there takes it is not checked."
            )
    changing = [
        part.id
        for part in (*facts.harness.two_ended, *facts.harness.splices)
        if any(
            _OF_RATINGS.intersection(changes) or ("rating_a" in changes and not isinstance(part, Device))
            for changes in part.by_word.values()
        )
    ]
    if changing:
        yield f"{all_of(changing)}: the rating differs by arrangement: the least rating counts in all."
    open_ones = [
        part.id
        for part in facts.harness.two_ended
        if isinstance(part, (Conductor, Contact, Device, Switch))
        and part.voltage_rating_v is None
        and not (isinstance(part, Device) and part.kind in (DeviceKind.FUSE, DeviceKind.BREAKER))
    ]
    if open_ones:
        yield (
            f"{all_of(open_ones)}: no Voltage rating is stated: whether the highest voltage is too much is not "
            "checked."
        )


def _states_i2t(contact: Contact, facts: Facts) -> bool:
    family = contact_type_of(contact.contact_type, facts.settings)
    return family is not None and family.i2t_a2s is not None


def _states_range(contact: Contact, facts: Facts) -> bool:
    family = contact_type_of(contact.contact_type, facts.settings)
    return family is not None and family.wire_area_mm2 is not None


def _of_rerating(facts: Facts) -> Iterator[str]:
    """Fuses and breakers whose band says nothing of ambient, in places not at the band's own temperature."""
    parts: dict[tuple[str, str], list[str]] = {}
    for device in facts.harness.devices:
        if device.kind not in (DeviceKind.FUSE, DeviceKind.BREAKER) or device.rating_a is None:
            continue
        ambient = facts.settings.ambient(device.zone)
        curves = [c for c in band_choice(device, facts.settings).curves if not c.rerating]
        names = list(dict.fromkeys(curve.name for curve in curves))
        if names and not ambient.min_c == ambient.max_c == BAND_AT_C:
            band = names[0] if len(names) == 1 else "any of the standards"
            where = f"at {figures(ambient.min_c)} °C"
            if ambient.max_c > ambient.min_c:
                where = f"from {figures(ambient.min_c)} to {figures(ambient.max_c)} °C"
            parts.setdefault((band, where), []).append(device.id)
    for (band, where), ids in parts.items():
        yield (
            f"{all_of(ids)}: the band of {band} has no rerating with ambient: it counts as it stands "
            f"{where}. A thermal device opens sooner when hot and carries more when cold; state its rerating in a "
            "curve of your own."
        )


def _beyond_rerating(facts: Facts) -> Iterator[str]:
    """Devices in places hotter or colder than the points of their rerating go."""
    parts: dict[tuple[str, str, str], list[str]] = {}
    for device in facts.harness.devices:
        curve = own_named(device.curve, facts.settings.curves) if device.curve is not None else None
        if curve is None or not curve.rerating or not device.fitted:
            continue
        ambient, first, last = facts.settings.ambient(device.zone), curve.rerating[0][0], curve.rerating[-1][0]
        if ambient.min_c < first or ambient.max_c > last:
            band = f"{figures(first)} to {figures(last)} °C"
            there = f"{figures(ambient.min_c)} to {figures(ambient.max_c)}"
            parts.setdefault((curve.name, band, there), []).append(device.id)
    for (name, band, there), ids in parts.items():
        yield (
            f"{all_of(ids)}: the rerating of curve {name} is stated for {band} and the ambient is {there} °C: "
            "beyond its last points the line through the last two is continued."
        )


def _of_limits(facts: Facts) -> Iterator[str]:
    """Trips that are taken as exact, and loads of which no voltage is asked."""
    harness = facts.harness
    tripping: tuple[Output | Device, ...] = (*harness.outputs, *harness.devices)
    exact = [part.id for part in tripping if part.trip_a is not None and part.trip_a.lower == part.trip_a.upper]
    if exact:
        yield f"{all_of(exact)}: no tolerance is stated with Trip: it is taken as exact."
    yield from _of_supplies(facts)
    fed = [load for load in harness.loads if load.fitted and load.demand is not None]
    for name, wanted in (("Minimum", wanted_minimum_v), ("Maximum", wanted_maximum_v)):
        free = [load.id for load in fed if wanted(facts, load) is None]
        if free:
            yield f"{all_of(free)}: no {name} voltage is stated: not checked."


def _of_supplies(facts: Facts) -> Iterator[str]:
    """What nobody says of the units that outputs belong to, and that so limits nothing."""
    supplies = facts.harness.supplies
    powered = [supply for supply in supplies if supply.power_w is not None]
    for names, what in (
        (
            [supply.name for supply in supplies if supply.power_w is None],
            "no Supply power is stated: the power of the unit is not checked",
        ),
        (
            [supply.name for supply in powered if not supply.power_derating],
            "no Power derating is stated: the unit is taken to give its whole power at every ambient",
        ),
        (
            [supply.name for supply in powered if not supply.mounting],
            "no Mounting derating is stated: the unit is taken to give its whole power as it is mounted",
        ),
        (
            [output.id for output in facts.harness.outputs if output.fitted and output.supply is None],
            "no Supply is stated: the power of the unit is not checked",
        ),
    ):
        if names:
            yield f"{all_of(names)}: {what}."


def _of_ambients(facts: Facts) -> Iterator[str]:
    """Parts without a zone in a drawing that has zones, and resettable fuses without a rerating."""
    settings, harness = facts.settings, facts.harness
    if settings.zones or settings.enclosures:
        rated = (harness.conductors, harness.contacts, harness.devices, harness.outputs)
        free = [part.id for parts in rated for part in parts if part.zone is None]
        if free:
            band = settings.default_ambient
            yield (
                f"{all_of(free)}: no Zone is stated: {band.min_c:g} to {band.max_c:g} °C, the ambient of "
                "parts without a zone, counts."
            )
    fixed = [device.id for device in harness.devices if device.fitted and not _is_rerated(device, facts)]
    if fixed:
        yield f"{all_of(fixed)}: no rerating by ambient is stated: Hold and Trip count at every ambient."


def _is_rerated(device: Device, facts: Facts) -> bool:
    """Whether a resettable fuse follows the ambient; fuses and breakers are told by their bands."""
    if device.kind is not DeviceKind.RESETTABLE:
        return True
    curve = own_named(device.curve, facts.settings.curves) if device.curve is not None else None
    return curve is not None and bool(curve.rerating)
