"""Pulses that are slow beside a part's own thermal time constant: its warmest moment counts, not the mean heat.

The search counts a load that pulses with its root mean square, which is right while the period is short. A part
that warms and cools within a period gets warmer: what each load's pulses add to it is raised to the continuous
current that makes the part as warm as it gets (``Pulse.equal_heat``). The sum of these is no less than what they
make together, and no moment has more than devices let through: a bound.
"""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.loading import pulse_of
from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.faults.piece import POWER, RESISTANCE
from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.faults.tolerances import TINY
from loadloom.graph.faults.worst_faults import FoundHit, WorstFaults
from loadloom.graph.heat.one_body import time_constant_s
from loadloom.graph.model.elements import Conductor, Load
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings, Case


def with_slow_pulses(
    harness: Harness,
    settings: AnalysisSettings,
    name: str,
    rating: Rating | None,
    found: FoundHit,
    worst: WorstFaults,
) -> float:
    """A part's sustained fault current in A with pulses that are slow for it, never less than what was found."""
    value_a, at_once_a = max(found.hit.value_a, 0.0), worst.at_once.get(name, np.inf)
    more_a = added_by_slow_pulses_a(
        harness, settings, name, rating, found.search, found.branch, found.case, found.hit.loads_a
    )
    return max(value_a, min(value_a + more_a, at_once_a))


def added_by_slow_pulses_a(
    harness: Harness,
    settings: AnalysisSettings,
    name: str,
    rating: Rating | None,
    search: Search,
    branch: int,
    case: Case,
    drawn_a: FloatArray,
) -> float:
    """What slow pulses add to a part at the most, in A; ``drawn_a`` (L,) what loads of constant power draw besides.

    A part whose time constant is not determined takes pulses by their root mean square.
    """
    loaded, part = search.loaded, harness.by_id[name]
    pulsing = np.flatnonzero(loaded.share < 1.0)
    if not len(pulsing) or not isinstance(part, Conductor) or rating is None or not rating.allowed_a:
        return 0.0
    settles_s = time_constant_s(part, settings, rating.allowed_a)
    if settles_s is None:
        return 0.0
    ids = search.variant.piece.loads.ids
    through = np.abs(search.load_branch[branch])
    added_a = 0.0
    for k in pulsing.tolist():
        load = harness.by_id[ids[int(loaded.load_at[k])]]
        pulse = pulse_of(load, case.state) if isinstance(load, Load) else None
        if pulse is not None and pulse.rms > TINY and through[k] > TINY:
            most_a = _most_a(search, k, float(drawn_a[k]))
            added_a += float(through[k]) * most_a * (pulse.equal_heat(settles_s) / pulse.rms - 1.0)
    return added_a


def _most_a(search: Search, k: int, drawn_a: float) -> float:
    """The most in A that a load draws, by its position among those that the search feeds."""
    loaded = search.loaded
    demand = float(loaded.demand[k])
    if loaded.kind[k] == RESISTANCE:
        return float(max(loaded.load_open_v[k], 0.0)) / demand
    if loaded.kind[k] == POWER:
        least_v = float(loaded.minimum[k])
        return max(float(loaded.case_a[k]), drawn_a, demand / least_v if least_v > 0.0 else 0.0)
    return demand
