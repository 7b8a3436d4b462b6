"""The contact spread of every case, from the harness' own ranges."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from loadloom.graph.elements import Conductor
from loadloom.graph.harness import Harness
from loadloom.graph.open_circuits.contact_spread import Spread, contact_spread
from loadloom.graph.results import Rating
from loadloom.graph.settings import AnalysisSettings, Case
from loadloom.graph.solving.network import Ageing, Corner, FloatArray, OutputVoltage, Warmth, compile_network
from loadloom.graph.solving.solution import Solution


def spread_cases(
    harness: Harness,
    cases: tuple[Case, ...],
    continuous: Mapping[str, tuple[Solution, ...]],
    ratings: Mapping[str, Rating],
    settings: AnalysisSettings,
) -> dict[str, tuple[Spread, ...]]:
    """Spread of each solution of ``continuous`` by case id; conductors at the resistance they were solved with."""
    wires = {conductor.id for conductor in harness.conductors}
    found: dict[str, tuple[Spread, ...]] = {}
    for case in cases:
        found[case.id] = tuple(
            contact_spread(
                solution,
                _at(Ageing.NEW, harness, case, settings, solution),
                _at(Ageing.AGED, harness, case, settings, solution),
                allowed_a=_allowed_a(solution.network.edge_ids, ratings),
                draws=settings.spread_draws,
                seed=settings.spread_seed,
                is_wire=np.array([name in wires for name in solution.network.edge_ids], dtype=np.bool_),
                length_tolerance=settings.length_tolerance,
            )
            for solution in continuous[case.id]
        )
    return found


def _at(ageing: Ageing, harness: Harness, case: Case, settings: AnalysisSettings, solution: Solution) -> FloatArray:
    """(E,) resistances with every contact at one end of its range."""
    network = solution.network

    def as_solved(conductor: Conductor, _: Corner) -> float:
        return float(network.edge_resistance_ohm[network.edge_index[conductor.id]])

    corner = Corner(ageing, OutputVoltage.NOMINAL, Warmth.OWN)
    bonded = len(network.edge_ids) > len(harness.two_ended)
    return compile_network(harness, case, corner, settings, as_solved, with_chassis=bonded).edge_resistance_ohm


def _allowed_a(names: tuple[str, ...], ratings: Mapping[str, Rating]) -> FloatArray:
    allowed = (ratings[name].allowed_a if name in ratings else None for name in names)
    return np.array([np.inf if a is None else a for a in allowed], dtype=np.float64)
