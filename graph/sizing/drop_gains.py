"""Voltage drop budget: what a thicker conductor gives a load, in volts and in volts per gram of copper.

With a load that draws a constant current, dV/dR of a part is −I·i: its own current I, and the current i that one
ampere drawn at the load sends through it (1 on the path of a tree, its share in a mesh). For loads of constant
power it is the first-order answer; the size that is proposed is always checked by the full solve.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.copper import Copper
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.voltages import tightest_minimum
from loadloom.graph.model.elements import Conductor, Gauge, Load
from loadloom.graph.sizing.shelf import copper_g


@dataclass(frozen=True, slots=True)
class DropGain:
    """One step thicker on one conductor, or on those that have one size: volts gained at a load, copper added, and
    volts per gram. ``conductor``: its id, or the ids of all of them.
    """

    conductor: str
    load: str
    to: str
    drop_v: float
    gained_v: float
    added_g: float

    @property
    def v_per_g(self) -> float:
        """Volts gained per gram of copper."""
        return self.gained_v / self.added_g if self.added_g > 0.0 else 0.0


def worst_solution(facts: Facts, load: Load) -> Solution | None:
    """The solution in which a load has its least voltage; None for a load that is never fed."""
    least, _ = tightest_minimum(facts, load)
    if least is None:
        return None
    found = [s for s in facts.lowest[least.case] if load.id in s.network.load_ids and load.id not in s.unfed]
    return min(found, key=lambda s: float(s.load_v[s.network.load_ids.index(load.id)]), default=None)


def weights_v(facts: Facts, load: Load) -> dict[str, float]:
    """By conductor id: its share of the drop at a load in V, I·i·R; parts off the load's way are left out."""
    solution = worst_solution(facts, load)
    if solution is None:
        return {}
    net = solution.network
    k = net.load_ids.index(load.id)
    drawn = np.zeros(len(net.node_ids))
    drawn[net.load_plus[k]] -= 1.0
    drawn[net.load_minus[k]] += 1.0
    _, unit_a = Copper(solution).circuit().solve(drawn)
    found = {}
    for conductor in facts.harness.conductors:
        at = net.edge_index[conductor.id]
        drop_v = float(solution.edge_a[at] * unit_a[at] * net.edge_resistance_ohm[at])
        if np.isfinite(drop_v) and abs(drop_v) > 1e-9:
            found[conductor.id] = drop_v
    return found


def drop_gains(facts: Facts, load: Load, next_size: Mapping[tuple[str, ...], Gauge]) -> tuple[DropGain, ...]:
    """What one step gives a load, the most volts per gram first; steps that give it nothing are left out.

    ``next_size`` by the ids of the conductors that change together, which all have a size and a length. Resistance
    goes with the inverse of the area (a resistance table of a standard differs from that by a few percent).
    """
    found = []
    weights = weights_v(facts, load)
    for names, step in next_size.items():
        drop_v = gained_v = added_g = 0.0
        for name in names:
            conductor, share_v = facts.harness.by_id[name], weights.get(name, 0.0)
            assert isinstance(conductor, Conductor) and conductor.gauge is not None
            area = conductor.gauge.area_mm2
            drop_v += share_v
            gained_v += share_v * (1.0 - area / step.area_mm2)
            added_g += copper_g(step.area_mm2 - area, conductor.length_m or 0.0)
        if gained_v > 0.0:
            found.append(DropGain(", ".join(names), load.id, str(step), drop_v, gained_v, added_g))
    return tuple(sorted(found, key=lambda gain: (-gain.v_per_g, gain.conductor)))
