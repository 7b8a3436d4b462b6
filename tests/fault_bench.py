"""Running the fault search on harnesses written by hand: cold, new, highest voltage, thresholds of all devices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from loadloom.graph.circuit.network import GREATEST_FAULT, Network, compile_network
from loadloom.graph.devices.device_bands import Threshold, threshold
from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.faults.every_case import search_faults
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.load_cases.case_loading import CaseLoading
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings, Case

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")


def networks_of(harness: Harness, settings: AnalysisSettings, case: Case) -> tuple[Network, ...]:
    """The networks of a case as the fault search wants them: with the chassis, and without where there is one."""
    resistance = conductor_resistances(harness, settings)
    made = [compile_network(harness, case, GREATEST_FAULT, settings, resistance)]
    if harness.chassis:
        made.append(compile_network(harness, case, GREATEST_FAULT, settings, resistance, with_chassis=False))
    return tuple(made)


def thresholds_of(harness: Harness, settings: AnalysisSettings, case: Case) -> dict[str, Threshold]:
    """Of every device and output, as they are in the case's arrangement."""
    parts = [p.under(case.arrangement) for p in (*harness.devices, *harness.outputs)]
    return {p.id: threshold(p, settings, None) for p in parts}


def ratings_of(harness: Harness) -> dict[str, Rating]:
    """Allowed currents: the parts' own."""
    parts = (*harness.conductors, *harness.contacts)
    return {
        p.id: Rating(p.id, p.own_rating_a, p.own_rating_a, (), (), "own", "stated in the drawing") for p in parts
    }


def faults_of(
    harness: Harness, settings: AnalysisSettings = AT_20_C, loading: Mapping[str, CaseLoading] | None = None
) -> FaultAnswer:
    """The fault search over all cases of a harness; ``loading``: what the cases themselves do, by case id."""
    cases = harness.cases(settings)
    return search_faults(
        harness,
        settings,
        cases,
        {c.id: networks_of(harness, settings, c) for c in cases},
        {c.id: thresholds_of(harness, settings, c) for c in cases},
        ratings_of(harness),
        loading=loading,
    )


def relabel(harness: Harness, **parts: object) -> Harness:
    """A harness with some of its fields replaced."""
    return replace(harness, **parts)  # type: ignore[arg-type]
