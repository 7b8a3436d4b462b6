"""What no table covers: scaled from the nearest row of the basis' table, or a heat balance in still air.

An estimate is marked as one. It never exceeds the row that it is scaled from, nor the published rows of small
cables, and two or three loaded conductors get the published ratio of their size against one alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache

from loadloom.graph.model.elements import Gauge
from loadloom.graph.model.results import Cap, Factor, FactorFormula
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.chain import (
    REFERENCE_AMBIENT_C,
    AmpacityTable,
    Chain,
    Question,
    Step,
    altitude_steps,
    unrated,
)
from loadloom.graph.ratings.flexible import multicore_ratio, small_cable_cap, small_cable_share
from loadloom.graph.ratings.heat_balance import LARGE_MARGIN, LARGE_MM2, still_air_a, still_air_share

BETWEEN_ROWS = 0.95
"""Margin of a value scaled from a row: tables round to whole amperes; scaled from one row to the next, those of
IEC 60204-1 and IEC 60364-5-52 are met within 0.95 … 1.05."""

BEYOND_THICKEST = 0.9
"""Margin of a value scaled up from the thickest row: bundles and enclosures lose more than still air does."""


WARMEST_PUBLISHED_C = 200.0
"""The warmest class that free-air rows were read for (33 CFR 183.425); warmer insulation is no credit."""

WARM_CLASSES_C = (150.0, 165.0, 180.0, 200.0)
"""Classes over which the margin of the heat balance falls: insulation gets no more than any warmer one of them."""


def table_or_estimate(table: AmpacityTable, q: Question, bundle: Callable[[Question], Step | None]) -> Chain:
    """The table's rating; where it has none, scaled from its nearest row, and without one the heat balance."""
    chain = table.rate(q)
    if chain.missing is None:
        return chain
    return scaled(table, q, chain.missing) or estimate(q, bundle(q), chain.missing)


def scaled(table: AmpacityTable, q: Question, why: str, gauge: Gauge | None = None) -> Chain | None:
    """The nearest rating that the table does give × the ratio of the heat balance; None for another gauge system.

    Nearest is the same size, else the next thicker one, else the thickest (or the given ``gauge``); the coolest
    class where the insulation is below it; the hottest ambient that has a factor. The ratio is at most 1, but for
    sizes thicker than all. No insulation gets more than the warmer classes of the table: their columns are rounded,
    and some are alike.
    """
    nearest = _nearest(table, q, gauge)
    if nearest is None:
        return None
    made = _from_row(table, q, why, nearest)
    row = table.row(nearest[0].gauge)
    warmer_c = next((c.limit_c for c in table.filled(row) if c.limit_c > q.limit_c), None) if row else None
    if warmer_c is None or made.allowed_a is None:
        return made
    above = scaled(table, replace(q, limit_c=warmer_c), why, gauge)
    if above is None or above.allowed_a is None or above.allowed_a >= made.allowed_a:
        return made
    note = f"insulation of {q.limit_c:g} °C gets no more than {warmer_c:g} °C of {table.title}"
    return replace(above, assumptions=(*above.assumptions, note))


def _from_row(table: AmpacityTable, q: Question, why: str, nearest: tuple[Question, float, float]) -> Chain:
    """The rating of the nearest row × the ratio of the heat balance."""
    there, reference_ambient_c, reference_c = nearest
    chain = table.rate(there)
    if chain.missing is not None:
        return unrated(f"{why}; {chain.missing}" if chain.missing != why else why)
    here_c = q.limit_c if q.ambient_c > there.ambient_c else min(q.limit_c, reference_c)
    here_a = still_air_a(q.gauge.area_mm2, here_c, q.ambient_c)
    this_size_a = still_air_a(q.gauge.area_mm2, reference_c, reference_ambient_c)
    there_a = still_air_a(there.gauge.area_mm2, reference_c, reference_ambient_c)
    if here_a <= 0 or there_a <= 0:
        return unrated(f"{why}; an ambient of {q.ambient_c:g} °C leaves nothing below {q.limit_c:g} °C")
    # Cooler air than the row's own is no credit where the table gives none.
    ratio = min(here_a, this_size_a) / there_a
    ratio *= BEYOND_THICKEST if q.gauge.area_mm2 > there.gauge.area_mm2 else BETWEEN_ROWS
    if q.gauge.area_mm2 >= LARGE_MM2:
        ratio *= LARGE_MARGIN
    row = f"{there.gauge}, {reference_c:g} °C, {there.ambient_c:g} °C ambient"
    step = Factor(
        "estimate", ratio, f"heat balance against {row}, less a margin", tables.citation("S44"), "COMPUTED"
    )
    made = replace(
        chain,
        factors=(*(_as_core(q, chain.factors) if table.alone else chain.factors), step),
        estimate=True,
        assumptions=(f"{why}: scaled from its row for {row} by a heat balance",),
    )
    thinner = q.gauge.area_mm2 < table.gauges()[0].area_mm2
    return _within_small_rows(made, q, chain.allowed_a if thinner else None)


def estimate(q: Question, bundle: Step | None, why: str, bounds: Iterable[Cap] = ()) -> Chain:
    """Heat balance in still air × margin × bundle × altitude, for what no table covers; marked as an estimate."""
    if isinstance(bundle, str):
        return unrated(f"{why}; {bundle}")
    beyond, q = _beyond(q), replace(q, limit_c=min(q.limit_c, WARMEST_PUBLISHED_C))
    classes = (q.limit_c, *(class_c for class_c in WARM_CLASSES_C if class_c > q.limit_c))
    base_a, factor, share, formula = min(
        (_shares(q, class_c) for class_c in classes), key=lambda f: math.prod(f[:3])
    )
    if base_a <= 0 or factor <= 0:
        return unrated(f"{why}; an ambient of {q.ambient_c:g} °C leaves nothing below {q.limit_c:g} °C")
    source = tables.citation("S44")
    factors = [
        Factor("ambient", factor, "30 °C base, next 5 K step up", source, "COMPUTED", q.ambient_c, "°C", formula),
        Factor("estimate", share, "heat balance within published free-air rows", source, "COMPUTED"),
    ]
    together = _with_ratio(q, bundle)
    if together is not None:
        factors.append(together)
    factors.extend(altitude_steps(q))
    made = Chain(
        base_a,
        "S44",
        "COMPUTED",
        tuple(factors),
        tuple(bounds),
        estimate=True,
        check_edition=together is not None and tables.needs_edition_check("", together.status),
        assumptions=(f"{why}: estimated by a heat balance with an assumed insulation wall", *beyond),
    )
    return _within_small_rows(made, q, None)


def _beyond(q: Question) -> tuple[str, ...]:
    if q.limit_c <= WARMEST_PUBLISHED_C:
        return ()
    return (f"insulation of {q.limit_c:g} °C is rated as {WARMEST_PUBLISHED_C:g} °C, the warmest published row",)


def _shares(q: Question, class_c: float) -> tuple[float, float, float, FactorFormula]:
    """Free-air current in A, ambient factor and share of the estimate for a class, and how the factor goes."""
    base_a, formula = _free_air(q.gauge, class_c)
    return base_a, formula.at(q.ambient_c) or 0.0, still_air_share(q.gauge.area_mm2, class_c), formula


def _nearest(table: AmpacityTable, q: Question, gauge: Gauge | None) -> tuple[Question, float, float] | None:
    """The nearest question that the table answers, and the ambient and the class in °C that its row is for."""
    if gauge is None and q.gauge.system is not table.system:
        return None
    if gauge is None:
        gauges = table.gauges()
        thicker = next((g for g in gauges if g.area_mm2 > q.gauge.area_mm2), gauges[-1])
        gauge = q.gauge if table.row(q.gauge) is not None else thicker
    row = table.row(gauge)
    assert row is not None
    filled = table.filled(row)
    column = next((c for c in reversed(filled) if c.limit_c <= q.limit_c), filled[0])
    points = column.ambient.points
    first_c, last_c = (points[0][0], points[-1][0]) if points else (q.ambient_c, q.ambient_c)
    there = replace(q, gauge=gauge, limit_c=max(q.limit_c, column.limit_c), ambient_c=min(q.ambient_c, last_c))
    # Where a table gives no credit for cooler air, its row is the current at its own ambient.
    return there, max(there.ambient_c, first_c), column.limit_c


def _with_ratio(q: Question, bundle: Factor | None) -> Factor | None:
    """The bundle's factor, and at most the published ratio of a cable's core against one conductor alone."""
    ratio = multicore_ratio(q.gauge.area_mm2)
    if q.alone or (bundle is not None and bundle.factor <= ratio):
        return bundle
    reason = f"{q.loaded} loaded together: a cable's core against one conductor alone"
    return Factor("bundle", ratio, reason, tables.citation("S51"), "VERIFIED", q.loaded, "1")


def _as_core(q: Question, factors: tuple[Factor, ...]) -> tuple[Factor, ...]:
    """The factors with at most the published ratio of a cable's core, where the row is for one conductor alone."""
    bundle = next((f for f in factors if f.kind == "bundle"), None)
    return (*(f for f in factors if f is not bundle), *filter(None, [_with_ratio(q, bundle)]))


def _within_small_rows(chain: Chain, q: Question, next_row_a: float | None) -> Chain:
    """The estimate of a small size, at most the published row of small cables.

    A size thinner than the basis' least row is not below a share of the published row either, but never up to
    ``next_row_a``, what that least row allows.
    """
    cap = small_cable_cap(q)
    if cap is None:
        return chain
    capped = replace(chain, caps=(*chain.caps, cap), check_edition=True)
    share = small_cable_share(q) if next_row_a is not None else None
    if share is None or next_row_a is None or (share.allowed_a or 0.0) >= next_row_a:
        return capped
    if (capped.allowed_a or 0.0) >= (share.allowed_a or 0.0):
        return capped
    return replace(share, caps=(cap,), assumptions=chain.assumptions)


@lru_cache(maxsize=4096)
def _free_air(gauge: Gauge, limit_c: float) -> tuple[float, FactorFormula]:
    """Free-air current at the reference ambient, and the ambient factor in steps of 5 K up to the limit.

    Above the reference √((limit − ambient)/(limit − 30)), the equation that the factors of NEC 310.15(B) and IEC
    60364-5-52 follow, so that the estimate stays as near to their rows in hot air; below it the lesser of the
    equation and the heat balance.
    """
    base_a = still_air_a(gauge.area_mm2, limit_c, REFERENCE_AMBIENT_C)
    if base_a <= 0:
        return 0.0, FactorFormula("steps")
    ambients = [-40.0 + 5.0 * k for k in range(math.floor((limit_c + 40.0 - 1e-9) / 5.0) + 1)]
    points = tuple((t, _ambient_factor(gauge, limit_c, t, base_a)) for t in ambients)
    return base_a, FactorFormula("steps", points=points)


def _ambient_factor(gauge: Gauge, limit_c: float, ambient_c: float, base_a: float) -> float:
    equation = math.sqrt((limit_c - ambient_c) / (limit_c - REFERENCE_AMBIENT_C))
    if ambient_c > REFERENCE_AMBIENT_C:
        return equation
    return min(equation, still_air_a(gauge.area_mm2, limit_c, ambient_c) / base_a)
