"""How currents spread in copper: the response of a network to one ampere drawn at any node.

The branches are the conducting parts and the sources, each a resistance with a voltage in series. Currents are
found by loops: along a spanning tree an ampere takes one way only, and what the loops make of it follows from
the small matrix of loop resistances. A harness without loops needs no equations at all, and parts of 0 Ω need
no invented resistance: only where a loop has none at all, its branches count as equal and share equally.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loadloom.graph.circuit.network import FloatArray, IntArray, Network

EQUAL_SHARE_OHM = 1e-9
"""Stands for every branch of a loop of 0 Ω, so that they share equally; reported by the solve as assumed."""

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Branches:
    """B branches over N nodes. Current is positive from a to b; ``v_a - v_b + emf = resistance · current``.

    A source runs from its minus to its plus terminal with its voltage as ``emf_v``; a diode's forward drop is
    a negative one. ``edge_count`` branches come from edges, the rest are sources.
    """

    ids: tuple[str, ...]
    a: IntArray
    b: IntArray
    resistance_ohm: FloatArray
    emf_v: FloatArray
    diode: BoolArray
    edge_count: int

    def take(self, chosen: IntArray, node_place: IntArray) -> Branches:
        """Some of the branches, their nodes renumbered by ``node_place``."""
        return Branches(
            tuple(self.ids[k] for k in chosen.tolist()),
            node_place[self.a[chosen]],
            node_place[self.b[chosen]],
            self.resistance_ohm[chosen],
            self.emf_v[chosen],
            self.diode[chosen],
            int((chosen < self.edge_count).sum()),
        )


def branches_of(network: Network) -> Branches:
    """All branches of a network: its edges, then its sources."""
    edges, sources = len(network.edge_ids), len(network.source_ids)
    return Branches(
        (*network.edge_ids, *network.source_ids),
        np.concatenate([network.edge_a, network.source_minus]),
        np.concatenate([network.edge_b, network.source_plus]),
        np.concatenate([network.edge_resistance_ohm, network.source_resistance_ohm]),
        np.concatenate([-network.edge_drop_v, network.source_voltage_v]),
        np.concatenate([network.edge_diode, np.zeros(sources, dtype=np.bool_)]),
        edges,
    )


@dataclass(frozen=True)
class UnitFlows:
    """The linear response of B branches over N nodes.

    ``flow`` (B, N): branch currents in A per ampere drawn at a node and fed in at the root of its piece.
    ``own_a`` (B,): currents that the voltages drive by themselves. ``own_v`` (N,): potentials then, above the
    root. ``fall_ohm`` (N, N), symmetric: by how much an ampere drawn at one node lowers another. ``piece``
    (N,): which nodes hang together.
    """

    flow: FloatArray
    own_a: FloatArray
    own_v: FloatArray
    fall_ohm: FloatArray
    piece: IntArray


def unit_flows(node_count: int, branches: Branches, closed: BoolArray) -> UnitFlows:
    """Response of the branches that are ``closed`` (B,); the others carry nothing.

    Raises nothing: voltages in a loop of 0 Ω that don't agree give currents as through ``EQUAL_SHARE_OHM``.
    """
    resistance = np.where(closed, branches.resistance_ohm, 0.0)
    emf = np.where(closed, branches.emf_v, 0.0)
    path, piece, loops = _spanning_tree(node_count, branches, resistance, closed)
    if len(loops):
        cycle = np.zeros((len(loops), len(resistance)))
        cycle[np.arange(len(loops)), loops] = 1.0
        cycle += (path[:, branches.a[loops]] - path[:, branches.b[loops]]).T
        bare = cycle[resistance[loops] == 0.0]
        in_loops = resistance.copy()
        # The tree takes the least resistances first: a loop closed by a branch of 0 Ω has no other.
        in_loops[(np.abs(bare).sum(axis=0) > 0.0) & (resistance == 0.0)] = EQUAL_SHARE_OHM
        weighted = cycle * in_loops
        right = np.concatenate([-(weighted @ path), (cycle @ emf)[:, None]], axis=1)
        around = np.linalg.solve(weighted @ cycle.T, right)
        flow = path + cycle.T @ around[:, :-1]
        own = cycle.T @ around[:, -1]
    else:
        flow, own = path, np.zeros(len(resistance))
    fall = path.T @ (resistance[:, None] * flow)
    potential = path.T @ (emf - resistance * own)
    return UnitFlows(flow, own, potential, (fall + fall.T) / 2.0, piece)


def flows_at(node_count: int, branches: Branches, ohm: FloatArray) -> FloatArray:
    """(S, B, N) the ``flow`` of branches that are all closed at S sets of resistances (S, B), none of them 0 Ω."""
    closed = np.ones(len(branches.a), dtype=np.bool_)
    path, _, loops = _spanning_tree(node_count, branches, branches.resistance_ohm, closed)
    cycle = np.zeros((len(loops), len(closed)))
    cycle[np.arange(len(loops)), loops] = 1.0
    cycle += (path[:, branches.a[loops]] - path[:, branches.b[loops]]).T
    weighted = cycle[None] * ohm[:, None, :]
    around = np.linalg.solve(weighted @ cycle.T, -(weighted @ path))
    found: FloatArray = path[None] + cycle.T[None] @ around
    return found


def _spanning_tree(
    node_count: int, branches: Branches, resistance: FloatArray, closed: BoolArray
) -> tuple[FloatArray, IntArray, IntArray]:
    """Paths (B, N) from the root to every node, the piece of every node, and the branches outside the tree, which
    close the loops.
    """
    ends_a, ends_b = branches.a.tolist(), branches.b.tolist()
    leader = list(range(node_count))

    def find(node: int) -> int:
        while leader[node] != node:
            leader[node] = leader[leader[node]]
            node = leader[node]
        return node

    near: list[list[tuple[int, int]]] = [[] for _ in range(node_count)]
    loops: list[int] = []
    for k in np.argsort(resistance, kind="stable").tolist():
        a, b = ends_a[k], ends_b[k]
        if not closed[k] or a == b:
            continue
        first, second = find(a), find(b)
        if first == second:
            loops.append(k)
            continue
        leader[first] = second
        near[a].append((b, k))
        near[b].append((a, k))

    path = np.zeros((len(ends_a), node_count))
    piece = np.full(node_count, -1, dtype=np.int64)
    for root in range(node_count):
        if piece[root] >= 0:
            continue
        piece[root] = root
        waiting = [root]
        for node in waiting:
            for other, k in near[node]:
                if piece[other] < 0:
                    piece[other] = root
                    path[:, other] = path[:, node]
                    path[k, other] = 1.0 if ends_a[k] == node else -1.0
                    waiting.append(other)
    return path, piece, np.array(sorted(loops), dtype=np.int64)
