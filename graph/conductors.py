"""Copper conductors: resistance at a temperature, and what their insulation stands."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from loadloom.graph.elements import Conductor, Gauge, GaugeSystem
from loadloom.graph.harness import Harness
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.catalogue import BASES
from loadloom.graph.settings import AnalysisSettings
from loadloom.graph.solving.network import ConductorResistance, Corner, Warmth

COPPER_RESISTIVITY_OHM_MM2_PER_M = 0.017241
"""Annealed copper, 100 % IACS, 20 °C: IEC 60028; NBS Handbook 100 (1966)."""

COPPER_ALPHA20_PER_K = 0.00393
"""Temperature coefficient of resistance at 20 °C: NBS Handbook 100 (1966)."""

IEC_60228_ALPHA20_PER_K = 0.004
"""IEC 60228, temperature correction Kt = 1/(1 + 0.004 (T − 20)); used with its own tables."""

COPPER_ZERO_RESISTANCE_C = -234.5
"""IEC 60949; also AC 43.13-1B, note to the length correction."""

ADIABATIC_COPPER_AS05_PER_MM2 = 226.0
"""K of copper, IEC 60949."""

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


@dataclass(frozen=True, slots=True)
class Insulation:
    """What a conductor's insulation stands.

    ``limit_c`` is the greatest continuous conductor temperature in °C, ``k_as05_per_mm2`` the adiabatic constant
    k of copper in it (A·s^0.5/mm², from the limit up to the short-circuit limit; None where none can be said).
    ``assumed`` marks a limit that the drawing does not state; ``note`` says what was assumed.
    """

    name: str
    limit_c: float
    k_as05_per_mm2: float | None
    assumed: bool
    source: str
    note: str = ""
    check_edition: bool = False


def insulation_of(conductor: Conductor, settings: AnalysisSettings) -> Insulation:
    """The insulation of a conductor; see ``insulation_named``. PVC over 300 mm² has the lower k."""
    area_mm2 = conductor.gauge.area_mm2 if conductor.gauge else None
    return insulation_named(conductor.insulation, settings, area_mm2)


def insulation_named(text: str | None, settings: AnalysisSettings, area_mm2: float | None = None) -> Insulation:
    """The insulation that a field's text names: a class, a material, a temperature, or material and temperature.

    ``PVC 70 °C``, ``105 °C``, ``XLPE 90``, ``class B``, ``style 1007``, ``ETFE``. A material that comes in
    several classes, with no temperature, is its coolest class. A text that is missing or not understood is
    ``settings.insulation_default_c``, else the coolest class of the basis, and marked ``assumed``.
    """
    found = _parse(text, area_mm2) if text and text.strip() else None
    if found is not None:
        return found
    why = f"insulation “{text}” is not known" if text and text.strip() else "no insulation is stated"
    if settings.insulation_default_c is not None:
        limit_c, whence = settings.insulation_default_c, "the settings' default"
    else:
        info = BASES.get(settings.basis)
        limit_c, whence = (info.coolest_c if info else 60.0), f"the coolest class of basis {settings.basis}"
    k, _ = _k(None, limit_c, area_mm2)
    return Insulation(
        f"{limit_c:g} °C",
        limit_c,
        k,
        True,
        whence,
        f"{why}: {limit_c:g} °C, {whence}",
    )


def adiabatic_k_as05_per_mm2(initial_c: float, final_c: float) -> float | None:
    """k of copper between two temperatures, 226·√(ln((234.5 + T₂)/(234.5 + T₁))), in A·s^0.5/mm² (IEC 60949).

    None where the final temperature is not above the initial one.
    """
    if final_c <= initial_c:
        return None
    zero = -COPPER_ZERO_RESISTANCE_C
    return ADIABATIC_COPPER_AS05_PER_MM2 * math.sqrt(math.log((zero + final_c) / (zero + initial_c)))


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


_MATERIALS = re.compile(r"\b(pvc|xlpe|epr|rubber|silicone|etfe|ptfe|fep)\b", re.IGNORECASE)
_CLASS = re.compile(r"\bclass\s+([a-h])\b", re.IGNORECASE)
_STYLE = re.compile(r"\b(?:style\s*)?(1007|1015)\b", re.IGNORECASE)
_TEMPERATURE = re.compile(r"(?<![\d.,])(\d{2,3}(?:[.,]\d+)?)\s*(°\s*C|℃|deg\s*C|C\b)?", re.IGNORECASE)
_WARMEST_C = 400.0
_COOLEST_C = 40.0

# Where only a temperature is known, the conductor may be in the insulation with the lowest short-circuit limit
# of that class: 160 °C (PVC, soldered joints) up to 150 °C, 250 °C (ETFE) above. IEC 60949 gives no such rule.
_UNKNOWN_FINAL_C = ((150.0, 160.0), (math.inf, 250.0))


def _parse(text: str, area_mm2: float | None) -> Insulation | None:
    rest = text.strip()
    for pattern, prefix in ((_CLASS, "class "), (_STYLE, "style ")):
        match = pattern.search(rest)
        if match:
            return _of_class(rest, prefix + match.group(1).lower(), area_mm2)
    plain = rest.lower().replace("crosslinked", "cross-linked")
    known = {row["insulation_class"] for row in tables.rows("insulation_classes")}
    if plain in known:
        return _of_class(rest, plain, area_mm2)
    material_match = _MATERIALS.search(rest)
    material = material_match.group(1) if material_match else None
    stated = _temperature_c(rest, needs_unit=material is None)
    if material is not None:
        return _of_material(rest, material, stated, area_mm2)
    if stated is None:
        return None
    k, note = _k(None, stated, area_mm2)
    return Insulation(rest, stated, k, False, "stated in the drawing", note)


def _temperature_c(text: str, *, needs_unit: bool) -> float | None:
    for match in _TEMPERATURE.finditer(text):
        value = float(match.group(1).replace(",", "."))
        if (match.group(2) or not needs_unit) and _COOLEST_C <= value <= _WARMEST_C:
            return value
    return None


def _of_class(text: str, name: str, area_mm2: float | None) -> Insulation:
    row = next(r for r in tables.rows("insulation_classes") if r["insulation_class"] == name)
    limit_c = float(row["limit_c"])
    k, note = _k(row["material"] or None, limit_c, area_mm2)
    return Insulation(
        text,
        limit_c,
        k,
        False,
        tables.citation(row["source_id"]) if row["source_id"] else "value from memory",
        note,
        tables.needs_edition_check(row["source_id"], row["status"]),
    )


def _of_material(text: str, material: str, stated_c: float | None, area_mm2: float | None) -> Insulation:
    row = next(r for r in tables.rows("insulation_materials") if r["material"].lower() == material.lower())
    if stated_c is not None:
        k, note = _k(row["material"], stated_c, area_mm2)
        return Insulation(text, stated_c, k, False, "stated in the drawing", note)
    limit_c = float(row["limit_c"])
    k, note = _k(row["material"], limit_c, area_mm2)
    several = row["coolest"] == "yes"
    if several:
        note = f"no temperature is stated for {row['material']}: {limit_c:g} °C, its coolest class"
    return Insulation(text, limit_c, k, several, tables.citation(row["source_id"]), note)


def _k(material: str | None, limit_c: float, area_mm2: float | None) -> tuple[float | None, str]:
    """k in A·s^0.5/mm², and a phrase on what was assumed for it."""
    group = [r for r in tables.rows("insulation_materials") if r["material"] == material]
    finals = [(tables.number(r, "limit_c") or 0.0, tables.number(r, "final_c")) for r in group]
    known = [(limit, final) for limit, final in finals if final is not None]
    if not known:
        final_c = next(final for upto, final in _UNKNOWN_FINAL_C if limit_c <= upto)
        what = (
            f"no short-circuit limit is published for {material}" if material else "insulation material not stated"
        )
        return adiabatic_k_as05_per_mm2(limit_c, final_c), f"{what}: {final_c:g} °C"
    if material == "PVC" and area_mm2 is not None and area_mm2 > 300.0:
        return adiabatic_k_as05_per_mm2(limit_c, 140.0), ""
    for row in group:
        if tables.number(row, "limit_c") == limit_c and tables.number(row, "k_published_as05_per_mm2"):
            return tables.number(row, "k_published_as05_per_mm2"), ""
    # Between two classes of a material the lower short-circuit limit is the safe one.
    return adiabatic_k_as05_per_mm2(limit_c, min(final for _, final in known)), ""
