"""What one fault, or several overloads, can make every conductor and contact carry without anything opening.

A device that has opened makes another arrangement of the harness; the search answers for the harness as it
stands, every device whole. Loads never help to open one (see ``sustained_fault``). A current in the reverse
direction is not credited with making an output act. Diodes and parts that hold a constant current are tried in
every state (``piece.variants``); where there are too many states, or sets of opened devices, for that, a
bound over all of them counts (``state_bound``).

Small pieces are searched by linear programmes; large ones that are fed radially have a closed form whose time
grows with their size (``radial``), exact or a bound that says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from loadloom.graph.circuit.network import Network
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.faults.cases import ThresholdsByCase, alike_arrangements, distinct
from loadloom.graph.faults.search import search_network
from loadloom.graph.faults.summary import summarise_faults
from loadloom.graph.faults.tolerances import SAME
from loadloom.graph.faults.unproved import bound_unproved
from loadloom.graph.faults.worst_faults import WorstFaults
from loadloom.graph.load_cases.case_loading import CaseLoading
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings, Case

Tell = Callable[[str], None]


def search_faults(
    harness: Harness,
    settings: AnalysisSettings,
    cases: Sequence[Case],
    networks: Mapping[str, Sequence[Network]],
    thresholds: ThresholdsByCase,
    ratings: Mapping[str, Rating],
    progress: Tell | None = None,
    loading: Mapping[str, CaseLoading] | None = None,
) -> FaultAnswer:
    """Search every place of fault in every case.

    ``networks[case.id]``: networks at the corner ``GREATEST_FAULT``, with the chassis as a joint and, where
    there is one, without it; the worse counts. ``thresholds[case.id]``: of every device and output by id, as
    they are in the case's arrangement. ``ratings`` by conductor and contact id. Cases that differ in nothing
    that matters, and cases whose loads are all smaller than another's, are searched once. ``loading`` by case id:
    what the case itself does; no answer is below what the case carries continuously.
    """
    of_case = loading or {}
    tell = progress or (lambda text: None)
    worst: dict[str | None, WorstFaults] = {}
    firm: dict[str | None, dict[str, float]] = {}
    for case, network, loads in distinct(harness, cases, networks, thresholds, of_case):
        tell(f"searching faults: {case.id}")
        mine, found = thresholds[case.id], worst.setdefault(case.arrangement, WorstFaults())
        back, joined = dict(found.back), dict(found.joined)
        search_network(harness, case, network, mine, loads, ratings, found)
        if _is_welded(harness, case, network):
            # An output that is shorted inside while a switch is closed by mistake would be two faults.
            found.back, found.joined = back, joined
        if _rests_on_assumed(mine, ratings, worst[case.arrangement], settings.overload_band):
            without = {k: replace(t, held_a=math.inf, opens=False) if t.assumed else t for k, t in mine.items()}
            apart = WorstFaults()
            search_network(harness, case, network, without, loads, ratings, apart, short=True)
            bound_unproved(apart.unproved, apart, short=True)
            known = firm.setdefault(case.arrangement, {})
            for part in (*apart.hits, *apart.radial):
                known[part] = max(known.get(part, 0.0), apart.value_a(part))
    for found in worst.values():
        bound_unproved(found.unproved, found)
    for word, same in alike_arrangements(harness, cases).items():
        if same in worst:
            worst[word] = worst[same]
            firm[word] = firm.get(same, {})
    for case in cases:
        if case.id in of_case and case.arrangement in worst:
            worst[case.arrangement].raise_to(case, of_case[case.id].continuous_a)
    return summarise_faults(harness, settings, cases, thresholds, ratings, worst, firm)


def _is_welded(harness: Harness, case: Case, network: Network) -> bool:
    """Whether a switch that is open in a case is closed in a network of it."""
    return any(
        math.isfinite(network.edge_resistance_ohm[network.edge_index[switch.id]])
        for switch in harness.switches
        if switch.id in network.edge_index and not switch.under(case.arrangement).fitted
    )


def _rests_on_assumed(
    thresholds: Mapping[str, Threshold], ratings: Mapping[str, Rating], worst: WorstFaults, band: float
) -> bool:
    """Whether any part that is within its allowed current, or its band, may be so by an assumed trip alone."""
    if not any(t.assumed and math.isfinite(t.held_a) for t in thresholds.values()):
        return False
    if worst.radial:
        return True
    for name, found in worst.hits.items():
        rating = ratings.get(name)
        if rating is None or rating.allowed_a is None or found.hit.value_a > band * rating.allowed_a * (1.0 + SAME):
            continue
        if all(thresholds[d].assumed for d in worst.cover.get(name, ())):
            return True
    return False
