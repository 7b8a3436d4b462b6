"""What a basis is asked and what it answers, and the steps that the bases share.

A basis is a function from a ``Question`` to a ``Chain``: base current → ambient → bundle → altitude, with caps.
The policy margin, the terminal and a rating of the user's own are added in ``conductor_rating``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from loadloom.graph.model.elements import Gauge, GaugeSystem
from loadloom.graph.model.results import Cap, Factor, FactorFormula
from loadloom.graph.model.settings import OwnTableRow
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.heat_balance import altitude_factor, copper_body

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
    by the code that the NEC bases keep to. ``in_cable``: it is a core of a cable; ``layout`` is how the cables of
    its bundle lie.
    """

    gauge: Gauge
    limit_c: float
    ambient_c: float
    loaded: int
    share: float | None
    altitude_m: float
    own_table: tuple[OwnTableRow, ...] = ()
    terminal: Terminal = Terminal(60.0)
    in_cable: bool = False
    layout: str = "bunched"

    @property
    def alone(self) -> bool:
        """Whether it is a single wire with no other loaded one beside it."""
        return self.loaded == 1 and not self.in_cable


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
    A table that holds up to an altitude names it in ``highest_m``; the others get the altitude factor. ``alone``:
    its values are for one conductor alone in free air.
    """

    title: str
    file: str
    system: GaugeSystem
    columns: tuple[Column, ...]
    bundle: Callable[[Question], Step | None]
    highest_m: float | None = None
    alone: bool = False

    def row(self, gauge: Gauge) -> tables.Row | None:
        """The row of a size of this system, else None: a size is never swapped for a near one."""
        if gauge.system is not self.system:
            return None
        for row in tables.rows(self.file):
            if _same_size(row["size"], gauge):
                return row
        return None

    def gauges(self) -> list[Gauge]:
        """The sizes of the table, ascending by section."""
        return sorted((gauge_of(self.system, r["size"]) for r in tables.rows(self.file)), key=lambda g: g.area_mm2)

    def filled(self, row: tables.Row) -> list[Column]:
        """The columns that have a value in a row, ascending by limit."""
        return [c for c in self.columns if tables.number(row, c.name) is not None]

    def rate(self, q: Question) -> Chain:
        """Base current of the warmest column that the insulation stands, × ambient × bundle × altitude."""
        row = self.row(q.gauge)
        if row is None:
            return unrated(f"{q.gauge} is not in {self.title}")
        if self.highest_m is not None and q.altitude_m > self.highest_m:
            return unrated(f"{self.title} holds up to {self.highest_m:g} m, not at {q.altitude_m:g} m")
        filled = self.filled(row)
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


def count_step(file: str, column: str, count: int, what: str, factor_column: str = "factor") -> Step:
    """The factor of a table by number of conductors or circuits: ``4-6``, ``41+`` or single counts.

    Between single counts the next greater one counts; beyond the last there is no factor.
    """
    points = []
    for row in tables.rows(file):
        text = row[column]
        upto = ANY_COUNT if text.endswith("+") else float(text.split("-")[-1])
        points.append((upto, float(row[factor_column]), row))
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


def gauge_of(system: GaugeSystem, size: str) -> Gauge:
    """The gauge of a table's size cell."""
    if system is GaugeSystem.MM2:
        return Gauge(system, size, float(size))
    number = 1 - int(size.split("/")[0]) if "/" in size else int(size)
    return Gauge(system, size, math.pi / 4 * (0.127 * 92 ** ((36 - number) / 39)) ** 2)  # ASTM B258


def _same_size(size: str, gauge: Gauge) -> bool:
    if gauge.system is GaugeSystem.AWG:
        return size == gauge.size
    return math.isclose(float(size), gauge.area_mm2, rel_tol=1e-9)


@lru_cache(maxsize=4096)
def _altitude(gauge: Gauge, limit_c: float, altitude_m: float) -> float:
    ambient_c = min(REFERENCE_AMBIENT_C, limit_c - 20.0)
    return altitude_factor(altitude_m, copper_body(gauge.area_mm2), limit_c, ambient_c)
