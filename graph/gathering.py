"""Finding out everything about one harness that the rules look at."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from loadloom.graph.facts import Currents, Facts
from loadloom.graph.harness import Harness
from loadloom.graph.load_states import LoadStates, all_currents
from loadloom.graph.protection import find_protection
from loadloom.graph.ratings.bundles import loaded_counts
from loadloom.graph.ratings.conductor_rating import rate_conductors
from loadloom.graph.ratings.contact_rating import rate_contact, rate_splice, rate_switch
from loadloom.graph.results import Rating
from loadloom.graph.settings import AnalysisSettings, Case
from loadloom.graph.topology import topology

LOADED_FROM_A = 1e-3
"""A contact that carries at least a milliampere counts as a loaded position."""


def gather(
    harness: Harness,
    settings: AnalysisSettings,
    cases: tuple[Case, ...],
    states: LoadStates,
    tell: Callable[[str], None],
) -> Facts:
    """Rate everything, and search faults, breaks and windows."""
    currents = all_currents(harness, states.loaded, states.steady)
    positions = _loaded_positions(harness, currents, cases)
    tell("rating conductors and contacts")
    ratings = _ratings(harness, settings, cases, currents, positions)
    return Facts(
        harness=harness,
        settings=settings,
        cases=cases,
        topology=topology(harness),
        loaded=states.loaded,
        steady=states.steady,
        lowest=states.lowest,
        open_circuit=states.open_circuit,
        currents=currents,
        ratings=ratings,
        temperatures_c=states.temperatures_c,
        loaded_positions=positions,
        protection=find_protection(harness, settings, cases, ratings, states.temperatures_c, tell),
    )


def _ratings(
    harness: Harness,
    settings: AnalysisSettings,
    cases: tuple[Case, ...],
    currents: Mapping[str, Currents],
    positions: Mapping[str, int],
) -> dict[str, Rating]:
    """Ratings by id of everything that has one; bundles by the state that loads most of their conductors."""
    counts: dict[str, int] = {}
    for case in cases:
        steady = {c.id: currents[c.id].steady_a[case.id] for c in harness.conductors}
        for bundle, count in loaded_counts(harness, steady).items():
            counts[bundle] = max(count, counts.get(bundle, 0))
    found = rate_conductors(harness, settings, {bundle: max(1, n) for bundle, n in counts.items()} or None)
    for contact in harness.contacts:
        found[contact.id] = rate_contact(
            contact,
            max(1, positions.get(contact.connector, 0)),
            settings.ambient(contact.zone).max_c,
            settings,
        )
    found |= {splice.id: rate_splice(splice, settings) for splice in harness.splices}
    found |= {switch.id: rate_switch(switch, settings) for switch in harness.switches}
    found |= {diode.id: rate_switch(diode, settings) for diode in harness.diodes}
    return found


def _loaded_positions(
    harness: Harness, currents: Mapping[str, Currents], cases: tuple[Case, ...]
) -> dict[str, int]:
    """Loaded contacts of every connector, in the state that loads most of them."""
    found: dict[str, int] = {}
    for case in cases:
        here: dict[str, int] = {}
        for contact in harness.contacts:
            loaded = currents[contact.id].steady_a[case.id] >= LOADED_FROM_A
            here[contact.connector] = here.get(contact.connector, 0) + int(loaded)
        for connector, count in here.items():
            found[connector] = max(count, found.get(connector, 0))
    return found
