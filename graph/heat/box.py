"""Heat that a closed sheet-metal box gives off: an inside and an outside film in series, face by face.

Each film is natural convection, which grows with the difference of temperature, and radiation of grey surfaces:

    heat = A·[h_in·(T_in − T_w) + ε_in·σ·(T_in⁴ − T_w⁴)]            what is inside → wall
    heat + sun = A·[h_out·(T_w − T_out) + ε_out·σ·(T_w⁴ − T_out⁴)]  wall → surroundings

Every face has its own wall temperature. Convection on upright faces is Churchill and Chu's for a vertical plate of
the box' height; on level ones McAdams' for a horizontal plate with the length area/perimeter; both from the library
``ht``. Outside the top and inside the top the air moves by itself; the bottom is the poor one. Sources: Churchill
and Chu, Int. J. Heat Mass Transfer 18 (1975) 1323; McAdams, Heat Transmission, 3rd edition (1954). Nothing here is
fitted to an example.

Assumed: thin walls of metal (an insulating wall carries off less); contents that fill the box, are as warm as the
air inside and radiate to the walls; one mean temperature inside, so that the air under the lid is some kelvin
warmer; still air outside, as warm as what surrounds the box. A fan that stirs the air inside carries off more.
Limits: boxes of about 0.1 m to 3 m, up to about 60 K of rise.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from loadloom.graph.model.settings import Enclosure
from loadloom.graph.ratings.heat_balance import (
    GRAVITY_M_PER_S2,
    STEFAN_BOLTZMANN_W_PER_M2K4,
    ZERO_C_K,
    air_conductivity_w_per_mk,
    air_viscosity_pa_s,
)

AIR_HEAT_CAPACITY_J_PER_KGK = 1006.0
"""Dry air at constant pressure near 300 K (US Standard Atmosphere 1976: 7/2 · R)."""

AIR_GAS_CONSTANT_J_PER_KGK = 287.05287
"""Dry air, US Standard Atmosphere 1976."""

LEAST_RADIATION_W_PER_M2K = 1.0
"""Less than any black surface from −150 °C up radiates per kelvin (4·σ·T³): bounds how hot the sun makes a wall."""

LEAST_SIDE_M, MOST_SIDE_M, MOST_RISE_K = 0.1, 3.0, 60.0
"""What the films are meant for; own choice, from what the correlations were made for."""

TOP, BOTTOM, UPRIGHT = "top", "bottom", "upright"


@dataclass(frozen=True, slots=True)
class Face:
    """A free face: its area in m², the length in m that its convection goes by, and the sun that it takes in W."""

    kind: str
    area_m2: float
    length_m: float
    sun_w: float = 0.0


def faces_of(enclosure: Enclosure) -> tuple[Face, ...]:
    """The free faces of an enclosure: of its width, height and depth, or of a cube of its surface.

    Sun comes from where the box shows it the greatest area: onto the top, one wide and one narrow side, and onto
    each by the cosine to it. That is E·√(A₁² + A₂² + A₃²) in all.
    """
    if enclosure.size_m is not None:
        width, height, depth = enclosure.size_m
    elif enclosure.surface_m2 <= 0:
        return ()
    else:
        width = height = depth = math.sqrt(enclosure.surface_m2 / 6.0)
    areas = {
        "top": width * depth,
        "bottom": width * depth,
        "front": width * height,
        "back": width * height,
        "left": depth * height,
        "right": depth * height,
    }
    free = [name for name in areas if name not in enclosure.covered]
    lit = [next((n for n in pair if n in free), None) for pair in (("top",), ("front", "back"), ("left", "right"))]
    lit_areas = {name: areas[name] for name in lit if name is not None}
    across = math.hypot(*lit_areas.values()) if lit_areas else 1.0
    level_m = width * depth / (2.0 * (width + depth))
    return tuple(
        Face(
            name if name in (TOP, BOTTOM) else UPRIGHT,
            areas[name],
            level_m if name in (TOP, BOTTOM) else height,
            enclosure.sun_w_per_m2 * enclosure.absorptivity * lit_areas.get(name, 0.0) ** 2 / across,
        )
        for name in free
    )


def heat_through_walls_w(enclosure: Enclosure, inside_c: float, outside_c: float, air_pa: float) -> float:
    """Heat in W from inside through all free faces at a temperature inside; below zero where the sun heats it."""
    alike = Counter(faces_of(enclosure))
    return sum(n * _through_face_w(face, enclosure, inside_c, outside_c, air_pa) for face, n in alike.items())


def _through_face_w(face: Face, enclosure: Enclosure, inside_c: float, outside_c: float, air_pa: float) -> float:
    """Heat from inside into one face, at the wall temperature at which as much leaves it with the sun's."""

    def inwards_w(wall_c: float) -> float:
        return face.area_m2 * _film_w_per_m2(
            face, inside_c, wall_c, enclosure.emissivity_inside, air_pa, inside=True
        )

    def outwards_w(wall_c: float) -> float:
        return face.area_m2 * _film_w_per_m2(face, wall_c, outside_c, enclosure.emissivity, air_pa, inside=False)

    low = min(inside_c, outside_c)
    high = max(inside_c, outside_c) + face.sun_w / (face.area_m2 * enclosure.emissivity * LEAST_RADIATION_W_PER_M2K)
    if high - low < 1e-9:
        return 0.0
    from scipy.optimize import brentq  # 0.1 s that only an enclosure needs

    wall_c = brentq(lambda wall_c: inwards_w(wall_c) + face.sun_w - outwards_w(wall_c), low, high, xtol=1e-6)
    return inwards_w(float(wall_c))


def _film_w_per_m2(
    face: Face, warm_c: float, cold_c: float, emissivity: float, air_pa: float, *, inside: bool
) -> float:
    """Heat from warm to cold over one film, in W/m²; below zero where the cold one is the warmer."""
    from_wall = (warm_c > cold_c) is not inside  # whether the plate is warmer than its air
    convection = _convection_w_per_m2(face.kind, face.length_m, warm_c, cold_c, air_pa, inside, from_wall)
    warm_k, cold_k = warm_c + ZERO_C_K, cold_c + ZERO_C_K
    return convection + emissivity * STEFAN_BOLTZMANN_W_PER_M2K4 * (warm_k**4 - cold_k**4)


def _convection_w_per_m2(
    kind: str, length_m: float, warm_c: float, cold_c: float, air_pa: float, inside: bool, plate_warm: bool
) -> float:
    from ht.conv_free_immersed import Nu_horizontal_plate_McAdams, Nu_vertical_plate_Churchill  # slow to import

    across_k = warm_c - cold_c
    film_k = (warm_c + cold_c) / 2.0 + ZERO_C_K
    viscosity, conductivity = float(air_viscosity_pa_s(film_k)), float(air_conductivity_w_per_mk(film_k))
    density = air_pa / (AIR_GAS_CONSTANT_J_PER_KGK * film_k)
    prandtl = viscosity * AIR_HEAT_CAPACITY_J_PER_KGK / conductivity
    grashof = GRAVITY_M_PER_S2 / film_k * abs(across_k) * length_m**3 * (density / viscosity) ** 2
    if grashof <= 0.0:
        return 0.0
    if kind == UPRIGHT:
        nusselt = Nu_vertical_plate_Churchill(prandtl, grashof)
    else:
        # Air rises by itself from a warm plate that faces up and sinks from a cold one that faces down.
        faces_up = (kind == TOP) is not inside
        nusselt = Nu_horizontal_plate_McAdams(prandtl, grashof, buoyancy=plate_warm is faces_up)
    return float(nusselt) * conductivity / length_m * across_k
