"""Heat of a conductor as two bodies, copper and insulation: how warm a current makes it within a time.

The copper takes up 3.45 MJ/(K·m³) (IEC 60949) and makes heat with its resistance at its own temperature. It passes
the heat on to the insulation, and that to the air, by two resistances whose sum is what the allowed current follows
from: at that current, held continuously, the copper comes to its limit. So the table's current is the long end. The
short end is the published adiabatic limit, k²S² = I²t up to 5 s.

The temperature that counts as damage falls from the short-circuit limit at 5 s to the insulation's class at one
hour, in a line over the logarithm of the time. That line is ours; no published curve was found. What the insulation
takes up follows from a thin wall of 0.25 mm, less than any common one, so that the copper is never cooler than
told.

Source: IEC 60949 (heat capacity, adiabatic limit); IEC 60853-2 for 1.7 MJ/(K·m³) of PVC, the least of the common
materials (both from memory). Two bodies in place of a wall that warms layer by layer: common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from loadloom.graph.model.elements import Conductor
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.insulation import ADIABATIC_COPPER_AS05_PER_MM2, COPPER_ZERO_RESISTANCE_C, insulation_of

COPPER_J_PER_M3K = 3.45e6
INSULATION_J_PER_M3K = 1.7e6
COPPER_OHM_M = 1.7241e-8
"""At 20 °C (IEC 60949)."""
THIN_WALL_M = 0.25e-3
WALL_SHARE = 0.5
"""Share of the whole thermal resistance that lies between copper and the middle of the insulation at most: a wall
lets its heat through more easily than still air takes it up. Common practice, no published source."""
WALL_MK_PER_W = 6.0
"""Thermal resistivity of PVC in K·m/W (IEC 60287-2-1, from memory)."""

ADIABATIC_S = 5.0
LASTING_S = 3600.0
"""From here on the insulation's class counts."""

WITHSTAND_AT_S = (
    0.001,
    0.1,
    1.0,
    5.0,
    7.0,
    10.0,
    15.0,
    20.0,
    30.0,
    60.0,
    120.0,
    300.0,
    600.0,
    1200.0,
    1800.0,
    3600.0,
)


@dataclass(frozen=True, slots=True)
class TwoBodies:
    """A metre of a conductor: heat capacities in J/(K·m), thermal resistances in K·m/W, resistance at 20 °C in Ω/m.

    ``final_c`` is the short-circuit limit of its insulation, ``limit_c`` the class; ``allowed_a`` continuously.
    """

    copper_j_per_km: float
    insulation_j_per_km: float
    inner_km_per_w: float
    outer_km_per_w: float
    r20_ohm_per_m: float
    ambient_c: float
    limit_c: float
    final_c: float
    k2s2_a2s: float
    allowed_a: float

    def temperature_c(self, current_a: float, duration_s: float, *, before_a: float = 0.0) -> float:
        """The copper's temperature in °C after a current has flowed for a time, from the steady state of
        another."""
        start = self._steady(before_a)
        matrix, push = self._system(current_a)
        rates, turn = np.linalg.eig(matrix)
        rates, turn = np.real(rates), np.real(turn)
        own, driven = np.linalg.solve(turn, start), np.linalg.solve(turn, push)
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            exponent = np.minimum(rates * duration_s, 500.0)
            reach = np.where(np.abs(rates) < 1e-15, duration_s, np.expm1(exponent) / rates)
            end = turn @ (own * np.exp(exponent) + driven * reach)
        return self.ambient_c + float(end[0])

    def damage_c(self, duration_s: float) -> float:
        """The copper temperature in °C that damages the insulation within a time in s."""
        if duration_s <= ADIABATIC_S:
            return self.final_c
        share = min(1.0, math.log(duration_s / ADIABATIC_S) / math.log(LASTING_S / ADIABATIC_S))
        return self.final_c + (self.limit_c - self.final_c) * share

    def withstand_a(self, duration_s: float) -> float:
        """The current in A that a conductor at its limit stands for a time in s: never less than the allowed one,
        never more than for a shorter time.
        """
        adiabatic_a = math.sqrt(self.k2s2_a2s / min(duration_s, ADIABATIC_S))
        if duration_s <= ADIABATIC_S:
            return max(adiabatic_a, self.allowed_a)
        damage_c = self.damage_c(duration_s)

        def over(current_a: float) -> float:
            return self.temperature_c(current_a, duration_s, before_a=self.allowed_a) - damage_c

        low, high = self.allowed_a, max(adiabatic_a, self.allowed_a)
        if over(low) >= 0.0:
            return low
        if over(high) < 0.0:
            return high
        from scipy.optimize import brentq  # 0.1 s that many harnesses do without

        return float(brentq(over, low, high, rtol=1e-6))

    def _system(self, current_a: float) -> tuple[np.ndarray, np.ndarray]:
        """Derivative of the rises of copper and insulation over the ambient: matrix · rises + push."""
        zero_c = COPPER_ZERO_RESISTANCE_C
        per_k = self.r20_ohm_per_m / (20.0 - zero_c)
        at_ambient = per_k * (self.ambient_c - zero_c)
        c1, c2 = self.copper_j_per_km, self.insulation_j_per_km
        inner, outer = 1.0 / self.inner_km_per_w, 1.0 / self.outer_km_per_w
        matrix = np.array([[(current_a**2 * per_k - inner) / c1, inner / c1], [inner / c2, -(inner + outer) / c2]])
        return matrix, np.array([current_a**2 * at_ambient / c1, 0.0])

    def _steady(self, current_a: float) -> np.ndarray:
        """The rises that a current holds continuously, at most those of the allowed current."""
        matrix, push = self._system(min(abs(current_a), self.allowed_a))
        return np.asarray(np.linalg.solve(matrix, -push))


def two_bodies(conductor: Conductor, settings: AnalysisSettings, allowed_a: float) -> TwoBodies | None:
    """A conductor as two bodies; None where its section, its insulation or a short-circuit limit is not known, or
    the ambient is not below its limit.
    """
    area_mm2, insulation = conductor.area_mm2, insulation_of(conductor, settings)
    k, limit_c = insulation.k_as05_per_mm2, insulation.limit_c
    ambient_c = settings.ambient(conductor.zone).max_c
    if area_mm2 is None or k is None or insulation.problem is not None or allowed_a <= 0.0 or limit_c <= ambient_c:
        return None
    zero_c = COPPER_ZERO_RESISTANCE_C
    final_c = zero_c + (limit_c - zero_c) * math.exp((k / ADIABATIC_COPPER_AS05_PER_MM2) ** 2)
    area_m2 = area_mm2 * 1e-6
    r20 = COPPER_OHM_M / area_m2
    warm = r20 * (limit_c - zero_c) / (20.0 - zero_c)
    whole = (limit_c - ambient_c) / (allowed_a**2 * warm)
    across_m = 2.0 * math.sqrt(area_m2 / math.pi)
    outer_m = across_m + 2.0 * THIN_WALL_M
    wall = WALL_MK_PER_W * math.log(outer_m / across_m) / (2.0 * math.pi)
    inner = min(wall / 2.0, WALL_SHARE * whole)
    insulating_m2 = math.pi * (outer_m**2 - across_m**2) / 4.0
    if conductor.track is not None:
        insulating_m2 *= 1e-3  # what the board takes up is left out
    return TwoBodies(
        COPPER_J_PER_M3K * area_m2,
        INSULATION_J_PER_M3K * insulating_m2,
        inner,
        whole - inner,
        r20,
        ambient_c,
        limit_c,
        final_c,
        (k * area_mm2) ** 2,
        allowed_a,
    )


@lru_cache(maxsize=8192)
def _withstand_a(bodies: TwoBodies, duration_s: float) -> float:
    """Conductors of one size and rating stand the same."""
    return bodies.withstand_a(duration_s)


def withstand_points(bodies: TwoBodies) -> tuple[tuple[float, float], ...]:
    """Points (s, A) of what a conductor stands, for a time–current chart."""
    return tuple((time_s, _withstand_a(bodies, time_s)) for time_s in WITHSTAND_AT_S)


class Stress(NamedTuple):
    """A current that flows for a time, ``over``: as a multiple of what the conductor withstands for that time."""

    over: float
    current_a: float
    time_s: float


def worst_stress(bodies: TwoBodies, flows: Sequence[tuple[float, float]]) -> Stress:
    """Of some currents in A with their times in s the one that is most over what the conductor withstands."""
    found = (Stress(a / _withstand_a(bodies, s), a, s) for a, s in flows if s > 0.0)
    return max(found, default=Stress(0.0, 0.0, 0.0))
