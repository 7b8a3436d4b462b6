"""A piece of copper fed at one joint, seen from there: a tree of blocks, with what every block does to a current.

The way out is rooted at the plus terminal of every output, the way back at the common minus terminal. A bridge
carries all that is drawn behind it. A block of ways side by side between two joints ("plain") has a closed
form: with the ampere drawn at distance t (Ω) along a way of total resistance rho, and all other ways together
``others``, the share (rho - t + others) / (rho + others) comes from the near side and t / (rho + others) from
the far side. Every other block is answered by its own small nodal matrix. All arrays are made without a loop
over branches, so that 100,000 conductors take well under a second.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from scipy.sparse.csgraph import breadth_first_order

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import EQUAL_SHARE_OHM, BoolArray, Branches, unit_flows
from loadloom.graph.faults.budgets import LARGEST_MATRIX


def along_path(parent: IntArray, values: FloatArray, lesser: bool = False) -> FloatArray:
    """Sum (or least) of the values of a node and all nodes above it; a root is its own parent.

    By pointer doubling: log2(depth) passes over all nodes. A root's own value counts once.
    """
    found, above = values.astype(np.float64), parent.copy()
    root = above == np.arange(len(above))
    while True:
        # A root has nothing above it; whoever points at a root still lacks the root's own value.
        gathered = found[above]
        found = np.where(root, found, np.minimum(found, gathered) if lesser else found + gathered)
        nxt = above[above]
        root = root | root[above]
        if root.all():
            return found
        above = nxt


@dataclass(frozen=True)
class DenseBlock:
    """A block that is no set of plain ways. ``nodes`` without the entry; ``share`` (branches, nodes): current
    from a to b per ampere drawn at a node; ``ohm`` (nodes,): from the entry to it. ``known`` false: too large.
    """

    label: int
    entry: int
    branches: IntArray
    nodes: IntArray
    share: FloatArray
    ohm: FloatArray
    known: bool


@dataclass(frozen=True)
class RadialTree:
    """N nodes and E copper branches (edges of a piece, in its order) as trees of blocks with known roots.

    By node: ``root`` (its own), ``parent`` (entry of the block above it, itself at a root), ``above`` (that
    block, -1 at a root), ``ohm_in`` (from there to it). By branch: ``label`` (block), ``near`` and ``far`` (the
    end closer to the root and the other, along the way in a plain block, as they are for dense blocks),
    ``bridge``; in plain blocks ``plain``, ``chain`` (number of the way, -1 elsewhere), ``t_near`` and ``t_far``
    (Ω from the entry along the way) and ``step`` (1 for the first branch of a way). By node along a way:
    ``node_chain``, ``node_t`` and ``node_step``, in step with the branch before it. By chain: ``rho`` its
    resistance, ``others`` of the other ways together. By block: ``entry``, ``exit`` (far joint of a plain block,
    -1 elsewhere).
    """

    node_count: int
    root: IntArray
    parent: IntArray
    above: IntArray
    ohm_in: FloatArray
    label: IntArray
    bridge: BoolArray
    near: IntArray
    far: IntArray
    chain: IntArray
    t_near: FloatArray
    t_far: FloatArray
    rho: FloatArray
    others: FloatArray
    entry: IntArray
    exit: IntArray
    node_chain: IntArray
    node_t: FloatArray
    step: IntArray
    node_step: IntArray
    dense: tuple[DenseBlock, ...]

    @cached_property
    def plain(self) -> BoolArray:
        """(E,) branches of plain blocks."""
        return self.chain >= 0


def radial_tree(node_count: int, branches: Branches, roots: IntArray, leaving: BoolArray) -> RadialTree:
    """Root the copper of a piece at ``roots``, one for each of its islands.

    ``leaving`` (N,): nodes at which a load draws. Every node must hang on exactly one of the roots.
    """
    count = branches.edge_count
    a, b, ohm = branches.a[:count], branches.b[:count], branches.resistance_ohm[:count]
    blocks = find_blocks(node_count, a, b, np.ones(count, dtype=np.bool_))
    block_count, label = _renumbered(blocks.label)
    place = _places(node_count, a, b, roots)
    near = np.where(place[a] <= place[b], a, b)
    far = a + b - near
    first = np.full(block_count, np.iinfo(np.int64).max)
    np.minimum.at(first, label, place[near])
    order = np.empty(node_count, dtype=np.int64)
    order[place] = np.arange(node_count)
    entry = order[first]
    above = np.full(node_count, -1, dtype=np.int64)
    for end in (a, b):
        below = end != entry[label]
        above[end[below]] = label[below]
    parent = np.where(above >= 0, entry[above], np.arange(node_count))
    ohm_in = np.zeros(node_count)
    ohm_in[far[blocks.bridge]] = ohm[blocks.bridge]
    tree = _plain_paths(
        node_count, a, b, ohm, label, blocks.bridge, entry, above, leaving, place, ohm_in, near, far, block_count
    )
    chain, t_near, t_far, rho, others, exits, dense_labels, node_chain, node_t, step, node_step = tree
    dense = tuple(_dense(a, b, ohm, np.flatnonzero(label == k), k, int(entry[k])) for k in dense_labels.tolist())
    for block in dense:
        ohm_in[block.nodes] = block.ohm
    root = np.arange(node_count)
    above_root = parent.copy()
    while not (above_root == root).all():
        root, above_root = above_root, above_root[above_root]
    return RadialTree(
        node_count=node_count,
        root=root,
        parent=parent,
        above=above,
        ohm_in=ohm_in,
        label=label,
        bridge=blocks.bridge,
        near=near,
        far=far,
        chain=chain,
        t_near=t_near,
        t_far=t_far,
        rho=rho,
        others=others,
        entry=entry,
        exit=exits,
        node_chain=node_chain,
        node_t=node_t,
        step=step,
        node_step=node_step,
        dense=dense,
    )


def _renumbered(label: IntArray) -> tuple[int, IntArray]:
    """How many labels are in use, and the labels numbered through."""
    used, found = np.unique(label, return_inverse=True)
    return len(used), found.astype(np.int64)


def _places(node_count: int, a: IntArray, b: IntArray, roots: IntArray) -> IntArray:
    """(N,) position of every node in a breadth-first walk from all roots at once."""
    one = np.concatenate([a, np.full(len(roots), node_count)])
    two = np.concatenate([b, roots])
    graph = sp.coo_array((np.ones(len(one)), (one, two)), shape=(node_count + 1, node_count + 1)).tocsr()
    order = breadth_first_order(graph, node_count, directed=False, return_predecessors=False)
    place = np.full(node_count + 1, -1, dtype=np.int64)
    place[order] = np.arange(len(order)) - 1
    if (place[:node_count] < 0).any():
        raise ValueError("a node hangs on none of the roots")
    return place[:node_count]


def _plain_paths(
    node_count: int,
    a: IntArray,
    b: IntArray,
    ohm: FloatArray,
    label: IntArray,
    bridge: BoolArray,
    entry: IntArray,
    above: IntArray,
    leaving: BoolArray,
    place: IntArray,
    ohm_in: FloatArray,
    near: IntArray,
    far: IntArray,
    block_count: int,
) -> tuple[
    IntArray,
    FloatArray,
    FloatArray,
    FloatArray,
    FloatArray,
    IntArray,
    IntArray,
    IntArray,
    FloatArray,
    IntArray,
    IntArray,
]:
    """Find the plain blocks and measure their ways; fills in ``ohm_in``, ``near`` and ``far`` for them."""
    count = len(a)
    chain = np.full(count, -1, dtype=np.int64)
    t_near, t_far = np.zeros(count), np.zeros(count)
    exits = np.full(block_count, -1, dtype=np.int64)
    node_chain, node_t = np.full(node_count, -1, dtype=np.int64), np.zeros(node_count)
    step, node_step = np.zeros(count, dtype=np.int64), np.zeros(node_count, dtype=np.int64)
    inside = np.flatnonzero(~bridge)
    nothing = np.zeros(0)
    if not len(inside):
        none = np.zeros(0, dtype=np.int64)
        return chain, t_near, t_far, nothing, nothing, exits, none, node_chain, node_t, step, node_step
    # Degree of every node within its block, the entry's left out: each other node is below one block only.
    ends = np.concatenate([a[inside], b[inside]])
    of = np.concatenate([label[inside], label[inside]])
    below = ends != entry[of]
    degree = np.bincount(ends[below], minlength=node_count)
    goes_on = leaving.copy()
    goes_on[entry[np.unique(label)]] = True
    hub = (degree > 2) | (goes_on & (degree > 0))
    hubs = np.flatnonzero(hub)
    per_block = np.bincount(above[hubs], minlength=block_count)
    # A ring with nothing at it: any node of it will do as its far joint.
    empty = np.setdiff1d(np.unique(label[inside]), np.flatnonzero(per_block))
    if len(empty):
        last = np.full(block_count, -1, dtype=np.int64)
        nodes = np.flatnonzero(degree > 0)
        nodes = nodes[np.argsort(place[nodes])]
        last[above[nodes]] = nodes
        exits[empty] = last[empty]
        per_block[empty] = 1
    exits[above[hubs]] = hubs
    exits[per_block != 1] = -1
    dense = np.setdiff1d(np.unique(label[inside]), np.flatnonzero(per_block == 1))
    plain = inside[exits[label[inside]] >= 0]
    if not len(plain):
        none = np.zeros(0, dtype=np.int64)
        return chain, t_near, t_far, nothing, nothing, exits, dense, node_chain, node_t, step, node_step

    # Cut every way open at the far joint and at the entry: what is left are strings, one for each way.
    k = np.arange(len(plain))
    size = node_count + 2 * len(plain)
    ea, eb, block = a[plain], b[plain], label[plain]
    cut_a = np.where(
        ea == exits[block], node_count + k, np.where(ea == entry[block], node_count + len(plain) + k, ea)
    )
    cut_b = np.where(
        eb == exits[block], node_count + k, np.where(eb == entry[block], node_count + len(plain) + k, eb)
    )
    starts = np.concatenate([cut_a, cut_b])
    starts = starts[starts >= node_count + len(plain)]
    one = np.concatenate([cut_a, np.full(len(starts), size)])
    two = np.concatenate([cut_b, starts])
    graph = sp.coo_array((np.ones(len(one)), (one, two)), shape=(size + 1, size + 1)).tocsr()
    order, before = breadth_first_order(graph, size, directed=False)
    before = before.astype(np.int64)
    up = np.arange(size + 1)
    up[order[1:]] = before[order[1:]]
    up[starts] = starts
    reversed_way = up[cut_a] == cut_b
    cut_near, cut_far = np.where(reversed_way, cut_b, cut_a), np.where(reversed_way, cut_a, cut_b)
    near[plain] = np.where(reversed_way, eb, ea)
    far[plain] = np.where(reversed_way, ea, eb)
    way = np.arange(size + 1)
    top = up.copy()
    while not (top == way).all():
        way, top = top, top[top]
    _, numbers = np.unique(way[cut_far], return_inverse=True)
    numbers = numbers.astype(np.int64)
    ways = int(numbers.max()) + 1
    chain[plain] = numbers
    own = _with_shares_of_zero(ohm[plain], numbers, block, ways)
    into = np.zeros(size + 1)
    into[cut_far] = own
    along = along_path(up, into)
    t_near[plain], t_far[plain] = along[cut_near], along[cut_far]
    into[cut_far] = 1.0
    count_along = np.rint(along_path(up, into)).astype(np.int64)
    step[plain] = count_along[cut_far]
    rho = np.bincount(numbers, weights=own, minlength=ways).astype(np.float64)
    block_of = np.zeros(ways, dtype=np.int64)
    block_of[numbers] = block
    others = _others(rho, block_of)
    # Nodes along the ways, and the far joint.
    mid = cut_far < node_count
    node_chain[cut_far[mid]], node_t[cut_far[mid]] = numbers[mid], along[cut_far[mid]]
    node_step[cut_far[mid]] = step[plain][mid]
    total = rho + others
    inner = cut_far[mid]
    t, c = along[inner], numbers[mid]
    ohm_in[inner] = t * (total[c] - t) / total[c]
    ends_here = exits[block_of]
    ohm_in[ends_here] = rho * others / total
    return chain, t_near, t_far, rho, others, exits, dense, node_chain, node_t, step, node_step


def _with_shares_of_zero(ohm: FloatArray, chain: IntArray, block: IntArray, chains: int) -> FloatArray:
    """Resistances with which ways of 0 Ω side by side share equally, as in ``unit_flows``."""
    rho = np.bincount(chain, weights=ohm, minlength=chains)
    block_of = np.zeros(chains, dtype=np.int64)
    block_of[chain] = block
    bare = rho == 0.0
    bare_paths = np.bincount(block_of[bare], minlength=int(block_of.max(initial=0)) + 1)
    several = bare & (bare_paths[block_of] > 1)
    return np.where(several[chain], EQUAL_SHARE_OHM, ohm)


def _others(rho: FloatArray, block: IntArray) -> FloatArray:
    """Resistance of all other ways of the same block together, by way; sums are built up, never subtracted."""
    order = np.argsort(block, kind="stable")
    sorted_block = block[order]
    with np.errstate(divide="ignore"):
        siemens = np.where(rho[order] > 0.0, 1.0 / rho[order], 0.0)
    bare = rho[order] == 0.0
    start = np.concatenate([[True], sorted_block[1:] != sorted_block[:-1]])
    group = np.cumsum(start) - 1
    size = np.bincount(group)
    rest = np.zeros(len(rho))
    bare_rest = np.zeros(len(rho), dtype=np.bool_)
    for width in np.unique(size).tolist():
        some = np.flatnonzero(size[group] == width).reshape(-1, width)
        values, zeros = siemens[some], bare[some]
        before = np.concatenate([np.zeros((len(some), 1)), np.cumsum(values, axis=1)[:, :-1]], axis=1)
        after = np.concatenate(
            [np.cumsum(values[:, ::-1], axis=1)[:, ::-1][:, 1:], np.zeros((len(some), 1))], axis=1
        )
        rest[some] = before + after
        bare_rest[some] = (zeros.sum(axis=1)[:, None] - zeros) > 0
    found = np.empty(len(rho))
    with np.errstate(divide="ignore"):
        found[order] = np.where(bare_rest, 0.0, 1.0 / rest)
    return found


def _dense(a: IntArray, b: IntArray, ohm: FloatArray, members: IntArray, label: int, entry: int) -> DenseBlock:
    """A block by loop analysis (``unit_flows``), which has no trouble with 0 Ω."""
    nodes = np.unique(np.concatenate([a[members], b[members]]))
    nodes = nodes[nodes != entry]
    if len(nodes) > LARGEST_MATRIX:
        ones = np.zeros((len(members), 0))
        return DenseBlock(label, entry, members, nodes, ones, np.zeros(len(nodes)), False)
    local = {entry: 0} | {node: i for i, node in enumerate(nodes.tolist(), start=1)}
    count = len(members)
    inside = Branches(
        tuple(str(k) for k in members.tolist()),
        np.array([local[n] for n in a[members].tolist()]),
        np.array([local[n] for n in b[members].tolist()]),
        ohm[members],
        np.zeros(count),
        np.zeros(count, dtype=np.bool_),
        count,
    )
    flows = unit_flows(len(local), inside, np.ones(count, dtype=np.bool_))
    return DenseBlock(label, entry, members, nodes, flows.flow[:, 1:], np.diag(flows.fall_ohm)[1:].copy(), True)
