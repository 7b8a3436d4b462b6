"""Enclosures: how warm it is inside from the heat that is made there."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from loadloom.graph.heat_balance import ZERO_C_K, pressure_pa
from loadloom.graph.settings import AnalysisSettings, Enclosure

AIR_HEAT_CAPACITY_J_PER_KGK = 1006.0
"""Dry air at constant pressure near 300 K (US Standard Atmosphere 1976: 7/2 · R)."""

AIR_GAS_CONSTANT_J_PER_KGK = 287.05287
"""Dry air, US Standard Atmosphere 1976."""

SETTLED_K = 0.01
MOST_ROUNDS = 60

RUNAWAY_C = 300.0
"""Above this an enclosure is taken to run away; no insulation in it would stand that."""


@dataclass(frozen=True, slots=True)
class Inside:
    """Temperature inside in °C with the heat in W that holds it there; ``settled`` false where it runs away."""

    inside_c: float
    heat_w: float
    settled: bool


def conductance_w_per_k(enclosure: Enclosure, outside_c: float, altitude_m: float = 0.0) -> float:
    """Heat carried off per kelvin, in W/K: surface × coefficient + ρ·cp·V̇ (energy balance of the air stream).

    The density is that of the outside air at its pressure. ValueError for values below zero.
    """
    if min(enclosure.surface_m2, enclosure.surface_coefficient_w_per_m2k, enclosure.air_flow_m3_per_s) < 0:
        raise ValueError("surface, coefficient and air flow can't be below zero")
    density_kg_per_m3 = float(pressure_pa(altitude_m)) / (AIR_GAS_CONSTANT_J_PER_KGK * (outside_c + ZERO_C_K))
    by_air = density_kg_per_m3 * AIR_HEAT_CAPACITY_J_PER_KGK * enclosure.air_flow_m3_per_s
    return enclosure.surface_m2 * enclosure.surface_coefficient_w_per_m2k + by_air


def inside_temperature_c(enclosure: Enclosure, heat_w: float, outside_c: float, altitude_m: float = 0.0) -> float:
    """Mean temperature inside: outside + heat / conductance. ValueError where nothing carries the heat off."""
    conductance = conductance_w_per_k(enclosure, outside_c, altitude_m)
    if conductance <= 0:
        if heat_w <= 0:
            return outside_c
        raise ValueError("an enclosure with neither surface nor air flow can't give off heat")
    return outside_c + max(heat_w, 0.0) / conductance


def settle(
    enclosure: Enclosure,
    heat_at_w: Callable[[float], float],
    outside_c: float,
    altitude_m: float = 0.0,
) -> Inside:
    """The fixed point of inside temperature and heat, where the heat depends on the temperature inside.

    ``heat_at_w`` gives the heat in W at an inside temperature in °C (warm copper and a derated supply make more).
    Not settled: it runs away, and the last temperature is a lower bound.
    """
    inside_c = outside_c
    for _ in range(MOST_ROUNDS):
        heat_w = heat_at_w(inside_c)
        warmer_c = inside_temperature_c(enclosure, heat_w, outside_c, altitude_m)
        if abs(warmer_c - inside_c) < SETTLED_K:
            return Inside(warmer_c, heat_w, True)
        inside_c = warmer_c
        if inside_c > RUNAWAY_C:
            break
    return Inside(inside_c, heat_at_w(inside_c), False)


def settle_zones(
    settings: AnalysisSettings, heat_by_zone_w: Callable[[AnalysisSettings], Mapping[str, float]]
) -> tuple[AnalysisSettings, dict[str, Inside]]:
    """The settings with every enclosure's zone as warm as the heat made in it leaves it, and what was found.

    ``heat_by_zone_w`` solves with the settings it is given and returns the heat in W made in every zone: losses
    of conductors, contacts and devices, and the waste heat of supplies. Only the greatest ambient is raised: the
    least one is the enclosure switched off. All enclosures settle together; one that runs away is not ``settled``.
    """
    warm = settings
    found: dict[str, Inside] = {}
    for _ in range(MOST_ROUNDS if settings.enclosures else 0):
        heats_w = heat_by_zone_w(warm)
        step_k = 0.0
        zones = dict(settings.zones)
        for zone, enclosure in settings.enclosures.items():
            outside = settings.ambient(zone)
            heat_w = heats_w.get(zone, 0.0)
            inside_c = inside_temperature_c(enclosure, heat_w, outside.max_c, settings.altitude_m)
            step_k = max(step_k, abs(inside_c - warm.ambient(zone).max_c))
            found[zone] = Inside(inside_c, heat_w, True)
            zones[zone] = replace(outside, max_c=inside_c)
        if step_k < SETTLED_K:
            return warm, found
        warm = replace(warm, zones=zones)
        if any(inside.inside_c > RUNAWAY_C for inside in found.values()):
            break
    return warm, {zone: replace(inside, settled=False) for zone, inside in found.items()}
