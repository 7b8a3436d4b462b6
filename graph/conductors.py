"""Copper conductors: their resistance at a temperature."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from loadloom.graph.elements import Conductor, Gauge, GaugeSystem
from loadloom.graph.harness import Harness
from loadloom.graph.insulation import insulation_named
from loadloom.graph.ratings import tables
from loadloom.graph.settings import AnalysisSettings
from loadloom.graph.solving.network import ConductorResistance, Corner, Warmth

COPPER_RESISTIVITY_OHM_MM2_PER_M = 0.017241
"""Annealed copper, 100 % IACS, 20 °C: IEC 60028; NBS Handbook 100 (1966)."""

COPPER_ALPHA20_PER_K = 0.00393
"""Temperature coefficient of resistance at 20 °C: NBS Handbook 100 (1966)."""

IEC_60228_ALPHA20_PER_K = 0.004
"""IEC 60228, temperature correction Kt = 1/(1 + 0.004 (T − 20)); used with its own tables."""

PLACEHOLDER_AREA_MM2 = 1.0
"""Stands in for a gauge that is missing or unreadable; such a conductor is unrated and its results are marked."""

PLACEHOLDER_LENGTH_M = 1.0
"""Stands in for a length that is missing or unreadable."""

COPPER = "copper"
"""The resistance "table" that is resistivity over area."""


@dataclass(frozen=True, slots=True)
class ResistanceTable:
    """Where a named resistance table stands and how its cells turn into Ω/m at 20 °C."""

    file: str
    column: str
    system: GaugeSystem
    alpha20_per_k: float
    ohm_per_m: float
    source_id: str
    at_c: float = 20.0
    strands: str = ""


_IEC = ("resistance_iec_60228", GaugeSystem.MM2, IEC_60228_ALPHA20_PER_K, 1e-3, "S05")
_OHM_PER_1000_FT = 1.0 / 304.8


def _iec(column: str) -> ResistanceTable:
    file, system, alpha, scale, source = _IEC
    return ResistanceTable(file, column, system, alpha, scale, source)


def _nec(column: str, strands: str) -> ResistanceTable:
    return ResistanceTable(
        "resistance_nec_table_8",
        column,
        GaugeSystem.AWG,
        COPPER_ALPHA20_PER_K,
        _OHM_PER_1000_FT,
        "S04",
        at_c=75.0,
        strands=strands,
    )


RESISTANCE_TABLES: Mapping[str, ResistanceTable] = {
    "iec-60228-class-1-2": _iec("class1_2_plain_ohm_per_km"),
    "iec-60228-class-1-2-coated": _iec("class1_2_metal_coated_ohm_per_km"),
    "iec-60228-class-5-6": _iec("class5_6_plain_ohm_per_km"),
    "iec-60228-class-5-6-coated": _iec("class5_6_metal_coated_ohm_per_km"),
    "ac43.13-stranded": ResistanceTable(
        "resistance_ac43_13_stranded",
        "r20_ohm_per_km",
        GaugeSystem.AWG,
        COPPER_ALPHA20_PER_K,
        1e-3,
        "S03",
    ),
    "nec-table-8-solid": _nec("uncoated_75C_ohm_per_1000ft", "1"),
    "nec-table-8-stranded": _nec("uncoated_75C_ohm_per_1000ft", "7"),
    "nec-table-8-stranded-coated": _nec("coated_75C_ohm_per_1000ft", "7"),
}
"""Tables that ``AnalysisSettings.resistance_table`` can name, beside ``copper``."""


@dataclass(frozen=True, slots=True)
class UnitResistance:
    """Resistance per metre at 20 °C with its coefficient, where it comes from, and what had to be assumed."""

    r20_ohm_per_m: float
    alpha20_per_k: float
    source: str
    assumption: str | None = None


def unit_resistance(gauge: Gauge | None, settings: AnalysisSettings) -> UnitResistance:
    """Resistance per metre of a conductor size by ``settings.resistance_table``.

    A size that the table does not have, or of the other system, is taken as area × resistivity and says so; it is
    never swapped for a near one. So is everything where there is no table of that name. No gauge: the placeholder
    area.
    """
    if gauge is None:
        return _copper(PLACEHOLDER_AREA_MM2, f"no readable gauge: {PLACEHOLDER_AREA_MM2:g} mm² as a placeholder")
    if settings.resistance_table == COPPER:
        return _copper(gauge.area_mm2, None)
    table = RESISTANCE_TABLES.get(settings.resistance_table)
    cell = None if table is None else _cell(table, gauge)
    if table is None or cell is None:
        return _copper(
            gauge.area_mm2, f"{gauge} is not in {settings.resistance_table}: area × resistivity of copper"
        )
    r20 = cell * table.ohm_per_m / (1.0 + table.alpha20_per_k * (table.at_c - 20.0))
    return UnitResistance(r20, table.alpha20_per_k, tables.citation(table.source_id))


def resistance_ohm(conductor: Conductor, temperature_c: float, settings: AnalysisSettings) -> float:
    """Resistance of a conductor from gauge and length: length × r20 × (1 + α (T − 20)), in Ω.

    The conductor's own stated ``resistance_ohm`` is not looked at here. Placeholders stand in for a gauge or a
    length that is missing. Source of the formula: NBS Handbook 100; IEC 60228 for its own tables.
    """
    length_m = conductor.length_m if conductor.length_m is not None else PLACEHOLDER_LENGTH_M
    unit = unit_resistance(conductor.gauge, settings)
    return length_m * unit.r20_ohm_per_m * temperature_factor(temperature_c, unit.alpha20_per_k)


def temperature_factor(temperature_c: float, alpha20_per_k: float = COPPER_ALPHA20_PER_K) -> float:
    """Resistance at a temperature over that at 20 °C, 1 + α (T − 20); not below what copper has at −200 °C."""
    return 1.0 + alpha20_per_k * (max(temperature_c, -200.0) - 20.0)


def resistance_assumptions(conductor: Conductor, settings: AnalysisSettings) -> tuple[str, ...]:
    """What had to be assumed about a conductor's resistance, one phrase each; empty where it states its own."""
    if conductor.resistance_ohm is not None:
        return ()
    found = [unit_resistance(conductor.gauge, settings).assumption]
    if conductor.length_m is None:
        found.append(f"no readable length: {PLACEHOLDER_LENGTH_M:g} m as a placeholder")
    return tuple(text for text in found if text is not None)


def conductor_resistances(
    harness: Harness,
    settings: AnalysisSettings,
    temperatures_c: Mapping[str, float] | None = None,
) -> ConductorResistance:
    """The resistances of a harness' conductors at the corners (design, section 4, "Corners").

    COLD is the zone's least ambient, HOT the insulation's limit, OWN the given temperature in °C by conductor
    id, or the zone's greatest ambient. ``settings.conductor_temperature_c`` overrides all of them.
    """
    own = temperatures_c or {}
    units: dict[Gauge | None, UnitResistance] = {}
    limits: dict[str | None, float] = {}
    for conductor in harness.conductors:
        for there in conductor.variants():
            if there.gauge not in units:
                units[there.gauge] = unit_resistance(there.gauge, settings)
            if there.insulation not in limits:
                limits[there.insulation] = insulation_named(there.insulation, settings).limit_c

    def temperature_c(conductor: Conductor, corner: Corner) -> float:
        if settings.conductor_temperature_c is not None:
            return settings.conductor_temperature_c
        if corner.warmth is Warmth.COLD:
            return settings.ambient(conductor.zone).min_c
        if corner.warmth is Warmth.HOT:
            return max(limits[conductor.insulation], settings.ambient(conductor.zone).max_c)
        return own.get(conductor.id, settings.ambient(conductor.zone).max_c)

    def resistance(conductor: Conductor, corner: Corner) -> float:
        unit = units[conductor.gauge]
        length_m = conductor.length_m if conductor.length_m is not None else PLACEHOLDER_LENGTH_M
        warmth = temperature_factor(temperature_c(conductor, corner), unit.alpha20_per_k)
        return length_m * unit.r20_ohm_per_m * warmth

    return resistance


def _copper(area_mm2: float, assumption: str | None) -> UnitResistance:
    return UnitResistance(
        COPPER_RESISTIVITY_OHM_MM2_PER_M / area_mm2, COPPER_ALPHA20_PER_K, tables.citation("S02"), assumption
    )


def _cell(table: ResistanceTable, gauge: Gauge) -> float | None:
    if gauge.system is not table.system:
        return None
    for row in tables.rows(table.file):
        if row_size_matches(row["size"], gauge) and _strands_match(row.get("strands", ""), table.strands):
            return tables.number(row, table.column)
    return None


def row_size_matches(size: str, gauge: Gauge) -> bool:
    """Whether a table's size cell is this gauge; mm² sizes compare as numbers, ``1.0`` is ``1``."""
    if gauge.system is GaugeSystem.AWG:
        return size == gauge.size
    return math.isclose(float(size), gauge.area_mm2, rel_tol=1e-9)


def _strands_match(cell: str, wanted: str) -> bool:
    """Table 8 lists 7 or 19 strands for a stranded size, and 1 for a solid one."""
    return not wanted or (cell == "1") == (wanted == "1")
