"""Pulses that are slow beside a part's own thermal time constant: its warmest moment counts, not the mean heat.

The search counts a load that pulses with its root mean square, which is right while the period is short. A part
that warms and cools within a period gets warmer: what each load's pulses add to it is raised to the continuous
current that makes the part as warm as it gets (``Pulse.equal_heat``). The sum of these is no less than what they
make together, and no moment has more than devices let through: a bound.
"""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.loading import pulse_of
from loadloom.graph.faults.piece import POWER, RESISTANCE
from loadloom.graph.faults.tolerances import TINY
from loadloom.graph.faults.worst_faults import FoundHit, WorstFaults
from loadloom.graph.heat.one_body import time_constant_s
from loadloom.graph.model.elements import Conductor, Load
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings


def with_slow_pulses(
    harness: Harness,
    settings: AnalysisSettings,
    name: str,
    rating: Rating | None,
    found: FoundHit,
    worst: WorstFaults,
) -> float:
    """A part's sustained fault current in A with pulses that are slow for it, never less than what was found.

    A part whose time constant is not determined takes pulses by their root mean square.
    """
    value_a = max(found.hit.value_a, 0.0)
    loaded, part = found.search.loaded, harness.by_id[name]
    pulsing = np.flatnonzero(loaded.share < 1.0)
    if not len(pulsing) or not isinstance(part, Conductor) or rating is None or not rating.allowed_a:
        return value_a
    settles_s = time_constant_s(part, settings, rating.allowed_a)
    if settles_s is None:
        return value_a
    ids = found.search.variant.piece.loads.ids
    through = np.abs(found.search.load_branch[found.branch])
    added_a = 0.0
    for k in pulsing.tolist():
        load = harness.by_id[ids[int(loaded.load_at[k])]]
        pulse = pulse_of(load, found.case.state) if isinstance(load, Load) else None
        if pulse is not None and pulse.rms > TINY and through[k] > TINY:
            added_a += float(through[k]) * _most_a(found, k) * (pulse.equal_heat(settles_s) / pulse.rms - 1.0)
    return max(value_a, min(value_a + added_a, worst.at_once.get(name, np.inf)))


def _most_a(found: FoundHit, k: int) -> float:
    """The most in A that a load draws, by its position among those that the search feeds."""
    loaded = found.search.loaded
    demand = float(loaded.demand[k])
    if loaded.kind[k] == RESISTANCE:
        return float(max(loaded.load_open_v[k], 0.0)) / demand
    if loaded.kind[k] == POWER:
        least_v = float(loaded.minimum[k])
        return max(float(loaded.case_a[k]), float(found.hit.loads_a[k]), demand / least_v if least_v > 0.0 else 0.0)
    return demand
