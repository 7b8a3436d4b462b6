"""What a basis is asked and what it answers, and the steps that the bases share.

A basis is a function from a ``Question`` to a ``Chain``: base current → ambient → bundle → altitude, with caps.
The policy margin, the terminal and a rating of the user's own are added in ``conductor_rating``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from loadloom.graph.elements import Gauge, GaugeSystem
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.heat_balance import SAFETY, altitude_factor, copper_body, free_air_current_a
from loadloom.graph.results import Cap, Factor, FactorFormula
from loadloom.graph.settings import OwnTableRow

REFERENCE_AMBIENT_C = 30.0
"""Ambient at which an estimate's base current and every altitude factor are worked out."""

ANY_COUNT = 1e6
"""Upper end of an open range of counts (``41+``): more conductors than any bundle has."""


@dataclass(frozen=True, slots=True)
class Terminal:
    """What the terminals of a conductor stand, in °C; ``stated`` is false where it is the code's default."""

    limit_c: float
    stated: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """What a basis needs to know of one conductor.

    ``limit_c`` is the insulation's (or terminal's) limit, ``ambient_c`` the greatest ambient, both in °C;
    ``loaded`` the number of loaded conductors in its bundle, itself included; ``share`` the share 0…1 of the
    bundle's capacity in use, None where it is not known (then all of it). ``terminal`` is what its terminals stand
    by the code that the NEC bases keep to.
    """

    gauge: Gauge
    limit_c: float
    ambient_c: float
    loaded: int
    share: float | None
    altitude_m: float
    own_table: tuple[OwnTableRow, ...] = ()
    terminal: Terminal = Terminal(60.0)


@dataclass(frozen=True, slots=True)
class Chain:
    """A basis' answer; ``missing`` says why there is none. ``source_ids`` lead to ``sources.csv``.

    ``with_terminal``: the basis has held the terminals by a rule of its own.
    """

    base_a: float | None
    source_ids: str
    status: str = ""
    factors: tuple[Factor, ...] = ()
    caps: tuple[Cap, ...] = ()
    estimate: bool = False
    check_edition: bool = False
    missing: str | None = None
    assumptions: tuple[str, ...] = ()
    with_terminal: bool = False

    @property
    def allowed_a(self) -> float | None:
        """min(base × Π factors, caps) in A; None where the basis can't say."""
        if self.missing is not None or self.base_a is None:
            return None
        product = self.base_a * math.prod(f.factor for f in self.factors)
        return min([product, *(cap.limit_a for cap in self.caps)])


Basis = Callable[[Question], Chain]
Step = Factor | str
"""A factor, or the reason why the basis has none here."""


def unrated(reason: str) -> Chain:
    """An answer that says why there is no rating."""
    return Chain(None, "", missing=reason)


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table for an insulation class: its limit in °C and how its values follow the ambient.

    Above ``estimate_above_c`` the ambient factors are computed, not printed: such a rating is an estimate.
    """

    limit_c: float
    name: str
    ambient: FactorFormula
    ambient_reason: str
    ambient_source_ids: str
    ambient_status: str = ""
    estimate_above_c: float = math.inf


@dataclass(frozen=True, slots=True)
class AmpacityTable:
    """A table of base currents by size and insulation class.

    ``columns`` ascend by limit. ``bundle`` gives the bundle factor, or the reason why there is none.
    A table that holds up to an altitude names it in ``highest_m``; the others get the altitude factor.
    """

    title: str
    file: str
    system: GaugeSystem
    columns: tuple[Column, ...]
    bundle: Callable[[Question], Step | None]
    highest_m: float | None = None

    def row(self, gauge: Gauge) -> tables.Row | None:
        """The row of a size of this system, else None: a size is never swapped for a near one."""
        if gauge.system is not self.system:
            return None
        for row in tables.rows(self.file):
            if _same_size(row["size"], gauge):
                return row
        return None

    def rate(self, q: Question) -> Chain:
        """Base current of the warmest column that the insulation stands, × ambient × bundle × altitude."""
        row = self.row(q.gauge)
        if row is None:
            return unrated(f"{q.gauge} is not in {self.title}")
        if self.highest_m is not None and q.altitude_m > self.highest_m:
            return unrated(f"{self.title} holds up to {self.highest_m:g} m, not at {q.altitude_m:g} m")
        filled = [c for c in self.columns if tables.number(row, c.name) is not None]
        columns = [c for c in filled if c.limit_c <= q.limit_c]
        if not columns:
            coolest = min((c.limit_c for c in filled), default=math.nan)
            return unrated(
                f"insulation of {q.limit_c:g} °C is below the coolest class ({coolest:g} °C) of {self.title} "
                f"for {q.gauge}"
            )
        column = columns[-1]
        base_a = tables.number(row, column.name)
        assert base_a is not None
        ambient = ambient_step(column, q.ambient_c, self.title)
        bundle = self.bundle(q)
        for step in (ambient, bundle):
            if isinstance(step, str):
                return unrated(step)
        factors = [f for f in (ambient, bundle) if isinstance(f, Factor)]
        if self.highest_m is None:
            factors.extend(altitude_steps(q))
        status, source_ids = row.get("status", ""), row.get("source_id", "")
        noted: tuple[str, ...] = ()
        if column.limit_c < q.limit_c:
            noted = (
                f"insulation of {q.limit_c:g} °C is rated as {column.limit_c:g} °C, the class of {self.title}",
            )
        return Chain(
            base_a,
            source_ids,
            status,
            tuple(factors),
            check_edition=tables.needs_edition_check(source_ids, status)
            or any(tables.needs_edition_check("", f.status) for f in factors)
            or tables.needs_edition_check(column.ambient_source_ids),
            estimate=q.ambient_c > column.estimate_above_c
            or any(f.kind == "bundle" and f.status == "COMPUTED" for f in factors),
            assumptions=noted,
        )

    def bound(self, q: Question) -> Cap | None:
        """The nearest rating that the table does give, as a bound on an estimate; None where it has none.

        Nearest is the same size or else the next thicker one, the coolest class where the insulation is below it,
        and the hottest ambient that has a factor.
        """
        gauge = q.gauge if self.row(q.gauge) is not None else self._next_thicker(q.gauge)
        row = self.row(gauge) if gauge is not None else None
        filled = [c for c in self.columns if row is not None and tables.number(row, c.name) is not None]
        if gauge is None or row is None or not filled:
            return None
        limit_c = max(q.limit_c, filled[0].limit_c)
        points = [c for c in filled if c.limit_c <= limit_c][-1].ambient.points
        ambient_c = min(q.ambient_c, points[-1][0]) if points else q.ambient_c
        limit_a = self.rate(replace(q, gauge=gauge, limit_c=limit_c, ambient_c=ambient_c)).allowed_a
        if limit_a is None:
            return None
        reason = f"{self.title}: {gauge}, {limit_c:g} °C insulation, {ambient_c:g} °C ambient"
        return Cap(reason, limit_a, tables.citation(row.get("source_id", "")))

    def _next_thicker(self, gauge: Gauge) -> Gauge | None:
        if gauge.system is not self.system:
            return None
        sizes = (_gauge(self.system, row["size"]) for row in tables.rows(self.file))
        thicker = (other for other in sizes if other.area_mm2 > gauge.area_mm2)
        return min(thicker, key=lambda other: other.area_mm2, default=None)


def ambient_step(column: Column, ambient_c: float, title: str) -> Step:
    """The ambient factor of a column, or why there is none."""
    factor = column.ambient.at(ambient_c)
    if factor is None or factor <= 0:
        return f"an ambient of {ambient_c:g} °C is beyond the ambient factors of {title}"
    return Factor(
        "ambient",
        factor,
        column.ambient_reason,
        tables.citation(column.ambient_source_ids),
        column.ambient_status,
        ambient_c,
        "°C",
        column.ambient,
    )


def count_step(file: str, column: str, count: int, what: str) -> Step:
    """The factor of a table by number of conductors or circuits: ``4-6``, ``41+`` or single counts.

    Between single counts the next greater one counts; beyond the last there is no factor.
    """
    points = []
    for row in tables.rows(file):
        text = row[column]
        upto = ANY_COUNT if text.endswith("+") else float(text.split("-")[-1])
        points.append((upto, float(row["factor"]), row))
    first = float(points[0][2][column].split("-")[0].rstrip("+"))
    last_row = points[0][2]
    if count < first:
        return Factor("bundle", 1.0, f"{count} {what}", tables.citation(last_row["source_id"]), "", count, "1")
    for upto, factor, row in points:
        if count <= upto:
            below = ((first - 1, 1.0),) if first > 1 else ()
            formula = FactorFormula("steps", points=(*below, *((u, f) for u, f, _ in points)))
            return Factor(
                "bundle",
                factor,
                f"{count} {what}",
                tables.citation(row["source_id"]),
                row["status"],
                count,
                "1",
                formula,
            )
    return f"{count} {what} are more than {tables.citation(last_row['source_id'])} goes to"


def altitude_steps(q: Question) -> Iterable[Factor]:
    """The altitude factor where the altitude is above sea level (an estimate by the heat balance)."""
    if q.altitude_m <= 0:
        return
    factor = _altitude(q.gauge, q.limit_c, q.altitude_m)
    yield Factor(
        "altitude",
        factor,
        f"thinner air at {q.altitude_m:g} m",
        f"heat balance, fitted to 0.91 at 20 000 ft of {tables.citation('S03')}",
        "COMPUTED",
        q.altitude_m,
        "m",
    )


def estimate(q: Question, bundle: Step | None, why: str, bounds: Iterable[Cap] = ()) -> Chain:
    """Heat balance in still air × 0.85 × bundle × altitude, for what no table covers; marked as an estimate."""
    if isinstance(bundle, str):
        return unrated(f"{why}; {bundle}")
    base_a, formula = _free_air(q.gauge, q.limit_c)
    factor = formula.at(q.ambient_c)
    if base_a <= 0 or factor is None or factor <= 0:
        return unrated(f"{why}; an ambient of {q.ambient_c:g} °C leaves nothing below {q.limit_c:g} °C")
    source = tables.citation("S44")
    factors = [
        Factor("ambient", factor, "heat balance, next 5 K step up", source, "COMPUTED", q.ambient_c, "°C", formula),
        Factor("estimate", SAFETY, "heat balance against free-air tables: −5 … +17 %", source, "COMPUTED"),
    ]
    if bundle is not None:
        factors.append(bundle)
    factors.extend(altitude_steps(q))
    return Chain(
        base_a,
        "S44",
        "COMPUTED",
        tuple(factors),
        tuple(bounds),
        estimate=True,
        check_edition=bundle is not None and tables.needs_edition_check("", bundle.status),
        assumptions=(f"{why}: estimated by a heat balance with an assumed insulation wall",),
    )


def table_or_estimate(table: AmpacityTable, q: Question, bundle: Callable[[Question], Step | None]) -> Chain:
    """The table's rating; where it has none the estimate, capped by the nearest rating that the table does give.

    The cap keeps an estimate for a thinner size, cooler insulation or hotter air from exceeding a published rating.
    """
    chain = table.rate(q)
    if chain.missing is None:
        return chain
    bound = table.bound(q)
    return estimate(q, bundle(q), chain.missing, () if bound is None else (bound,))


def with_margin(chain: Chain, margin: float) -> Chain:
    """The chain with the policy margin as its last factor; caps keep the same margin free."""
    if margin <= 0 or chain.missing is not None:
        return chain
    factor = Factor(
        "margin", 1.0 - margin, f"{margin:.0%} kept free", "margin policy of the settings", "", margin, "1"
    )
    caps = tuple(
        Cap(f"{cap.reason}, {cap.limit_a:.3g} A less {margin:.0%}", cap.limit_a * (1.0 - margin), cap.source)
        for cap in chain.caps
    )
    return replace(chain, factors=(*chain.factors, factor), caps=caps)


def _gauge(system: GaugeSystem, size: str) -> Gauge:
    if system is GaugeSystem.MM2:
        return Gauge(system, size, float(size))
    number = 1 - int(size.split("/")[0]) if "/" in size else int(size)
    return Gauge(system, size, math.pi / 4 * (0.127 * 92 ** ((36 - number) / 39)) ** 2)  # ASTM B258


def _same_size(size: str, gauge: Gauge) -> bool:
    if gauge.system is GaugeSystem.AWG:
        return size == gauge.size
    return math.isclose(float(size), gauge.area_mm2, rel_tol=1e-9)


@lru_cache(maxsize=4096)
def _free_air(gauge: Gauge, limit_c: float) -> tuple[float, FactorFormula]:
    """Free-air current at the reference ambient, and the ambient factor in steps of 5 K up to the limit."""
    body = copper_body(gauge.area_mm2)
    base_a = float(free_air_current_a(body, limit_c, REFERENCE_AMBIENT_C))
    if base_a <= 0:
        return 0.0, FactorFormula("steps")
    ambients = [-40.0 + 5.0 * k for k in range(int((limit_c + 40.0 - 1e-9) // 5.0) + 1)]
    currents = free_air_current_a(body, limit_c, np.array(ambients))
    points = tuple((t, float(i) / base_a) for t, i in zip(ambients, currents.tolist(), strict=True))
    return base_a, FactorFormula("steps", points=points)


@lru_cache(maxsize=4096)
def _altitude(gauge: Gauge, limit_c: float, altitude_m: float) -> float:
    ambient_c = min(REFERENCE_AMBIENT_C, limit_c - 20.0)
    return altitude_factor(altitude_m, copper_body(gauge.area_mm2), limit_c, ambient_c)
