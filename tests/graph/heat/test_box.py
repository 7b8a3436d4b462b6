"""Heat through the walls of a closed box: a published example, hand formulas, sun, altitude and covered faces."""

import math
from collections.abc import Callable

import pytest

from loadloom.graph.heat.box import faces_of, heat_through_walls_w
from loadloom.graph.heat.enclosure import inside_temperature_c
from loadloom.graph.model.settings import Enclosure

INCH_M = 0.0254
SEA_LEVEL_PA = 101325.0


def rise_k(enclosure: Enclosure, heat_w: float, outside_c: float = 25.0, altitude_m: float = 0.0) -> float:
    return inside_temperature_c(enclosure, heat_w, outside_c, altitude_m) - outside_c


def box(width_m: float, height_m: float, depth_m: float, **more: object) -> Enclosure:
    return Enclosure(size_m=(width_m, height_m, depth_m), **more)  # type: ignore[arg-type]


CABINET = box(36 * INCH_M, 48 * INCH_M, 16 * INCH_M)


@pytest.mark.parametrize("outside_c", [20.0, 25.0, 30.0])
def test_published_box(outside_c: float) -> None:
    """W48: 48 x 36 x 16 in, six sides free, painted, sealed, 300 W: 16.7 K (guide for sealed enclosures)."""
    assert sum(face.area_m2 for face in faces_of(CABINET)) == pytest.approx(3.96, abs=0.01)
    assert rise_k(CABINET, 300.0, outside_c) == pytest.approx(16.7, rel=0.10)


@pytest.mark.parametrize(
    ("heat_w", "surface_m2", "published_k"),
    [
        (300.0, 3.96, 13.8),
        # Openly published worked example of natural cooling: 500 W, 20 °C outside, 35 °C inside, painted steel of
        # 5.5 W/(m²K): 6.06 m² (one page, edition not stated).
        (500.0, 6.06, 15.0),
    ],
)
def test_a_stated_coefficient_is_a_constant(heat_w: float, surface_m2: float, published_k: float) -> None:
    assert rise_k(Enclosure(surface_m2, 5.5), heat_w) == pytest.approx(published_k, rel=5e-3)


def own_rise_k(
    sides_m: tuple[float, float, float], heat_w: float, emissivity: float, covered: tuple[str, ...]
) -> float:
    """The same box by an own balance: both films of every face, from the printed correlations, at 25 °C outside.

    Churchill and Chu (1975) for an upright plate; McAdams (1954) for level ones: 0.54·Ra^¼ up to 1e7, 0.15·Ra^⅓
    above, 0.27·Ra^¼ where the air is held; grey radiation. Air: Sutherland's formulas, US Standard Atmosphere 1976.
    """
    width, height, depth = sides_m
    level_m = width * depth / (2 * (width + depth))
    faces = {
        "top": ("up", width * depth), "bottom": ("down", width * depth),
        "front": ("side", width * height), "back": ("side", width * height),
        "left": ("side", depth * height), "right": ("side", depth * height),
    }  # fmt: skip

    def film_w_per_m2(kind: str, warm_c: float, cold_c: float) -> float:
        kelvin, across_k = (warm_c + cold_c) / 2 + 273.15, warm_c - cold_c
        mu, k = (
            1.458e-6 * kelvin**1.5 / (kelvin + 110.4),
            2.64638e-3 * kelvin**1.5 / (kelvin + 245.4 * 10 ** (-12 / kelvin)),
        )
        nu, prandtl = mu * 287.05287 * kelvin / SEA_LEVEL_PA, mu * 1006.0 / k
        length_m = height if kind == "side" else level_m
        rayleigh = 9.80665 / kelvin * across_k * length_m**3 / nu**2 * prandtl
        if kind == "side":
            nusselt = (0.825 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2
        elif kind == "up":
            nusselt = 0.54 * rayleigh**0.25 if rayleigh < 1e7 else 0.15 * rayleigh ** (1 / 3)
        else:
            nusselt = 0.27 * rayleigh**0.25
        radiation = 5.670374e-8 * emissivity * ((warm_c + 273.15) ** 4 - (cold_c + 273.15) ** 4)
        return nusselt * k / length_m * across_k + radiation

    def halved(function: Callable[[float], float], low: float, high: float) -> float:
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if function(middle) < 0 else (low, middle)
        return low

    def carried_w(inside_c: float) -> float:
        total = 0.0
        for name, (kind, area_m2) in faces.items():
            if name not in covered:
                wall_c = halved(
                    lambda c: film_w_per_m2(kind, c, 25.0) - film_w_per_m2(kind, inside_c, c),  # noqa: B023
                    25.0 + 1e-9,
                    inside_c - 1e-9,
                )
                total += area_m2 * film_w_per_m2(kind, wall_c, 25.0)
        return total

    return halved(lambda inside_c: carried_w(inside_c) - heat_w, 25.001, 200.0) - 25.0


@pytest.mark.parametrize(
    ("sides_m", "heat_w", "emissivity", "covered"),
    [
        ((0.3, 0.4, 0.2), 30.0, 0.9, ()),
        ((1.0, 0.1, 1.0), 50.0, 0.9, ()),
        ((0.5, 0.5, 0.5), 100.0, 0.9, ("back",)),
        ((2.0, 2.0, 0.8), 900.0, 0.9, ("bottom", "back")),
        ((0.4, 0.3, 0.2), 60.0, 0.2, ()),
    ],
)
def test_against_an_own_balance(
    sides_m: tuple[float, float, float], heat_w: float, emissivity: float, covered: tuple[str, ...]
) -> None:
    drawn = box(*sides_m, emissivity=emissivity, emissivity_inside=emissivity, covered=covered)
    assert rise_k(drawn, heat_w) == pytest.approx(own_rise_k(sides_m, heat_w, emissivity, covered), rel=2e-3)


def test_against_hand_formulas() -> None:
    """A tall cabinet, nearly all upright walls: both films alike, so half of the rise over each.

    Textbook short forms for air (laminar and turbulent vertical plate, 1.42·(ΔT/L)^¼ and 1.31·ΔT^⅓ W/(m²K)) and
    radiation 4·ε·σ·T³: good to some 10 %.
    """
    height_m, heat_w = 2.0, 400.0
    cabinet = box(0.8, height_m, 0.8, covered=("top", "bottom"))
    area_m2 = 4 * 0.8 * height_m
    over_film_k = rise_k(cabinet, heat_w) / 2.0
    convection = 1.31 * over_film_k ** (1 / 3)
    radiation = 4 * 0.9 * 5.67e-8 * (273.15 + 25.0 + over_film_k) ** 3
    assert heat_w == pytest.approx(area_m2 * (convection + radiation) * over_film_k, rel=0.1)


def test_conductance_rises_with_the_rise() -> None:
    rises = [rise_k(CABINET, heat_w) for heat_w in (30.0, 100.0, 300.0, 900.0)]
    conductances = [heat_w / rise for heat_w, rise in zip((30.0, 100.0, 300.0, 900.0), rises, strict=True)]
    assert conductances == sorted(conductances)


def test_worse_conditions_are_warmer() -> None:
    plain = rise_k(CABINET, 300.0)
    size = (36 * INCH_M, 48 * INCH_M, 16 * INCH_M)
    assert rise_k(CABINET, 300.0, altitude_m=4000.0) > plain
    assert rise_k(box(*size, covered=("back",)), 300.0) > plain * 1.15
    # bare metal: the guide's charts have about 1.6 times the rise of paint (read from memory)
    assert rise_k(box(*size, emissivity=0.2, emissivity_inside=0.2), 300.0) > 1.4 * plain
    assert rise_k(box(*size, sun_w_per_m2=1000.0), 300.0) > plain + 10.0
    # which way is up matters: a flat box has poorer faces than an upright one of the same surface
    assert rise_k(box(1.0, 0.1, 1.0, covered=("top",)), 50.0) > rise_k(
        box(1.0, 0.1, 1.0, covered=("bottom",)), 50.0
    )


def test_the_sun_comes_from_where_it_shines_on_most() -> None:
    """The shadow of a box is at most √(A₁² + A₂² + A₃²) of its three faces that can be lit at once."""
    lit = faces_of(box(1.0, 2.0, 0.5, sun_w_per_m2=1000.0, absorptivity=0.8))
    assert sum(face.sun_w for face in lit) == pytest.approx(800.0 * math.hypot(0.5, 2.0, 1.0))
    assert sum(face.sun_w for face in faces_of(box(1.0, 2.0, 0.5))) == 0.0


def test_an_empty_black_box_in_the_sun_settles_where_as_much_leaves() -> None:
    """No heat inside: what enters lit faces leaves by the others, and it is warmer inside than outside."""
    cube = box(0.5, 0.5, 0.5, sun_w_per_m2=1000.0)
    inside_c = inside_temperature_c(cube, 0.0, 25.0)
    assert inside_c > 35.0
    assert heat_through_walls_w(cube, inside_c, 25.0, SEA_LEVEL_PA) == pytest.approx(0.0, abs=0.05)
    assert inside_temperature_c(box(0.5, 0.5, 0.5), 0.0, 25.0) == 25.0


def test_a_surface_alone_is_a_cube_of_it() -> None:
    side_m = math.sqrt(1.5 / 6.0)
    assert rise_k(Enclosure(1.5), 100.0) == pytest.approx(rise_k(box(side_m, side_m, side_m), 100.0), abs=1e-3)


def test_air_flow_and_walls_add_up() -> None:
    walls, both = Enclosure(1.0), Enclosure(1.0, air_flow_m3_per_s=0.01)
    rise = rise_k(both, 200.0)
    by_walls_w = heat_through_walls_w(walls, 25.0 + rise, 25.0, SEA_LEVEL_PA)
    # 1.184 kg/m³ at 25 °C, 1006 J/(kg·K), 10 l/s: 11.9 W/K
    assert by_walls_w + 1.184 * 1006.0 * 0.01 * rise == pytest.approx(200.0, rel=2e-3)
