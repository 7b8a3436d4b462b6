"""Dead shorts in copper that several outputs feed: the shorted network solved, again after each opening.

An output that is joined to others may be off, or have failed: that is what it was joined for. A short that only
all of them together clear would then be held, and what flows in a lead can be more without the others, where a
resistance is shared. So every short is also solved with some of the outputs off: of up to ``MOST_AT_WILL`` every
set of them, of more each alone and all but each.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from loadloom.graph.clearing import Clearing, DeviceCurrents, Flow, first_to_open
from loadloom.graph.guards import Arrangement
from loadloom.graph.network import Network, without
from loadloom.graph.settings import AnalysisSettings
from loadloom.graph.solution import Solution
from loadloom.graph.solve import solve

SHORT = "dead short"

MOST_AT_WILL = 4
"""Joined outputs of which every set is tried off: 15 sets."""

NEGLIGIBLE_A = 1e-6
"""Below this a part counts as carrying nothing."""


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


def joined_flows(
    there: Arrangement, piece: Network, ends: tuple[int, int], part: str, settings: AnalysisSettings
) -> tuple[Flow, ...]:
    """A dead short between two nodes of a piece, seen from a part, with every set of the piece's outputs off.

    Sets without which the part carries nothing are left out, as long as any other is left.
    """
    network = shorted(piece, *ends)
    flows = [_until_cleared(there, network, part, off, settings) for off in sets_off(piece.source_ids)]
    return tuple([flow for flow in flows if flow.own_a > NEGLIGIBLE_A] or flows[:1])


def _until_cleared(
    there: Arrangement, whole: Network, part: str, off: tuple[str, ...], settings: AnalysisSettings
) -> Flow:
    """Solve, and again after each opening, until the part carries none of it any more or nothing opens.

    The device with the least slowest time opens first; the times are added up, as if nothing had warmed up
    meanwhile. Each output that shuts down is taken out.
    """
    network = without(whole, off)
    outputs = {view.output.id: view.output for view in there.outputs}
    total_s, i2t = 0.0, 0.0
    first: tuple[float, float] | None = None
    last: Clearing | None = None
    cleared: Clearing | None = None
    flows: DeviceCurrents = ()
    while True:
        solution = solve(network)
        current_a, own_a = abs(solution.current_a(SHORT)), abs(solution.current_a(part))
        first = first or (current_a, own_a)
        heat_w = _heat_w(solution)
        if own_a <= NEGLIGIBLE_A:
            cleared = Clearing(last.device, total_s) if last is not None else None
            break
        acting = ((device, network.edge_index.get(name)) for name, device in there.devices.items())
        sources = zip(network.source_ids, solution.source_a.tolist(), strict=True)
        flows = (
            *((device, abs(float(solution.edge_a[at]))) for device, at in acting if at is not None),
            *((outputs[name], amperes) for name, amperes in sources if amperes > 0.0),
        )
        last = opening = first_to_open(flows, there.thresholds, settings)
        if opening is None:
            break
        total_s += opening.slowest_s
        i2t += own_a**2 * opening.slowest_s
        network = without(network, (opening.device.id,))
    return Flow(
        current_a=first[0],
        own_a=first[1],
        heat_w=heat_w,
        devices=flows,
        capped_by=solution.holding[0] if solution.holding else None,
        clearing=cleared,
        own_i2t_a2s=i2t if cleared is not None and math.isfinite(total_s) else None,
        held_a=current_a,
        outputs_off=off,
    )


def greatest_behind_a_device(network: Network, device: str, far: int, terminals: Sequence[int]) -> float:
    """The greatest current in A through a device in a dead short just behind it, at the node ``far``, to any
    output's terminal, with every set of the outputs off.
    """
    place = network.edge_index[device]
    found = 0.0
    for terminal in terminals:
        if terminal != far:
            whole = shorted(network, far, terminal)
            for off in sets_off(network.source_ids):
                found = max(found, abs(float(solve(without(whole, off)).edge_a[place])))
    return found


def _heat_w(solution: Solution) -> float:
    """Heat in all branches, in W."""
    ohm = solution.network.edge_resistance_ohm
    return float(np.sum(solution.edge_a**2 * np.where(np.isfinite(ohm), ohm, 0.0)))
