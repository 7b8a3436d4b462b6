"""The linear state of a fault that the search found: currents everywhere, and the device that just holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.faults.places import Place
from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.faults.tolerances import NEAR_HELD, TINY


@dataclass(frozen=True)
class HitState:
    """A linear state: magnitudes by branch (on a conductor with the fault, its greater part); where loads pulse,
    their root mean square.
    """

    parts: FloatArray
    fault_v: float
    held_by: str | None
    per_fault: FloatArray
    loop_ohm: float
    open_v: float


def state_at(search: Search, place: Place, fault_a: float, loads_a: FloatArray) -> HitState:
    """The linear state with a fault current and load currents in A."""
    response = search.loaded.response([place])
    flows, piece = search.variant.flows, search.variant.piece
    fixed = flows.own_a + search.loaded.load_branch @ loads_a
    per_fault = response.branch[:, 0].copy()
    signed = fixed + per_fault * fault_a
    for point, sign in ((place.high, 1.0), (place.low, -1.0)):
        k = point.branch
        if k >= 0:
            each = np.concatenate(response.currents.each_mixture(k, np.zeros(1, dtype=np.int64)))
            gains = [*(each + sign * (1.0 - point.share)).tolist(), *(each - sign * point.share).tolist()]
            per_fault[k] = max(gains, key=lambda g: abs(fixed[k] + g * fault_a))
            signed[k] = fixed[k] + per_fault[k] * fault_a
    open_v = float(response.open_v[0] - response.fall[0] @ loads_a)
    loop = float(response.loop_ohm[0])
    rows = search.variant.rows
    with np.errstate(divide="ignore", invalid="ignore"):
        used = rows.per_node_draw(response.rows[:, 0], search.loaded.load_rows, fault_a, loads_a)
    slack = rows.limit - used
    tight = np.flatnonzero(
        (slack <= NEAR_HELD * np.maximum(np.abs(rows.limit), 1e-3))
        & (rows.device >= 0)
        & (response.rows[:, 0] > TINY)
    )
    held_by = None
    if len(tight):
        # Of several that are all about to act, the one of the least current: it is nearest to the fault.
        device = min(rows.device[tight].tolist(), key=lambda d: (piece.held_a[d], piece.branches.ids[d]))
        held_by = piece.branches.ids[device]
    parts = np.abs(signed)
    if piece.pulses:
        square = np.zeros(len(signed))
        for share, level in search.loaded.cycle:
            square += share * (signed + search.loaded.load_branch @ (loads_a * (level - 1.0))) ** 2
        parts = np.sqrt(square)
    return HitState(parts, max(open_v - loop * fault_a, 0.0), held_by, per_fault, loop, open_v)
