"""What one fault with loads beside it, or many faults at once, can bring onto every part of a common return.

What is drawn runs through the devices of the way out, which lie inside one another like the branches of a tree
(*regions*: what hangs behind one device and no nearer one), and lands on the return, which is a tree as well. For
a part of the return only what lands behind it counts. Of that, a region behind a device of T passes

    f = min(T, draws of its own + f of the regions inside it),

and one fault more can add the least of T - f over the devices on its way. Both are asked for at every *class* of
the return (its parts behind which the same draws land) and only for those regions of which something, but not all,
lands behind it: a region that has landed in full is one number from there on. So the work grows with the number
of draws times the few devices in series and the way on which a region's draws come together, not with the
length of the trunk that all share.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

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


@dataclass(frozen=True)
class _Level:
    """The regions of one depth: keys (region, class) and where what each is made of stands.

    ``draw`` are the draws of these regions in order of (region, class); a key's are ``low`` … ``high`` - 1.
    ``from_key`` (keys of the level inside) are keys here that hold a region inside that is not yet landed in
    full; ``done`` marks keys at which a region is.
    """

    region: IntArray
    cls: IntArray
    draw: IntArray
    inside_draw: IntArray
    low: IntArray
    high: IntArray
    from_key: IntArray
    done: np.ndarray


@dataclass(frozen=True)
class Landed:
    """The answer of one pass, by class: ``drawn_a`` what the draws bring, ``more_a`` what one fault can add,
    ``fault`` the draw that does (-1 none), ``region`` the region whose device then just holds (-1: none does).
    ``flows``: f by level and key, ``held_a`` the T of the pass.
    """

    drawn_a: FloatArray
    more_a: FloatArray
    fault: IntArray
    region: IntArray
    flows: tuple[FloatArray, ...]
    held_a: FloatArray


class Returns:
    """Draws on a common return: ``region`` and ``cls`` (draws,) of each, ``above`` (regions,) the region around
    each, -1 outside. Made once; a pass with other numbers reuses it.
    """

    def __init__(self, classes: Classes, region: IntArray, cls: IntArray, above: IntArray) -> None:
        self.classes = classes
        self.region, self.cls = region, cls
        self.count = len(above)
        self.above = np.where(above < 0, self.count, above)  # One more region around all.
        self.depth = _depths(above)
        self.levels = self._levels()

    def _levels(self) -> list[_Level]:
        levels: list[_Level] = []
        size = max(len(self.classes.parent), 1)
        inner: _Level | None = None
        for depth in range(int(self.depth.max(initial=0)), -1, -1):
            levels.append(self._level(inner, np.flatnonzero(self.depth[self.region] == depth), size, whole=False))
            inner = levels[-1]
        levels.append(self._level(inner, np.zeros(0, dtype=np.int64), size, whole=True))
        return levels

    def _level(self, inner: _Level | None, direct: IntArray, size: int, *, whole: bool) -> _Level:
        """``direct`` are draws of the regions of this level; regions of ``inner`` that are done draw as well."""
        classes = self.classes
        nothing = np.zeros(0, dtype=np.int64)
        done = np.flatnonzero(inner.done) if inner is not None else nothing
        open_ones = np.flatnonzero(~inner.done) if inner is not None else nothing
        done_region = self.above[inner.region[done]] if inner is not None else nothing
        done_class = inner.cls[done] if inner is not None else nothing
        region = np.concatenate([self.region[direct], done_region])
        cls = np.concatenate([self.cls[direct], done_class])
        # A draw: position among all draws, or among the inner level's keys.
        draw = np.concatenate([direct, np.full(len(done), -1)])
        inside = np.concatenate([np.full(len(direct), -1), done])
        order = np.lexsort((cls, region))
        region, cls, draw, inside = region[order], cls[order], draw[order], inside[order]
        if whole:
            keys = self.count * size + np.arange(len(classes.parent))
        else:
            # Where a region inside has landed in part only, the region around it is asked for as well.
            known = (
                (self.above[inner.region[open_ones]], inner.cls[open_ones]) if inner is not None else (nothing,) * 2
            )
            keys = self._span(np.concatenate([region, known[0]]), np.concatenate([cls, known[1]]), size)
        key_region, key_class = keys // size, keys % size
        flat = region * size + cls
        low = np.searchsorted(flat, keys)
        high = np.searchsorted(flat, key_region * size + classes.leave[key_class])
        from_key = np.full(0 if inner is None else len(inner.cls), -1, dtype=np.int64)
        if inner is not None:
            from_key[open_ones] = np.searchsorted(
                keys, self.above[inner.region[open_ones]] * size + inner.cls[open_ones]
            )
        # Done: the class at which all of a region has come together, the first of its keys in this numbering.
        first = np.concatenate([[True], key_region[1:] != key_region[:-1]]) if len(keys) else np.zeros(0, np.bool_)
        return _Level(key_region, key_class, draw, inside, low, high, from_key, first)

    def _span(self, region: IntArray, cls: IntArray, size: int) -> IntArray:
        """Keys (region, class) from where a region's draws land up to where all have come together, sorted."""
        if not len(region):
            return np.zeros(0, dtype=np.int64)
        flat = np.unique(region * size + cls)
        r, c = flat // size, flat % size
        first = np.concatenate([[True], r[1:] != r[:-1]])
        last = np.concatenate([r[1:] != r[:-1], [True]])
        # In depth-first order the lowest class that holds all holds the first and the last.
        top = self.classes.meet(c[first], c[last])
        before = np.concatenate([[0], c[:-1]])
        meeting = self.classes.meet(np.where(first, c, before), c)
        depth = self.classes.depth
        steps = depth[c] - depth[meeting]
        steps[first] = depth[c[first]] - depth[top] + 1
        start = np.repeat(np.arange(len(c)), steps)
        along = np.arange(len(start)) - np.repeat(np.cumsum(steps) - steps, steps)
        found: IntArray = np.sort(r[start] * size + self.classes.up(c[start], along))
        return found

    def run(self, drawn_a: FloatArray, held_a: FloatArray, fault_a: FloatArray | None = None) -> Landed:
        """One pass. ``drawn_a`` (draws,) what each draws; ``held_a`` (regions,) T; ``fault_a`` (draws,) the most
        that a fault in place of each can add beyond what is drawn, -inf where it is no place of fault; None: faults
        are not asked for.
        """
        held = np.concatenate([held_a, [np.inf]])
        flow, more = np.zeros(0), np.zeros(0)
        by_draw, by_region = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
        flows: list[FloatArray] = []
        for level in self.levels:
            direct = level.draw >= 0
            own = np.zeros(len(level.draw))
            own[direct] = drawn_a[level.draw[direct]]
            own[~direct] = flow[level.inside_draw[~direct]]
            total = np.concatenate([[0.0], np.cumsum(own)])
            here = total[level.high] - total[level.low]
            open_ones = np.flatnonzero(level.from_key >= 0)
            here += np.bincount(level.from_key[open_ones], weights=flow[open_ones], minlength=len(level.cls))
            limit = held[level.region]
            flow_here = np.minimum(limit, here)
            flows.append(flow_here)
            if fault_a is None:
                flow = flow_here
                continue
            cap = np.full(len(level.draw), -np.inf)
            cap[direct] = fault_a[level.draw[direct]]
            cap[~direct] = more[level.inside_draw[~direct]]
            best = greatest_in(cap, level.low, level.high)
            most = np.where(best >= 0, cap[np.maximum(best, 0)] if len(cap) else -np.inf, -np.inf)
            which = np.where(best >= 0, best, 0)
            named = np.where(direct, level.draw, by_draw[level.inside_draw] if len(by_draw) else -1)
            bound = np.where(direct, -1, by_region[level.inside_draw] if len(by_region) else -1)
            fault = np.where(best >= 0, named[which] if len(named) else -1, -1)
            tight = np.where(best >= 0, bound[which] if len(bound) else -1, -1)
            # Regions inside that have not landed in full: the best of them for each key.
            if len(open_ones):
                order = open_ones[np.lexsort((more[open_ones], level.from_key[open_ones]))]
                key = level.from_key[order]
                top = order[np.concatenate([key[1:] != key[:-1], [True]])]
                key = level.from_key[top]
                higher = more[top] > most[key]
                key, top = key[higher], top[higher]
                most[key], fault[key], tight[key] = more[top], by_draw[top], by_region[top]
            with np.errstate(invalid="ignore"):
                slack = np.where(np.isfinite(limit), limit - flow_here, np.inf)
            tight = np.where(slack < most, level.region, tight)
            flow, more, by_draw, by_region = flow_here, np.minimum(slack, most), fault, tight
        if fault_a is None:
            none = np.full(len(flow), -1, dtype=np.int64)
            return Landed(flow, np.zeros(len(flow)), none, none, tuple(flows), held_a)
        return Landed(flow, more, by_draw, by_region, tuple(flows), held_a)

    def slack_a(self, landed: Landed, region: IntArray, cls: IntArray) -> FloatArray:
        """(Q,) the least of T - f over a region and those around it, of what lands in a class (-1: nothing)."""
        return self.slack_and_region(landed, region, cls)[0]

    def slack_and_region(self, landed: Landed, region: IntArray, cls: IntArray) -> tuple[FloatArray, IntArray]:
        """As ``slack_a``, and the region whose device it is."""
        found, tight = np.full(len(region), np.inf), region.copy()
        size = max(len(self.classes.parent), 1)
        at = region.copy()
        for n, (level, flow) in enumerate(zip(self.levels[:-1], landed.flows, strict=False)):
            depth = len(self.levels) - 2 - n
            mine = np.flatnonzero((at < self.count) & (self.depth[np.minimum(at, self.count - 1)] == depth))
            r, c = at[mine], cls[mine]
            flows = np.zeros(len(mine))
            if len(level.region):
                keys = level.region * size + level.cls
                place = np.minimum(np.searchsorted(keys, r * size + np.maximum(c, 0)), len(keys) - 1)
                here = keys[place] == r * size + c
                first = np.minimum(np.searchsorted(keys, r * size), len(keys) - 1)
                together = level.cls[first]
                in_full = (
                    (level.region[first] == r) & (together >= c) & (together < self.classes.leave[np.maximum(c, 0)])
                )
                flows = np.where(here, flow[place], np.where(in_full, flow[first], 0.0))
                flows = np.where(c >= 0, flows, 0.0)
            left = landed.held_a[r] - flows
            tight[mine] = np.where(left < found[mine], r, tight[mine])
            found[mine] = np.minimum(found[mine], left)
            at[mine] = self.above[r]
        return found, tight


def _depths(above: IntArray) -> IntArray:
    """How many regions are around each."""
    depth = np.zeros(len(above), dtype=np.int64)
    at = above.copy()
    while (at >= 0).any():
        depth += at >= 0
        at = np.where(at >= 0, above[np.maximum(at, 0)], -1)
    return depth


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
