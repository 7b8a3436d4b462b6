"""Paths side by side that are unlike: a short circuit shares itself between them as no corner of all parts says.

Outputs that are joined feed a short through their leads, and devices side by side share what passes them. How much
each of them carries hangs on all: most where its own path has the least resistance and the highest voltage and all
others the opposite, least the other way round. Of two paths between the same joints these are all corners there
are. Of up to ``MOST_CORNERS`` paths every corner counts, since any may be the worst in a mesh, and for what devices
take to open one after the other; of more paths each alone is set against all others. Of more than ``MOST_PATHS``
side by side nothing is mixed: ``as_drawn``.

What lies before and behind stays as it is, at the corner that all parts are at. Loops of nothing but copper count
as one part of the path that they are in: how they share what passes them is found apart (``uneven_ways``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.network import BoolArray, IntArray, Network
from loadloom.graph.circuit.runs import runs_between
from loadloom.graph.circuit.uneven_ways import UnevenWays, uneven_ways
from loadloom.graph.circuit.unit_flows import Branches

MOST_PATHS = 8
"""Paths side by side of which each is set against all others."""

MOST_CORNERS = 3
"""Paths side by side at all corners of which short circuits are followed: 6 beside the two that all are at."""

SAME = 1e-9
"""Share by which resistances and voltages differ at least for a mixture to be another network."""


@dataclass(frozen=True)
class Beside:
    """Paths of one block, each as a mask (B,) of the edges and outputs in it."""

    paths: tuple[BoolArray, ...]

    @property
    def mixtures(self) -> list[BoolArray]:
        """Masks (B,) of what is at the opposite corner."""
        count = len(self.paths)
        if count > MOST_PATHS:
            return []
        if count > MOST_CORNERS:
            chosen = [[k for k in range(count) if k != own] for own in range(count)]
        else:
            chosen = [[k for k in range(count) if bits >> k & 1] for bits in range(1, 2**count - 1)]
        return [np.any([self.paths[k] for k in each], axis=0) for each in chosen]


def loops_of_copper(piece: Network, opposite: Network, acting: set[str]) -> UnevenWays:
    """The loops of a piece in which nothing acts, with what its parts have at both corners."""
    edges = len(piece.edge_ids)
    closed = np.isfinite(piece.edge_resistance_ohm)
    one, other = (np.where(closed, each.edge_resistance_ohm, 0.0) for each in (piece, opposite))
    plain = Branches(
        piece.edge_ids, piece.edge_a, piece.edge_b, one, np.zeros(edges), np.zeros(edges, dtype=np.bool_), edges
    )
    acts = np.array([name in acting for name in piece.edge_ids], dtype=np.bool_) | piece.edge_diode
    busy = np.zeros(len(piece.node_ids), dtype=np.bool_)
    for nodes in (piece.source_plus, piece.source_minus, piece.load_plus, piece.load_minus):
        busy[nodes] = True
    return uneven_ways(plain, len(busy), closed, acts, np.minimum(one, other), np.maximum(one, other), busy)


def paths_beside(piece: Network, loops: UnevenWays, ends: tuple[int, int]) -> tuple[Beside, ...]:
    """The blocks of a piece and its outputs in which several paths are, with a short between two nodes."""
    count, edges = len(piece.node_ids), len(piece.edge_ids)
    a = np.concatenate([piece.edge_a, piece.source_minus])
    b = np.concatenate([piece.edge_b, piece.source_plus])
    inside = np.isfinite(np.concatenate([piece.edge_resistance_ohm, piece.source_resistance_ohm]))
    own = [np.array([k]) for k in range(len(a))]
    busy = np.zeros(count, dtype=np.bool_)
    busy[list(ends)] = True
    for loop in loops.loops:
        inside[loop.branches] = False
    attached = busy | (np.bincount(np.concatenate([a[inside], b[inside]]), minlength=count) > 0)
    meshed: list[IntArray] = []
    for loop in loops.loops:
        at = loop.nodes[attached[loop.nodes]]
        if len(at) == 2:  # a loop between two joints is one part of the path
            a, b, inside = np.append(a, at[0]), np.append(b, at[1]), np.append(inside, True)
            own.append(loop.branches)
        elif len(at) > 2:
            meshed.append(loop.branches)
    a, b = _merged(count, a, b, meshed)
    inside &= a != b
    blocks = find_blocks(count, a, b, inside)
    degree = np.bincount(np.concatenate([a[inside], b[inside]]), minlength=count)
    found = []
    for label in np.unique(blocks.label[inside & ~blocks.bridge]).tolist():
        members = np.flatnonzero(blocks.label == label)
        within = np.bincount(np.concatenate([a[members], b[members]]), minlength=count)
        joint = (within > 0) & ((within > 2) | (degree > within) | busy)
        if int(joint.sum()) < 2:
            continue
        paths = []
        for run in runs_between(a, b, members, joint):
            mask = np.zeros(edges + len(piece.source_ids), dtype=np.bool_)
            mask[np.concatenate([own[k] for k in run.branches.tolist()])] = True
            paths.append(mask)
        found.append(Beside(tuple(paths)))
    return tuple(found)


def _merged(count: int, a: IntArray, b: IntArray, meshed: list[IntArray]) -> tuple[IntArray, IntArray]:
    """Ends of branches with the nodes of each mesh of copper as one."""
    if not meshed:
        return a, b
    k = np.concatenate(meshed)
    joined = coo_array((np.ones(len(k)), (a[k], b[k])), shape=(count, count))
    _, label = connected_components(joined, directed=False)
    first = np.unique(label, return_index=True)[1]
    node = first[label]
    return node[a], node[b]


def mixed(piece: Network, opposite: Network, mask: BoolArray) -> Network | None:
    """A piece with the edges and outputs of a mask (B,) at the opposite corner; None where that is the same."""
    edges = len(piece.edge_ids)
    edge, source = mask[:edges], mask[edges:]
    made = replace(
        piece,
        edge_resistance_ohm=np.where(edge, opposite.edge_resistance_ohm, piece.edge_resistance_ohm),
        source_voltage_v=np.where(source, opposite.source_voltage_v, piece.source_voltage_v),
        source_resistance_ohm=np.where(source, opposite.source_resistance_ohm, piece.source_resistance_ohm),
    )
    for was, now in (
        (piece.edge_resistance_ohm, made.edge_resistance_ohm),
        (piece.source_voltage_v, made.source_voltage_v),
        (piece.source_resistance_ohm, made.source_resistance_ohm),
    ):
        known = np.isfinite(was)
        if (np.abs(now - was)[known] > SAME * np.maximum(was, now)[known]).any():
            return made
    return None


def at_opposite(piece: Network, whole: Network) -> Network:
    """A piece with the resistances and voltages of another corner, of which ``whole`` is the network."""
    edge = [whole.edge_index[name] for name in piece.edge_ids]
    source = [whole.source_index[name] for name in piece.source_ids]
    return replace(
        piece,
        corner=whole.corner,
        edge_resistance_ohm=whole.edge_resistance_ohm[edge],
        source_voltage_v=whole.source_voltage_v[source],
        source_resistance_ohm=whole.source_resistance_ohm[source],
    )


def held_of(
    piece: Network, mask: BoolArray, own: Mapping[str, float], other: Mapping[str, float]
) -> dict[str, float]:
    """What limits hold in A by id: of the parts of a mask (B,) at the opposite corner."""
    names = (*piece.edge_ids, *piece.source_ids)
    there = {name for name, swapped in zip(names, mask.tolist(), strict=True) if swapped}
    return {name: other[name] if name in there else amperes for name, amperes in own.items()}
