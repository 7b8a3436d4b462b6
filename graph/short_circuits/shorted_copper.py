"""Copper with a short circuit in it and its loads off: what flows in the short, in every branch and output.

It is solved from one factor for all shorts of a state (``opened_copper``), and in full where that does not settle:
a limiter that holds is then a source of no voltage that gives no more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.circuit.network import FloatArray, Network, without_loads
from loadloom.graph.circuit.solve import solve
from loadloom.graph.short_circuits.opened_copper import ROUNDING, OpenedCopper

SHORT = "short circuit"


@dataclass(frozen=True)
class Drawn:
    """What flows in a short, in A: of its own, of the edges (E,) and outputs (S,); which of these hold theirs."""

    short_a: float
    edge_a: FloatArray
    source_a: FloatArray
    holding: tuple[str, ...]


def shorted(network: Network, a: int, b: int) -> Network:
    """A network with its loads taken off and a 0 Ω branch ``SHORT`` between two nodes."""
    return replace(
        without_loads(network),
        edge_ids=(*network.edge_ids, SHORT),
        edge_a=np.append(network.edge_a, a),
        edge_b=np.append(network.edge_b, b),
        edge_resistance_ohm=np.append(network.edge_resistance_ohm, 0.0),
        edge_drop_v=np.append(network.edge_drop_v, 0.0),
        edge_diode=np.append(network.edge_diode, False),
    )


class ShortedCopper:
    """One state of the copper. ``held_a``: outputs and limiters by id that hold their current at this without
    opening.
    """

    def __init__(self, network: Network, held_a: Mapping[str, float]) -> None:
        self.network, self._held_a = network, held_a
        holding = [x for x, a in zip(network.source_ids, network.source_hold_a, strict=True) if np.isfinite(a)]
        holding += [name for name in (*network.edge_ids, *network.source_ids) if name in held_a]
        self._copper = OpenedCopper(network, holding, as_it_is=True)
        self._limits = self._copper.limits(held_a)

    def drawn(self, a: int, b: int) -> Drawn:
        """What flows in a short circuit from node ``a`` to node ``b``."""
        edges, closed = len(self.network.edge_ids), np.zeros((1, len(self._copper.at)), dtype=np.bool_)
        found = self._copper.shorted([(a, b)]).currents_a(np.zeros(1, dtype=np.int64), closed, self._limits)
        if found.settled[0]:
            amps = found.current_a[0]
            return Drawn(float(amps[-1]), amps[:edges], amps[edges:-1], self._copper.holding(found.at_end[0]))
        return solved_in_full(self.network, self._held_a, a, b)


def solved_in_full(network: Network, held_a: Mapping[str, float], a: int, b: int) -> Drawn:
    """What flows in a short circuit from node ``a`` to node ``b``, by ``solve``; ``held_a`` as above."""
    own = zip(network.source_ids, network.source_hold_a.tolist(), strict=True)
    hold_a = [min(amperes, held_a.get(name, np.inf)) for name, amperes in own]
    whole = replace(shorted(network, a, b), source_hold_a=np.array(hold_a, dtype=np.float64))
    limiters = {name: held_a[name] for name in network.edge_ids if name in held_a}
    edges, sources = len(network.edge_ids), len(network.source_ids)
    signs: dict[str, int] = {}
    while True:
        solution = solve(_with_limits(whole, signs, limiters))
        edge_a = solution.edge_a[:edges].copy()
        for name, amperes in zip(signs, solution.source_a[sources:].tolist(), strict=True):
            edge_a[network.edge_index[name]] = signs[name] * amperes
        through = {name: float(edge_a[network.edge_index[name]]) for name in limiters if name not in signs}
        over = {
            name: 1 if amperes > 0.0 else -1
            for name, amperes in through.items()
            if abs(amperes) > limiters[name] * (1.0 + ROUNDING)
        }
        if not over:
            return Drawn(solution.current_a(SHORT), edge_a, solution.source_a[:sources], solution.holding)
        signs |= over


def _with_limits(network: Network, signs: Mapping[str, int], held_a: Mapping[str, float]) -> Network:
    """Limiters that are reached as sources of 0 V, in the direction in which they are reached (1: from a to b)."""
    if not signs:
        return network
    at = np.array([network.edge_index[name] for name in signs], dtype=np.int64)
    forward = np.array(list(signs.values())) > 0
    ohm = network.edge_resistance_ohm.copy()
    ohm[at] = np.inf
    none = np.zeros(len(at))
    return replace(
        network,
        edge_resistance_ohm=ohm,
        source_ids=(*network.source_ids, *signs),
        source_plus=np.append(network.source_plus, np.where(forward, network.edge_b[at], network.edge_a[at])),
        source_minus=np.append(network.source_minus, np.where(forward, network.edge_a[at], network.edge_b[at])),
        source_voltage_v=np.append(network.source_voltage_v, none),
        source_resistance_ohm=np.append(network.source_resistance_ohm, network.edge_resistance_ohm[at]),
        source_hold_a=np.append(network.source_hold_a, [held_a[name] for name in signs]),
    )
