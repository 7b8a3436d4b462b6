"""How a conductor withstands a short circuit that is cleared later than the adiabatic test reaches (5 s)."""

from __future__ import annotations

import math

from loadloom.graph.devices.device_bands import band_choice, fuse_inside
from loadloom.graph.facts.facts import Facts
from loadloom.graph.heat.two_body import Stress, two_bodies, worst_stress
from loadloom.graph.model.elements import Conductor, Device, DeviceKind
from loadloom.graph.model.results import ShortCircuitRow
from loadloom.graph.short_circuits.short_circuits import ADIABATIC_LIMIT_S, Short
from loadloom.graph.short_circuits.stalls import Stall


def only_bounded(facts: Facts, row: ShortCircuitRow) -> bool:
    """Whether a short's time, and so its heat, is the most that the gates of a standard leave: a fuse at any
    current, a breaker later than the adiabatic test reaches.

    That bound can show that a part is safe, never that it is damaged: most devices clear far sooner.
    """
    name = row.cleared_by or ""
    device = facts.harness.by_id.get(name)
    is_breaker = isinstance(device, Device) and device.kind is DeviceKind.BREAKER
    return has_gates(facts, name) and (row.adiabatic_in_range is False or not is_breaker)


def has_gates(facts: Facts, name: str) -> bool:
    """Whether the times of a device are the gates of a standard."""
    device = facts.harness.by_id.get(name)
    if not isinstance(device, Device):
        return False
    device = fuse_inside(device) or device
    if device.kind not in (DeviceKind.FUSE, DeviceKind.BREAKER):
        return False
    return not (curves := band_choice(device, facts.settings).curves) or any(curve.gates for curve in curves)


def late_stress(facts: Facts, short: Short) -> Stress | None:
    """The current of a short that takes more than 5 s, and its time, against what its conductor withstands for that
    time; the worst of all orders in which it is cleared. Above 1 the conductor is damaged. None where that is not
    determined: of a contact, of a conductor whose section or insulation is not known. A bound where a gate gives
    the time (``only_bounded``).
    """
    part, rating = facts.harness.by_id[short.part], facts.ratings.get(short.part)
    if not isinstance(part, Conductor) or rating is None or not rating.allowed_a:
        return None
    bodies = two_bodies(part, facts.settings, rating.allowed_a)
    late = [(a, s) for a, s in short.cleared if s > ADIABATIC_LIMIT_S]
    return worst_stress(bodies, late) if bodies is not None and late else None


def stall_stress(facts: Facts, stall: Stall) -> tuple[float, Conductor] | None:
    """The current of a stalled load over what a conductor on its path withstands until something opens: the
    greatest, and its conductor; None where no time is known. A bound where a gate gives it (``has_gates``).
    """
    slowest_s = stall.slowest_s
    if slowest_s is None or not math.isfinite(slowest_s) or not stall.cleared_by:
        return None
    worst: tuple[float, Conductor] | None = None
    for part in facts.harness.conductors:
        rating, current_a = facts.ratings.get(part.id), stall.carried_a.get(part.id, 0.0)
        if rating is None or not rating.allowed_a or current_a <= rating.allowed_a:
            continue
        bodies = two_bodies(part, facts.settings, rating.allowed_a)
        over = worst_stress(bodies, [(current_a, slowest_s)]).over if bodies is not None else 0.0
        if worst is None or over > worst[0]:
            worst = (over, part)
    return worst
