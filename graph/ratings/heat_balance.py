"""Heat balance of one wire in still air: what it gives off, the current that warms it so, and the reverse.

Heat made in the copper (I²·R at its own temperature) passes through the insulation, and leaves the surface of a
horizontal cylinder by free convection (Churchill and Chu 1975, through the library ``ht``) and radiation.
It cannot stand for bundles, conduits or vacuum.

Computed against published free-air currents at 30 °C ambient, with the assumed insulation wall (the tests recompute
this table). A rating made from it is multiplied by ``still_air_share``, which leaves it between 0.8 and 1.0 of
every one of these rows; the last two columns are what is left:

    table                    conductor  cells   least  greatest  estimate, least and greatest
    NEC 310.17                  90 °C     15   −10 %    +10 %           0.83  0.96
    NEC 310.17                  60 °C     13   −12 %     +3 %           0.81  0.90
    NEC 310.17                  75 °C     13    −9 %     +7 %           0.84  0.95
    33 CFR 183.425 Table 5     105 °C     15    −1 %    +13 %           0.88  0.99
    33 CFR 183.425 Table 5     125 °C     15   −11 %    +19 %           0.84  0.97
    33 CFR 183.425 Table 5     200 °C     15   +12 %    +51 %           0.89  0.98
    VDE 0891-1                  70 °C      5    +7 %    +46 %           0.83  0.99
    VDE 0298-4                  70 °C     15   −14 %    +14 %           0.81  0.93

Temperatures in °C, lengths in mm where the name says so, per metre of wire. All functions take numbers or numpy
arrays that broadcast.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Numbers = float | FloatArray

EMISSIVITY = 0.9
"""Plastic insulation; common practice, no published source. Used by the comparison with published tables."""

INSULATION_W_PER_MK = 0.20
"""Conductivity of insulation, between PVC (0.17) and fluoropolymers (0.24); common practice, no source."""

LAY = 1.02
"""Stranded wire is longer than its axis: typical 2 %; value from memory."""

STRANDING = 1.13
"""Diameter of a stranded conductor over that of a solid one of its area; common practice, no published source."""

MARGIN_AT_1_MM2, MARGIN_PER_LOG = 0.94, 0.0268
"""Share of the heat balance's current that an estimate takes up to 125 °C: 0.94 at 1 mm², falling with the
logarithm of the section, so that it lies between 0.8 and 1.0 of every row of NEC 310.17, of 33 CFR 183.425 table 5
from 105 °C up, and of VDE 0298-4 (single conductors)."""

SMALL_MARGINS = ((0.14, 0.665), (0.25, 0.825), (0.34, 0.925), (0.5, 0.94))
"""The same by section in mm² below 0.5 mm², where the heat balance is above the published rows of VDE 0891-1."""

MARGINS_AT_200_C = (
    *((0.52, 0.83), (0.82, 0.8), (2.08, 0.8), (3.31, 0.74), (5.26, 0.7)),
    *((21.0, 0.68), (54.0, 0.66), (107.0, 0.64), (240.0, 0.6)),
)
"""The same at 200 °C, for the column of 33 CFR 183.425 table 5; between 125 and 200 °C linear in the
temperature."""

LARGE_MM2, LARGE_MARGIN = 185.0, 0.95
"""From this section up a further margin: the published rows that were read end at 120 mm²."""

STEFAN_BOLTZMANN_W_PER_M2K4 = 5.670374419e-8
"""CODATA 2018."""

GRAVITY_M_PER_S2 = 9.80665
ZERO_C_K = 273.15
MELTING_POINT_OF_COPPER_C = 1084.6

CURVES_KEPT = 512
"""Heating curves that are kept: a search for sizes asks for the same ones in every harness that it tries."""

_WALLS_MM = ((6.0, 0.25), (9.0, 0.38), (np.inf, 0.5))
"""Thin-walled insulation by area in mm² up to the first number; thin is the safe side below some millimetres of
radius, since a thicker wall gives more surface. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class WireBody:
    """What the heat balance needs to know of a wire: resistance at 20 °C with its coefficient, and diameters."""

    r20_ohm_per_m: float
    alpha20_per_k: float
    conductor_mm: float
    outer_mm: float
    emissivity: float = EMISSIVITY
    insulation_w_per_mk: float = INSULATION_W_PER_MK

    @property
    def insulation_mk_per_w(self) -> float:
        """Thermal resistance of a metre of insulation, ln(D/d)/(2π·k), in K·m/W."""
        return float(np.log(self.outer_mm / self.conductor_mm) / (2 * np.pi * self.insulation_w_per_mk))

    def resistance_ohm_per_m(self, conductor_c: Numbers) -> FloatArray:
        """Resistance of a metre at a conductor temperature."""
        return np.asarray(self.r20_ohm_per_m * (1 + self.alpha20_per_k * (np.asarray(conductor_c) - 20)))


def body_of(area_mm2: float, r20_ohm_per_m: float, alpha20_per_k: float) -> WireBody:
    """A stranded wire of a metallic area, with an assumed thin wall (an estimate).

    ``r20_ohm_per_m`` is that of a metre of wire, lay included.
    """
    conductor_mm = STRANDING * 2 * np.sqrt(area_mm2 / np.pi)
    wall_mm = next(wall for upto, wall in _WALLS_MM if area_mm2 <= upto)
    return WireBody(r20_ohm_per_m, alpha20_per_k, conductor_mm, conductor_mm + 2 * wall_mm)


def copper_body(area_mm2: float) -> WireBody:
    """A stranded wire of annealed copper (0.017241 Ω·mm²/m, NBS Handbook 100) with an assumed thin wall."""
    return body_of(area_mm2, LAY * 0.017241 / area_mm2, 0.00393)


def still_air_share(area_mm2: float, conductor_c: float) -> float:
    """The share 0…1 of the heat balance's current that an estimate takes, by section and conductor temperature."""
    log_area = math.log(area_mm2)
    if area_mm2 < SMALL_MARGINS[-1][0]:
        low = _by_log(SMALL_MARGINS, log_area)
    else:
        low = MARGIN_AT_1_MM2 - MARGIN_PER_LOG * max(0.0, log_area)
    high = min(low, _by_log(MARGINS_AT_200_C, log_area))
    share = float(np.interp(conductor_c, (125.0, 200.0), (low, high)))
    return share * LARGE_MARGIN if area_mm2 >= LARGE_MM2 else share


def _by_log(points: tuple[tuple[float, float], ...], log_area: float) -> float:
    return float(np.interp(log_area, [math.log(area) for area, _ in points], [share for _, share in points]))


def pressure_pa(altitude_m: Numbers) -> FloatArray:
    """Air pressure of the standard atmosphere (ISO 2533) up to 20 km."""
    altitude = np.asarray(altitude_m, dtype=np.float64)
    below = 101325 * np.maximum(1 - 2.25577e-5 * np.minimum(altitude, 11000), 0) ** 5.25588
    return np.asarray(below * np.exp(-np.maximum(altitude - 11000, 0) / 6341.6))


def air_viscosity_pa_s(film_k: Numbers) -> FloatArray:
    """Dynamic viscosity of air at an absolute temperature (US Standard Atmosphere 1976)."""
    kelvin = np.asarray(film_k, dtype=np.float64)
    return np.asarray(1.458e-6 * kelvin**1.5 / (kelvin + 110.4))


def air_conductivity_w_per_mk(film_k: Numbers) -> FloatArray:
    """Thermal conductivity of air at an absolute temperature (US Standard Atmosphere 1976)."""
    kelvin = np.asarray(film_k, dtype=np.float64)
    return np.asarray(2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10 ** (-12 / kelvin)))


def surface_loss_w_per_m(
    body: WireBody, surface_c: Numbers, ambient_c: Numbers, air_pressure_pa: Numbers = 101325.0
) -> FloatArray:
    """Heat that a metre of wire gives off at a surface temperature, in W/m; 0 at or below ambient.

    Air after the US Standard Atmosphere 1976 (viscosity, conductivity) and as an ideal gas.
    """
    from ht.conv_free_immersed import Nu_horizontal_cylinder_Churchill_Chu  # 0.1 s that a short call saves

    surface_k = np.asarray(surface_c, dtype=np.float64) + ZERO_C_K
    ambient_k = np.asarray(ambient_c, dtype=np.float64) + ZERO_C_K
    excess_k = np.maximum(surface_k - ambient_k, 0.0)
    film_k = ambient_k + excess_k / 2
    viscosity_pa_s, conductivity_w_per_mk = air_viscosity_pa_s(film_k), air_conductivity_w_per_mk(film_k)
    density_kg_per_m3 = np.asarray(air_pressure_pa) / (287.05287 * film_k)
    prandtl = viscosity_pa_s * 1006.0 / conductivity_w_per_mk
    diameter_m = body.outer_mm * 1e-3
    grashof = GRAVITY_M_PER_S2 / film_k * excess_k * diameter_m**3 * (density_kg_per_m3 / viscosity_pa_s) ** 2
    nusselt = np.asarray(Nu_horizontal_cylinder_Churchill_Chu(prandtl, grashof))  # type: ignore[arg-type]
    convection = np.pi * nusselt * conductivity_w_per_mk * excess_k
    radiation = (
        np.pi
        * diameter_m
        * body.emissivity
        * STEFAN_BOLTZMANN_W_PER_M2K4
        * (np.maximum(surface_k, ambient_k) ** 4 - ambient_k**4)
    )
    return np.asarray(convection + radiation)


def free_air_current_a(
    body: WireBody, conductor_c: Numbers, ambient_c: Numbers, air_pressure_pa: Numbers = 101325.0
) -> FloatArray:
    """The current in A at which a wire in still air reaches a conductor temperature; 0 at or below ambient."""
    conductor, ambient = np.broadcast_arrays(
        np.asarray(conductor_c, dtype=np.float64), np.asarray(ambient_c, dtype=np.float64)
    )
    low, high = np.minimum(ambient, conductor).astype(np.float64), conductor.astype(np.float64)
    wall = body.insulation_mk_per_w
    for _ in range(50):  # halves the bracket of the surface temperature to far below a microkelvin
        middle = (low + high) / 2
        too_hot = middle + wall * surface_loss_w_per_m(body, middle, ambient, air_pressure_pa) > conductor
        low, high = np.where(too_hot, low, middle), np.where(too_hot, middle, high)
    loss = surface_loss_w_per_m(body, low, ambient, air_pressure_pa)
    return np.asarray(np.sqrt(loss / body.resistance_ohm_per_m(conductor)))


@lru_cache(maxsize=8192)
def still_air_a(area_mm2: float, conductor_c: float, ambient_c: float) -> float:
    """The free-air current in A of a stranded copper wire with the assumed insulation wall, at sea level."""
    return float(free_air_current_a(copper_body(area_mm2), conductor_c, ambient_c))


def conductor_temperature_c(
    body: WireBody, current_a: Numbers, ambient_c: float, air_pressure_pa: float = 101325.0
) -> FloatArray:
    """The temperature in °C that a wire in still air takes at a current; at most copper's melting point.

    Every surface temperature gives a loss, this the conductor's temperature, and both the current: the curve is
    explicit and is read backwards between close points (error below a thousandth of the rise).
    """
    if ambient_c >= MELTING_POINT_OF_COPPER_C - 1.0:
        return np.full(np.shape(current_a), MELTING_POINT_OF_COPPER_C)
    squared, conductor_c = _heating(body, float(ambient_c), float(air_pressure_pa))
    wanted = np.abs(np.asarray(current_a, dtype=np.float64)) ** 2
    found: npt.NDArray[np.float64] = np.interp(wanted, squared, conductor_c, right=MELTING_POINT_OF_COPPER_C)
    return found


@lru_cache(maxsize=CURVES_KEPT)
def _heating(body: WireBody, ambient_c: float, air_pressure_pa: float) -> tuple[FloatArray, FloatArray]:
    """Squares of the current in A², rising, and the temperature in °C that a wire takes at each."""
    excess_k = np.concatenate(([0.0], np.geomspace(1e-3, MELTING_POINT_OF_COPPER_C - ambient_c, 600)))
    loss = surface_loss_w_per_m(body, ambient_c + excess_k, ambient_c, air_pressure_pa)
    conductor_c = ambient_c + excess_k + body.insulation_mk_per_w * loss
    squared = loss / body.resistance_ohm_per_m(conductor_c)
    possible = conductor_c <= MELTING_POINT_OF_COPPER_C
    rising = np.concatenate(([True], np.diff(squared) > 0)).cumprod().astype(bool) & possible
    return squared[rising], conductor_c[rising]


def altitude_factor(altitude_m: float, body: WireBody, conductor_c: float, ambient_c: float) -> float:
    """Share of the sea-level current that a wire may carry in thinner air.

    The heat balance's own loss of current × 1.5, which meets the one published point that was read in a copy:
    0.91 at 20 000 ft (AC 43.13-1B, figure 11-6 as used in its example); 1 at or below sea level.
    """
    if altitude_m <= 0:
        return 1.0
    thin, dense = (
        float(free_air_current_a(body, conductor_c, ambient_c, pressure_pa(h))) for h in (altitude_m, 0.0)
    )
    return max(0.0, 1.0 - 1.5 * (1.0 - thin / dense)) if dense > 0 else 0.0
