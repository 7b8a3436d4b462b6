"""Enclosures: how warm it is inside from the heat that is made there."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from loadloom.graph.heat.box import (
    AIR_GAS_CONSTANT_J_PER_KGK,
    AIR_HEAT_CAPACITY_J_PER_KGK,
    faces_of,
    heat_through_walls_w,
)
from loadloom.graph.heat.zone_heat import ZoneHeat
from loadloom.graph.model.settings import AnalysisSettings, Enclosure
from loadloom.graph.ratings.heat_balance import ZERO_C_K, pressure_pa

SETTLED_K = 0.01
MOST_ROUNDS = 40

RUNAWAY_C = 300.0
"""From here on an enclosure is taken to run away; no insulation in it would stand that."""


@dataclass(frozen=True, slots=True)
class Inside:
    """Temperature inside in °C with the heat that holds it there; ``settled`` false where it runs away.

    ``outside_c`` is the air outside, ``sun_w`` the sun's heat that the enclosure takes.
    """

    inside_c: float
    heat: ZoneHeat
    settled: bool
    outside_c: float
    sun_w: float = 0.0

    @property
    def conductance_w_per_k(self) -> float | None:
        """Heat carried off for each kelvin that it is warmer inside, in W/K; None where it is no warmer."""
        rise_k = self.inside_c - self.outside_c
        return (self.heat.total_w + self.sun_w) / rise_k if rise_k > 0 else None


def by_air_w_per_k(enclosure: Enclosure, outside_c: float, altitude_m: float = 0.0) -> float:
    """Heat that a stream of outside air carries off per kelvin, ρ·cp·V̇, in W/K; ρ is that of the air outside."""
    density_kg_per_m3 = float(pressure_pa(altitude_m)) / (AIR_GAS_CONSTANT_J_PER_KGK * (outside_c + ZERO_C_K))
    return density_kg_per_m3 * AIR_HEAT_CAPACITY_J_PER_KGK * enclosure.air_flow_m3_per_s


def inside_temperature_c(enclosure: Enclosure, heat_w: float, outside_c: float, altitude_m: float = 0.0) -> float:
    """Mean temperature inside at which walls and air carry off the heat made inside and the sun's.

    At most ``RUNAWAY_C``. ValueError for values below zero, and where nothing carries the heat off.
    """
    numbers = (enclosure.surface_m2, enclosure.surface_coefficient_w_per_m2k or 0.0, enclosure.air_flow_m3_per_s)
    if min(numbers) < 0:
        raise ValueError("surface, coefficient and air flow can't be below zero")
    heat_w, by_air = max(heat_w, 0.0), by_air_w_per_k(enclosure, outside_c, altitude_m)
    faces = faces_of(enclosure)
    surface_m2 = sum(face.area_m2 for face in faces)
    if surface_m2 <= 0 and by_air <= 0:
        if heat_w <= 0:
            return outside_c
        raise ValueError("an enclosure with neither surface nor air flow can't give off heat")
    if enclosure.surface_coefficient_w_per_m2k is not None or surface_m2 <= 0:
        # A constant for the walls: all of the sun's heat counts as made inside.
        heat_w += sum(face.sun_w for face in faces)
        conductance = surface_m2 * (enclosure.surface_coefficient_w_per_m2k or 0.0) + by_air
        return min(outside_c + heat_w / conductance, RUNAWAY_C)
    air_pa = float(pressure_pa(altitude_m))

    def left_w(inside_c: float) -> float:
        through = heat_through_walls_w(enclosure, inside_c, outside_c, air_pa)
        return heat_w - through - by_air * (inside_c - outside_c)

    if left_w(RUNAWAY_C) >= 0:
        return RUNAWAY_C
    if left_w(outside_c) <= 0:
        return outside_c
    from scipy.optimize import brentq  # 0.1 s that only an enclosure needs

    return float(brentq(left_w, outside_c, RUNAWAY_C, xtol=1e-4))


def settle_zones(
    settings: AnalysisSettings, heat_by_zone_w: Callable[[AnalysisSettings], Mapping[str, ZoneHeat]]
) -> tuple[AnalysisSettings, dict[str, Inside]]:
    """The settings with every enclosure's zone as warm as the heat made in it leaves it, and what was found.

    ``heat_by_zone_w`` solves with the settings it is given and returns the heat in W made in every zone. Only the
    greatest ambient is raised: the least one is the enclosure switched off. All enclosures settle together, each by
    the secant of its own temperature; the answer is within ``SETTLED_K`` by the slope found. One whose heat grows
    as fast as it is carried off, or faster, is not ``settled``, and its temperature a lower bound.
    """
    warm = settings
    found: dict[str, Inside] = {}
    before: dict[str, tuple[float, float]] = {}
    slopes: dict[str, float] = {}
    for _ in range(MOST_ROUNDS if settings.enclosures else 0):
        heats = heat_by_zone_w(warm)
        zones = dict(settings.zones)
        left_k = 0.0
        for zone, enclosure in settings.enclosures.items():
            outside = settings.ambient(zone)
            heat = heats.get(zone, ZoneHeat())
            at_c = warm.ambient(zone).max_c
            warmed_c = inside_temperature_c(enclosure, heat.total_w, outside.max_c, settings.altitude_m)
            last_c, last_warmed_c = before.get(zone, (at_c, warmed_c))
            if abs(at_c - last_c) > 10 * SETTLED_K:  # closer together it is the solve's own tolerance that is seen
                slopes[zone] = max(0.0, (warmed_c - last_warmed_c) / (at_c - last_c))
            slope = slopes.get(zone, 0.0)
            before[zone] = at_c, warmed_c
            # Where heat gains on what carries it off there is no fixed point above: walk on until it has run away.
            step_k = (warmed_c - at_c) / (1.0 - slope) if slope < 1.0 else warmed_c - at_c
            left_k = max(left_k, abs(step_k) if slope < 1.0 else math.inf)
            inside_c = max(outside.max_c, min(at_c + step_k, RUNAWAY_C))
            zones[zone] = replace(outside, max_c=inside_c)
            found[zone] = Inside(inside_c, heat, True, outside.max_c, _sun_w(enclosure))
        warm = replace(warm, zones=zones)
        if any(inside.inside_c >= RUNAWAY_C for inside in found.values()):
            break
        if left_k < SETTLED_K:
            return warm, found
    return warm, {zone: replace(inside, settled=False) for zone, inside in found.items()}


def _sun_w(enclosure: Enclosure) -> float:
    return sum(face.sun_w for face in faces_of(enclosure))
