"""Blocks of a network in their least form, and how current moves when one of their branches opens.

Inside a block, branches in series form a *chain*: they open together and their currents change together. A
*segment* is a run of a chain with nothing attached between: one current. What an open circuit does is one number
per pair of chains, the *ratio*: with current I in branch e before, current ``ratio[l, e] · I`` is taken off chain l
(off e itself all of it). In words of nodal analysis it is ``Y_le / Y_ee``, Y being the currents per volt put in
series with e, so that with conductance g, incidence a and nodal inverse Z

    ratio[l, e] = -g_l a_l Z a_eᵀ / (1 - g_e a_e Z a_eᵀ)    for l ≠ e

(the rank-one update of W. W. Hager, "Updating the inverse of a matrix", SIAM Review 31 (1989) 221). It is found
by loop analysis, which has no trouble with 0 Ω.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import scipy.linalg as la
import scipy.sparse as sp
import scipy.sparse.linalg as spla
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree

from loadloom.graph.circuit.blocks import Blocks, find_blocks

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

AT_ONCE = 2_000_000
"""Numbers in one batch of equal blocks; keeps the memory for 100,000 conductors at some ten megabytes."""

ZERO_SHARE = 1e-14
"""Resistance that stands for 0 Ω in a loop, as a share of the least other: the limit of equal resistances."""


LARGE = 1500
"""Chains of a block from which it is taken column by column, and a mesh by a sparse factor."""

Ratio = Callable[[IntArray], FloatArray]
"""(K, C, n) ratios of n chains, given by their position in the block."""


@dataclass(frozen=True)
class Batch:
    """Blocks of equal shape: K blocks with C chains and M segments each; K is 1 for a large block.

    ``segment`` (K, M): segment numbers. ``chain`` (K, M): a segment's chain, counted within its block.
    ``ratio`` as in the module's text, in the chains' own directions. ``loop_ohm`` (K, C): resistance of a
    chain with the return through the rest of its block, 1 / Y_ee.
    """

    segment: IntArray
    chain: IntArray
    ratio: Ratio
    loop_ohm: FloatArray


class Chains:
    """Chains and segments of the blocks of a multigraph with ``nodes`` nodes.

    ``closed`` (B,) branches count; ``resistance_ohm`` (B,) of the others is not read. ``busy`` (N,): nodes at
    which something is attached that is no branch. ``member``: branch numbers inside blocks of two and more;
    ``sign`` and ``segment`` (the same length): direction of a branch along its chain, and its segment.
    """

    def __init__(
        self,
        nodes: int,
        end_a: IntArray,
        end_b: IntArray,
        resistance_ohm: FloatArray,
        closed: BoolArray,
        busy: BoolArray,
    ) -> None:
        self.blocks: Blocks = find_blocks(nodes, end_a, end_b, closed, busy)
        inside = closed & ~self.blocks.bridge & (end_a != end_b)
        self.member = np.flatnonzero(inside)
        a, b, label = end_a[self.member], end_b[self.member], self.blocks.label[self.member]
        count = len(self.member)
        _, local = np.unique(np.concatenate([label * nodes + a, label * nodes + b]), return_inverse=True)
        degree = np.bincount(local)
        of_all = np.bincount(end_a[closed], minlength=nodes) + np.bincount(end_b[closed], minlength=nodes)

        # the two half-branches at every node of degree 2 within its block
        order = np.argsort(local, kind="stable")
        pairs = order[degree[local[order]] == 2].reshape(-1, 2)
        i, j = pairs[:, 0] % count if count else pairs[:, 0], pairs[:, 1] % count if count else pairs[:, 1]
        against = (pairs[:, 0] < count) == (pairs[:, 1] < count)  # both leave or both enter
        where = np.where(pairs[:, 0] < count, a[i], b[i]) if count else i
        plain = (of_all[where] == 2) & ~busy[where]

        self.segment, self.segments = _components(count, i[plain], j[plain])
        doubled, _ = _components(
            2 * count,
            np.concatenate([i, i + count]),
            np.concatenate([np.where(against, j + count, j), np.where(against, j, j + count)]),
        )
        forward, backward = doubled[:count], doubled[count:]
        _, chain = np.unique(np.minimum(forward, backward), return_inverse=True)
        self.chain = chain.astype(np.int64)
        self.sign = np.where(forward < backward, 1, -1)

        chains = int(self.chain.max(initial=-1)) + 1
        self.chain_block = np.zeros(chains, dtype=np.int64)
        self.chain_block[self.chain] = label
        ohm = resistance_ohm[self.member]
        self._ohm = np.bincount(self.chain, weights=ohm, minlength=chains).astype(np.float64)
        self._length = np.bincount(self.chain, minlength=chains)
        tail = np.where(self.sign > 0, local[:count], local[count:])
        head = np.where(self.sign > 0, local[count:], local[:count])
        self._start = np.full(chains, -1, dtype=np.int64)
        self._end = np.full(chains, -1, dtype=np.int64)
        first, last = degree[tail] > 2, degree[head] > 2
        self._start[self.chain[first]] = tail[first]
        self._end[self.chain[last]] = head[last]
        self.segment_chain = np.zeros(self.segments, dtype=np.int64)
        self.segment_chain[self.segment] = self.chain

    @cached_property
    def batches(self) -> list[Batch]:
        """All blocks, in batches of equal shape."""
        return list(self._batches())

    def shapes(self, most_loops: int) -> Iterator[BlockShape]:
        """Every block, one after the other; a mesh of more loops than ``most_loops`` is left out."""
        chains = len(self.chain_block)
        if not chains:
            return
        by_block = np.argsort(self.chain_block, kind="stable")
        cuts = np.flatnonzero(np.diff(self.chain_block[by_block])) + 1
        segments_by_chain = np.argsort(self.segment_chain, kind="stable")
        ends = np.cumsum(np.bincount(self.segment_chain, minlength=chains))
        for ids in np.split(by_block, cuts):
            runs = [segments_by_chain[(ends[c - 1] if c else 0) : ends[c]] for c in ids.tolist()]
            chain = np.repeat(np.arange(len(ids)), [len(run) for run in runs])
            shape = self._shape(ids, np.concatenate(runs), chain, most_loops)
            if shape is not None:
                yield shape

    def _shape(self, ids: IntArray, segment: IntArray, chain: IntArray, most_loops: int) -> BlockShape | None:
        start, end = self._start[ids], self._end[ids]
        if len(ids) == 1:
            return BlockShape(segment, chain, np.ones((1, 1)), 2 if len(segment) == 2 else 0, np.ones(1))
        low, high = np.minimum(start, end), np.maximum(start, end)
        parallel = bool((low == low[0]).all() and (high == high[0]).all())
        turn = np.where(start < end, 1.0, -1.0)
        if parallel and len(segment) == len(ids):
            return BlockShape(segment, chain, None, len(ids), turn)
        if len(ids) - len(np.unique(np.concatenate([start, end]))) + 1 > most_loops:
            return None
        loops = _loops(start, end, self._ohm[ids] + self._length[ids] * ZERO_SHARE)
        return BlockShape(segment, chain, loops, 0, turn)

    def _batches(self) -> Iterator[Batch]:
        chains = len(self.chain_block)
        if not chains:
            return
        blocks, of_chain = np.unique(self.chain_block, return_inverse=True)
        by_block = np.argsort(of_chain, kind="stable")
        width = np.bincount(of_chain)
        starts = np.concatenate([[0], np.cumsum(width)])
        position = np.zeros(chains, dtype=np.int64)
        position[by_block] = np.arange(chains) - starts[of_chain[by_block]]
        of_segment = of_chain[self.segment_chain]
        segments_by_block = np.argsort(of_segment, kind="stable")
        runs = np.bincount(of_segment, minlength=len(blocks))
        run_starts = np.concatenate([[0], np.cumsum(runs)])

        for c, m in np.unique(np.stack([width, runs], axis=1), axis=0).tolist():
            same = np.flatnonzero((width == c) & (runs == m))
            step = max(1, AT_ONCE // (m * m + c * c))
            for low in range(0, len(same), step):
                some = same[low : low + step]
                chain_ids = by_block[starts[some][:, None] + np.arange(c)]
                segment_ids = segments_by_block[run_starts[some][:, None] + np.arange(m)]
                ratio, loop = self._ratios(chain_ids)
                yield Batch(segment_ids, position[self.segment_chain[segment_ids]], ratio, loop)

    def _ratios(self, chain: IntArray) -> tuple[Ratio, FloatArray]:
        """Ratios and (K, C) loop resistances of K blocks of C chains."""
        blocks, c = chain.shape
        start, end, ohm, length = self._start[chain], self._end[chain], self._ohm[chain], self._length[chain]
        if c == 1:
            return lambda columns: np.ones((blocks, 1, len(columns))), ohm
        low, high = np.minimum(start, end), np.maximum(start, end)
        parallel = ((low == low[:, :1]) & (high == high[:, :1])).all(axis=1)
        turn = np.where(start < end, 1.0, -1.0)
        if parallel.all():
            return _parallel(ohm, length, turn)
        if c > LARGE:
            return _large(start[0], end[0], ohm[0], length[0])
        ratio, loop = np.zeros((blocks, c, c)), np.zeros((blocks, c))
        if parallel.any():
            some, loop[parallel] = _parallel(ohm[parallel], length[parallel], turn[parallel])
            ratio[parallel] = some(np.arange(c))
        for k in np.flatnonzero(~parallel).tolist():
            ratio[k], loop[k] = _meshed(start[k], end[k], ohm[k], length[k])
        return lambda columns: ratio[:, :, columns], loop


@dataclass(frozen=True)
class BlockShape:
    """One block for who changes its resistances: C chains, M segments (numbers ``segment``).

    ``chain`` (M,): a segment's chain, 0 … C - 1. ``loops`` (loops, C): independent loops, 1 along a chain and
    -1 against it, None for plain paths. ``paths`` is C where the block is nothing but ways side by side between
    two joints, 2 for a ring fed at one joint and drained at another, else 0. ``turn`` (C,): 1 or -1, so that
    turned ways all lead from the same joint to the other.
    """

    segment: IntArray
    chain: IntArray
    loops: FloatArray | None
    paths: int
    turn: FloatArray


def _components(count: int, i: IntArray, j: IntArray) -> tuple[IntArray, int]:
    graph = sp.coo_array((np.ones(len(i)), (i, j)), shape=(count, count)) if count else None
    if graph is None:
        return np.zeros(0, dtype=np.int64), 0
    number, labels = connected_components(graph, directed=False)
    return labels.astype(np.int64), int(number)


def _parallel(ohm: FloatArray, length: IntArray, turn: FloatArray) -> tuple[Ratio, FloatArray]:
    """Chains that all join the same two nodes. Sums without one are built up, never subtracted."""
    zero = ohm == 0
    with np.errstate(divide="ignore"):
        plain = np.where(zero, 0.0, 1.0 / ohm)
    among = np.where(zero, 1.0 / length, 0.0)  # conductance relative to one part of 0 Ω
    rest, rest_zero = _without_each(plain), _without_each(among)
    short = rest_zero > 0  # another chain of 0 Ω is there to take all
    loop = ohm + np.where(short, 0.0, 1.0 / np.where(rest > 0, rest, np.inf))

    def ratio(columns: IntArray) -> FloatArray:
        weight = np.where(short[:, None, columns], among[:, :, None], plain[:, :, None])
        taken = weight / np.where(short, rest_zero, rest)[:, None, columns]
        answer: FloatArray = -taken * turn[:, :, None] * turn[:, None, columns]
        answer[:, columns, np.arange(len(columns))] = 1.0
        return answer

    return ratio, loop


def _without_each(values: FloatArray) -> FloatArray:
    """Row sums without each element, free of cancellation."""
    answer = np.zeros_like(values)
    answer[:, 1:] = np.cumsum(values, axis=1)[:, :-1]
    answer[:, :-1] += np.cumsum(values[:, ::-1], axis=1)[:, ::-1][:, 1:]
    return answer


def _large(start: IntArray, end: IntArray, ohm: FloatArray, length: IntArray) -> tuple[Ratio, FloatArray]:
    """A large mesh: sparse factor of branch and node equations, columns as they are asked for.

    Chains of 0 Ω get a share of 1e-9 of the least resistance of the block, since they can't be told apart here
    from rounding if they are smaller.
    """
    _, local = np.unique(np.concatenate([start, end]), return_inverse=True)
    c = len(start)
    nodes = int(local.max()) + 1
    resistance = np.where(ohm > 0, ohm, 1e-9 * float(ohm[ohm > 0].min(initial=1.0)) * length)
    incidence = sp.coo_array(
        (np.repeat([1.0, -1.0], c), (local, np.tile(np.arange(c), 2))), shape=(nodes, c)
    ).tocsr()[1:]
    upper = sp.hstack([sp.diags_array(resistance), -incidence.T])
    lower = sp.hstack([incidence, sp.csr_array((nodes - 1, nodes - 1))])
    factor = spla.splu(sp.csc_array(sp.vstack([upper, lower])))

    def admittance(columns: IntArray) -> FloatArray:
        emf = np.zeros((c + nodes - 1, len(columns)))
        emf[columns, np.arange(len(columns))] = 1.0
        answer: FloatArray = factor.solve(emf)[:c]
        return answer

    def ratio(columns: IntArray) -> FloatArray:
        column = admittance(columns)
        return (column / column[columns, np.arange(len(columns))])[None]

    pieces = np.array_split(np.arange(c), min(c, c * c // AT_ONCE + 1))
    own = [admittance(some)[some, np.arange(len(some))] for some in pieces]
    return ratio, 1.0 / np.concatenate(own)[None]


def _meshed(start: IntArray, end: IntArray, ohm: FloatArray, length: IntArray) -> tuple[FloatArray, FloatArray]:
    """Loop analysis of one block. Loops are those of the spanning tree of least resistance, so that loops of
    0 Ω stand by themselves and scaling the loop matrix to a unit diagonal leaves it well conditioned.
    """
    floor = ZERO_SHARE * float(ohm[ohm > 0].min(initial=1.0))
    resistance = ohm + floor * length
    loops = _loops(start, end, resistance)
    scale = 1.0 / np.sqrt((loops**2) @ resistance)
    scaled = loops * scale[:, None]
    factor = la.cho_factor((scaled * resistance) @ scaled.T)
    admittance = scaled.T @ la.cho_solve(factor, scaled)
    own = np.diag(admittance).copy()
    return admittance / own[None, :], 1.0 / own


def _loops(start: IntArray, end: IntArray, resistance: FloatArray) -> FloatArray:
    """(loops, C) fundamental loops of the spanning tree of least resistance: 1 along, -1 against a chain."""
    _, local = np.unique(np.concatenate([start, end]), return_inverse=True)
    c = len(start)
    a, b = local[:c], local[c:]
    nodes = int(local.max()) + 1
    rank = np.empty(c, dtype=np.int64)
    rank[np.argsort(resistance, kind="stable")] = np.arange(1, c + 1)
    low, high = np.minimum(a, b), np.maximum(a, b)
    best: dict[tuple[int, int], int] = {}
    for k in np.argsort(rank).tolist():
        best.setdefault((int(low[k]), int(high[k])), k)
    chosen = np.array(list(best.values()), dtype=np.int64)
    graph = sp.coo_array((rank[chosen].astype(np.float64), (low[chosen], high[chosen])), shape=(nodes, nodes))
    tree = minimum_spanning_tree(graph.tocsr()).tocoo()
    row, column = (tree.row, tree.col)
    trunk = np.array([best[min(p, q), max(p, q)] for p, q in zip(row.tolist(), column.tolist(), strict=True)])
    others = np.setdiff1d(np.arange(c), trunk)
    incidence = np.zeros((nodes, c))
    incidence[a, np.arange(c)] += 1.0
    incidence[b, np.arange(c)] -= 1.0
    loops = np.zeros((len(others), c))
    loops[np.arange(len(others)), others] = 1.0
    loops[:, trunk] = -np.rint(np.linalg.solve(incidence[1:, trunk], incidence[1:, others])).T
    return loops
