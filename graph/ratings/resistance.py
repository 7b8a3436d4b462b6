"""Resistance per metre of a conductor size: a band between what wires of that size can have, or one table's value.

A size alone does not say how much resistance a wire has: solid, stranded and flexible wires of one size, bare and
tinned, differ by up to a third. The band's two ends are

* *greatest*: the largest of the published columns for the size. For AWG these are NEC chapter 9 table 8,
  AC 43.13-1B table 11-9 and a chart of hook-up wire; for mm² IEC 60228, classes 1 and 2 or 5 and 6, whichever is
  more. It counts for voltage drop, for a short that nothing clears, and for the slowest clearing.
* *least*: the area of solid annealed copper, or a published value below it (19 strands are more copper than the
  solid wire of the same number: in the hook-up chart, and by the nominal areas of AC 43.13). It counts for
  sustained fault currents, prospective currents and breaking capacity. The columns of IEC 60228 and AC 43.13 are
  maxima, so the least is never taken from them alone.

``Make`` (``Strands``, ``Tinned``, ``Class`` of the drawing or the settings) leaves only the columns that fit.
A size that no column has gets the greatest of its neighbours with a further margin; it is never swapped for one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from loadloom.graph.model.elements import Gauge, GaugeSystem, Make
from loadloom.graph.ratings import tables

COPPER_RESISTIVITY_OHM_MM2_PER_M = 0.017241
"""Annealed copper, 100 % IACS, 20 °C: IEC 60028; NBS Handbook 100 (1966)."""

COPPER_ALPHA20_PER_K = 0.00393
"""Temperature coefficient of resistance at 20 °C: NBS Handbook 100 (1966)."""

IEC_60228_ALPHA20_PER_K = 0.004
"""IEC 60228, temperature correction Kt = 1/(1 + 0.004 (T − 20)); used with its own tables."""

LAY = 1.02
"""A strand is longer than the wire: typical 2 %; value from memory (ASTM B8)."""

TIN = 1.03
"""Resistance of tinned strands over bare ones: typical 3 %; value from memory (ASTM B33)."""

BEYOND_ROWS, BEYOND_ROWS_FINE, FINE_MM2 = 1.035, 1.01, 20.0
"""Further margin on the greatest resistance of a size that no published column has, and that of sizes in mm² below
20 mm²; own choice. With them the estimate is 1.0 to 1.1 times every row of ISO 6722 (1.25, 2, 3, 5, 8, 12, 20, 30,
40, 60 mm², values from memory)."""

ESTIMATE = "estimate"

BAND = "band"
"""The default: the band described above."""

COPPER = "copper"
"""Bare resistivity over area, at both ends: for examples that are to be recomputed by hand."""

_OHM_PER_1000_FT = 1.0 / 304.8
_IEC = "resistance_iec_60228"
_SMALL_MM2 = "resistance_below_iec_60228"
_FAA = "resistance_ac43_13_stranded"
_NEC = "resistance_nec_table_8"
_CHART = "resistance_hookup"
_NEC_AT_C = 75.0
_MANY_STRANDS = 19
"""AC 43.13 names no count of strands; aircraft wire has 19 or more (MIL-W-5086, from memory)."""


@dataclass(frozen=True, slots=True)
class UnitResistance:
    """Resistance per metre at 20 °C with its coefficient, what it is, and where it comes from."""

    r20_ohm_per_m: float
    alpha20_per_k: float
    what: str
    source: str

    def at_ohm_per_m(self, temperature_c: float) -> float:
        """Resistance per metre at a temperature, r20 × (1 + α (T − 20)); not below what copper has at −200 °C."""
        return self.r20_ohm_per_m * temperature_factor(temperature_c, self.alpha20_per_k)


@dataclass(frozen=True, slots=True)
class UnitBand:
    """The least and the greatest resistance per metre of a size; ``assumption`` says what nobody stated."""

    least: UnitResistance
    greatest: UnitResistance
    assumption: str | None = None


@dataclass(frozen=True, slots=True)
class _Column:
    """A value for one size: Ω/m at 20 °C, and which wires it is for (None = any).

    ``nominal``: of bare strands without lay. ``maximum``: a greatest resistance, which says nothing of the least.
    """

    r20_ohm_per_m: float
    alpha20_per_k: float
    what: str
    source_id: str
    solid: bool
    strands: int | None
    coated: bool | None
    iec_classes: tuple[int, ...] = ()
    nominal: bool = False
    maximum: bool = True

    def fits(self, make: Make) -> bool:
        """Whether a wire of this make can be one of the column's."""
        if make.tinned is not None and self.coated is not None and make.tinned != self.coated:
            return False
        if self.iec_classes:
            if make.strands is not None and (make.strands == 1) and 1 not in self.iec_classes:
                return False
            return make.iec_class is None or make.iec_class in self.iec_classes
        if make.strands is None:
            return True
        if self.solid or make.strands == 1:
            return self.solid and make.strands == 1
        return make.strands == self.strands or (self.strands is None and make.strands >= _MANY_STRANDS)

    def greatest(self, make: Make) -> UnitResistance:
        """The column's greatest resistance: a nominal value gets lay, and tin unless the wire is bare."""
        factor, what = 1.0, self.what
        if self.nominal and make.tinned is False:
            factor, what = LAY, f"{self.what}, × {LAY:g} for lay"
        elif self.nominal:
            factor, what = LAY * TIN, f"{self.what}, × {LAY:g} × {TIN:g} for lay and tin"
        return UnitResistance(
            self.r20_ohm_per_m * factor, self.alpha20_per_k, what, tables.citation(self.source_id)
        )

    def least(self) -> UnitResistance:
        """The column's own value."""
        return UnitResistance(self.r20_ohm_per_m, self.alpha20_per_k, self.what, tables.citation(self.source_id))


NAMED_TABLES: Mapping[str, tuple[str, Make]] = {
    "iec-60228-class-1-2": (_IEC, Make(None, False, 2)),
    "iec-60228-class-1-2-coated": (_IEC, Make(None, True, 2)),
    "iec-60228-class-5-6": (_IEC, Make(None, False, 5)),
    "iec-60228-class-5-6-coated": (_IEC, Make(None, True, 5)),
    "ac43.13-stranded": (_FAA, Make(None, True)),
    "nec-table-8-solid": (_NEC, Make(1, False)),
    "nec-table-8-stranded": (_NEC, Make(None, False)),
    "nec-table-8-stranded-coated": (_NEC, Make(None, True)),
}
"""Tables that ``AnalysisSettings.resistance_table`` can name, beside ``band`` and ``copper``: file, and its column.

A named table gives the greatest resistance. The least stays the area of solid copper where that is less.
"""


def known_tables() -> tuple[str, ...]:
    """Every name that ``resistance_table`` can have."""
    return (BAND, COPPER, *NAMED_TABLES)


def temperature_factor(temperature_c: float, alpha20_per_k: float = COPPER_ALPHA20_PER_K) -> float:
    """Resistance at a temperature over that at 20 °C, 1 + α (T − 20); not below what copper has at −200 °C."""
    return 1.0 + alpha20_per_k * (max(temperature_c, -200.0) - 20.0)


@lru_cache(maxsize=2048)
def unit_band(gauge: Gauge, make: Make, table: str = BAND) -> UnitBand:
    """The least and the greatest resistance per metre of a size, as ``table`` and ``make`` leave them."""
    solid = _solid(gauge)
    if table == COPPER:
        return UnitBand(solid, solid)
    if table != BAND:
        return _of_table(gauge, make, table, solid)
    columns = _all_columns(gauge)
    fitting = tuple(column for column in columns if column.fits(make))
    left = fitting or columns
    greatest = max((column.greatest(make) for column in left), key=lambda unit: unit.r20_ohm_per_m)
    area = [solid] if _may_be_solid_area(left, make) else []
    area.extend(_nominal_area(gauge, make))
    least = min((*area, *(column.least() for column in left)), key=lambda unit: unit.r20_ohm_per_m)
    return UnitBand(least, greatest, _assumption(gauge, make, least, greatest, bool(fitting)))


def _may_be_solid_area(columns: tuple[_Column, ...], make: Make) -> bool:
    """Whether the least is the area of solid copper: unless nominal values of a stated count of strands are known.

    Maxima say nothing of the least.
    """
    return make.strands in (None, 1) or all(column.maximum for column in columns)


def _nominal_area(gauge: Gauge, make: Make) -> Iterator[UnitResistance]:
    """Copper of the nominal area of stranded aircraft wire, for some sizes larger than that of the solid wire."""
    row = tables.by_size(_FAA).get(gauge.size) if gauge.system is GaugeSystem.AWG else None
    area_mm2 = tables.number(row, "nominal_area_mm2") if row is not None else None
    if row is None or area_mm2 is None or (make.strands is not None and make.strands < _MANY_STRANDS):
        return
    what = f"AC 43.13-1B table 11-9, copper of its nominal area {area_mm2:g} mm²"
    r20 = COPPER_RESISTIVITY_OHM_MM2_PER_M / area_mm2
    yield UnitResistance(r20, COPPER_ALPHA20_PER_K, what, tables.citation(row["source_id"]))


def _of_table(gauge: Gauge, make: Make, name: str, solid: UnitResistance) -> UnitBand:
    file, of_table = NAMED_TABLES.get(name, ("", Make()))
    here = (c for c in _published(gauge, file) if c.fits(of_table) and c.solid == (of_table.strands == 1))
    column = next(here, None)
    if column is None:
        band = unit_band(gauge, make)
        words = band.assumption or _ends(band.least, band.greatest)
        return UnitBand(band.least, band.greatest, f"{gauge} is not in {name}; {words}")
    greatest = column.least()
    return UnitBand(min(solid, greatest, key=lambda unit: unit.r20_ohm_per_m), greatest)


def _solid(gauge: Gauge) -> UnitResistance:
    r20 = COPPER_RESISTIVITY_OHM_MM2_PER_M / gauge.area_mm2
    return UnitResistance(r20, COPPER_ALPHA20_PER_K, "solid annealed copper", tables.citation("S02"))


def _all_columns(gauge: Gauge) -> tuple[_Column, ...]:
    """All values for a size: the published ones, those of solid wire, and an estimate where no stranded one is."""
    found = list(_published(gauge))
    if gauge.system is GaugeSystem.AWG:
        solid = _solid(gauge)
        for coated, factor, what in (
            (False, 1.0, solid.what),
            (True, TIN, f"{solid.what}, × {TIN:g} for tin"),
        ):
            found.append(_Column(solid.r20_ohm_per_m * factor, COPPER_ALPHA20_PER_K, what, "S02", True, 1, coated))
    if all(column.solid for column in found):
        found.append(_estimate(gauge))
    return tuple(found)


def _published(gauge: Gauge, only: str | None = None) -> Iterator[_Column]:
    """The published values for a size, of all files or of one."""
    for file, (system, read) in _FILES.items():
        if gauge.system is system and only in (None, file):
            for row in tables.rows(file):
                if row_size_matches(row["size"], gauge):
                    yield from read(row)


def _iec_columns(row: tables.Row) -> Iterator[_Column]:
    for classes, name in (((1, 2), "class1_2"), ((5, 6), "class5_6")):
        for coated, kind in ((False, "plain"), (True, "metal_coated")):
            ohm_per_km = tables.number(row, f"{name}_{kind}_ohm_per_km")
            assert ohm_per_km is not None
            what = f"IEC 60228 class {classes[0]} or {classes[1]}, {'tinned' if coated else 'plain'}, greatest"
            yield _Column(
                ohm_per_km * 1e-3, IEC_60228_ALPHA20_PER_K, what, row["source_id"], False, None, coated, classes
            )


def _small_columns(row: tables.Row) -> Iterator[_Column]:
    for coated, kind in ((False, "plain"), (True, "tinned")):
        ohm_per_km = tables.number(row, f"{kind}_ohm_per_km")
        assert ohm_per_km is not None
        what = f"flexible core below 0.5 mm², {kind}, greatest"
        yield _Column(
            ohm_per_km * 1e-3, COPPER_ALPHA20_PER_K, what, row["source_id"], False, None, coated, (2, 5, 6)
        )


def _faa_columns(row: tables.Row) -> Iterator[_Column]:
    ohm_per_km = tables.number(row, "r20_ohm_per_km")
    assert ohm_per_km is not None
    what = "AC 43.13-1B table 11-9, stranded and tinned, greatest"
    yield _Column(ohm_per_km * 1e-3, COPPER_ALPHA20_PER_K, what, row["source_id"], False, None, True)


def _nec_columns(row: tables.Row) -> Iterator[_Column]:
    strands = int(row["strands"])
    for coated, kind in ((False, "uncoated"), (True, "coated")):
        ohm = tables.number(row, f"{kind}_75C_ohm_per_1000ft")
        assert ohm is not None
        r20 = ohm * _OHM_PER_1000_FT / (1.0 + COPPER_ALPHA20_PER_K * (_NEC_AT_C - 20.0))
        what = f"NEC chapter 9 table 8, {'solid' if strands == 1 else f'{strands} strands'}, {kind}"
        alpha = COPPER_ALPHA20_PER_K
        yield _Column(r20, alpha, what, row["source_id"], strands == 1, strands, coated, maximum=False)


def _chart_columns(row: tables.Row) -> Iterator[_Column]:
    ohm_per_km = tables.number(row, "r20_ohm_per_km")
    assert ohm_per_km is not None
    strands = int(row["strands"])
    what = f"chart of hook-up wire, {strands} strands of {row['strand_awg']} AWG, nominal"
    yield _Column(
        ohm_per_km * 1e-3,
        COPPER_ALPHA20_PER_K,
        what,
        row["source_id"],
        False,
        strands,
        None,
        nominal=True,
        maximum=False,
    )


_FILES: Mapping[str, tuple[GaugeSystem, Callable[[tables.Row], Iterator[_Column]]]] = {
    _IEC: (GaugeSystem.MM2, _iec_columns),
    _SMALL_MM2: (GaugeSystem.MM2, _small_columns),
    _FAA: (GaugeSystem.AWG, _faa_columns),
    _NEC: (GaugeSystem.AWG, _nec_columns),
    _CHART: (GaugeSystem.AWG, _chart_columns),
}


def row_size_matches(size: str, gauge: Gauge) -> bool:
    """Whether a table's size cell is this gauge; mm² sizes compare as numbers, ``1.0`` is ``1``."""
    if gauge.system is GaugeSystem.AWG:
        return size == gauge.size
    return math.isclose(float(size), gauge.area_mm2, rel_tol=1e-9)


def _estimate(gauge: Gauge) -> _Column:
    """The greatest resistance of a stranded wire of a size that no table has."""
    solid = _solid(gauge)
    if gauge.system is GaugeSystem.AWG:
        # ASTM B8 and B33, values from memory
        factor, why, alpha = LAY * TIN, f"× {LAY:g} × {TIN:g} for lay and tin", COPPER_ALPHA20_PER_K
        beyond = BEYOND_ROWS
    else:
        factor, why = _neighbours_excess(gauge.area_mm2), "as much over solid copper as the next published sizes"
        alpha = IEC_60228_ALPHA20_PER_K
        beyond = BEYOND_ROWS_FINE if gauge.area_mm2 < FINE_MM2 else BEYOND_ROWS
    what = f"{ESTIMATE}, no table has this size: {why}, and × {beyond:g}"
    return _Column(solid.r20_ohm_per_m * factor * beyond, alpha, what, "S02", False, None, None)


def _neighbours_excess(area_mm2: float) -> float:
    """The greater of the two next published sizes' greatest resistance, each over that of solid copper."""
    found: dict[float, float] = {}
    for file in (_IEC, _SMALL_MM2):
        for row in tables.rows(file):
            size = float(row["size"])
            worst = max(column.r20_ohm_per_m for column in _FILES[file][1](row))
            found[size] = max(worst * size / COPPER_RESISTIVITY_OHM_MM2_PER_M, found.get(size, 0.0))
    below = max((size for size in found if size <= area_mm2), default=min(found))
    above = min((size for size in found if size >= area_mm2), default=max(found))
    return max(found[below], found[above])


def _assumption(
    gauge: Gauge, make: Make, least: UnitResistance, greatest: UnitResistance, known: bool
) -> str | None:
    if not known:
        return (
            f"no published resistance of {gauge} is for a wire of the Strands, Tinned and Class that are stated: "
            + _ends(least, greatest)
        )
    if greatest.what.startswith(ESTIMATE):
        return f"no published resistance of {gauge} for its make: " + _ends(least, greatest)
    kinds = ("Class", make.iec_class) if gauge.system is GaugeSystem.MM2 else ("Strands", make.strands)
    open_ones = [name for name, value in (kinds, ("Tinned", make.tinned)) if value is None]
    if not open_ones or (gauge.system is GaugeSystem.MM2 and make.strands == 1 and make.tinned is not None):
        return None
    return f"{' and '.join(open_ones)} of {gauge} {'are' if len(open_ones) > 1 else 'is'} not stated: " + _ends(
        least, greatest
    )


def _ends(least: UnitResistance, greatest: UnitResistance) -> str:
    return (
        f"{least.r20_ohm_per_m * 1e3:.4g} mΩ/m at 20 °C ({least.what}) counts for fault currents, "
        f"{greatest.r20_ohm_per_m * 1e3:.4g} mΩ/m ({greatest.what}) for voltage drop and clearing times"
    )
