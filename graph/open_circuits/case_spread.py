"""The contact spread of every case, from the harness' own ranges."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from loadloom.graph.circuit.network import (
    Ageing,
    Corner,
    FloatArray,
    OutputVoltage,
    ResistanceEnd,
    Warmth,
    compile_network,
)
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.heat.conductors import resistance_band_ohm
from loadloom.graph.load_cases.demands import Demand, Demands
from loadloom.graph.model.elements import Conductor
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.open_circuits.contact_spread import BoolArray, Spread, contact_spread

LEAST = Corner(Ageing.NEW, OutputVoltage.NOMINAL, Warmth.OWN, ResistanceEnd.LEAST)
GREATEST = Corner(Ageing.AGED, OutputVoltage.NOMINAL, Warmth.OWN, ResistanceEnd.GREATEST)

UNEVEN = "uneven"
"""Stands for the corner in the demands of parallel paths that share unevenly."""


def spread_cases(
    harness: Harness,
    cases: tuple[Case, ...],
    continuous: Mapping[str, tuple[Solution, ...]],
    corners: Mapping[str, tuple[Solution, ...]],
    ratings: Mapping[str, Rating],
    settings: AnalysisSettings,
) -> dict[str, tuple[Spread, ...]]:
    """Spread of each solution of ``continuous`` by case id: contacts new to aged, conductors over their band.

    A conductor was solved at the greatest resistance of its band, at its own temperature; its least is as much
    below it as at 20 °C. ``corners``: the same cases at the corners that load them most, where the worst
    combination of each part is sought as well. Shares are drawn for contacts alone, each in the solution in which
    its set carries most: the one that is reported.
    """
    shares = {c.id: _least_share(c, settings) for c in harness.conductors}

    def spread(case: Case, solution: Solution, draws: int = 0, only: BoolArray | None = None) -> Spread:
        return contact_spread(
            solution,
            _at(LEAST, harness, case, settings, solution, shares),
            _at(GREATEST, harness, case, settings, solution, {}),
            allowed_a=_allowed_a(solution.network.edge_ids, ratings),
            draws=draws,
            seed=settings.spread_seed,
            only=only,
        )

    found: dict[str, tuple[Spread, ...]] = {}
    for case in cases:
        here = []
        for nominal in continuous[case.id]:
            own = spread(case, nominal)
            others = [s for s in corners.get(case.id, ()) if s.network.edge_ids == nominal.network.edge_ids]
            uneven_a = [own.uneven_a, *(spread(case, s).uneven_a for s in others if s is not nominal)]
            here.append(replace(own, uneven_a=np.fmax.reduce(uneven_a)))
        found[case.id] = tuple(here)
    wanted = _most_loaded(harness, found)
    for case in cases:
        here = list(found[case.id])
        for n, known in enumerate(here):
            if (case.id, n) in wanted:
                drawn = spread(case, known.solution, settings.spread_draws, wanted[case.id, n])
                here[n] = replace(
                    known,
                    share_p05=drawn.share_p05,
                    share_p50=drawn.share_p50,
                    share_p95=drawn.share_p95,
                    mean_a=drawn.mean_a,
                    overload_probability=drawn.overload_probability,
                    draws=drawn.draws,
                )
        found[case.id] = tuple(here)
    return found


def _most_loaded(harness: Harness, found: Mapping[str, Sequence[Spread]]) -> dict[tuple[str, int], BoolArray]:
    """By case and solution: the contacts (E,) whose set carries most in it, of equal ones in the first."""
    most: dict[str, tuple[float, str, int]] = {}
    for case, each in found.items():
        for n, one in enumerate(each):
            through_a, index = np.where(one.carries, one.through_a, 0.0).tolist(), one.solution.network.edge_index
            for contact in harness.contacts:
                here_a = through_a[index[contact.id]]
                if here_a > most.get(contact.id, (0.0,))[0]:
                    most[contact.id] = here_a, case, n
    wanted: dict[tuple[str, int], BoolArray] = {}
    for name, (_, case, n) in most.items():
        index = found[case][n].solution.network.edge_index
        wanted.setdefault((case, n), np.zeros(len(index), dtype=np.bool_))[index[name]] = True
    return wanted


def _least_share(conductor: Conductor, settings: AnalysisSettings) -> float:
    """Least over greatest resistance of a conductor; 1 where it has none."""
    band = conductor.resistance_ohm or resistance_band_ohm(conductor, 20.0, settings)
    return band.lower / band.upper if band.upper > 0 else 1.0


def _at(
    corner: Corner,
    harness: Harness,
    case: Case,
    settings: AnalysisSettings,
    solution: Solution,
    shares: Mapping[str, float],
) -> FloatArray:
    """(E,) resistances with every contact at one end of its range, and conductors at a share of what was solved."""
    network = solution.network
    bonded = len(network.edge_ids) > len(harness.two_ended)
    ohm = compile_network(
        harness, case, corner, settings, lambda *_: 0.0, with_chassis=bonded
    ).edge_resistance_ohm.copy()
    for conductor in harness.conductors:
        k = network.edge_index[conductor.id]
        ohm[k] = network.edge_resistance_ohm[k] * shares.get(conductor.id, 1.0)
    return ohm


def _allowed_a(names: tuple[str, ...], ratings: Mapping[str, Rating]) -> FloatArray:
    allowed = (ratings[name].allowed_a if name in ratings else None for name in names)
    return np.array([np.inf if a is None else a for a in allowed], dtype=np.float64)


def shared_demands(names: Sequence[str], spread: Mapping[str, Sequence[Spread]]) -> Demands:
    """What parts in parallel paths have to carry continuously where the others' contacts are the worse for wear."""
    found: dict[str, tuple[Demand, ...]] = {}
    for name in names:
        here = []
        for case, each in spread.items():
            at = [one.uneven_a[k] for one in each if (k := one.solution.network.edge_index.get(name)) is not None]
            most = max((float(a) for a in at if np.isfinite(a)), default=0.0)
            if most > 0.0:
                here.append(Demand(case, math.inf, most, UNEVEN))
        if here:
            found[name] = tuple(here)
    return found
