"""What one fault with loads beside it, or many faults at once, can bring onto every part of a common return.

What is drawn runs through the devices of the way out, which lie inside one another like the branches of a tree
(*regions*: what hangs behind one device and no nearer one), and lands on the return, which is a tree as well. For
a part of the return only what lands behind it counts. Of that, a region behind a device of T passes

    f = min(T, draws of its own + f of the regions inside it),

and one fault more can add the least of T - f over the devices on its way. Both are asked for at every *class* of
the return (its parts behind which the same draws land), from the outer ends in: where several meet, what lands in
few regions is added to what lands in many. So the work grows with the number of draws times the few devices in
series, not with the length of the trunk that all share.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, reduce
from heapq import heappop, heappush
from typing import NamedTuple

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray


@dataclass(frozen=True)
class Forest:
    """M nodes with ``parent`` (a root is its own). ``order`` is depth first; ``entry`` and ``leave``: a node's
    subtree is the places ``entry[n] <= p < leave[n]`` of the order.
    """

    parent: IntArray
    order: IntArray
    entry: IntArray
    leave: IntArray
    depth: IntArray

    @classmethod
    def of(cls, parent: IntArray) -> Forest:
        """Number a forest through. One plain loop over its nodes: lists are faster here than arrays."""
        count = len(parent)
        every = np.arange(count)
        roots = parent == every
        by_parent = np.argsort(parent[~roots], kind="stable")
        child = every[~roots][by_parent]
        start = np.concatenate([[0], np.cumsum(np.bincount(parent[~roots], minlength=count))]).tolist()
        children = child.tolist()
        order: list[int] = []
        depth = [0] * count
        waiting = every[roots][::-1].tolist()
        while waiting:
            node = waiting.pop()
            order.append(node)
            first, last = start[node], start[node + 1]
            if first != last:
                below = depth[node] + 1
                for other in children[first:last]:
                    depth[other] = below
                waiting += children[first:last]
        size = [1] * count
        up = parent.tolist()
        for node in reversed(order):
            if up[node] != node:
                size[up[node]] += size[node]
        placed = np.array(order, dtype=np.int64)
        entry = np.empty(count, dtype=np.int64)
        entry[placed] = every
        return cls(parent, placed, entry, entry + np.array(size), np.array(depth, dtype=np.int64))

    def below(self, values: FloatArray) -> FloatArray:
        """Sum of the values (M,) of every node and all below it."""
        total = np.concatenate([[0.0], np.cumsum(values[self.order])])
        found: FloatArray = total[self.leave] - total[self.entry]
        return found


@dataclass(frozen=True)
class Classes:
    """C classes, numbered depth first: class c and those below it are c … ``leave[c]`` - 1. ``of`` (M,): the
    class of a forest's nodes, -1 where nothing lands behind one. ``node`` (C,) is the lowest node of each.
    ``jump[k][c]``: 2^k classes up.
    """

    of: IntArray
    node: IntArray
    parent: IntArray
    leave: IntArray
    depth: IntArray

    @cached_property
    def jump(self) -> list[IntArray]:
        """Ancestors at powers of two."""
        found = [self.parent]
        while 2 ** len(found) <= int(self.depth.max(initial=0)):
            found.append(found[-1][found[-1]])
        return found

    def up(self, start: IntArray, steps: IntArray) -> IntArray:
        """The class so many steps above each."""
        at = start.copy()
        for k, jump in enumerate(self.jump):
            move = (steps >> k) & 1 == 1
            at[move] = jump[at[move]]
        return at

    def meet(self, one: IntArray, two: IntArray) -> IntArray:
        """The lowest class that holds both."""
        deep = np.where(self.depth[one] >= self.depth[two], one, two)
        other = one + two - deep
        deep = self.up(deep, self.depth[deep] - self.depth[other])
        for jump in reversed(self.jump):
            apart = jump[deep] != jump[other]
            deep, other = np.where(apart, jump[deep], deep), np.where(apart, jump[other], other)
        found: IntArray = np.where(deep == other, deep, self.parent[deep])
        return found


def find_classes(forest: Forest, landing: IntArray) -> Classes:
    """Classes of a forest at whose nodes ``landing`` (draws,) something lands."""
    count = len(forest.parent)
    here = np.bincount(landing, minlength=count)
    behind = forest.below(here.astype(np.float64)) > 0.5
    roots = forest.parent == np.arange(count)
    busy = np.bincount(forest.parent[behind & ~roots], minlength=count)
    kept = behind & ((here > 0) | (busy > 1))
    # A node that is none itself belongs to the one class below it, and lies under the first one above it.
    down = np.where(kept, np.arange(count), -1)
    passing = np.flatnonzero(behind & ~kept)
    inner = behind & ~roots
    only = np.full(count, -1, dtype=np.int64)
    only[forest.parent[inner]] = np.flatnonzero(inner)
    down[passing] = only[passing]
    while (moving := np.flatnonzero((down >= 0) & ~kept[np.maximum(down, 0)])).size:
        down[moving] = down[down[moving]]
    up = np.where(kept | roots, np.arange(count), forest.parent)
    while not (up[up] == up).all():
        up = up[up]
    members = forest.order[kept[forest.order]]
    number = np.full(count, -1, dtype=np.int64)
    number[members] = np.arange(len(members))
    above = number[up[forest.parent[members]]]
    parent = np.where((above < 0) | roots[members], np.arange(len(members)), above)
    leave = np.arange(len(members)) + np.rint(forest.below(kept.astype(np.float64))[members]).astype(np.int64)
    depth = np.zeros(len(members), dtype=np.int64)
    rank = parent.copy()
    top = rank == np.arange(len(members))
    steps = (~top).astype(np.int64)
    while not top.all():
        steps = steps + np.where(top, 0, steps[rank])
        top = top | top[rank]
        rank = rank[rank]
    depth[:] = steps
    return Classes(np.where(down >= 0, number[np.maximum(down, 0)], -1), members, parent, leave, depth)


class Landed(NamedTuple):
    """The answer of one pass, by class: ``drawn_a`` what the draws bring, ``more_a`` what one fault can add,
    ``fault`` the draw that does (-1 none), ``region`` the region whose device then just holds (-1: none does).
    ``slack``: by region and class that were asked for, the least of T - f from that region on, and whose it is.
    """

    drawn_a: FloatArray
    more_a: FloatArray
    fault: IntArray
    region: IntArray
    slack: dict[tuple[int, int], tuple[float, int]]


class Returns:
    """Draws on a common return: ``region`` and ``cls`` (draws,) of each, ``above`` (regions,) the region around
    each, -1 outside, ``asked`` the regions and classes of which the slack is wanted. ``common_region`` (C,): the
    region that holds everything that lands in a class and below, -1: none does.
    """

    def __init__(
        self, classes: Classes, region: IntArray, cls: IntArray, above: IntArray, asked: Iterable[tuple[int, int]]
    ) -> None:
        self.classes = classes
        self.region, self.cls = region, cls
        # One more region around all.
        self.above = [*np.where(above < 0, len(above), above).tolist(), len(above)]
        self._here: list[list[int]] = [[] for _ in classes.parent]
        self._inside: list[list[int]] = [[] for _ in classes.parent]
        self._asked: list[list[int]] = [[] for _ in classes.parent]
        for n, c in enumerate(cls.tolist()):
            self._here[c].append(n)
        for c, parent in enumerate(classes.parent.tolist()):
            if parent != c:
                self._inside[parent].append(c)
        self._idle: list[int] = []
        for r, c in set(asked):
            (self._asked[c] if c >= 0 else self._idle).append(r)
        together = [-1] * len(classes.parent)
        for c in reversed(range(len(together))):
            regions = {int(region[n]) for n in self._here[c]} | {together[n] for n in self._inside[c]}
            together[c] = reduce(self._around, regions)
        self.common_region = np.array([r if r < len(above) else -1 for r in together], dtype=np.int64)

    def _around(self, one: int, other: int) -> int:
        """The innermost region that holds two."""
        way = {one}
        while self.above[one] not in way:
            way.add(one := self.above[one])
        while other not in way:
            other = self.above[other]
        return other

    def run(self, drawn_a: FloatArray, held_a: FloatArray, fault_a: FloatArray | None = None) -> Landed:
        """One pass. ``drawn_a`` (draws,) what each draws; ``held_a`` (regions,) T; ``fault_a`` (draws,) the most
        that a fault in place of each can add beyond what is drawn, -inf where it is no place of fault; None: faults
        are not asked for.
        """
        held, region, drawn = [*held_a.tolist(), math.inf], self.region.tolist(), drawn_a.tolist()
        faults = [-math.inf] * len(drawn) if fault_a is None else fault_a.tolist()
        nothing = _Flows(self.above, held, asked=False)
        slack = {(r, -1): nothing.slack(r) for r in self._idle}
        landed: dict[int, _Flows] = {}
        found: list[tuple[float, float, int, int]] = []
        for c in reversed(range(len(self._here))):
            # What lands in more regions takes in what lands in fewer.
            parts = sorted((landed.pop(n) for n in self._inside[c]), key=lambda part: -len(part.own))
            flows = parts[0] if parts else _Flows(self.above, held, asked=fault_a is not None)
            for part in parts[1:]:
                for r, each in part.own.items():
                    flows.add(r, *each)
            for n in self._here[c]:
                flows.add(region[n], drawn[n], faults[n], n)
            found.append((flows.flow[-1], *flows.more[-1]))
            slack.update({(r, c): flows.slack(r) for r in self._asked[c]})
            landed[c] = flows
        columns = list(zip(*reversed(found), strict=True))
        return Landed(
            np.array(columns[0]),
            np.array(columns[1]),
            np.array(columns[2], dtype=np.int64),
            np.array(columns[3], dtype=np.int64),
            slack,
        )

    def slack_and_region(self, landed: Landed, region: IntArray, cls: IntArray) -> tuple[FloatArray, IntArray]:
        """(Q,) the least of T - f over a region and those around it, of what lands in a class (-1: nothing), and
        the region whose device it is.
        """
        found = [landed.slack[r, c] for r, c in zip(region.tolist(), cls.tolist(), strict=True)]
        return np.array([a for a, _ in found]), np.array([r for _, r in found], dtype=np.int64)

    def slack_a(self, landed: Landed, region: IntArray, cls: IntArray) -> FloatArray:
        """(Q,) the first of the two."""
        return self.slack_and_region(landed, region, cls)[0]


class _Flows:
    """What has landed so far. ``own`` by region: what its own draws bring, the most that a fault among them can
    add, and which does. By region, those inside it included: ``flow`` is f, ``more`` what one fault can add, which
    does, and the region whose device then holds, where faults are ``asked`` for; at -1 those of all together.
    """

    def __init__(self, above: list[int], held_a: list[float], *, asked: bool) -> None:
        self.above, self.held_a, self.asked = above, held_a, asked
        self.own: dict[int, tuple[float, float, int]] = {}
        self.into: dict[int, float] = {}
        self.flow: dict[int, float] = {-1: 0.0}
        self.more: dict[int, tuple[float, int, int]] = {-1: NOTHING}
        self.best: dict[int, list[tuple[float, int]]] = {}
        """By region: a heap of what those inside it can add, with their numbers; of each the last entry counts."""

    def add(self, region: int, drawn_a: float, fault_a: float, draw: int) -> None:
        """Let one more draw land, or several with the one of them that can add most."""
        before, most_a, which = self.own.get(region, (0.0, -math.inf, -1))
        self.own[region] = (before + drawn_a, *((fault_a, draw) if fault_a > most_a else (most_a, which)))
        r, change = region, drawn_a
        while True:
            self.into[r] = self.into.get(r, 0.0) + change
            flow = min(self.held_a[r], self.into[r])
            more = self._most(r) if self.asked else NOTHING
            if self.held_a[r] - flow < more[0]:
                more = (self.held_a[r] - flow, more[1], r)
            change = flow - self.flow.get(r, 0.0)
            if change == 0.0 and more == self.more.get(r):
                return
            self.flow[r], self.more[r] = flow, more
            if self.above[r] == r:
                self.flow[-1], self.more[-1] = flow, more
                return
            if more[1] >= 0:
                heappush(self.best.setdefault(self.above[r], []), (-more[0], r))
            r = self.above[r]

    def _most(self, region: int) -> tuple[float, int, int]:
        _, most_a, which = self.own.get(region, (0.0, *NOTHING[:2]))
        inside = self.best.get(region, [])
        while inside and self.more[inside[0][1]][0] != -inside[0][0]:
            heappop(inside)
        if inside and -inside[0][0] > most_a:
            return self.more[inside[0][1]]
        return most_a, which, -1

    def slack(self, region: int) -> tuple[float, int]:
        """The least of T - f over a region and those around it, and whose it is."""
        least, tight = math.inf, region
        while self.above[region] != region:
            left = self.held_a[region] - self.flow.get(region, 0.0)
            least, tight = (left, region) if left < least else (least, tight)
            region = self.above[region]
        return least, tight


NOTHING = (-math.inf, -1, -1)
"""What a fault adds where there is none."""


def greatest_in(values: FloatArray, low: IntArray, high: IntArray) -> IntArray:
    """For every range low … high - 1 the position of its greatest value, the first of equals; -1 if empty."""
    if not len(values):
        return np.full(len(low), -1, dtype=np.int64)
    tables = [np.arange(len(values))]
    width = 1
    longest = int((high - low).max(initial=1))
    while 2 * width <= longest:
        last = tables[-1]
        one, two = last[:-width], last[width:]
        tables.append(np.where(values[two] > values[one], two, one))
        width *= 2
    found = np.full(len(low), -1, dtype=np.int64)
    some = np.flatnonzero(high > low)
    step = np.zeros(len(some), dtype=np.int64)
    length = high[some] - low[some]
    step = np.floor(np.log2(length)).astype(np.int64)
    for k, table in enumerate(tables):
        mine = step == k
        i = some[mine]
        one, two = table[low[i]], table[high[i] - 2**k]
        found[i] = np.where(values[two] > values[one], two, one)
    return found
