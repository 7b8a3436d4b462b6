"""The answer for one conductor or contact from the worst fault found on it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.faults.band_cover import BandCovers, WorstFault
from loadloom.graph.faults.budgets import LARGEST_PIECE
from loadloom.graph.faults.cases import ThresholdsByCase
from loadloom.graph.faults.combined_overload import made_up
from loadloom.graph.faults.holding_device import device_per_part, with_holder
from loadloom.graph.faults.piece import POWER, RESISTANCE
from loadloom.graph.faults.radial.radial_rows import RadialFound, covering, where
from loadloom.graph.faults.rows import RowMaker
from loadloom.graph.faults.slow_pulses import with_slow_pulses
from loadloom.graph.faults.tolerances import CARRIES_NOTHING_A, DRAWN_AS_IS, NEAR_HELD, SAME, TINY, WHOLE
from loadloom.graph.faults.verdict import judged
from loadloom.graph.faults.worst_faults import FoundHit, WorstFaults
from loadloom.graph.model.elements import Behaviour, Conductor
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings

BOUND = "a bound on the safe side: what draws beside the fault counts with the most that it could ever draw"

STATES = (
    "a bound on the safe side: devices can open in more orders, or more parts hold their current, than are tried "
    "one by one"
)


UNFOLLOWED = (
    "not determined: loads pulse, and the connected part of the harness is too large to follow their pulses"
)

BETWEEN = (
    "a bound on the safe side: a fault between the ends of a conductor, where the bound of all its points counts"
)

FOLDS = (
    "a bound on the safe side: an output or limiter that folds back counts as holding its limit; how much less it "
    "gives at a lower voltage is not stated"
)

APART = (
    "a bound on the safe side: what outputs drive through unlike paths without the fault counts at the resistances "
    "that are worst for it, what the fault takes at those that are worst for that"
)

PULSES = (
    "a bound on the safe side: what each load that pulses adds counts by its own heat, and the sum of these is no "
    "less than what they make together"
)


def part_fault(
    harness: Harness,
    settings: AnalysisSettings,
    thresholds: ThresholdsByCase,
    ratings: Mapping[str, Rating],
    maker: RowMaker,
    name: str,
    worst: WorstFaults,
    firm: Mapping[str, float],
    unreadable: bool,
    covers: BandCovers,
) -> PartFault:
    """The answer of a part. ``firm``: see ``summarise_faults``; ``unreadable``: an output's voltage isn't known;
    ``covers``: the devices that may satisfy the overload band.
    """
    rating = ratings.get(name)
    allowed = rating.allowed_a if rating else None
    found = worst.hits.get(name)
    radial = worst.radial.get(name)
    if radial is not None and name not in worst.no_cuts and (found is None or radial.value_a >= found.hit.value_a):
        return _radial_part(harness, settings, thresholds, ratings, maker, radial, worst, firm, covers)
    if found is None or name in worst.no_cuts:
        unknown = unreadable or name in worst.too_large or name in worst.no_cuts
        note = "an output has no readable voltage" if unreadable else "no output is joined to it"
        if name in worst.too_large:
            note = f"not searched: it is connected with more than {LARGEST_PIECE} joints and contact sides"
        if name in worst.no_cuts:
            note = "not searched: the connected part of the harness is too large, or too many paths end at it"
        nothing = None if unknown else 0.0
        good = True if allowed is not None and not unknown else None
        return PartFault(
            id=name,
            sustained_fault_a=nothing,
            case=None,
            fault=None,
            allowed_a=allowed,
            protected=good,
            note=note,
            combined_overload_a=nothing,
        )
    found = _loads_in_place(found)
    hit, value = found.hit, with_slow_pulses(harness, settings, name, rating, found, worst)
    folds = bool(_folding(harness, found))
    most_power = _power_beside_pulses(found) or _draws_too_much(found)
    apart = hit.place is not None and found.driven_unlike
    is_sum = hit.adds_pulses or value > max(hit.value_a, 0.0) * (1.0 + SAME)
    raised, bounded = worst.raised.get(name), name in worst.bounded
    row = maker.row(found) if raised is None and not bounded else None
    combined_overload, combined_overload_case = worst.combined_overload.get(name, (value, found.case.id))
    if combined_overload < value:
        combined_overload, combined_overload_case = value, found.case.id
    answer = PartFault(
        id=name,
        sustained_fault_a=value,
        case=(raised or found.case).id,
        fault=row,
        whole=hit.extent >= WHOLE,
        combined_overload_a=combined_overload,
        combined_overload_case=combined_overload_case,
        combined_overload_of=_made_up(worst, name, combined_overload, max(value, allowed or 0.0)),
        allowed_a=allowed,
        held_by=row.held_by if row else None,
        protected_by=worst.cover.get(name, ()),
        heat_w_per_m=_heat_w_per_m(harness, found, name, value),
        back_fed_by=found.dead_output,
        exact_place=_exact(found) if row else None,
        loads_a=_drawing(found) if row else (),
        note=STATES
        if bounded
        else BETWEEN
        if hit.between_ends
        else PULSES
        if is_sum
        else FOLDS
        if folds
        else BOUND
        if most_power
        else APART
        if apart
        else "",
        exact=not (bounded or is_sum or hit.between_ends or folds or most_power or apart),
        cycle=_cycle(found) if row else (),
        fed_by_loads=hit.fed_by_loads,
    )
    if row is not None and allowed is not None and value > allowed and not (is_sum or hit.between_ends):
        answer = replace(
            answer,
            carries=_carrying(found, thresholds[found.case.id]),
            comes_through=_comes_through(found, thresholds[found.case.id], value),
        )
    ratio = device_per_part(found, answer.held_by)
    answer = with_holder(harness, thresholds, answer, found.case, ratio)
    return judged(_with_cover(answer, ratio, covers, settings.overload_band), firm.get(name))


def _with_cover(answer: PartFault, ratio: float, covers: BandCovers, band: float) -> PartFault:
    """An answer with the devices that satisfy the overload band, where it is above its allowed current.

    ``ratio``: current of the device that holds it per ampere in the part.
    """
    value, allowed = answer.sustained_fault_a, answer.allowed_a
    if value is None or allowed is None or value <= allowed * (1.0 + SAME) or answer.fault is None:
        return answer
    if answer.held_by is None or answer.held_a is None or ratio <= TINY or not math.isfinite(ratio):
        return answer
    found = covers.cover(answer.id, allowed, band, WorstFault(value, answer.held_by, answer.held_a, ratio))
    if found is None:
        return answer
    return replace(
        answer,
        in_band=True,
        at_rating_a=found.at_rating_a,
        tripping_within_s=found.tripping_within_s,
        protected_by=found.devices,
    )


def _made_up(worst: WorstFaults, name: str, value_a: float, over_a: float) -> tuple[tuple[str, float], ...]:
    """How a combined overload current above ``over_a`` A is made up, where the search that found it is known."""
    found = worst.combined_from.get(name)
    if found is None or found[0] != value_a or value_a <= over_a * (1.0 + SAME) or not math.isfinite(value_a):
        return ()
    return made_up(found[1], found[2], value_a)


def _radial_part(
    harness: Harness,
    settings: AnalysisSettings,
    thresholds: ThresholdsByCase,
    ratings: Mapping[str, Rating],
    maker: RowMaker,
    found: RadialFound,
    worst: WorstFaults,
    firm: Mapping[str, float],
    covers: BandCovers,
) -> PartFault:
    name, p, radial = found.id, found.part, found.radial
    rating = ratings.get(name)
    allowed = rating.allowed_a if rating else None
    raised, bounded = worst.raised.get(name), name in worst.bounded
    row = maker.radial_row(found.key) if raised is None and not bounded else None
    value, gain, exact = found.value_a, float(radial.gain[p]), bool(radial.exact[p])
    combined_overload, combined_overload_case = worst.combined_overload.get(name, (value, found.case.id))
    ratio = found.device_share / gain if gain > TINY else math.inf
    pulses = radial.piece.piece.pulses
    answer = PartFault(
        id=name,
        sustained_fault_a=value,
        case=(raised or found.case).id,
        fault=row,
        whole=bool(radial.extent[p] >= WHOLE),
        combined_overload_a=max(combined_overload, value),
        combined_overload_case=combined_overload_case if combined_overload >= value else found.case.id,
        allowed_a=allowed,
        protected_by=_radial_cover(worst, name, allowed) if allowed is not None else (),
        note=STATES if bounded else UNFOLLOWED if pulses else "" if exact else BOUND,
        held_by=found.held_by if row else None,
        heat_w_per_m=_heat_of(harness, name, value, radial.ohm(p)),
        exact_place=where(found).exact if row else None,
        loads_a=found.loads_a if row else (),
        exact=exact and not bounded and not pulses,
    )
    answer = with_holder(harness, thresholds, answer, found.case, ratio)
    found_safe = judged(_with_cover(answer, ratio, covers, settings.overload_band), firm.get(name))
    return replace(found_safe, protected=None) if pulses and found_safe.protected else found_safe


def _radial_cover(worst: WorstFaults, name: str, allowed: float) -> tuple[str, ...]:
    """Devices that protect a part in every network of the arrangement."""
    found: tuple[str, ...] | None = None
    for radial in worst.radials:
        part = radial.row_of.get(name)
        if part is not None:
            here = covering(RadialFound(radial, part, worst.radial[name].case, 0.0), allowed)
            found = here if found is None else tuple(x for x in found if x in here)
    return found or ()


def back_fed(maker: RowMaker, ratings: Mapping[str, Rating], name: str, found: FoundHit) -> PartFault:
    """The answer of a part for an output that is shorted inside."""
    rating = ratings.get(name)
    row = maker.row(found)
    return PartFault(
        id=name,
        sustained_fault_a=found.hit.value_a,
        case=found.case.id,
        fault=row,
        allowed_a=rating.allowed_a if rating else None,
        held_by=row.held_by if row else None,
        back_fed_by=found.dead_output,
    )


def _exact(found: FoundHit) -> tuple[str, str] | None:
    place = found.hit.place
    if place is None:
        return None
    ids = found.search.variant.piece.branches.ids
    at, to = (
        name if point.branch < 0 else f"{ids[point.branch]}:{point.share:.12f}"
        for point, name in ((place.high, place.at), (place.low, place.to))
    )
    return at, to


def _drawing(found: FoundHit) -> tuple[tuple[str, float], ...]:
    search = found.search
    ids = [search.variant.piece.loads.ids[k] for k in search.loaded.load_at.tolist()]
    return tuple((name, float(a)) for name, a in zip(ids, found.hit.loads_a, strict=True) if a > TINY)


def _loads_in_place(found: FoundHit) -> FoundHit:
    """The same state with the fault taking what loads at its own two points draw: the network carries the same.

    A load of constant power draws less the more voltage the fault leaves, so the fault alone is surely reached.
    """
    hit, loaded = found.hit, found.search.loaded
    if hit.place is None or hit.fed_by_loads:
        return found
    high, low = hit.place.high, hit.place.low
    if high.branch >= 0 or low.branch >= 0:
        return found
    there = (loaded.plus == high.a) & (loaded.minus == low.a) & (loaded.share >= 1.0) & (hit.loads_a > TINY)
    if not there.any():
        return found
    taken_a = hit.fault_a + float(hit.loads_a[there].sum())
    return replace(found, hit=replace(hit, fault_a=taken_a, loads_a=np.where(there, 0.0, hit.loads_a)))


def _power_beside_pulses(found: FoundHit) -> bool:
    """Whether a load of constant power draws where loads pulse: it counts at the lowest voltage of a period."""
    loaded = found.search.loaded
    drawing = (found.hit.loads_a > TINY) & (loaded.kind == POWER)
    return bool(drawing.any() and (loaded.share < 1.0).any())


def _draws_too_much(found: FoundHit) -> bool:
    """Whether a load counts with more than it draws at the voltage that it has in the state that was found."""
    hit, loaded = found.hit, found.search.loaded
    if not (hit.loads_a > TINY).any():
        return False
    volts = loaded.load_open_v - loaded.load_pair @ hit.loads_a
    if hit.place is not None:
        volts = volts - loaded.response([hit.place]).at_load[0] * hit.fault_a
    volts = np.maximum(volts, TINY)
    own = np.where(loaded.kind == POWER, np.maximum(loaded.demand / volts, loaded.case_a), np.inf)
    # Below its least voltage it stops.
    own = np.where((loaded.kind == POWER) & (volts < loaded.minimum * (1.0 - DRAWN_AS_IS)), 0.0, own)
    own = np.where(loaded.kind == RESISTANCE, volts / np.maximum(loaded.demand, TINY), own)
    return bool((hit.loads_a > own * (1.0 + DRAWN_AS_IS) + TINY).any())


def _folding(harness: Harness, found: FoundHit) -> tuple[str, ...]:
    """Outputs and limiters that fold back and count as holding their limit in the state that was found."""
    variant = found.search.variant
    holding = np.flatnonzero(variant.piece.holds & ~variant.closed)
    ids = (variant.piece.branches.ids[k] for k in holding.tolist() if k != variant.dead)
    drawn = {name: harness.by_id[name].under(found.case.arrangement) for name in ids}
    return tuple(name for name, part in drawn.items() if getattr(part, "behaviour", None) is Behaviour.FOLDBACK)


def _carrying(found: FoundHit, thresholds: Mapping[str, Threshold]) -> frozenset[str] | None:
    """The devices and outputs that carry current in the state that was found; None where loads feed the fault."""
    amps = _branch_currents(found)
    if amps is None:
        return None
    ids = found.search.variant.piece.branches.ids
    return frozenset(ids[k] for k in np.flatnonzero(amps > CARRIES_NOTHING_A).tolist() if ids[k] in thresholds)


def _comes_through(
    found: FoundHit, thresholds: Mapping[str, Threshold], value_a: float
) -> tuple[tuple[str, float], ...]:
    """The sources of a part's current of ``value_a`` A, where there are several: see ``PartFault``."""
    amps, piece = _branch_currents(found), found.search.variant.piece
    if amps is None:
        return ()
    ids = piece.branches.ids
    holding = [k for k in range(len(ids)) if ids[k] in thresholds and math.isfinite(piece.held_a[k])]
    holding = [k for k in holding if amps[k] >= piece.held_a[k] * (1.0 - NEAR_HELD)]
    parts: list[tuple[str, float]] = []
    for k in piece.sources:
        if amps[k] > CARRIES_NOTHING_A:
            # What holds the current of this source alone stands in its way.
            own = [d for d in holding if abs(amps[d] - amps[k]) <= NEAR_HELD * amps[k]]
            parts.append((ids[k if k in own or not own else own[0]], float(amps[k])))
    total_a = sum(a for _, a in parts)
    return tuple(parts) if len(parts) > 1 and abs(total_a - value_a) <= NEAR_HELD * value_a else ()


def _branch_currents(found: FoundHit) -> FloatArray | None:
    """Magnitudes in A by branch in the state that was found; None where loads feed the fault."""
    hit, search = found.hit, found.search
    if hit.place is None or hit.fed_by_loads:
        return None
    through = search.loaded.response([hit.place]).branch[:, 0]
    amps: FloatArray = np.abs(
        search.variant.flows.own_a + search.loaded.load_branch @ hit.loads_a + through * hit.fault_a
    )
    return amps


def _cycle(found: FoundHit) -> tuple[tuple[float, tuple[tuple[str, float], ...]], ...]:
    """The loads' currents in each part of a period, where any of those that draw pulses."""
    loaded, hit = found.search.loaded, found.hit
    if not ((loaded.share < 1.0) & (hit.loads_a > TINY)).any():
        return ()
    ids = [found.search.variant.piece.loads.ids[k] for k in loaded.load_at.tolist()]
    return tuple(
        (share, tuple((name, float(a)) for name, a in zip(ids, hit.loads_a * level, strict=True) if a > TINY))
        for share, level in loaded.cycle
    )


def _heat_w_per_m(harness: Harness, found: FoundHit, name: str, value: float) -> float | None:
    if not isinstance(harness.by_id[name], Conductor):
        return None
    return _heat_of(harness, name, value, float(found.search.variant.piece.branches.resistance_ohm[found.branch]))


def _heat_of(harness: Harness, name: str, value: float, ohm: float) -> float | None:
    part = harness.by_id[name]
    if not isinstance(part, Conductor) or not part.length_m:
        return None
    return float(value**2 * ohm / part.length_m)
