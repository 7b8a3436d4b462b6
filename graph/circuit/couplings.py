"""Converters in the solve: what an output gives is drawn by its input, at the voltage that the input has.

A network holds a converter as an output and a load of constant power. They hang on each other: the load's power is
the output's over the efficiency, and the output is there only while the input has voltage enough. Both are settled
by a fixed point around the plain solve. In a tree of converters every round settles one more stage, so that a chain
of n takes n + 1 rounds; shared returns add a few.

*Start*: with no load anywhere, an output runs once its input has its least voltage. So converters that feed each
other in a ring and nothing else never start, and what no supply reaches stays dead.

*Drop-out*: a converter whose loaded input lies below its least voltage does not run, and is not started again in
this state: its loads lose supply.

Where the powers do not settle, the network can't carry what is asked. The inputs concerned then count as collapsed.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from loadloom.graph.circuit.network import LOAD_KINDS, Coupling, IntArray, Network, without_loads
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.model.efficiency import input_power_w
from loadloom.graph.model.elements import LoadKind

ROUNDS = 200
"""Rounds of powers that are tried; ten stages with shared returns take about thirty."""

SETTLED = 1e-12
"""Share of the greatest power by which the powers of two rounds may differ."""

MOST_GROWTH = 1e6
"""Times the converters' first powers beyond which powers that feed each other are given up."""

LIVE_V = 1e-6
"""An input of less voltage than this is dead, whatever its converter states."""

TRICKLE_W = 1e-3
"""A power that any supply gives."""

Plain = Callable[[Network], Solution]


@dataclass(frozen=True)
class _Settled:
    solution: Solution
    settled: bool


def solve_coupled(network: Network, plain: Plain) -> Solution:
    """Solve a network with converters; ``plain`` solves one whose loads are all given.

    The solution's network holds the inputs' powers as they were found, and an infinite internal resistance for
    outputs that are off, which ``off`` names.
    """
    there = [c for c in network.couplings if c.load in network.load_index]
    # An input whose output is taken out draws nothing; an output whose input is no part of this stands alone.
    demand = network.load_demand.copy()
    demand[[network.load_index[c.load] for c in there]] = 0.0
    network = replace(
        network,
        load_demand=demand,
        # Solved before, perhaps: what was off then may run now.
        source_resistance_ohm=(
            network.source_resistance_ohm if network.source_drawn_ohm is None else network.source_drawn_ohm
        ),
        source_drawn_ohm=None,
    )
    inputs = {c.output: c for c in there if c.output in network.source_index}
    running = _started(network, inputs, plain)
    dead: list[int] = []
    while True:
        found = _balanced(network, inputs, running, plain)
        low = {name for name in running if _input_v(found.solution, inputs[name]) < _least_v(inputs[name])}
        if not low:
            break
        off = [name for name in inputs if name not in running]
        dead += [network.load_index[inputs[n].load] for n in low if _is_dead(network, inputs[n], off, plain)]
        running -= low
    solution = found.solution
    if dead:
        volts = solution.load_v.copy()
        volts[dead] = 0.0
        unfed = dict.fromkeys((*solution.unfed, *(network.load_ids[k] for k in sorted(dead))))
        solution = replace(solution, load_v=volts, unfed=tuple(unfed))
    if not found.settled:
        stuck = tuple(inputs[name].load for name in sorted(running) if inputs[name].load not in solution.collapsed)
        solution = replace(solution, collapsed=(*solution.collapsed, *stuck))
    return replace(solution, off=tuple(name for name in inputs if name not in running))


def _started(network: Network, inputs: dict[str, Coupling], plain: Plain) -> set[str]:
    """The converters whose input gets its voltage while nothing is loaded, stage by stage."""
    running: set[str] = set()
    while len(running) < len(inputs):
        idle = plain(_outputs_off(without_loads(network), [n for n in inputs if n not in running]))
        piece = pieces(idle.network)
        new = set()
        for name, coupling in inputs.items():
            k = network.load_index[coupling.load]
            plus, minus = int(network.load_plus[k]), int(network.load_minus[k])
            volts = float(idle.node_v[plus] - idle.node_v[minus])
            if name not in running and piece[plus] == piece[minus] and volts >= _least_v(coupling):
                new.add(name)
        if not new:
            break
        running |= new
    return running


def _is_dead(network: Network, coupling: Coupling, off: Collection[str], plain: Plain) -> bool:
    """Whether nothing can flow to a converter's input, be it ever so little: a diode before it blocks for good.

    Where nothing is drawn the joint behind such a diode seems to have the voltage before it.
    """
    asks = np.zeros(len(network.load_ids))
    asks[network.load_index[coupling.load]] = TRICKLE_W
    kinds = np.full(len(asks), LOAD_KINDS.index(LoadKind.POWER))
    alone = _outputs_off(replace(network, load_demand=asks, load_kind=kinds), off)
    return coupling.load in plain(alone).unfed


def pieces(network: Network) -> IntArray:
    """(N,) the number of the piece that every node is part of, by closed edges and live outputs."""
    count = len(network.node_ids)
    closed = np.isfinite(network.edge_resistance_ohm)
    live = np.isfinite(network.source_resistance_ohm)
    ends_a = np.concatenate([network.edge_a[closed], network.source_plus[live]])
    ends_b = np.concatenate([network.edge_b[closed], network.source_minus[live]])
    joined = coo_array((np.ones(len(ends_a)), (ends_a, ends_b)), shape=(count, count))
    label: IntArray = connected_components(joined, directed=False)[1].astype(np.int64)
    return label


def _balanced(network: Network, inputs: dict[str, Coupling], running: Collection[str], plain: Plain) -> _Settled:
    """The state in which every running converter's input draws what its output gives over its efficiency."""
    there = _outputs_off(network, [name for name in inputs if name not in running])
    order = [inputs[name] for name in inputs if name in running]
    loads = np.array([network.load_index[c.load] for c in order], dtype=np.int64)
    sources = np.array([network.source_index[c.output] for c in order], dtype=np.int64)
    power_w = np.array([c.no_load_w for c in order])
    more_w = np.array([c.more_w for c in order])
    first_w = 0.0
    for turn in range(ROUNDS):
        demand = network.load_demand.copy()
        demand[loads] = power_w
        solution = plain(replace(there, load_demand=demand))
        terminal_v = solution.node_v[network.source_plus[sources]] - solution.node_v[network.source_minus[sources]]
        given_w = np.maximum(terminal_v * solution.source_a[sources] + more_w, 0.0)
        wanted_w = np.array(
            [
                input_power_w(w, c.efficiency, c.rated_w, c.no_load_w)
                for w, c in zip(given_w.tolist(), order, strict=True)
            ]
        )
        most_w = float(wanted_w.max(initial=0.0))
        if float(np.abs(wanted_w - power_w).max(initial=0.0)) <= SETTLED * most_w:
            return _Settled(solution, settled=True)
        first_w = first_w or most_w
        if turn > len(order) and most_w > MOST_GROWTH * first_w:
            break
        power_w = wanted_w
    return _Settled(solution, settled=False)


def _outputs_off(network: Network, names: Collection[str]) -> Network:
    """The network with outputs that give and take nothing, their places in the arrays kept."""
    if not names:
        return network
    off = np.array([name in names for name in network.source_ids], dtype=np.bool_)
    resistance = np.where(off, np.inf, network.source_resistance_ohm)
    return replace(network, source_resistance_ohm=resistance, source_drawn_ohm=network.source_resistance_ohm)


def _input_v(solution: Solution, coupling: Coupling) -> float:
    """The voltage at a converter's input in V; 0 for one that nothing feeds."""
    return float(solution.load_v[solution.network.load_index[coupling.load]])


def _least_v(coupling: Coupling) -> float:
    return LIVE_V if coupling.minimum_v is None else max(coupling.minimum_v, LIVE_V)
