"""The corners of its resistances' bands at which a mesh of copper shares a current worst.

With a current drawn at a node, that of each branch rises or falls steadily with each single resistance, so that
one of the corners of the bands is the worst for it: which way it goes follows from the currents at any one corner,
since more resistance dR in a branch that carries i acts as a voltage of dR · i against it (the compensation
theorem, as in any book on circuits). So the corners are climbed: at the best one that is known for a branch and a
node, every resistance is put to the end that would raise the current, and the one of the greatest effect by itself
as well, as long as that leads to a corner that is not known. Every branch and node starts from the best of all.

That ends at corners which no single resistance makes worse. One that is worse still is not ruled out where the
currents of a mesh turn round within the bands; none was found in random meshes tried at every corner.
"""

from __future__ import annotations

from collections.abc import Container, Sequence

import numpy as np

from loadloom.graph.circuit.kept import keep
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import BoolArray, Branches, flows_at

MOST_NUMBERS = 8_000_000
"""Currents of branches per ampere at nodes that are found in all, beyond which the climb ends."""

MOST_CLIMBS = 30
"""Steps of the climb."""

BETTER = 1e-9
"""Amperes more for an ampere drawn that count as worse."""


def worst_corners(
    branches: Branches, node_count: int, least: FloatArray, most: FloatArray, entries: Sequence[int]
) -> tuple[tuple[FloatArray, ...], bool]:
    """Currents (M, N) of each branch, per ampere drawn at a node and fed in at any, in the corners that are worst
    for it, and whether the climb has come to its end.

    ``least`` and ``most`` (M,) in Ω, none of them 0; ``entries``: nodes at which the current comes in. Every branch
    has corners of its own, so that what is told of several is no one state.
    """
    key = branches.a.tobytes(), branches.b.tobytes(), least.tobytes(), most.tobytes(), *entries
    return keep(("worst corners", key), lambda: _worst_corners(branches, node_count, least, most, entries))


def _worst_corners(
    branches: Branches, node_count: int, least: FloatArray, most: FloatArray, entries: Sequence[int]
) -> tuple[tuple[FloatArray, ...], bool]:
    count = len(least)
    left = MOST_NUMBERS // (count * node_count)
    if left < 2 * count + 2:
        return (), False
    bits = _start(count)
    bits[:, most <= least] = False
    bits = np.unique(bits, axis=0)
    known = {row.tobytes() for row in bits}
    flow = flows_at(node_count, branches, np.where(bits, most, least))
    entry, node = (each.ravel() for each in np.meshgrid(entries, np.arange(node_count), indexing="ij"))
    sure = False
    for _ in range(MOST_CLIMBS):
        best = _best(flow, entry, node)
        whole, single = _tried(branches, bits, flow, least, most, best, entry, node)
        fresh = _unknown(whole, known) or _unknown(single, known)
        if not fresh:
            sure = True
            break
        left -= len(fresh)
        if left < 0:
            break
        known.update(row.tobytes() for row in fresh)
        kept = np.unique(np.concatenate([each.ravel() for each in best]))
        bits = np.concatenate([bits[kept], np.array(fresh)])
        flow = np.concatenate([flow[kept], flows_at(node_count, branches, np.where(np.array(fresh), most, least))])
    return _by_branch(flow, entry, node), sure


def _unknown(tried: BoolArray, known: Container[bytes]) -> list[BoolArray]:
    return [row for row in np.unique(tried, axis=0) if row.tobytes() not in known]


def _start(count: int) -> BoolArray:
    """All at their least, all at their greatest, and each of them apart from all others."""
    one = np.eye(count, dtype=np.bool_)
    return np.concatenate([np.zeros((1, count), dtype=np.bool_), np.ones((1, count), dtype=np.bool_), one, ~one])


def _drawn(flow: FloatArray, entry: IntArray, node: IntArray) -> FloatArray:
    """(C, M, T) currents with an ampere from an entry to a node."""
    found: FloatArray = flow[:, :, node] - flow[:, :, entry]
    return found


def _best(flow: FloatArray, entry: IntArray, node: IntArray) -> tuple[IntArray, IntArray]:
    """(M, T) the corners with the least and with the greatest current of each branch."""
    drawn = _drawn(flow, entry, node)
    return drawn.argmin(axis=0), drawn.argmax(axis=0)


def _tried(
    branches: Branches,
    bits: BoolArray,
    flow: FloatArray,
    least: FloatArray,
    most: FloatArray,
    best: tuple[IntArray, IntArray],
    entry: IntArray,
    node: IntArray,
) -> tuple[BoolArray, BoolArray]:
    """(S, M) corners next to the best ones, True where a resistance is at its greatest: with all resistances turned
    that are better so, and with that of the greatest effect alone.
    """
    count = len(least)
    # What an ampere of each branch's own voltage over its resistance drives in the others, by corner.
    across = flow[:, :, branches.a] - flow[:, :, branches.b] + np.eye(count)[None]
    none = np.zeros((0, count), dtype=np.bool_)
    whole, single = [none], [none]
    for sign, corner in zip((-1.0, 1.0), best, strict=True):
        for k in range(count):
            at = corner[k]
            amps = flow[at[:, None], np.arange(count)[None], node[:, None]]
            amps = amps - flow[at[:, None], np.arange(count)[None], entry[:, None]]
            here = bits[at]
            change = np.where(here, (least - most) / most, (most - least) / least)
            gain = -sign * amps * across[at, k] * change
            turned = gain > BETTER
            moved = turned.any(axis=1)
            if not moved.any():
                continue
            here, turned, gain = here[moved], turned[moved], gain[moved]
            whole.append(here ^ turned)
            one = np.zeros_like(here)
            one[np.arange(len(here)), gain.argmax(axis=1)] = True
            single.append(here ^ one)
    return np.concatenate(whole), np.concatenate(single)


def _by_branch(flow: FloatArray, entry: IntArray, node: IntArray) -> tuple[FloatArray, ...]:
    """(M, N) each: of every branch in turn the corners that are its best for some node."""
    least, greatest = _best(flow, entry, node)
    chosen = [list(dict.fromkeys([*greatest[k].tolist(), *least[k].tolist()])) for k in range(flow.shape[1])]
    rows = np.arange(flow.shape[1])
    width = max(len(each) for each in chosen)
    at = np.array([each + each[:1] * (width - len(each)) for each in chosen]).T
    return tuple(flow[corners, rows] for corners in at)
