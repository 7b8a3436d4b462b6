"""Temperatures of conductors and contacts from their currents: estimates that stand beside the rating tables."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping

import numpy as np

from loadloom.graph.conductors import insulation_of, unit_resistance
from loadloom.graph.elements import Conductor, Gauge
from loadloom.graph.harness import Harness
from loadloom.graph.heat_balance import (
    WireBody,
    body_of,
    conductor_temperature_c,
    free_air_current_a,
    pressure_pa,
)
from loadloom.graph.results import Rating
from loadloom.graph.settings import AnalysisSettings

CONTACT_RISE_EXPONENTS = (1.8, 2.0)
"""A contact's rise grows as current to the 1.8th … 2nd power; common practice, no published source."""


def wire_body(gauge: Gauge, settings: AnalysisSettings) -> WireBody:
    """The body of a conductor of a size, for the heat balance; its insulation wall is an assumed one.

    Where a resistance table is chosen its value counts, otherwise area × resistivity with the lay factor.
    """
    unit = unit_resistance(gauge, settings)
    return body_of(gauge.area_mm2, unit.r20_ohm_per_m, unit.alpha20_per_k)


def own_temperatures_c(
    harness: Harness,
    currents_a: Mapping[str, float],
    settings: AnalysisSettings,
    ratings: Mapping[str, Rating] | None = None,
) -> dict[str, float]:
    """Temperature in °C of every conductor of known size at its steady (RMS) current in A, by id.

    In the zone's greatest ambient; alone in still air by the heat balance. In a bundle or cable the current counts
    as much greater as the rating (its margin given back) is less than the free-air current: at the allowed current
    the insulation reaches its limit. The melting point of copper stands for anything hotter. A conductor with no
    readable gauge is left out.
    """
    air_pa = float(pressure_pa(settings.altitude_m))
    alike: dict[tuple[Gauge, float], list[Conductor]] = defaultdict(list)
    for conductor in harness.conductors:
        if conductor.gauge is not None and conductor.id in currents_a:
            alike[conductor.gauge, settings.ambient(conductor.zone).max_c].append(conductor)
    found: dict[str, float] = {}
    for (gauge, ambient_c), group in alike.items():
        body = wire_body(gauge, settings)
        limits_c = np.array([insulation_of(c, settings).limit_c for c in group])
        allowed_a = np.array([_allowed_before_margin_a(c, ratings) for c in group])
        free_a = free_air_current_a(body, limits_c, ambient_c, air_pa)
        counting = np.maximum(1.0, np.divide(free_a, allowed_a, out=np.ones_like(free_a), where=allowed_a > 0))
        current_a = np.array([abs(currents_a[c.id]) for c in group]) * counting
        warm_c = conductor_temperature_c(body, current_a, ambient_c, air_pa)
        found.update(zip((c.id for c in group), warm_c.tolist(), strict=True))
    return found


def contact_rise_k(current_a: float, rated_a: float, rise_k: float) -> float:
    """Rise in K of a contact at a current, from its rise at the rated current.

    rise × (I/I_rated)^n with the n between 1.8 and 2 that gives more (common practice, no published source).
    ValueError for a rated current that is not positive.
    """
    if rated_a <= 0:
        raise ValueError("the rated current must be positive")
    share = abs(current_a) / rated_a
    return rise_k * max(share**n for n in CONTACT_RISE_EXPONENTS)


def _allowed_before_margin_a(conductor: Conductor, ratings: Mapping[str, Rating] | None) -> float:
    """What the basis allows a bundled conductor, the policy margin given back; inf where it is alone or unrated."""
    rating = ratings.get(conductor.id) if ratings else None
    if rating is None or rating.allowed_a is None or not (conductor.bundle or conductor.cable):
        return math.inf
    margin = math.prod(f.factor for f in rating.factors if f.kind == "margin")
    return float(rating.allowed_a / margin) if margin > 0 else math.inf
