"""Dead shorts in copper that several outputs feed: the shorted network solved, again after each opening.

An output that is joined to others may be off, or have failed: that is what it was joined for. A short that only
all of them together clear would then be held, and what flows in a lead can be more without the others, where a
resistance is shared. So every short is also solved with some of the outputs off: of up to ``MOST_AT_WILL`` every
set of them, of more each alone and all but each.

Where the copper is linear a short draws its no-load voltage over the resistance between its ends (Thévenin's
theorem), so that every state of the copper is factored once for all its shorts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations

import numpy as np

from loadloom.graph.circuit import Circuit
from loadloom.graph.clearing import Clearing, DeviceCurrents, Flow, first_to_open
from loadloom.graph.guards import Arrangement
from loadloom.graph.network import FloatArray, Network, without
from loadloom.graph.settings import AnalysisSettings
from loadloom.graph.solve import solve

SHORT = "dead short"

MOST_AT_WILL = 4
"""Joined outputs of which every set is tried off: 15 sets."""

NEGLIGIBLE_A = 1e-6
"""Below this a part counts as carrying nothing."""

RIGID_OHM = 1e-9
"""Below this two nodes count as joined without resistance."""

NOTHING_V = 1e-9


def shorted(network: Network, a: int, b: int) -> Network:
    """A network with its loads taken off and a 0 Ω branch ``SHORT`` between two nodes."""
    none_f, none_i = np.zeros(0), np.zeros(0, dtype=np.int64)
    return replace(
        network,
        edge_ids=(*network.edge_ids, SHORT),
        edge_a=np.append(network.edge_a, a),
        edge_b=np.append(network.edge_b, b),
        edge_resistance_ohm=np.append(network.edge_resistance_ohm, 0.0),
        edge_drop_v=np.append(network.edge_drop_v, 0.0),
        edge_diode=np.append(network.edge_diode, False),
        load_ids=(),
        load_plus=none_i,
        load_minus=none_i,
        load_kind=none_i,
        load_demand=none_f,
    )


def sets_off(outputs: Sequence[str]) -> list[tuple[str, ...]]:
    """Sets of outputs that may be off together, the empty one first; one is always left on."""
    count = len(outputs)
    sizes = range(count) if count <= MOST_AT_WILL else (0, 1, count - 1)
    return [names for size in sizes for names in combinations(outputs, size)]


@dataclass(frozen=True)
class Drawn:
    """What flows in a short, in A: of its own, of the edges (E,) and outputs (S,); which of these hold theirs."""

    short_a: float
    edge_a: FloatArray
    source_a: FloatArray
    holding: tuple[str, ...]


class JoinedShorts:
    """The dead shorts of one piece of copper at one corner, loads off; every state of it is factored once."""

    def __init__(self, piece: Network) -> None:
        self.piece = piece
        self._states: dict[frozenset[str], _State] = {}
        self._flows: dict[tuple[str, int, int], tuple[Flow, ...]] = {}

    def flows(
        self, there: Arrangement, ends: tuple[int, int], part: str, settings: AnalysisSettings
    ) -> tuple[Flow, ...]:
        """A dead short between two nodes of the piece, seen from a part, with every set of its outputs off.

        Sets without which the part carries nothing are left out, as long as any other is left.
        """
        key = (part, *ends)
        if key not in self._flows:
            sets = sets_off(self.piece.source_ids)
            flows = [self._until_cleared(there, ends, part, off, settings) for off in sets]
            self._flows[key] = tuple([flow for flow in flows if flow.own_a > NEGLIGIBLE_A] or flows[:1])
        return self._flows[key]

    def greatest_behind(self, device: str, far: int, terminals: Sequence[int]) -> float:
        """The greatest current in A through a device in a dead short just behind it, at the node ``far``, to any
        output's terminal, with every set of the outputs off.
        """
        place = self.piece.edge_index[device]
        states = [self._state(frozenset(off)) for off in sets_off(self.piece.source_ids)]
        found = [
            abs(float(state.drawn(far, terminal).edge_a[place]))
            for terminal in terminals
            if terminal != far
            for state in states
        ]
        return max(found, default=0.0)

    def _state(self, out: frozenset[str]) -> _State:
        if out not in self._states:
            self._states[out] = _State(without(self.piece, sorted(out)))
        return self._states[out]

    def _until_cleared(
        self, there: Arrangement, ends: tuple[int, int], part: str, off: tuple[str, ...], settings: AnalysisSettings
    ) -> Flow:
        """Solve, and again after each opening, until the part carries none of it any more or nothing opens.

        The device with the least slowest time opens first; the times are added up, as if nothing had warmed up
        meanwhile. Each output that shuts down is taken out.
        """
        index = self.piece.edge_index
        ohm = np.where(np.isfinite(self.piece.edge_resistance_ohm), self.piece.edge_resistance_ohm, 0.0)
        outputs = {view.output.id: view.output for view in there.outputs}
        acting = [(device, index[name]) for name, device in there.devices.items() if name in index]
        out = frozenset(off)
        total_s, i2t = 0.0, 0.0
        first: tuple[float, float] | None = None
        last: Clearing | None = None
        cleared: Clearing | None = None
        devices: DeviceCurrents = ()
        while True:
            state = self._state(out)
            drawn = state.drawn(*ends)
            own_a = abs(float(drawn.edge_a[index[part]]))
            first = first or (abs(drawn.short_a), own_a)
            if own_a <= NEGLIGIBLE_A:
                cleared = Clearing(last.device, total_s) if last is not None else None
                break
            sources = zip(state.network.source_ids, drawn.source_a.tolist(), strict=True)
            devices = (
                *((device, abs(float(drawn.edge_a[at]))) for device, at in acting),
                *((outputs[name], amperes) for name, amperes in sources if amperes > 0.0),
            )
            last = opening = first_to_open(devices, there.thresholds, settings)
            if opening is None:
                break
            total_s += opening.slowest_s
            i2t += own_a**2 * opening.slowest_s
            out |= {opening.device.id}
        return Flow(
            current_a=first[0],
            own_a=first[1],
            heat_w=float(np.sum(drawn.edge_a**2 * ohm)),
            devices=devices,
            capped_by=drawn.holding[0] if drawn.holding else None,
            clearing=cleared,
            own_i2t_a2s=i2t if cleared is not None and math.isfinite(total_s) else None,
            held_a=abs(drawn.short_a),
            outputs_off=off,
        )


class _State:
    """A piece with some devices open and outputs off: any short in it by its no-load voltage over its resistance,
    or, where diodes, held currents or outputs without resistance are in the way of that, by the full solve.
    """

    def __init__(self, network: Network) -> None:
        self.network = network
        n = network
        self.linear = not (n.edge_diode.any() or np.isfinite(n.source_hold_a).any())
        self.circuit = Circuit(
            len(n.node_ids),
            np.concatenate([n.edge_a, n.source_minus]),
            np.concatenate([n.edge_b, n.source_plus]),
            np.concatenate([n.edge_resistance_ohm, n.source_resistance_ohm]),
            np.concatenate([np.zeros(len(n.edge_ids)), n.source_voltage_v]),
            n.source_minus,
        )

    @cached_property
    def _idle(self) -> tuple[FloatArray, FloatArray]:
        return self.circuit.solve(np.zeros(self.circuit.nodes))

    def drawn(self, a: int, b: int) -> Drawn:
        """What flows in a dead short from node ``a`` to node ``b``."""
        if self.linear and not self.circuit.rigid.conflict.any():
            idle_v, idle_a = self._idle
            if self.circuit.piece[a] != self.circuit.piece[b]:
                return self._split(0.0, idle_a)
            unit = np.zeros(self.circuit.nodes)
            unit[a] -= 1.0
            unit[b] += 1.0
            unit_v, unit_a = self.circuit.solve(unit)
            volts = float(idle_v[a] - idle_v[b])
            ohm = volts + float(unit_v[b] - unit_v[a])
            if ohm > RIGID_OHM:
                short_a = volts / ohm
                return self._split(short_a, idle_a + short_a * (unit_a - idle_a))
            if abs(volts) <= NOTHING_V:  # joined without resistance already: the short makes no way that is new
                return self._split(0.0, idle_a)
        solution = solve(shorted(self.network, a, b))
        return Drawn(
            solution.current_a(SHORT),
            solution.edge_a[: len(self.network.edge_ids)],
            solution.source_a,
            solution.holding,
        )

    def _split(self, short_a: float, branch_a: FloatArray) -> Drawn:
        edges = len(self.network.edge_ids)
        return Drawn(short_a, branch_a[:edges], branch_a[edges:], ())
