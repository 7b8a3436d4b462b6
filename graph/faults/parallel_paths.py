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

import itertools
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.hanging import hang_together
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import BoolArray
from loadloom.graph.faults.piece import CURRENT, POWER, RESISTANCE, Piece
from loadloom.graph.faults.tolerances import NEAR_V, TINY


@dataclass(frozen=True)
class OpenedSet:
    """Branches that have opened. ``most_a`` (B,): no fault puts more than this on a branch in this set that it
    does not in another one as well (-inf: the set need not be searched for it); None where nothing is known.
    ``for_all``: powers are wanted of this set, whatever is known of its currents. ``inside``: this output is
    shorted inside, and nothing else is tried.
    """

    branches: tuple[int, ...]
    most_a: FloatArray | None = None
    for_all: bool = False
    inside: int = -1


@dataclass(frozen=True)
class _Set:
    """Paths that are ``gone``, and the most in A that the others give ``along`` their direction or against it."""

    gone: frozenset[int]
    along: bool
    most_a: float


@dataclass(frozen=True)
class ParallelPaths:
    """P paths between two joints. ``branches``: of each path, in order from joint to joint; ``opening``: its
    devices and outputs that open, the one of the least held current first. By path, along it: ``emf_v`` and
    ``ohm``, and by branch of it the limits ``forward`` and ``backward`` (0 where a diode blocks, inf for none).
    """

    piece: Piece
    branches: tuple[tuple[int, ...], ...]
    opening: tuple[tuple[int, ...], ...]
    emf_v: FloatArray
    ohm: FloatArray
    forward: tuple[FloatArray, ...]
    backward: tuple[FloatArray, ...]

    @cached_property
    def backward_a(self) -> FloatArray:
        """The most in A that each path passes against its direction."""
        return np.array([each.min() for each in self.backward])

    @cached_property
    def _one_rail(self) -> bool:
        """Whether no fault can be between two of the paths."""
        inner = {
            int(self.piece.rails.island[node])
            for path in self.branches
            for first, second in itertools.pairwise(path)
            for node in self._shared(first, second)
        }
        return len(inner) <= 1

    def _shared(self, first: int, second: int) -> set[int]:
        a, b = self.piece.branches.a, self.piece.branches.b
        return {int(a[first]), int(b[first])} & {int(a[second]), int(b[second])}

    def _sets(self, left_out: int) -> list[_Set]:
        """The sets that matter of all paths but one (-1: of all), those that can give most first."""
        others = np.arange(len(self.ohm)) != left_out
        can_open = np.array([bool(some) for some in self.opening], dtype=np.bool_)
        drives = np.abs(self.emf_v).max(initial=0.0) > TINY
        found: dict[tuple[frozenset[int], bool], float] = {}
        for along, limits in ((True, self.forward), (False, self.backward)):
            emf_v = self.emf_v if along else -self.emf_v
            if drives and not (emf_v > TINY).any():
                continue
            limit_a = np.array([each.min() for each in limits])
            with np.errstate(invalid="ignore"):
                least_v = np.where(np.isfinite(limit_a), emf_v - self.ohm * limit_a, -np.inf)
            steps = np.unique(np.concatenate([least_v[np.isfinite(least_v)], emf_v + 2.0 * NEAR_V]))
            for volts in (-np.inf, *steps.tolist()):
                gone = others & can_open & ((volts < least_v - NEAR_V) | (volts > emf_v + NEAR_V))
                on = others & ~gone & (limit_a > TINY)
                with np.errstate(divide="ignore", invalid="ignore"):
                    each_a = np.where(on, np.fmin(np.maximum(emf_v - volts, 0.0) / self.ohm, limit_a), 0.0)
                most_a = together_a = float(each_a.sum())
                # A fault between two paths takes one of them by itself to what its own side gives.
                for n in np.flatnonzero(on & (not self._one_rail)).tolist():
                    rest_a = together_a - float(each_a[n])
                    most_a = max(most_a, *(own + min(rest_a, back) for own, back in self._fed_at(n, along)))
                key = frozenset(np.flatnonzero(gone).tolist()), along
                found[key] = max(found.get(key, 0.0), most_a)
        sets = (_Set(gone, along, most_a) for (gone, along), most_a in found.items())
        return sorted(sets, key=lambda each: (-each.most_a, sorted(each.gone), each.along))

    def _fed_at(self, path: int, along: bool) -> list[tuple[float, float]]:
        """For the points of a path behind its first EMF, and its end: the most in A that its own side and the side
        of its end pass.
        """
        step = 1 if along else -1
        there = (self.forward if along else self.backward)[path][::step]
        back = (self.backward if along else self.forward)[path][::step]
        driven = np.cumsum(self.piece.branches.emf_v[list(self.branches[path])][::step] != 0.0) > 0
        own_a = np.minimum.accumulate(there)
        back_a = np.append(np.minimum.accumulate(back[::-1])[::-1][1:], np.inf)
        driven[-1] = True
        return list(zip(own_a[driven].tolist(), back_a[driven].tolist(), strict=True))

    def _own_side_a(self, path: int, device: int) -> float:
        """The most in A that a path gives on its own as far as one of its devices, which has opened."""
        order = self.branches[path]
        emf_v, at = self.piece.branches.emf_v, order.index(device)
        sides = ((order[:at], self.forward[path][:at]), (order[at + 1 :], self.backward[path][at + 1 :]))
        given = [float(limit.min()) for some, limit in sides if len(some) and emf_v[list(some)].any()]
        return max(given, default=0.0)

    def _into(self, path: int, device: int, along: bool, most_a: float) -> FloatArray:
        """By branch of a path of which a device has opened: the most in A that the others can put on it."""
        order = np.array(self.branches[path])
        # What they give along goes back through this path, and the other way round.
        limit_a = np.where(order == device, 0.0, self.backward[path] if along else self.forward[path])
        from_start = np.minimum.accumulate(limit_a)
        from_end = np.minimum.accumulate(limit_a[::-1])[::-1]
        found: FloatArray = np.minimum(np.maximum(from_start, from_end), most_a)
        return found

    def opened(self) -> list[OpenedSet]:
        """Every set that can matter to a part, of each group the one that can put most on it first."""
        count = len(self.piece.branches.ids)
        held_a = self.piece.held_a
        through = np.full(count, -np.inf)
        found: list[OpenedSet] = []
        for path in self.branches:
            own = held_a[list(path)]
            through[list(path)] = own[np.isfinite(own)].max(initial=-np.inf) if np.isfinite(own).any() else np.inf
        outside = ~np.isin(np.arange(count), [k for path in self.branches for k in path])
        beside_a = _most_beside_a(self.piece, ~outside)
        for each in self._sets(-1):
            most = np.where(outside, each.most_a + beside_a, through)
            found.append(OpenedSet(self._first_of(each.gone), most, for_all=True))
        for n, path in enumerate(self.branches):
            mine = np.isin(np.arange(count), path)
            others = self._first_of(m for m in range(len(self.branches)) if m != n)
            found.append(OpenedSet(others, np.where(mine, through, -np.inf)))
            if not self._one_rail:
                for device in self.opening[n]:
                    most = np.where(outside, -np.inf, self._own_side_a(n, device))
                    found.append(OpenedSet(tuple(sorted((*others, device))), most))
            for rank, each in enumerate(self._sets(n)):
                for device in self.opening[n]:
                    most = np.full(count, -np.inf)
                    # What a fault draws from the path's own side is the same whatever the others do: once.
                    most[list(path)] = self._into(n, device, each.along, each.most_a) if rank else np.inf
                    opened = tuple(sorted({*self._first_of(each.gone), device}))
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
                for each in self._sets(n):
                    found.append(self._inside(dead, each.gone, path, min([each.most_a, *devices])))
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
    start = int(joint[0])
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
    opens = np.isfinite(piece.held_a) & ~piece.holds
    if not opens[mine].any() or piece.holds[mine].any():
        return None
    if any(branches.diode[path].any() and not opens[path].any() for path in paths):
        return None
    ordered = [_in_order(piece, path, start) for path in paths]
    opening = []
    for path in paths:
        some = path[opens[path]].tolist()
        opening.append(tuple(sorted(some, key=lambda k: (float(piece.held_a[k]), branches.ids[k]))))
    there = piece.held_a
    back = np.where(branches.diode, 0.0, np.where(piece.reverse_too, there, np.inf))
    return ParallelPaths(
        piece,
        tuple(tuple(order.tolist()) for order, _ in ordered),
        tuple(opening),
        np.array([(branches.emf_v[order] * np.where(along, 1.0, -1.0)).sum() for order, along in ordered]),
        np.array([branches.resistance_ohm[order].sum() for order, _ in ordered]),
        tuple(np.where(along, there[order], back[order]) for order, along in ordered),
        tuple(np.where(along, back[order], there[order]) for order, along in ordered),
    )


def _joints(piece: Piece, ends: IntArray) -> IntArray:
    """Of the nodes of a block, those at which more than two of its branches meet or something else hangs."""
    branches, loads = piece.branches, piece.loads
    count = len(piece.node_ids)
    busy: BoolArray = np.bincount(np.concatenate([branches.a, branches.b]), minlength=count) != 2
    busy[loads.plus], busy[loads.minus] = True, True
    nodes = np.unique(ends)
    return nodes[busy[nodes]]


def _in_order(piece: Piece, path: IntArray, start: int) -> tuple[IntArray, BoolArray]:
    """The branches of a path from its joint ``start`` on, and whether each is drawn along that way."""
    branches = piece.branches
    at: dict[int, list[int]] = defaultdict(list)
    for k in path.tolist():
        at[int(branches.a[k])].append(k)
        at[int(branches.b[k])].append(k)
    order: list[int] = []
    along: list[bool] = []
    node = start
    while len(order) < len(path):
        step = next(k for k in at[node] if k not in order)
        order.append(step)
        along.append(int(branches.a[step]) == node)
        node = int(branches.b[step] if along[-1] else branches.a[step])
    return np.array(order, dtype=np.int64), np.array(along, dtype=np.bool_)


def _most_beside_a(piece: Piece, inside: BoolArray) -> float:
    """The most in A that loads draw which are fed past the branches ``inside`` (B,); inf where one has no bound."""
    loads, branches = piece.loads, piece.branches
    side = hang_together(len(piece.node_ids), branches.a[~inside], branches.b[~inside])
    fed = np.zeros(len(side), dtype=np.bool_)
    fed[[side[branches.a[s]] for s in piece.sources if not inside[s]]] = True
    past = (side[loads.plus] == side[loads.minus]) & fed[side[loads.plus]]
    highest_v = float(np.abs(branches.emf_v[list(piece.sources)]).sum())
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.maximum(loads.demand / loads.minimum_v, loads.case_a)
        ohmic = highest_v / loads.demand
    most = np.where(loads.kind == CURRENT, loads.demand * loads.peak, np.where(loads.kind == POWER, power, ohmic))
    return float(most[past & ((loads.kind == RESISTANCE) | (loads.demand > 0.0))].sum())


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
