"""Paths side by side between the same two joints: which of them can be left when a fault just holds.

All that the rest of a piece sees of such paths is the voltage between its two joints and the sum of its currents.
At voltage V a path of EMF E, resistance R and limit T gives (E - V) / R; it opens where that is above T, so below
V = E - R · T, and it takes current instead of giving it above V = E. Whatever has opened, together they give no
more at V than with every path in that gives something there and holds. As V rises these sets change at two
voltages of each path. So of n paths 2 · n sets matter to all that lies outside, not 2 to the power of n.

A fault on a path itself is fed by the others: for its parts the sets of the others count, with the path itself
opened at each of its devices; and what the path passes as a whole is most with all others out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from loadloom.graph.faults.piece import CURRENT, POWER, RESISTANCE, TINY, Piece, hang_together
from loadloom.graph.solving.network import FloatArray, IntArray
from loadloom.graph.solving.unit_flows import BoolArray

NEAR_V = 1e-9
"""Voltages in V that differ by less count as equal."""


@dataclass(frozen=True)
class OpenedSet:
    """Branches that have opened. ``most_a`` (B,): no fault puts more than this on a branch in this set that it
    does not in another one as well (-inf: the set need not be searched for it); None where nothing is known.
    ``for_all``: powers are wanted of this set as well, so that it is searched for all parts. ``inside``: this
    output is shorted inside, and nothing else is tried.
    """

    branches: tuple[int, ...]
    most_a: FloatArray | None = None
    for_all: bool = False
    inside: int = -1


@dataclass(frozen=True)
class ParallelPaths:
    """P paths between two joints. ``branches``: of each path; ``opening``: its devices and outputs that open, the
    one of the least held current first. By path, seen in one direction from joint to joint: ``emf_v``, ``ohm``,
    and the limits ``forward_a`` and ``backward_a`` (0 where a diode blocks).
    """

    piece: Piece
    branches: tuple[tuple[int, ...], ...]
    opening: tuple[tuple[int, ...], ...]
    emf_v: FloatArray
    ohm: FloatArray
    forward_a: FloatArray
    backward_a: FloatArray

    @cached_property
    def _directions(self) -> list[tuple[FloatArray, FloatArray]]:
        """EMF and limit by path, for every direction in which they can be asked to give current."""
        drives = np.abs(self.emf_v).max(initial=0.0) > TINY
        found = []
        for sign, limit_a in ((1.0, self.forward_a), (-1.0, self.backward_a)):
            if not drives or (sign * self.emf_v > TINY).any():
                found.append((sign * self.emf_v, limit_a))
        return found

    def _sets(self, left_out: int) -> list[tuple[frozenset[int], float]]:
        """What has opened, path by path, in the sets that matter, and the most in A that the rest gives then; of
        all paths but one (-1: of all).
        """
        others = np.arange(len(self.ohm)) != left_out
        can_open = np.array([bool(some) for some in self.opening], dtype=np.bool_)
        found: dict[frozenset[int], float] = {}
        for emf_v, limit_a in self._directions:
            with np.errstate(invalid="ignore"):
                least_v = np.where(np.isfinite(limit_a), emf_v - self.ohm * limit_a, -np.inf)
            steps = np.unique(np.concatenate([least_v[np.isfinite(least_v)], emf_v + 2.0 * NEAR_V]))
            for volts in (-np.inf, *steps.tolist()):
                gone = others & can_open & ((volts < least_v - NEAR_V) | (volts > emf_v + NEAR_V))
                on = others & ~gone & (limit_a > TINY)
                with np.errstate(divide="ignore", invalid="ignore"):
                    each_a = np.where(on, np.fmin(np.maximum(emf_v - volts, 0.0) / self.ohm, limit_a), 0.0)
                # A fault on one of them can take that one to its limit while the others are where they are.
                spare_a = np.where(on, np.where(np.isfinite(limit_a), limit_a, 0.0) - each_a, 0.0).max(initial=0.0)
                most_a = float(each_a.sum() + max(spare_a, 0.0))
                key = frozenset(np.flatnonzero(gone).tolist())
                found[key] = max(found.get(key, 0.0), most_a)
        return sorted(found.items(), key=lambda item: (-item[1], sorted(item[0])))

    def opened(self) -> list[OpenedSet]:
        """Every set that can matter to a part, of each group the one that can put most on it first."""
        count = len(self.piece.branches.ids)
        beside_a = _most_of_loads_a(self.piece)
        held_a = self.piece.held_a
        through = np.full(count, -np.inf)
        found: list[OpenedSet] = []
        for path in self.branches:
            own = held_a[list(path)]
            through[list(path)] = own[np.isfinite(own)].max(initial=-np.inf) if np.isfinite(own).any() else np.inf
        outside = ~np.isin(np.arange(count), [k for path in self.branches for k in path])
        for gone, most_a in self._sets(-1):
            found.append(
                OpenedSet(self._first_of(gone), np.where(outside, most_a + beside_a, through), for_all=True)
            )
        for n, path in enumerate(self.branches):
            mine = np.isin(np.arange(count), path)
            alone = self._first_of(m for m in range(len(self.branches)) if m != n)
            found.append(OpenedSet(alone, np.where(mine, through, -np.inf)))
            for rank, (gone, most_a) in enumerate(self._sets(n)):
                # What a fault on the path draws from its own side is the same whatever the others do: asked once.
                most = np.where(mine, most_a if rank else np.inf, -np.inf)
                for device in self.opening[n]:
                    opened = tuple(sorted({*self._first_of(gone), device}))
                    found.append(OpenedSet(opened, most))
        found += self._shorted_inside()
        return [each for each in found if each.branches]

    def _shorted_inside(self) -> list[OpenedSet]:
        """What feeds an output that is shorted inside: its own path takes most from all that give something,
        another path gives most alone.
        """
        found: list[OpenedSet] = []
        outputs = self.piece.branches.edge_count
        for n, path in enumerate(self.branches):
            devices = [float(self.piece.held_a[k]) for k in path if k < outputs]
            if self.backward_a[n] <= TINY:
                continue  # a diode blocks
            for dead in (k for k in path if k >= outputs):
                for gone, most_a in self._sets(n):
                    found.append(self._inside(dead, gone, path, min([most_a, *devices])))
                for m, other in enumerate(self.branches):
                    gone = frozenset(range(len(self.branches))) - {n, m}
                    if m != n:
                        found.append(self._inside(dead, gone, other, np.inf))
        return found

    def _inside(self, dead: int, gone: frozenset[int], path: tuple[int, ...], most_a: float) -> OpenedSet:
        mine = np.isin(np.arange(len(self.piece.branches.ids)), path)
        return OpenedSet(self._first_of(gone), np.where(mine, most_a, -np.inf), inside=dead)

    def _first_of(self, paths: Iterable[int]) -> tuple[int, ...]:
        return tuple(sorted(self.opening[n][0] for n in paths if self.opening[n]))


def parallel_paths_of(piece: Piece, label: int) -> ParallelPaths | None:
    """A block of a piece as paths side by side; None where it is none, or where it takes more than sets of
    openings to say what its paths do.
    """
    branches = piece.branches
    mine = np.flatnonzero(piece.blocks.label == label)
    ends = np.concatenate([branches.a[mine], branches.b[mine]])
    joint = _joints(piece, ends)
    if len(joint) != 2:
        return None
    start, end = joint.tolist()
    inner_a, inner_b = ~np.isin(branches.a[mine], joint), ~np.isin(branches.b[mine], joint)
    # Branches that share a node between the joints are of one path.
    number = {node: n for n, node in enumerate(np.unique(ends).tolist())}
    a, b = (np.array([number[int(n)] for n in side[mine]], dtype=np.int64) for side in (branches.a, branches.b))
    count = len(number)
    first = np.where(inner_a, a, count + np.arange(len(mine)))
    second = np.where(inner_b, b, first)
    first = np.where(inner_a, first, np.where(inner_b, b, first))
    path_of = hang_together(count + len(mine), first, second)[first]
    paths = [mine[path_of == p] for p in np.unique(path_of).tolist()]
    made = [_along(piece, path, start, end) for path in paths]
    if any(each is None for each in made) or not any(np.isfinite(piece.held_a[mine]) & ~piece.holds[mine]):
        return None
    emf, ohm, forward, backward = (np.array(column) for column in zip(*(m for m in made if m), strict=True))
    opens = np.isfinite(piece.held_a) & ~piece.holds
    opening = []
    for path in paths:
        some = path[opens[path]].tolist()
        opening.append(tuple(sorted(some, key=lambda k: (float(piece.held_a[k]), branches.ids[k]))))
    return ParallelPaths(
        piece, tuple(tuple(path.tolist()) for path in paths), tuple(opening), emf, ohm, forward, backward
    )


def _joints(piece: Piece, ends: IntArray) -> IntArray:
    """Of the nodes of a block, those at which more than two of its branches meet or something else hangs."""
    branches, loads = piece.branches, piece.loads
    count = len(piece.node_ids)
    busy: BoolArray = np.bincount(np.concatenate([branches.a, branches.b]), minlength=count) != 2
    busy[loads.plus], busy[loads.minus] = True, True
    nodes = np.unique(ends)
    return nodes[busy[nodes]]


def _along(piece: Piece, path: IntArray, start: int, end: int) -> tuple[float, float, float, float] | None:
    """EMF, resistance and limits from ``start`` to ``end``; None where a part of it holds its current."""
    branches = piece.branches
    opens = np.isfinite(piece.held_a[path]).any()
    if piece.holds[path].any() or (branches.diode[path].any() and not opens):
        return None
    at: dict[int, list[int]] = defaultdict(list)
    for k in path.tolist():
        at[int(branches.a[k])].append(k)
        at[int(branches.b[k])].append(k)
    emf = ohm = 0.0
    forward = backward = np.inf
    node, left = start, set(path.tolist())
    while left:
        step = next(k for k in at[node] if k in left)
        left.remove(step)
        along = int(branches.a[step]) == node
        held = float(piece.held_a[step])
        there, back = held, held if piece.reverse_too[step] else np.inf
        if branches.diode[step]:
            there, back = there, 0.0
        if not along:
            there, back = back, there
        emf += float(branches.emf_v[step]) * (1.0 if along else -1.0)
        ohm += float(branches.resistance_ohm[step])
        forward, backward = min(forward, there), min(backward, back)
        node = int(branches.b[step] if along else branches.a[step])
    return (emf, ohm, forward, backward) if node == end else None


def _most_of_loads_a(piece: Piece) -> float:
    """The most in A that all loads of a piece draw together; inf where one has no bound."""
    loads = piece.loads
    highest_v = float(np.abs(piece.branches.emf_v[list(piece.sources)]).sum())
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.maximum(loads.demand / loads.minimum_v, loads.case_a)
        ohmic = highest_v / loads.demand
    most = np.where(loads.kind == CURRENT, loads.demand * loads.peak, np.where(loads.kind == POWER, power, ohmic))
    return float(most[(loads.kind == RESISTANCE) | (loads.demand > 0.0)].sum())


def diodes_that_open(piece: Piece) -> BoolArray:
    """(B,) diodes that need no state of their own, since where one blocks its path can also have opened: on paths
    side by side each of which has something that opens.
    """
    found = np.zeros(len(piece.branches.ids), dtype=np.bool_)
    diodes = np.flatnonzero(piece.branches.diode & piece.in_loop)
    for label in np.unique(piece.blocks.label[diodes]).tolist():
        beside = parallel_paths_of(piece, label)
        if beside is not None and all(beside.opening):
            found[diodes[piece.blocks.label[diodes] == label]] = True
    return found
