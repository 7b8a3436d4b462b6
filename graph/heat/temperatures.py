"""Temperatures of conductors and contacts from their currents: estimates that stand beside the rating tables."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping
from functools import lru_cache

import numpy as np

from loadloom.graph.heat.conductors import unit_resistances
from loadloom.graph.model.elements import Conductor, Gauge, Make
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.bundles import bundle_of, loaded_counts
from loadloom.graph.ratings.conductor_rating import rate_conductors
from loadloom.graph.ratings.heat_balance import (
    CURVES_KEPT,
    LAY,
    WireBody,
    body_of,
    conductor_temperature_c,
    free_air_current_a,
    pressure_pa,
)
from loadloom.graph.ratings.insulation import insulation_of
from loadloom.graph.ratings.resistance import COPPER

CONTACT_RISE_EXPONENTS = (1.8, 2.0)
"""A contact's rise grows as current to the 1.8th … 2nd power; common practice, no published source."""


def wire_body(conductor: Conductor, settings: AnalysisSettings) -> WireBody:
    """The body of a conductor of known size, for the heat balance; its insulation wall is an assumed one.

    The greatest resistance of its band heats it most. Bare copper gets the lay factor; published values have it.
    """
    assert conductor.gauge is not None
    unit = unit_resistances(conductor, settings).greatest
    lay = LAY if settings.resistance_table == COPPER else 1.0
    return body_of(conductor.gauge.area_mm2, unit.r20_ohm_per_m * lay, unit.alpha20_per_k)


def own_temperatures_c(
    harness: Harness,
    currents_a: Mapping[str, float],
    settings: AnalysisSettings,
    ratings: Mapping[str, Rating] | None = None,
    only: Collection[str] | None = None,
) -> dict[str, float]:
    """Temperature in °C of every conductor of known size, or of ``only`` some, at its steady (RMS) current in A.

    In the zone's greatest ambient; alone in still air by the heat balance. In a bundle or cable the current counts
    as much greater as the rating (its margin given back) is less than the free-air current: at the allowed current
    the insulation reaches its limit. ``ratings`` by conductor id; without it the basis rates the bundled ones for
    the conductors that these currents load. The melting point of copper stands for anything hotter. A conductor
    with no readable gauge is left out.
    """
    if ratings is None:
        bundled = {c.id for c in harness.conductors if (only is None or c.id in only) and bundle_of(c) is not None}
        ratings = rate_conductors(harness, settings, loaded_counts(harness, currents_a), only=bundled)
    air_pa = float(pressure_pa(settings.altitude_m))
    alike: dict[tuple[Gauge, Make, str | None, str | None], list[Conductor]] = defaultdict(list)
    for conductor in harness.conductors:
        if conductor.gauge is not None and conductor.id in currents_a and (only is None or conductor.id in only):
            alike[conductor.gauge, conductor.make, conductor.insulation, conductor.zone].append(conductor)
    found: dict[str, float] = {}
    for (_, _, _, zone), group in alike.items():
        ambient_c = settings.ambient(zone).max_c
        body = wire_body(group[0], settings)
        free_a = _free_air_a(body, insulation_of(group[0], settings).limit_c, ambient_c, air_pa)
        current_a = np.array([_counting_a(c, currents_a[c.id], free_a, ratings) for c in group])
        warm_c = conductor_temperature_c(body, current_a, ambient_c, air_pa)
        found.update(zip((c.id for c in group), warm_c.tolist(), strict=True))
    return found


@lru_cache(maxsize=CURVES_KEPT)
def _free_air_a(body: WireBody, limit_c: float, ambient_c: float, air_pa: float) -> float:
    return float(free_air_current_a(body, limit_c, ambient_c, air_pa))


def contact_rise_k(current_a: float, rated_a: float, rise_k: float) -> float:
    """Rise in K of a contact at a current, from its rise at the rated current.

    rise × (I/I_rated)^n with the n between 1.8 and 2 that gives more (common practice, no published source).
    ValueError for a rated current that is not positive.
    """
    if rated_a <= 0:
        raise ValueError("the rated current must be positive")
    share = abs(current_a) / rated_a
    return rise_k * max(math.pow(share, n) for n in CONTACT_RISE_EXPONENTS)


def _counting_a(
    conductor: Conductor, current_a: float, free_a: float, ratings: Mapping[str, Rating] | None
) -> float:
    """The current in still air that heats alone as much as this one does in its bundle."""
    rating = ratings.get(conductor.id) if ratings else None
    if rating is None or not rating.allowed_a or bundle_of(conductor) is None:
        return current_a
    margin = math.prod(f.factor for f in rating.factors if f.kind == "margin")
    return current_a * max(1.0, free_a * float(margin) / rating.allowed_a)
