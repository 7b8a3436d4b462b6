"""Flexible cords after VDE 0298-4: a basis of its own, and what other bases take from its rows.

The rows give one flexible conductor alone in free air and a core of a cable with two or three loaded cores, PVC 70
°C at 30 °C. Their ratio is what two or three loaded conductors carry against one; the rows below 0.5 mm² bound
every estimate of so small a size.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np

from loadloom.graph.model.elements import GaugeSystem
from loadloom.graph.model.results import Cap, Factor, FactorFormula
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.catalogue import BASES
from loadloom.graph.ratings.chain import AmpacityTable, Chain, Column, Question, altitude_steps
from loadloom.graph.ratings.heat_balance import still_air_a
from loadloom.graph.ratings.iec import circuits_of, grouping, grouping_for

SMALL_MM2 = 0.5
"""Below this section the rows of VDE 0891-1 bound every estimate."""

LEAST_SHARE = 0.61
"""No estimate of a small size is below this share of the published row. The rows of the copies differ by up to a
third. A little above 0.6, so that it holds with the ambient factors of the formula as with those printed."""

EVEN_FROM_MM2 = 0.14

MOST_CIRCUITS = 20
"""The last row of the grouping table."""

PVC_C, BASE_AMBIENT_C = 70.0, 30.0


def _ambient() -> FactorFormula:
    points = tuple((float(row["upto_c"]), float(row["70"])) for row in tables.rows("iec60364_ambient"))
    return FactorFormula("steps", points=points)


def _table(column: str, title: str) -> AmpacityTable:
    reason = "IEC 60364-5-52 table B.52.14, next step up"
    cells = Column(PVC_C, column, _ambient(), reason, "S16b", "PARTLY_VERIFIED")
    return AmpacityTable(
        title, "vde0298_flexible", GaugeSystem.MM2, (cells,), grouping_for(BASES["flexible-cord"].layouts)
    )


SINGLE = _table("single_a", "VDE 0298-4 (one flexible conductor in free air)")
MULTICORE = _table("multicore_a", "VDE 0298-4 (flexible cable, two or three loaded cores)")


def flexible_cord(q: Question) -> Chain:
    """VDE 0298-4 for flexible conductors in mm²: one alone in free air, else a core of a cable; grouping by
    layout."""
    return (SINGLE if q.alone else MULTICORE).rate(q)


def multicore_ratio(area_mm2: float) -> float:
    """What a core of a cable with two or three loaded ones carries against one conductor alone, by section."""
    areas, singles, multicores = _rows()
    return float(np.interp(math.log(area_mm2), np.log(areas), np.array(multicores) / np.array(singles)))


def small_cable_cap(q: Question) -> Cap | None:
    """What the published rows of small cables allow at most; None from 0.5 mm² up. Hotter insulation is no
    credit."""
    if q.gauge.area_mm2 >= SMALL_MM2:
        return None
    row_mm2, cell_a = _small_row(q)
    factors = _small_factors(q)
    if factors is None:
        return None
    limit_a = cell_a * math.prod(f.factor for f in factors)
    if q.gauge.area_mm2 < row_mm2:
        limit_a *= still_air_a(q.gauge.area_mm2, PVC_C, BASE_AMBIENT_C) / still_air_a(
            row_mm2, PVC_C, BASE_AMBIENT_C
        )
    kind = "one conductor" if q.alone else "a core of a cable"
    reason = f"published rows at {row_mm2:.3g} mm², {kind}: {cell_a:.3g} A at 30 °C"
    return Cap(reason, limit_a, tables.citation("S51b"))


def small_cable_share(q: Question) -> Chain | None:
    """``LEAST_SHARE`` of the published row of the nearest small size: what an estimate does not have to go
    below."""
    areas, singles, multicores = _rows()
    if not areas[0] * 0.9 <= q.gauge.area_mm2 < SMALL_MM2 or circuits_of(q.loaded) > MOST_CIRCUITS:
        return None
    factors = _small_factors(q)
    if factors is None:
        return None
    nearest = min(range(len(areas)), key=lambda k: abs(math.log(areas[k] / q.gauge.area_mm2)))
    cell_a = (singles if q.alone else multicores)[nearest]
    reason = f"share of the published row of {areas[nearest]:g} mm²"
    share = Factor("estimate", LEAST_SHARE, reason, tables.citation("S51b"), "COMPUTED")
    return Chain(
        cell_a,
        "S51b",
        "PARTLY_VERIFIED",
        (*factors, share, *altitude_steps(q)),
        estimate=True,
        check_edition=True,
    )


@cache
def _rows() -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]:
    """Sections in mm², and the currents of one conductor and of a core in A."""
    found = [
        (float(row["size"]), float(row["single_a"]), float(row["multicore_a"]))
        for row in tables.rows("vde0298_flexible")
    ]
    areas, singles, multicores = zip(*found, strict=True)
    return areas, singles, multicores


def _small_row(q: Question) -> tuple[float, float]:
    """The greatest row that is not above the section, else the least row: its section and its current in A.

    From 0.14 mm² up, where the rows rise evenly, between two rows by the logarithms; below it the copies jump.
    """
    areas, singles, multicores = _rows()
    currents = singles if q.alone else multicores
    area = q.gauge.area_mm2
    if area > EVEN_FROM_MM2:
        return area, math.exp(float(np.interp(math.log(area), np.log(areas), np.log(currents))))
    fitting = [k for k, row in enumerate(areas) if row <= area * (1 + 1e-9)]
    k = fitting[-1] if fitting else 0
    return areas[k], currents[k]


def _small_factors(q: Question) -> tuple[Factor, ...] | None:
    """Ambient and grouping for the small rows; None where there is no factor.

    Up to 60 °C the factors of PVC; insulation that stands less is reduced as √((limit − 30)/40), hotter insulation
    in hotter air as √((limit − ambient)/(limit − 60)).
    """
    formula = _ambient()
    last_c, last = formula.points[-1]
    limit_c = min(q.limit_c, PVC_C)
    if limit_c < PVC_C:
        # In cold air no more than the table gives for PVC.
        coldest = formula.points[0][1]
        ambient = min(coldest, math.sqrt(max(0.0, (limit_c - q.ambient_c) / (PVC_C - BASE_AMBIENT_C))))
    elif q.ambient_c <= last_c:
        ambient = formula.at(q.ambient_c) or 0.0
    else:
        ambient = last * math.sqrt(max(0.0, (q.limit_c - q.ambient_c) / (q.limit_c - last_c)))
    # Beyond the last count of circuits its factor is still a bound.
    together = grouping(replace(q, loaded=min(q.loaded, 2 * MOST_CIRCUITS)), ())
    if ambient <= 0 or isinstance(together, str):
        return None
    source = tables.citation("S16b")
    steps = [Factor("ambient", ambient, "PVC at 30 °C base", source, "PARTLY_VERIFIED", q.ambient_c, "°C")]
    if circuits_of(q.loaded) > 1:
        steps.append(together)
    return tuple(steps)
