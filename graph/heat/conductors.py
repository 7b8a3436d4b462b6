"""Copper conductors: their resistance at a temperature."""

from __future__ import annotations

from collections.abc import Mapping

from loadloom.graph.circuit.network import ConductorResistance, Corner, ResistanceEnd, Warmth
from loadloom.graph.model.elements import Band, Conductor, Gauge, GaugeSystem, Make
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings.insulation import insulation_named
from loadloom.graph.ratings.resistance import COPPER, UnitBand, unit_band

PLACEHOLDER_AREA_MM2 = 1.0
"""Stands in for a gauge that is missing or unreadable; such a conductor is unrated and its results are marked."""

PLACEHOLDER_LENGTH_M = 1.0
"""Stands in for a length that is missing or unreadable."""


def unit_resistances(conductor: Conductor, settings: AnalysisSettings) -> UnitBand:
    """The least and the greatest resistance per metre of a conductor, by its size and what is said of its make.

    ``settings.resistance_table`` chooses between the band of all published columns, one table, and bare copper;
    see ``ratings.resistance``. No gauge: the placeholder area, of bare copper.
    """
    if conductor.gauge is None:
        placeholder = Gauge(GaugeSystem.MM2, f"{PLACEHOLDER_AREA_MM2:g}", PLACEHOLDER_AREA_MM2)
        unit = unit_band(placeholder, Make(), COPPER).least
        words = f"no readable gauge: {PLACEHOLDER_AREA_MM2:g} mm² as a placeholder"
        return UnitBand(unit, unit, words)
    return unit_band(conductor.gauge, conductor.make.over(settings.make), settings.resistance_table)


def resistance_band_ohm(conductor: Conductor, temperature_c: float, settings: AnalysisSettings) -> Band:
    """The least and the greatest resistance in Ω of a conductor at one temperature, from gauge and length.

    Length × r20 × (1 + α (T − 20)); the nominal is the greatest. The conductor's own stated ``resistance_ohm`` is
    not looked at here. Placeholders stand in for a gauge or a length that is missing. Source of the formula: NBS
    Handbook 100; IEC 60228 for its own tables.
    """
    unit = unit_resistances(conductor, settings)
    length_m = conductor.length_m if conductor.length_m is not None else PLACEHOLDER_LENGTH_M
    shortest_m, longest_m = length_m * (1 - settings.length_tolerance), length_m * (1 + settings.length_tolerance)
    greatest = longest_m * unit.greatest.at_ohm_per_m(temperature_c)
    return Band(greatest, shortest_m * unit.least.at_ohm_per_m(temperature_c), greatest)


def resistance_assumptions(conductor: Conductor, settings: AnalysisSettings) -> tuple[str, ...]:
    """What had to be assumed about a conductor's resistance, one phrase each; empty where it states its own."""
    if conductor.resistance_ohm is not None:
        return ()
    found = [unit_resistances(conductor, settings).assumption]
    if conductor.length_m is None:
        found.append(f"no readable length: {PLACEHOLDER_LENGTH_M:g} m as a placeholder")
    return tuple(text for text in found if text is not None)


def conductor_resistances(
    harness: Harness,
    settings: AnalysisSettings,
    temperatures_c: Mapping[str, float] | None = None,
) -> ConductorResistance:
    """The resistances of a harness' conductors at the corners.

    ``Corner.resistance`` chooses the end of the band, ``Corner.warmth`` the temperature: COLD is the zone's least
    ambient, HOT the insulation's limit, OWN the given temperature in °C by conductor id, or the zone's greatest
    ambient. ``settings.conductor_temperature_c`` overrides all of them.
    """
    own = temperatures_c or {}
    limits: dict[str | None, float] = {}
    for conductor in harness.conductors:
        for there in conductor.variants():
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
        band = resistance_band_ohm(conductor, temperature_c(conductor, corner), settings)
        return band.lower if corner.resistance is ResistanceEnd.LEAST else band.upper

    return resistance
