"""Solving every case in load state: with and without the chassis, at once and steady, warm conductors included.

Each case is solved at every corner of the tolerances (``corners``); what a part carries is the greatest of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from loadloom.graph.circuit.loading import continuous_harness, has_events
from loadloom.graph.circuit.network import (
    FRESH,
    HIGHEST_VOLTAGE,
    LOAD_STATE,
    Corner,
    FloatArray,
    Network,
    compile_network,
)
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.circuit.solve import solve
from loadloom.graph.circuit.solved_once import SolvedOnce
from loadloom.graph.facts.facts import Currents
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.heat.temperatures import own_temperatures_c
from loadloom.graph.load_cases.compensation import compensated, compensating
from loadloom.graph.load_cases.corners import (
    ALL_HIGH,
    ALL_LOW,
    NOMINAL,
    AtCorner,
    CornerState,
    corner_states,
    outputs_in_one_loop,
    worst_by_part,
)
from loadloom.graph.load_cases.mixed_lows import mixed_lows
from loadloom.graph.load_cases.pulses_apart import pulses_apart
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.ratings.conductor_rating import rate_conductors

TEMPERATURE_STEP_K = 0.05
"""The electro-thermal fixed point is reached when no conductor moves by more than this."""

MOST_ROUNDS = 20

PULSES_APART = "pulses against each other"


@dataclass(frozen=True)
class LoadStates:
    """Solutions by case id (see ``Facts``), and temperatures at the worst steady state.

    ``loaded`` and ``continuous`` are nominal; ``loaded_corners`` and ``continuous_corners`` the same at every
    corner, the nominal one among them. ``unsettled_k`` is the greatest last step of the electro-thermal fixed point
    in K. ``lows_cut``: a budget has cut the search for the lowest voltages.
    """

    loaded: Mapping[str, tuple[Solution, ...]]
    continuous: Mapping[str, tuple[Solution, ...]]
    lowest: Mapping[str, tuple[Solution, ...]]
    loaded_corners: Mapping[str, tuple[CornerState, ...]]
    continuous_corners: Mapping[str, tuple[CornerState, ...]]
    open_circuit: Mapping[str | None, Solution]
    temperatures_c: Mapping[str, float]
    unsettled_k: float
    charging: Mapping[str | None, tuple[Solution, ...]] = field(default_factory=dict)
    lows_cut: bool = False


def solve_load_states(
    harness: Harness,
    settings: AnalysisSettings,
    cases: tuple[Case, ...],
    tell: Callable[[str], None],
) -> LoadStates:
    """Solve all cases."""
    loaded: dict[str, tuple[Solution, ...]] = {}
    continuous: dict[str, tuple[Solution, ...]] = {}
    lowest: dict[str, tuple[Solution, ...]] = {}
    loaded_corners: dict[str, tuple[CornerState, ...]] = {}
    continuous_corners: dict[str, tuple[CornerState, ...]] = {}
    open_circuit: dict[str | None, Solution] = {}
    charging: dict[str | None, tuple[Solution, ...]] = {}
    hottest: dict[str, float] = {}
    unsettled_k, lows_cut = 0.0, False
    unloaded = replace(harness, loads=())
    known: dict[tuple[object, ...], _Warm] = {}
    solved = SolvedOnce()
    for case in cases:
        tell(f"solving case {case.id}")
        warm = _Warm(harness, settings, case)
        twin = known.setdefault(warm.electrical_key, warm)
        if twin is warm:
            warm.solve(solved)
        else:
            warm.take(twin)
        loaded[case.id], continuous[case.id], lowest[case.id] = warm.loaded, warm.continuous, warm.lowest
        loaded_corners[case.id], continuous_corners[case.id] = warm.loaded_corners, warm.continuous_corners
        if case.arrangement not in open_circuit:
            cold = conductor_resistances(harness, settings)
            charging[case.arrangement] = tuple(_charging(unloaded, case, settings))
            open_circuit[case.arrangement] = solve(compile_network(unloaded, case, HIGHEST_VOLTAGE, settings, cold))
        unsettled_k, lows_cut = max(unsettled_k, warm.unsettled_k), lows_cut or warm.lows_cut
        for name, celsius in warm.temperatures_c.items():
            hottest[name] = max(celsius, hottest.get(name, -np.inf))
    return LoadStates(
        loaded,
        continuous,
        lowest,
        loaded_corners,
        continuous_corners,
        open_circuit,
        hottest,
        unsettled_k,
        charging,
        lows_cut,
    )


def solve_continuous(
    harness: Harness, settings: AnalysisSettings, cases: tuple[Case, ...]
) -> dict[str, tuple[CornerState, ...]]:
    """What flows continuously in every case, by its id, at every corner; the ``continuous_corners`` of
    ``solve_load_states``, where nothing else is asked.
    """
    found: dict[str, tuple[CornerState, ...]] = {}
    known: dict[tuple[object, ...], _Warm] = {}
    solved = SolvedOnce()
    for case in cases:
        warm = _Warm(harness, settings, case)
        twin = known.setdefault(warm.electrical_key, warm)
        if twin is warm:
            warm.solve_continuous(solved)
        found[case.id] = _states_renamed(twin.continuous_corners, warm.calm_case)
    return found


def _charging(unloaded: Harness, case: Case, settings: AnalysisSettings) -> Iterator[Solution]:
    """Each battery empty and all else at its highest, with no load: what is charged into it at most."""
    cold = conductor_resistances(unloaded, settings)
    high = compile_network(unloaded, case, HIGHEST_VOLTAGE, settings, cold)
    low = compile_network(unloaded, case, ALL_LOW, settings, cold)
    for output in unloaded.outputs:
        k = high.source_index.get(output.id)
        if output.battery is not None and k is not None:
            volts = high.source_voltage_v.copy()
            volts[k] = low.source_voltage_v[k]
            yield solve(replace(high, source_voltage_v=volts))


class _Warm:
    """One case at the conductors' own temperatures, found by a fixed point on the continuous currents."""

    def __init__(self, harness: Harness, settings: AnalysisSettings, case: Case) -> None:
        self.harness, self.settings, self.case = harness, settings, case
        self.events = has_events(harness, case)
        self.calm = continuous_harness(harness, case) if self.events else harness
        self.calm_case = Case(case.id, None, case.arrangement) if self.events else case
        self.chassis_variants = harness.chassis_variants
        self.temperatures_c: Mapping[str, float] = {}
        self.unsettled_k = 0.0
        self.loaded: tuple[Solution, ...] = ()
        self.continuous: tuple[Solution, ...] = ()
        self.lowest: tuple[Solution, ...] = ()
        self.lows_cut = False
        self.loaded_corners: tuple[CornerState, ...] = ()
        self.continuous_corners: tuple[CornerState, ...] = ()

    @property
    def electrical_key(self) -> tuple[object, ...]:
        """Equal for cases that differ in trip settings only: nothing is solved anew for them."""
        calm = self._networks(self.calm, self.calm_case, LOAD_STATE)
        at_once = self._networks(self.harness, self.case, LOAD_STATE) if self.events else ()
        lowest = self._networks(self.harness, self.case, ALL_LOW)
        highest = self._networks(self.harness, self.case, ALL_HIGH)
        word = self.case.arrangement
        sensing = tuple((o.id, o.sense_added_v) for o in compensating(self.harness, word))
        return (*(network.electrical_key for network in (*calm, *at_once, *lowest, *highest)), sensing)

    def solve(self, solved: SolvedOnce) -> None:
        """Find the temperatures, and all solutions at them."""
        self.solve_continuous(solved)
        self.loaded, self.loaded_corners = self.continuous, self.continuous_corners
        if self.events:
            self.loaded = self._solve(self.harness, self.case, LOAD_STATE)
            self.loaded_corners = corner_states(self.harness, self.case, self.settings, self.temperatures_c, solved)
        self._solve_lowest()

    def _solve_lowest(self) -> None:
        """The lowest voltages, and what mixtures of resistances leave some load still less."""
        low, short = (self._networks(self.harness, self.case, corner) for corner in (ALL_LOW, FRESH))
        for network, least in zip(low, short, strict=True):
            lowest = self._compensated(network)
            more = mixed_lows(lowest, least.edge_resistance_ohm, partial(self._low_at, network))
            self.lowest = (*self.lowest, lowest, *more.states)
            self.lows_cut |= more.cut

    def _low_at(self, network: Network, resistance_ohm: FloatArray) -> Solution:
        """A network at other resistances (E,). It is the one without what sensing adds, which is found anew."""
        return self._compensated(replace(network, edge_resistance_ohm=resistance_ohm))

    def solve_continuous(self, solved: SolvedOnce) -> None:
        """Find the temperatures, and what flows continuously at every corner."""
        # every conductor of a bundle loaded: the safe side
        self.ratings = rate_conductors(self.harness, self.settings)
        self.continuous = self._solve(self.calm, self.calm_case, LOAD_STATE)
        if self.settings.conductor_temperature_c is None:
            self._settle()
        calm = corner_states(self.calm, self.calm_case, self.settings, self.temperatures_c, solved)
        firm = [state.solution for state in calm if not state.bound] if self.events else []
        apart = pulses_apart(self.harness, self.case, firm, solved)
        self.continuous_corners = (*calm, *(CornerState(PULSES_APART, each, bound=True) for each in apart))

    def take(self, twin: _Warm) -> None:
        """Take over what was solved for a case that is electrically the same."""
        self.temperatures_c, self.unsettled_k, self.lows_cut = twin.temperatures_c, twin.unsettled_k, twin.lows_cut
        self.continuous = _renamed(twin.continuous, self.calm_case)
        self.loaded = _renamed(twin.loaded, self.case) if self.events else self.continuous
        self.lowest = _renamed(twin.lowest, self.case)
        self.continuous_corners = _states_renamed(twin.continuous_corners, self.calm_case)
        self.loaded_corners = (
            _states_renamed(twin.loaded_corners, self.case) if self.events else self.continuous_corners
        )

    def _settle(self) -> None:
        conductors = self.harness.conductors
        for _ in range(MOST_ROUNDS):
            currents = magnitudes(self.continuous, len(conductors))
            by_id = {c.id: float(a) for c, a in zip(conductors, currents, strict=True)}
            found = own_temperatures_c(self.harness, by_id, self.settings, self.ratings)
            step_k = max((abs(found[name] - self.temperatures_c.get(name, np.inf)) for name in found), default=0.0)
            self.temperatures_c, self.unsettled_k = found, step_k
            if step_k < TEMPERATURE_STEP_K:
                return
            self.continuous = self._solve(self.calm, self.calm_case, LOAD_STATE)

    def _networks(self, harness: Harness, case: Case, corner: Corner) -> tuple[Network, ...]:
        resistances = conductor_resistances(harness, self.settings, self.temperatures_c)
        return tuple(
            compile_network(harness, case, corner, self.settings, resistances, with_chassis=with_chassis)
            for with_chassis in self.chassis_variants
        )

    def _solve(self, harness: Harness, case: Case, corner: Corner) -> tuple[Solution, ...]:
        return tuple(self._compensated(network) for network in self._networks(harness, case, corner))

    def _compensated(self, network: Network) -> Solution:
        return compensated(network, self.harness, solve, outputs_in_one_loop(network))


def _renamed(solutions: tuple[Solution, ...], case: Case) -> tuple[Solution, ...]:
    return tuple(replace(s, network=replace(s.network, case=case)) for s in solutions)


def _states_renamed(states: tuple[CornerState, ...], case: Case) -> tuple[CornerState, ...]:
    return tuple(replace(state, solution=_renamed((state.solution,), case)[0]) for state in states)


def magnitudes(solutions: tuple[Solution, ...], count: int) -> FloatArray:
    """Greatest magnitude over the chassis variants, of the first ``count`` parts in ``Harness.two_ended`` order."""
    worst: FloatArray = np.max([np.abs(s.edge_a[:count]) for s in solutions], axis=0)
    return worst


def all_currents(harness: Harness, states: LoadStates) -> dict[str, Currents]:
    """Currents of every two-ended part, output and splice, by id; empty where no case was solved.

    Of every part the greatest over the corners; an output's is the greatest that it gives.
    """
    if not states.loaded:
        return {}
    peak = {case: worst_by_part(harness, corners) for case, corners in states.loaded_corners.items()}
    calm = {case: worst_by_part(harness, corners) for case, corners in states.continuous_corners.items()}
    nothing = (0.0, AtCorner(NOMINAL))
    found = {}
    for name in next(iter(peak.values())):
        peaks = {case: parts.get(name, nothing) for case, parts in peak.items()}
        steadies = {case: parts.get(name, nothing) for case, parts in calm.items()}
        found[name] = Currents(
            {case: current_a for case, (current_a, _) in peaks.items()},
            {case: current_a for case, (current_a, _) in steadies.items()},
            {case: at for case, (_, at) in peaks.items()},
            {case: at for case, (_, at) in steadies.items()},
        )
    return found
