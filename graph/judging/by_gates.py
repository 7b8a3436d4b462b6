"""Parts that do not stand the most that the gates of a standard leave a device to clear in."""

from __future__ import annotations

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.late_clearing import has_gates, late_stress, only_bounded, stall_stress
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.short_circuits.short_circuits import Short


def by_gates(facts: Facts) -> dict[str, tuple[str, float]]:
    """By device that is known by gates alone: a part that does not stand the most that they leave, and for how
    long in s; of several the part that is most over.
    """
    found: dict[str, tuple[float, str, float]] = {}
    for short in facts.protection.short_circuits.every:
        row = short.row
        if row.cleared_by is not None and row.slowest_s is not None and only_bounded(facts, row):
            over = _over_by_gate(facts, short)
            if exceeds(over, 1.0) and over > found.get(row.cleared_by, (0.0,))[0]:
                found[row.cleared_by] = (over, short.part, row.slowest_s)
    for stall in facts.protection.stalls:
        worst = stall_stress(facts, stall)
        if worst is not None and exceeds(worst[0], 1.0):
            for name in stall.cleared_by:
                if has_gates(facts, name) and name not in found:
                    found[name] = (worst[0], worst[1].id, stall.slowest_s or 0.0)
    return {name: (part, seconds) for name, (_, part, seconds) in found.items()}


def _over_by_gate(facts: Facts, short: Short) -> float:
    """The most that a gate leaves a part to stand, over what it does stand; what is not known of the part is told
    by other findings."""
    row, rating = short.row, facts.ratings.get(short.part)
    allowed_a = (rating.allowed_a if rating is not None else None) or 0.0
    if row.adiabatic_in_range is False:
        stress = late_stress(facts, short)
        if stress is not None:
            return stress.over
    if row.i2t_a2s is None or not row.withstand_a2s or not exceeds(short.own_greatest_a, allowed_a):
        return 0.0
    shed_a2s = 0.0 if row.adiabatic_in_range else allowed_a**2 * (row.slowest_s or 0.0)
    return (row.i2t_a2s - shed_a2s) / row.withstand_a2s
