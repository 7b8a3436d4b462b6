"""At which resistances of ways side by side a fault puts the most on what they feed together.

Devices side by side share a current by the resistances of their ways. At the least resistances, which give the
greatest short circuit, one of them may come to its limit long before the others; with that way's contact a little
worn, or its wire a little longer, all of them give their most at once. The bands of the resistances say how near
to that they may come.

So the harness is searched once more with every way of such a group raised, as far as its band goes, to where it
takes the same voltage at its own limit as the one that takes most; or as the one that can't be raised further,
which comes to its limit first. Ways that join the same two joints form a group; an output with its leads is a way
as well.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.circuit.network import BoolArray, FloatArray, Network
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.piece import Piece, piece_loads, pieces_of
from loadloom.graph.faults.tolerances import TINY
from loadloom.graph.model.harness import Harness

MATTERS = 1e-6
"""Share of a way's resistance by which it must be raised to be looked at."""


@dataclass(frozen=True)
class _Way:
    """Branches in series between two joints, and their signs along the way; ``held_a`` the least that any of
    them holds, ``emf_v`` what drives a current along the way.
    """

    branches: tuple[int, ...]
    signs: tuple[float, ...]
    held_a: float
    emf_v: float


def networks_at_even_shares(
    harness: Harness, network: Network, worn: Network, thresholds: Mapping[str, Threshold], devices: set[str]
) -> tuple[Network, ...]:
    """The network with its ways side by side at even shares, and with those that are left once one that can't be
    raised so far has opened; nothing where that is the network itself. ``worn`` is the same network at
    the greatest resistances. The devices and outputs of such ways are added to ``devices``.
    """
    ohm = np.concatenate([network.edge_resistance_ohm, network.source_resistance_ohm])
    most = np.maximum(ohm, np.concatenate([worn.edge_resistance_ohm, worn.source_resistance_ohm]))
    raised: list[FloatArray] = []
    for piece in pieces_of(network, thresholds, piece_loads(network, harness)):
        for group in _groups(piece):
            for number, even in enumerate(_levels(piece, group, ohm, most)):
                if number == len(raised):
                    raised.append(np.zeros(len(ohm)))
                raised[number] = np.maximum(raised[number], even)
                ids = piece.branches.ids
                devices.update(ids[k] for way in group for k in way.branches if np.isfinite(piece.held_a[k]))
    count = len(network.edge_ids)
    return tuple(
        replace(network, edge_resistance_ohm=even[:count], source_resistance_ohm=even[count:])
        for even in (ohm + more for more in raised)
    )


def _levels(piece: Piece, group: list[_Way], ohm: FloatArray, most: FloatArray) -> Iterator[FloatArray]:
    """By how much every branch of the network is raised, in Ω: with all ways, and with those left once a way that
    can't be raised far enough has opened.
    """
    left = list(group)
    while len(left) > 1:
        places = [piece.origin[list(way.branches)] for way in left]
        # What each takes at its limit; the first to come to it is the least, so none need be raised further.
        least_v, most_v = (
            [way.held_a * float(by[at].sum()) - way.emf_v for way, at in zip(left, places, strict=True)]
            for by in (ohm, most)
        )
        even_v = min(max(least_v), *most_v)
        more = np.zeros(len(ohm))
        for way, at in zip(left, places, strict=True):
            least, top = float(ohm[at].sum()), float(most[at].sum())
            wanted = min((even_v + way.emf_v) / way.held_a, top)
            if wanted > least * (1.0 + MATTERS) + TINY:
                more[at] += (wanted - least) / (top - least) * (most[at] - ohm[at])
        if more.any():
            yield more
        if even_v >= max(least_v):
            return
        del left[most_v.index(min(most_v))]


def _groups(piece: Piece) -> Iterator[list[_Way]]:
    """Ways that join the same two joints and open, two or more of them, all in the direction that feeds."""
    found: dict[tuple[int, int], list[list[tuple[int, float]]]] = defaultdict(list)
    for first, last, way in _ways(piece):
        if first > last:
            first, last, way = last, first, [(k, -sign) for k, sign in reversed(way)]
        found[first, last].append(way)
    for ways in found.values():
        made = [_made(piece, way) for way in ways]
        if sum(way.emf_v for way in made) < 0.0:
            made = [_made(piece, [(k, -sign) for k, sign in reversed(way)]) for way in ways]
        acting = [way for way in made if np.isfinite(way.held_a) and way.held_a > TINY and _carries(piece, way)]
        if len(acting) > 1:
            yield acting


def _made(piece: Piece, way: list[tuple[int, float]]) -> _Way:
    held_a = min(float(piece.held_a[k]) for k, _ in way)
    branches, signs = zip(*way, strict=True)
    return _Way(branches, signs, held_a, float(sum(sign * piece.branches.emf_v[k] for k, sign in way)))


def _carries(piece: Piece, way: _Way) -> bool:
    """Whether a current can run along the way, and none of its parts holds it whatever the voltage."""
    diode, holds = piece.branches.diode, piece.holds
    return not any(holds[k] or (diode[k] and sign < 0.0) for k, sign in zip(way.branches, way.signs, strict=True))


def _ways(piece: Piece) -> Iterator[tuple[int, int, list[tuple[int, float]]]]:
    """Runs of branches in loops with nothing attached between: the first and last joint, and the branches."""
    a, b = piece.branches.a.tolist(), piece.branches.b.tolist()
    inside: BoolArray = piece.in_loop
    near: dict[int, list[int]] = defaultdict(list)
    joints = {*piece.loads.plus.tolist(), *piece.loads.minus.tolist()}
    for k, looped in enumerate(inside.tolist()):
        if looped:
            near[a[k]].append(k)
            near[b[k]].append(k)
        else:
            joints |= {a[k], b[k]}
    joints |= {node for node, there in near.items() if len(there) != 2}
    done: set[int] = set()
    for start in sorted(joints):
        for first in near.get(start, ()):
            if first in done:
                continue
            way: list[tuple[int, float]] = []
            node, k = start, first
            while True:
                done.add(k)
                way.append((k, 1.0 if a[k] == node else -1.0))
                node = b[k] if a[k] == node else a[k]
                if node in joints:
                    break
                k = next(other for other in near[node] if other != k)
            yield start, node, way
