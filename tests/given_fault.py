"""One fault of one resistance, set up by the names of its places and solved as it stands: a plain circuit solve to
check the search by.

Outputs and limiters that hold a constant current and diodes change the piece of the network they are in until it
agrees with itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.network import CHASSIS_NODE, FloatArray, Network
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.piece import Piece, piece_loads, pieces_of
from loadloom.graph.faults.places import Place, Point
from loadloom.graph.model.harness import Harness

MOST_CHANGES = 100
LEAST_OHM = 1e-9
"""Stands for 0 Ω of parts and fault in this solve."""


@dataclass(frozen=True, slots=True)
class FaultState:
    """``currents_a`` by branch id (signed, a to b); on a conductor with the fault on it, the greater part.

    ``opens`` are devices and outputs that would not hold this, in order of excess.
    """

    fault_a: float
    fault_v: float
    power_w: float
    currents_a: Mapping[str, float]
    opens: tuple[str, ...]

    def heat_w_per_m(self, branch: str, resistance_ohm_per_m: float) -> float:
        """Heat in a conductor in W/m, from its resistance in Ω/m."""
        return self.currents_a[branch] ** 2 * resistance_ohm_per_m


def solve_fault(piece: Piece, place: Place, fault_ohm: float, loads_a: FloatArray) -> FaultState:
    """Solve a piece with a fault of ``fault_ohm`` (0 = dead) at a place and the loads drawing ``loads_a`` (L,)."""
    branches = piece.branches
    nodes = len(piece.node_ids)
    ends_a, ends_b = branches.a.tolist(), branches.b.tolist()
    ohm, emf = branches.resistance_ohm.tolist(), branches.emf_v.tolist()
    points = []
    for point in (place.high, place.low):
        if 0.0 < point.share < 1.0 and point.branch >= 0:
            k, middle = point.branch, nodes
            nodes += 1
            ends_a.append(middle)
            ends_b.append(ends_b[k])
            ohm.append(ohm[k] * (1.0 - point.share))
            emf.append(0.0)
            ends_b[k], ohm[k] = middle, ohm[k] * point.share
            points.append(middle)
        else:
            points.append(point.b if point.share >= 1.0 else point.a)
    ends_a.append(points[0])
    ends_b.append(points[1])
    ohm.append(fault_ohm)
    emf.append(0.0)
    drawn = np.zeros(nodes)
    np.add.at(drawn, piece.loads.plus, loads_a)
    np.add.at(drawn, piece.loads.minus, -loads_a)
    voltages, currents = _settle(
        piece, nodes, np.array(ends_a), np.array(ends_b), np.array(ohm), np.array(emf), drawn
    )
    count = len(branches.ids)
    found = {name: float(currents[k]) for k, name in enumerate(branches.ids)}
    extra = count
    for point in (place.high, place.low):
        if 0.0 < point.share < 1.0 and point.branch >= 0:
            name = branches.ids[point.branch]
            found[name] = max(found[name], float(currents[extra]), key=abs)
            extra += 1
    fault_a, fault_v = float(currents[-1]), float(voltages[points[0]] - voltages[points[1]])
    over = currents[:count] / piece.held_a
    over = np.where(piece.reverse_too, np.abs(over), over)
    opens = [k for k in np.argsort(-over).tolist() if over[k] > 1.0 + 1e-6 and not piece.holds[k]]
    return FaultState(fault_a, fault_v, fault_a * fault_v, found, tuple(branches.ids[k] for k in opens))


def _settle(
    piece: Piece, nodes: int, a: np.ndarray, b: np.ndarray, ohm: FloatArray, emf: FloatArray, drawn: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Voltages and currents with every holder and diode in the piece that it is in."""
    held = np.concatenate([piece.held_a, np.full(len(a) - len(piece.held_a), np.inf)])
    holds = np.concatenate([piece.holds, np.zeros(len(a) - len(piece.holds), dtype=bool)])
    diode = np.concatenate([piece.branches.diode, np.zeros(len(a) - len(piece.branches.diode), dtype=bool)])
    holding = np.zeros(len(a), dtype=bool)
    blocked = np.zeros(len(a), dtype=bool)
    ohm = np.maximum(ohm, LEAST_OHM)
    voltages, currents = np.zeros(nodes), np.zeros(len(a))
    for _ in range(MOST_CHANGES):
        voltages, currents = _solve(nodes, a, b, ohm, emf, drawn, held, holding, blocked)
        across = voltages[a] - voltages[b] + emf
        over = np.flatnonzero(holds & ~holding & (currents > held * (1.0 + 1e-9)))
        if len(over):
            holding[over[np.argmax(currents[over] / held[over])]] = True
            continue
        back = np.flatnonzero(holding & (across < ohm * held * (1.0 - 1e-9) - 1e-9))
        wrong = np.flatnonzero(diode & ~blocked & (currents < -1e-9))
        forward = np.flatnonzero(blocked & (across > 1e-9))
        if len(back):
            holding[back[0]] = False
        elif len(wrong):
            blocked[wrong[0]] = True
        elif len(forward):
            blocked[forward[0]] = False
        else:
            break
    return voltages, currents


def _solve(
    nodes: int,
    a: np.ndarray,
    b: np.ndarray,
    ohm: FloatArray,
    emf: FloatArray,
    drawn: FloatArray,
    held: FloatArray,
    holding: np.ndarray,
    blocked: np.ndarray,
) -> tuple[FloatArray, FloatArray]:
    """Modified nodal analysis: node voltages and branch currents as unknowns; node 0 is the reference."""
    count = len(a)
    matrix = np.zeros((nodes + count, nodes + count))
    right = np.zeros(nodes + count)
    every = np.arange(count)
    np.add.at(matrix, (a, nodes + every), 1.0)
    np.add.at(matrix, (b, nodes + every), -1.0)
    right[:nodes] = -drawn
    fixed = holding | blocked
    matrix[nodes + every, nodes + every] = np.where(fixed, 1.0, -ohm)
    loose = every[~fixed]
    np.add.at(matrix, (nodes + loose, a[loose]), 1.0)
    np.add.at(matrix, (nodes + loose, b[loose]), -1.0)
    right[nodes:] = np.where(holding, np.where(np.isfinite(held), held, 0.0), np.where(blocked, 0.0, -emf))
    answer = np.linalg.lstsq(matrix, right, rcond=None)[0]
    found: FloatArray = np.asarray(answer, dtype=np.float64)
    return found[:nodes], found[nodes:]


def fault_at(
    harness: Harness,
    network: Network,
    thresholds: Mapping[str, Threshold],
    at: str,
    to: str,
    resistance_ohm: float,
    loads_a: Mapping[str, float] | None = None,
) -> FaultState:
    """The state with one fault of a given resistance, solved as a circuit; loads draw ``loads_a`` (default 0).

    ``at`` and ``to`` are places as in ``FaultRow``: ``W7:0.25``, a load, ``X1.3|X1.4``, a joint, ``chassis``.
    Raises KeyError for a place that is not there, ValueError where no output reaches both.
    """
    loads = piece_loads(network, harness)
    for piece in pieces_of(network, thresholds, loads):
        try:
            high, low = _points(harness, piece, at, to)
        except KeyError:
            continue
        drawn = np.array([(loads_a or {}).get(name, 0.0) for name in piece.loads.ids])
        return solve_fault(piece, Place(high, low, "pinch", at, to), resistance_ohm, drawn)
    raise ValueError(f"no output reaches both {at} and {to}")


def _points(harness: Harness, piece: Piece, at: str, to: str) -> tuple[Point, Point]:
    nodes = piece.node_index
    for load in harness.loads:
        if load.id == at:
            return Point.at_node(nodes[load.node_plus]), Point.at_node(nodes[load.node_minus])
    for output in harness.outputs:
        if output.id == at:
            return Point.at_node(nodes[output.node_plus]), Point.at_node(nodes[output.node_minus])
    if "|" in at:
        first, second = at.split("|")
        contacts = {c.id: c for c in harness.contacts}
        return Point.at_node(nodes[contacts[first].node_b]), Point.at_node(nodes[contacts[second].node_b])
    return _point(piece, at), _point(piece, to)


def _point(piece: Piece, name: str) -> Point:
    if name in piece.node_index:
        return Point.at_node(piece.node_index[name])
    if name == CHASSIS_NODE:
        raise KeyError(name)
    branch, _, share = name.rpartition(":")
    k = piece.branch_index[branch]
    return Point(int(piece.branches.a[k]), int(piece.branches.b[k]), float(share), k)
