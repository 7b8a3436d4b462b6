"""What batteries give and take in the load cases: charging current, and how long their charge lasts."""

from __future__ import annotations

import math

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Output

LEAST_A = 1e-3
"""Less than a milliampere neither charges a battery nor empties it."""


def greatest_charge_a(facts: Facts, output: Output) -> tuple[float, str | None]:
    """The greatest current in A that flows into an output's plus terminal, and its case; 0 where none does.

    With the loads of every case, and with none at all while it is empty.
    """
    worst: tuple[float, str | None] = (0.0, None)
    for case in facts.cases:
        solved = [state.solution for state in facts.loaded_corners.get(case.id, ())]
        for solution in (*solved, *facts.charging.get(case.arrangement, ())):
            k = solution.network.source_index.get(output.id)
            if k is not None and -float(solution.source_a[k]) > max(LEAST_A, worst[0]):
                worst = (-float(solution.source_a[k]), case.id)
    return worst


def run_times_s(facts: Facts, output: Output) -> dict[str, float | None]:
    """How long a full battery feeds every case, in s by case id: its capacity over the greatest continuous current.

    None where that is not known, or where the case does not empty it. The capacity counts as stated: at another
    rate or in the cold a battery gives less.
    """
    if output.battery is None or output.battery.capacity_ah is None or output.id not in facts.currents:
        return {}
    charge_as = 3600.0 * output.battery.capacity_ah
    currents = facts.currents[output.id].continuous_a
    return {case: charge_as / amps if amps > LEAST_A else None for case, amps in currents.items()}


def shortest(times_s: dict[str, float | None]) -> float | None:
    """The shortest of some times; None where none is known."""
    least = min((t for t in times_s.values() if t is not None), default=math.inf)
    return least if math.isfinite(least) else None
