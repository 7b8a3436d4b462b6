"""Every publication that a result rests on, numbered for the report."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from loadloom.graph.devices.device_bands import curve_source
from loadloom.graph.facts.facts import Facts
from loadloom.graph.faults.limited_power import SOURCE as LIMITED_POWER_SOURCE
from loadloom.graph.faults.power import POWER_CLASSES
from loadloom.graph.heat.conductors import unit_resistances
from loadloom.graph.model.findings import Finding
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.conductor_rating import leans_on_insulation
from loadloom.graph.ratings.insulation import STATED, insulation_of

ADIABATIC = "S20"
"""Source id of k, by which a conductor's withstand of a short is found."""


def sources_used(facts: Facts, findings: Iterable[Finding]) -> dict[str, str]:
    """Citations by id (``R1``, ``R2``, …): ratings first, then resistances, curves, shorts, classes, findings.

    What was read in a copy or comes from memory has the mark "check your edition".
    """
    used = dict.fromkeys(tables.marked(text) for text in _citations(facts, findings) if text)
    return {f"R{n}": text for n, text in enumerate(used, 1)}


def _citations(facts: Facts, findings: Iterable[Finding]) -> Iterator[str | None]:
    for rating in facts.ratings.values():
        yield rating.source
        yield from (factor.source for factor in rating.factors)
        yield from (cap.source for cap in rating.caps)
    for conductor in facts.harness.conductors:
        if conductor.insulation and leans_on_insulation(conductor, facts.settings):
            insulation = insulation_of(conductor, facts.settings)
            yield None if insulation.problem or insulation.source == STATED else insulation.source
        if conductor.gauge is not None and conductor.resistance_ohm is None:
            unit = unit_resistances(conductor, facts.settings)
            yield unit.greatest.source
            yield unit.least.source
    for device in facts.harness.devices:
        for arrangement in dict.fromkeys(case.arrangement for case in facts.cases):
            yield curve_source(device.under(arrangement), facts.settings)
    if any(short.row.withstand_a2s is not None for short in facts.protection.short_circuits.conductors):
        yield tables.citation(ADIABATIC)
    if facts.faults.powers:
        yield from (each.source for each in POWER_CLASSES)
        yield LIMITED_POWER_SOURCE
    yield from (finding.source for finding in findings)
