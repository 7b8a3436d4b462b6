"""Heat made in every zone: losses of wires, contacts, devices and diodes, and the waste heat of supplies."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from loadloom.graph.harness import Harness
from loadloom.graph.results import SupplyRow
from loadloom.graph.solution import Solution


def zone_heat_w(harness: Harness, solution: Solution, supplies: Iterable[SupplyRow] = ()) -> dict[str, float]:
    """Heat in W by zone in one solved state; parts without a zone are left out, and so is what loads make.

    I²·R of every two-ended part plus the forward drop of diodes. A supply's ``heat_w`` counts in its zone; one
    that is not known counts as 0, so check ``unknown_heat`` first.
    """
    network = solution.network
    count = len(harness.two_ended)
    resistance_ohm = network.edge_resistance_ohm[:count]
    current_a = np.abs(solution.edge_a[:count])
    closed_ohm = np.where(np.isfinite(resistance_ohm), resistance_ohm, 0.0)
    losses_w = current_a**2 * closed_ohm + current_a * network.edge_drop_v[:count]
    found: dict[str, float] = {}
    for part, loss_w in zip(harness.two_ended, losses_w.tolist(), strict=True):
        if part.zone is not None:
            found[part.zone] = found.get(part.zone, 0.0) + loss_w
    zones = {supply.name: supply.zone for supply in harness.supplies}
    for row in supplies:
        zone = zones.get(row.id)
        if zone is not None and row.heat_w is not None:
            found[zone] = found.get(zone, 0.0) + row.heat_w
    return found


def unknown_heat(harness: Harness, supplies: Iterable[SupplyRow]) -> dict[str, tuple[str, ...]]:
    """Supplies by zone whose waste heat is not known (no efficiency stated): the zone is warmer than computed."""
    zones = {supply.name: supply.zone for supply in harness.supplies}
    found: dict[str, tuple[str, ...]] = {}
    for row in supplies:
        zone = zones.get(row.id)
        if zone is not None and row.heat_w is None:
            found[zone] = (*found.get(zone, ()), row.id)
    return found


def worst_by_zone_w(states: Iterable[Mapping[str, float]]) -> dict[str, float]:
    """The greatest heat in W of every zone over several states."""
    found: dict[str, float] = {}
    for state in states:
        for zone, heat_w in state.items():
            found[zone] = max(heat_w, found.get(zone, 0.0))
    return found
