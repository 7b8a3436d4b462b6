"""Find out everything about one harness that the rules look at: ratings, faults, open circuits, setting ranges."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from loadloom.graph.circuit.network import (
    GREATEST_FAULT,
    WORN,
    FloatArray,
    Network,
    at_corner,
    compile_network,
)
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.converters.greatest_input import with_greatest_inputs
from loadloom.graph.converters.passed_through import failed_through, worst_answer, worst_behind
from loadloom.graph.devices.device_bands import Threshold, threshold
from loadloom.graph.facts.facts import Facts
from loadloom.graph.facts.load_states import LoadStates, all_currents, solve_continuous
from loadloom.graph.facts.protection import find_protection
from loadloom.graph.facts.second_process import in_second_process
from loadloom.graph.facts.supplies import supply_rows
from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.faults.assumptions import outputs_disagree, shared_in_meshes
from loadloom.graph.faults.budgets import SAID
from loadloom.graph.faults.every_case import search_faults
from loadloom.graph.faults.worst_in_bands import KnownBands, networks_within_bands
from loadloom.graph.heat.conductors import conductor_resistances
from loadloom.graph.heat.enclosure import Inside, settle_zones
from loadloom.graph.heat.zone_heat import ZoneHeat, greatest_heats, worst_heats
from loadloom.graph.load_cases.case_loading import case_loading, holds
from loadloom.graph.load_cases.corners import CornerState, telling_states
from loadloom.graph.model.elements import Device, Diode, Output, Splice, Switch, TwoEnded
from loadloom.graph.model.figures import NOISE
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.open_circuits.after_opening import worst_after_opening
from loadloom.graph.open_circuits.case_spread import spread_cases
from loadloom.graph.open_circuits.contact_spread import said_of
from loadloom.graph.open_circuits.in_series import InSeries, left_in_series
from loadloom.graph.open_circuits.main_lead_open import main_leads_open
from loadloom.graph.open_circuits.outputs_off import MayOpen, may_open, outputs_off
from loadloom.graph.open_circuits.single_open_circuits import OpenCircuits, single_open_circuits
from loadloom.graph.ratings.bundles import loaded_counts
from loadloom.graph.ratings.conductor_rating import bundle_shares, rate_conductors
from loadloom.graph.ratings.contact_rating import least_rating, rate_contact, rate_splice, rate_switch
from loadloom.graph.setting_ranges.highest_settings import HighestSettings, lower_highs, with_highest
from loadloom.graph.setting_ranges.setting_ranges import SettingRange
from loadloom.graph.setting_ranges.stalled import within_stalls
from loadloom.graph.structure.topology import topology
from loadloom.graph.structure.welded import welded

WORTH_A_PROCESS = 400
"""Parts times cases from which the fault search takes longer than starting a process for it."""

NEARLY = 0.8
"""Share of the greatest heat in an enclosure from which a case is solved again while its temperature settles."""

LOADED_FROM_A = 1e-3
"""A contact that carries at least a milliampere counts as a loaded position."""


def find_facts(
    harness: Harness,
    settings: AnalysisSettings,
    cases: tuple[Case, ...],
    states: LoadStates,
    inside: Mapping[str, Inside],
    tell: Callable[[str], None],
) -> Facts:
    """Rate everything, and search faults, open circuits and setting ranges. ``inside``: enclosures by zone."""
    return add_faults(find_load_facts(harness, settings, cases, states, inside, tell), states, tell)


def find_load_facts(
    harness: Harness,
    settings: AnalysisSettings,
    cases: tuple[Case, ...],
    states: LoadStates,
    inside: Mapping[str, Inside],
    tell: Callable[[str], None],
) -> Facts:
    """What the load states alone say: currents, ratings, supplies. No faults, open circuits, spread and protection
    yet."""
    currents = all_currents(harness, states)
    steadies = _steady_states(states, cases)
    positions = _loaded_positions(harness, steadies)
    tell("rating conductors and contacts")
    return Facts(
        harness=harness,
        settings=settings,
        cases=cases,
        topology=topology(harness),
        loaded=states.loaded,
        continuous=states.continuous,
        lowest=states.lowest,
        loaded_corners=states.loaded_corners,
        continuous_corners=states.continuous_corners,
        open_circuit=states.open_circuit,
        charging=states.charging,
        currents=currents,
        ratings=_ratings(harness, settings, steadies, positions),
        temperatures_c=states.temperatures_c,
        loaded_positions=positions,
        supplies=supply_rows(
            harness.supplies, _output_powers_w(harness, cases, states.continuous_corners), settings
        ),
        inside=inside,
    )


def add_open_circuits(facts: Facts, states: LoadStates) -> Facts:
    """Add to what ``find_load_facts`` found what single open circuits, and joined outputs that are off, do."""
    harness, settings, cases, ratings = facts.harness, facts.settings, facts.cases, facts.ratings
    if not settings.single_open_circuit:
        return facts
    open_circuits = _open_circuits(harness, cases, states, ratings)
    off, may_open = _outputs_off(cases, states, _thresholds(harness, settings, cases))
    parts: list[TwoEnded | Splice] = [*harness.two_ended, *harness.splices]
    rated = [part for part in parts if part.id in ratings and part.id in facts.currents]
    return replace(
        facts,
        open_circuits=open_circuits,
        after_opening=worst_after_opening(rated, open_circuits, off, ratings),
        may_open=may_open,
        left_in_series=_left_in_series(harness, states),
    )


def add_faults(
    facts: Facts,
    states: LoadStates,
    tell: Callable[[str], None],
    *,
    only_judged: bool = False,
    opened: bool = False,
) -> Facts:
    """Complete what ``find_load_facts`` found: faults, single open circuits, contact spread and protection.

    ``only_judged``: for a harness that is only tried. Settings are then not searched for the numbers of setting
    ranges and remedies, but where it bears on whether a rule finds something. ``opened``: ``add_open_circuits`` has
    seen to the open circuits.
    """
    harness, settings, cases, ratings = facts.harness, facts.settings, facts.cases, facts.ratings

    thresholds = _thresholds(harness, settings, cases)
    loading = {
        c.id: case_loading(
            [state.solution for state in states.continuous_corners[c.id] if not state.bound],
            states.lowest[c.id],
            thresholds[c.id],
        )
        for c in cases
    }

    whole = with_greatest_inputs(harness, settings)
    bands = KnownBands()
    networks = _fault_networks(whole, settings, cases, thresholds, bands)
    high_v = _input_high_v(harness, states)
    through = tuple(failed_through(replace(whole, converters=harness.converters), high_v))

    through_networks = [_fault_networks(one.harness, settings, cases, thresholds, bands) for one in through]

    def faults() -> tuple[FaultAnswer, list[FaultAnswer]]:
        tell("searching faults")
        answer = search_faults(whole, settings, cases, networks, thresholds, ratings, tell, loading)
        failed = []
        for one, there in zip(through, through_networks, strict=True):
            tell(f"searching faults: {one.words}")
            failed.append(search_faults(one.harness, settings, cases, there, thresholds, ratings, tell, loading))
        return answer, failed

    searches = len(harness.two_ended) * len(cases) * (1 + len(through))
    searched = in_second_process(faults, worth=searches >= WORTH_A_PROCESS)
    if not opened:
        tell("opening every way once")
        facts = add_open_circuits(facts, states)
    solid = {
        case.id: [state.solution for state in states.continuous_corners[case.id] if not state.bound]
        for case in cases
    }
    sense_leads = main_leads_open(harness, cases, solid, thresholds)
    corners = {case.id: telling_states(states.continuous_corners[case.id]) for case in cases}
    spread = spread_cases(harness, cases, states.continuous, corners, ratings, settings)
    broken = [one.harness for one in through]
    protection = find_protection(
        harness, settings, cases, ratings, states.temperatures_c, tell, whole, broken, spread
    )
    answer, failed = searched()
    found = worst_answer(answer, list(zip(through, failed, strict=True)))
    assumed = [*found.assumptions]
    if bands.cut:
        assumed.append(SAID["MOST_WAYS"])
    if bands.unsure:
        assumed.append(shared_in_meshes(len(bands.unsure)))
    if bands.disagree:
        assumed.append(outputs_disagree(tuple(bands.disagree)))
    assumed += said_of(one for each in spread.values() for one in each)
    found = replace(found, assumptions=tuple(assumed))
    passed = {
        one.failed[0]: part
        for one, there in zip(through, failed, strict=True)
        if (part := worst_behind(one, there)) is not None
    }
    ranges: Mapping[str, SettingRange] = protection.setting_ranges
    if cases and not only_judged:
        tell("finding the highest settings")
        solved = states.continuous
        upstream = protection.upstream

        def highest(
            drawn: Harness, there: Mapping[str, tuple[Network, ...]], searched: FaultAnswer
        ) -> HighestSettings:
            by = (settings, cases, there, thresholds, ratings, loading, solved, searched, upstream)
            return HighestSettings(drawn, *by, bands.devices)

        ranges = with_highest(highest(whole, networks, answer), ranges)
        for one, there_networks, there in zip(through, through_networks, failed, strict=True):
            acting = {name: known for name, known in ranges.items() if name not in one.failed}
            then = with_highest(highest(one.harness, there_networks, there), acting)
            ranges = lower_highs(ranges, then)
    protection = replace(protection, setting_ranges=within_stalls(ranges, protection.stalls))
    return replace(
        facts,
        faults=found,
        passed_through=passed,
        sense_leads=sense_leads,
        spread=spread,
        protection=protection,
    )


def _left_in_series(harness: Harness, states: LoadStates) -> tuple[InSeries, ...]:
    parts = [part.id for part in (*harness.conductors, *harness.contacts)]
    found = (left_in_series(solution, harness.loads, parts) for solution in states.open_circuit.values())
    return tuple(dict.fromkeys(each for every in found for each in every))


def settle_enclosures(
    harness: Harness, settings: AnalysisSettings, cases: tuple[Case, ...], tell: Callable[[str], None]
) -> tuple[AnalysisSettings, dict[str, Inside]]:
    """Settings whose zones are as warm as the heat made in their enclosures leaves them; see ``settle_zones``.

    Solved anew are only the cases that make nearly as much heat somewhere as the worst: heat follows temperature
    too little for the others to overtake them.
    """
    tried = cases

    def heat_by_zone_w(warm: AnalysisSettings) -> dict[str, ZoneHeat]:
        nonlocal tried
        tell("settling the temperature of enclosures")
        corners = solve_continuous(harness, warm, tried)
        powers_w = _output_powers_w(harness, tried, corners)
        found = {}
        for case in tried:
            supplies = supply_rows(harness.supplies, {case.id: powers_w[case.id]}, warm)
            solved = [state.solution for state in corners[case.id]]
            found[case] = greatest_heats(harness, case, solved, supplies, warm)
        worst = worst_heats(found.values())
        tried = tuple(
            case
            for case, heats in found.items()
            if any(heat.total_w >= NEARLY * worst[zone].total_w for zone, heat in heats.items())
        )
        return worst

    return settle_zones(settings, heat_by_zone_w)


def _steady_states(states: LoadStates, cases: tuple[Case, ...]) -> list[dict[str, float]]:
    """Magnitudes in A by part of every steady state: each case at each corner, since not all loads of a bundle or
    a connector flow at one corner.
    """
    return [
        dict(zip(solution.network.edge_ids, np.abs(solution.edge_a).tolist(), strict=True))
        for case in cases
        for solution in (state.solution for state in states.continuous_corners[case.id])
    ]


def _ratings(
    harness: Harness,
    settings: AnalysisSettings,
    steadies: Sequence[Mapping[str, float]],
    positions: Mapping[str, int],
) -> dict[str, Rating]:
    """Ratings by id of everything that has one; bundles by the state that loads most of their conductors."""
    counts: dict[str, int] = {}
    for continuous in steadies:
        for bundle, count in loaded_counts(harness, continuous).items():
            counts[bundle] = max(count, counts.get(bundle, 0))
    counts = {bundle: max(1, n) for bundle, n in counts.items()}
    shares = bundle_shares(harness, settings, steadies, counts) if counts else {}
    found = rate_conductors(harness, settings, counts, shares)
    for contact in harness.contacts:
        loaded = max(1, positions.get(contact.connector, 0))
        found[contact.id] = least_rating(
            rate_contact(there, loaded, settings.ambient(there.zone).max_c, settings)
            for there in contact.variants()
        )
    for splice in harness.splices:
        found[splice.id] = least_rating(rate_splice(there, settings) for there in splice.variants())
    switches: tuple[Switch | Diode, ...] = (*harness.switches, *harness.diodes)
    for switch in switches:
        found[switch.id] = least_rating(rate_switch(there, settings) for there in switch.variants())
    return found


def _loaded_positions(harness: Harness, steadies: Sequence[Mapping[str, float]]) -> dict[str, int]:
    """Loaded contacts of every connector, in the state that loads most of them."""
    found: dict[str, int] = {}
    for continuous in steadies:
        here: dict[str, int] = {}
        for contact in harness.contacts:
            loaded = continuous[contact.id] >= LOADED_FROM_A
            here[contact.connector] = here.get(contact.connector, 0) + int(loaded)
        for connector, count in here.items():
            found[connector] = max(count, found.get(connector, 0))
    return found


def _fault_networks(
    harness: Harness,
    settings: AnalysisSettings,
    cases: tuple[Case, ...],
    thresholds: Mapping[str, Mapping[str, Threshold]],
    bands: KnownBands,
) -> dict[str, tuple[Network, ...]]:
    """Networks at the corner of the greatest fault current, by case id; with the chassis as joint and without, and
    at other voltages and resistances within their bands where a fault draws more then (``worst_in_bands``).

    Of cases that last: what differs for a time only, as the start of a load, no fault is held by. Contactors that
    are open in a case are looked at closed as well: one that has welded protects nothing.
    """
    resistances = conductor_resistances(harness, settings)
    found: dict[str, tuple[Network, ...]] = {}
    for case in cases:
        if not case.for_a_time:
            drawn = [
                (there, c)
                for there in (harness, *welded(harness, case.arrangement))
                for c in harness.chassis_variants
            ]
            highest = [
                compile_network(there, case, GREATEST_FAULT, settings, resistances, with_chassis=with_chassis)
                for there, with_chassis in drawn
            ]
            mine = thresholds[case.id]
            apart: list[Network] = []
            whole: list[Network] = []
            for high, (there, _) in zip(highest, drawn, strict=True):
                worn = at_corner(high, there, WORN, settings, resistances)
                least = high.edge_resistance_ohm
                banded = replace(high, edge_band_ohm=(least, np.maximum(least, worn.edge_resistance_ohm)))
                whole.append(banded)
                apart += networks_within_bands(there, banded, worn, mine, bands)
            found[case.id] = (*whole, *apart)
    return found


def _input_high_v(harness: Harness, states: LoadStates) -> dict[str, float | None]:
    """The highest voltage in V at every converter's input with no load anywhere, by converter id."""
    loads = {load.id: load for load in harness.loads}
    found: dict[str, float | None] = {}
    for converter in harness.converters:
        load = loads[converter.load_id]
        volts = [
            float(s.node_v[s.network.node_index[load.node_plus]] - s.node_v[s.network.node_index[load.node_minus]])
            for s in states.open_circuit.values()
            if {load.node_plus, load.node_minus} <= s.network.node_index.keys()
        ]
        found[converter.id] = max(volts, default=None)
    return found


def _thresholds(
    harness: Harness, settings: AnalysisSettings, cases: tuple[Case, ...]
) -> dict[str, dict[str, Threshold]]:
    """Thresholds of devices and outputs by case id and part id."""
    found: dict[str | None, dict[str, Threshold]] = {}
    for word in dict.fromkeys(case.arrangement for case in cases):
        parts: list[Output | Device] = [output.under(word) for output in harness.outputs]
        parts += [device.under(word) for device in harness.devices]
        found[word] = {part.id: threshold(part, settings, None) for part in parts if part.fitted}
    return {case.id: found[case.arrangement] for case in cases}


def _open_circuits(
    harness: Harness, cases: tuple[Case, ...], states: LoadStates, ratings: Mapping[str, Rating]
) -> dict[str, tuple[OpenCircuits, ...]]:
    """Single open circuits of conductors, contacts, switches and diodes in every case's steady state."""
    paths = (*harness.conductors, *harness.contacts, *harness.switches, *harness.diodes)
    rated = {part.id for part in paths}

    def open_circuits(solution: Solution, _: int) -> OpenCircuits:
        names = solution.network.edge_ids
        opened = np.array([name in rated for name in names], dtype=np.bool_)
        return single_open_circuits(solution, opened=opened, allowed_a=_allowed_a(solution, ratings))

    return _once_per_state(cases, states, open_circuits)


def _outputs_off(
    cases: tuple[Case, ...], states: LoadStates, thresholds: Mapping[str, Mapping[str, Threshold]]
) -> tuple[dict[str, tuple[tuple[str, Solution], ...]], tuple[MayOpen, ...]]:
    """Every case's steady state with each of the joined outputs off, as far as nothing opens then; and what may."""
    lasting: dict[str, tuple[tuple[str, Solution], ...]] = {}
    opening: dict[tuple[str, str], MayOpen] = {}
    for case in cases:
        limits = thresholds[case.id]
        for state in telling_states(states.continuous_corners[case.id]):
            every = tuple(outputs_off(state))
            lasting[case.id] = (*lasting.get(case.id, ()), *(each for each in every if holds(each[1], limits)))
            for found in may_open(case.id, state, every, limits):
                known = opening.get((found.off, found.part))
                if known is None or found.by > known.by * (1.0 + NOISE):
                    opening[found.off, found.part] = found
    return {case_id: off for case_id, off in lasting.items() if off}, tuple(opening.values())


Answer = TypeVar("Answer")


def _once_per_state(
    cases: tuple[Case, ...], states: LoadStates, work: Callable[[Solution, int], Answer]
) -> dict[str, tuple[Answer, ...]]:
    """``work`` on the telling continuous solutions by case id, once for those whose currents and resistances are
    the same."""
    known: dict[tuple[int, bytes, bytes], Answer] = {}
    found: dict[str, tuple[Answer, ...]] = {}
    for case in cases:
        here = []
        for variant, solution in enumerate(telling_states(states.continuous_corners[case.id])):
            key = (variant, solution.edge_a.tobytes(), solution.network.edge_resistance_ohm.tobytes())
            if key not in known:
                known[key] = work(solution, variant)
            here.append(known[key])
        found[case.id] = tuple(here)
    return found


def _allowed_a(solution: Solution, ratings: Mapping[str, Rating]) -> FloatArray:
    """Allowed currents (E,) in the order of a solution's edges; inf where unrated."""
    found = [ratings[name].allowed_a if name in ratings else None for name in solution.network.edge_ids]
    return np.array([np.inf if a is None else a for a in found], dtype=np.float64)


def _output_powers_w(
    harness: Harness, cases: tuple[Case, ...], continuous_corners: Mapping[str, tuple[CornerState, ...]]
) -> dict[str, dict[str, float | None]]:
    """Power out of every output's terminals in its steady states by case: its voltage times its current.

    The most over the corners. Voltage is that of the output without its internal resistance, the safe side.
    """
    found: dict[str, dict[str, float | None]] = {}
    for case in cases:
        powers_w: dict[str, float | None] = dict.fromkeys((output.id for output in harness.outputs), None)
        for state in continuous_corners[case.id]:
            network = state.solution.network
            power_w = network.source_voltage_v * np.maximum(state.solution.source_a, 0.0)
            for name, value in zip(network.source_ids, power_w.tolist(), strict=True):
                powers_w[name] = max(value, powers_w[name] or 0.0)
        found[case.id] = powers_w
    return found
