"""A piece of copper fed at one joint, seen from there: a tree of blocks, with what every block does to a current.

The way out is rooted at the plus terminal of every output, the way back at the common minus terminal. A bridge
carries all that is drawn behind it. A block of ways side by side between two joints ("plain") has a closed
form: with the ampere drawn at distance t (Ω) along a way of total resistance rho, and all other ways together
``others``, the share (rho - t + others) / (rho + others) comes from the near side and t / (rho + others) from
the far side. Every other block is answered by its own small nodal matrix.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate

import numpy as np
import scipy.sparse as sp
from scipy.sparse.csgraph import breadth_first_order

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.uneven_ways import uneven_ways
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
    from a to b per ampere drawn at a node, in each mixture of the bands; ``ohm`` (nodes,): from the entry to it.
    ``known`` false: too large.
    """

    label: int
    entry: int
    branches: IntArray
    nodes: IntArray
    share: tuple[FloatArray, ...]
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
    resistance, ``others`` of the other ways together. With ``_most``: the same at the greatest of their bands. By
    block: ``entry``, ``exit`` (far joint of a plain block,
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
    t_near_most: FloatArray
    t_far_most: FloatArray
    node_t_most: FloatArray
    rho_most: FloatArray
    others_most: FloatArray
    step: IntArray
    node_step: IntArray
    dense: tuple[DenseBlock, ...]

    @cached_property
    def plain(self) -> BoolArray:
        """(E,) branches of plain blocks."""
        return self.chain >= 0

    # What a way takes at the worst of the bands: see ``uneven_ways``.

    def passing(self, chain: IntArray) -> FloatArray:
        """The most of what passes their block that some ways can take."""
        others = self.others_most[chain]
        found: FloatArray = others / (self.rho[chain] + others)
        return found

    def direct(self, chain: IntArray, t: FloatArray, t_most: FloatArray) -> FloatArray:
        """The most of an ampere drawn at t on some ways that comes from the near side."""
        rest = self.rho_most[chain] - t_most + self.others_most[chain]
        found: FloatArray = rest / (t + rest)
        return found

    def along(self, chain: IntArray, t: FloatArray, t_most: FloatArray) -> FloatArray:
        """The most of the way that lies before t on some ways, as a share of its resistance; all of one of 0 Ω."""
        whole = t_most + self.rho[chain] - t
        found: FloatArray = np.where(whole > 0.0, t_most / np.where(whole > 0.0, whole, 1.0), 1.0)
        return found

    def around(self, chain: IntArray, t: FloatArray, t_most: FloatArray) -> FloatArray:
        """The most of it that comes from the far side."""
        found: FloatArray = t_most / (t_most + self.rho[chain] - t + self.others[chain])
        return found


def radial_tree(
    node_count: int, branches: Branches, roots: IntArray, leaving: BoolArray, most_ohm: FloatArray
) -> RadialTree:
    """Root the copper of a piece at ``roots``, one for each of its islands.

    ``leaving`` (N,): nodes at which a load draws. Every node must hang on exactly one of the roots. ``most_ohm``
    (E,): greatest resistances, which bear on how ways side by side share a current.
    """
    count = branches.edge_count
    a, b, ohm = branches.a[:count], branches.b[:count], branches.resistance_ohm[:count].copy()
    blocks = find_blocks(node_count, a, b, np.ones(count, dtype=np.bool_))
    used, numbers = np.unique(blocks.label, return_inverse=True)
    label = numbers.astype(np.int64)
    place = _places(node_count, a, b, roots)
    near = np.where(place[a] <= place[b], a, b)
    first = np.full(len(used), np.iinfo(np.int64).max)
    np.minimum.at(first, label, place[near])
    order = np.empty(node_count, dtype=np.int64)
    order[place] = np.arange(node_count)
    entry = order[first]
    above = np.full(node_count, -1, dtype=np.int64)
    for end in (a, b):
        below = end != entry[label]
        above[end[below]] = label[below]
    parent = np.where(above >= 0, entry[above], np.arange(node_count))
    root, above_root = np.arange(node_count), parent.copy()
    while not (above_root == root).all():
        root, above_root = above_root, above_root[above_root]
    tree = RadialTree(
        node_count=node_count,
        root=root,
        parent=parent,
        above=above,
        ohm_in=np.zeros(node_count),
        label=label,
        bridge=blocks.bridge,
        near=near,
        far=a + b - near,
        chain=np.full(count, -1, dtype=np.int64),
        t_near=np.zeros(count),
        t_far=np.zeros(count),
        rho=np.zeros(0),
        others=np.zeros(0),
        entry=entry,
        exit=np.full(len(used), -1, dtype=np.int64),
        node_chain=np.full(node_count, -1, dtype=np.int64),
        node_t=np.zeros(node_count),
        t_near_most=np.zeros(count),
        t_far_most=np.zeros(count),
        node_t_most=np.zeros(node_count),
        rho_most=np.zeros(0),
        others_most=np.zeros(0),
        step=np.zeros(count, dtype=np.int64),
        node_step=np.zeros(node_count, dtype=np.int64),
        dense=(),
    )
    tree.ohm_in[tree.far[tree.bridge]] = ohm[tree.bridge]
    goes_on = leaving.copy()
    goes_on[entry] = True
    return _with_loops(tree, a, b, ohm, np.maximum(most_ohm, ohm), place, goes_on)


def _with_loops(
    tree: RadialTree,
    a: IntArray,
    b: IntArray,
    ohm: FloatArray,
    most: FloatArray,
    place: IntArray,
    goes_on: BoolArray,
) -> RadialTree:
    """Measure the blocks that are no bridges. ``goes_on`` (N,): nodes at which something leaves.

    A block is plain if at most one of its joints, but for its entry, is more than a point of a way.
    """
    inside: dict[int, list[int]] = {}
    for k, label in zip(np.flatnonzero(~tree.bridge).tolist(), tree.label[~tree.bridge].tolist(), strict=True):
        inside.setdefault(label, []).append(k)
    ends_a, ends_b, more, own, top = a.tolist(), b.tolist(), goes_on.tolist(), ohm.tolist(), most.tolist()
    rho: list[float] = []
    others: list[float] = []
    rho_most: list[float] = []
    others_most: list[float] = []
    dense: list[DenseBlock] = []
    along: list[tuple[int, int, int, int, int, float, float, float, float]] = []
    for label, members in inside.items():
        entry = int(tree.entry[label])
        at: dict[int, list[tuple[int, int]]] = {}
        for k in members:
            at.setdefault(ends_a[k], []).append((k, ends_b[k]))
            at.setdefault(ends_b[k], []).append((k, ends_a[k]))
        joints = [n for n in at if n != entry and (len(at[n]) > 2 or more[n])]
        if len(joints) > 1:
            block = _dense(a, b, ohm, most, np.array(members), label, entry)
            tree.ohm_in[block.nodes] = block.ohm
            dense.append(block)
            continue
        # A ring with nothing at it: any node of it will do as its far joint.
        leave = joints[0] if joints else max((n for n in at if n != entry), key=lambda n: int(place[n]))
        tree.exit[label] = leave
        ways = [[first] for first in at[entry]]
        for way in ways:
            while way[-1][1] != leave:
                k, node = way[-1]
                way.append(next(step for step in at[node] if step[0] != k))
        # Ways of 0 Ω side by side share equally, as in ``unit_flows``.
        bare = [way for way in ways if not any(own[k] for k, _ in way)]
        for k in (k for way in bare for k, _ in way) if len(bare) > 1 else ():
            own[k] = EQUAL_SHARE_OHM
            top[k] = max(top[k], EQUAL_SHARE_OHM)
        whole = [sum(own[k] for k, _ in way) for way in ways]
        whole_most = [sum(top[k] for k, _ in way) for way in ways]
        for number, way in enumerate(ways, start=len(rho)):
            node, t, t_most = entry, 0.0, 0.0
            for step, (k, far) in enumerate(way, start=1):
                along.append((k, node, far, number, step, t, t + own[k], t_most, t_most + top[k]))
                node, t, t_most = far, t + own[k], t_most + top[k]
        rho += whole
        others += _others(whole)
        rho_most += whole_most
        others_most += _others(whole_most)
    back, beside = np.array(rho), np.array(others)
    if along:
        some = np.array([row[0] for row in along])
        tree.near[some], tree.far[some], tree.chain[some], tree.step[some] = np.array([row[1:5] for row in along]).T
        tree.t_near[some], tree.t_far[some] = np.array([row[5:7] for row in along]).T
        tree.t_near_most[some], tree.t_far_most[some] = np.array([row[7:] for row in along]).T
        tree.node_chain[tree.far[some]], tree.node_step[tree.far[some]] = tree.chain[some], tree.step[some]
        tree.node_t[tree.far[some]], tree.node_t_most[tree.far[some]] = tree.t_far[some], tree.t_far_most[some]
        total, t = (back + beside)[tree.chain[some]], tree.t_far[some]
        tree.ohm_in[tree.far[some]] = t * (total - t) / total
        joint = tree.exit[tree.exit >= 0]
        tree.node_chain[joint], tree.node_step[joint], tree.node_t[joint] = -1, 0, 0.0
    return replace(
        tree,
        rho=back,
        others=beside,
        rho_most=np.array(rho_most),
        others_most=np.array(others_most),
        dense=tuple(dense),
    )


def _others(ohm: list[float]) -> list[float]:
    """Resistance of all other ways together, by way; sums are built up, never subtracted."""
    siemens = [1.0 / each if each > 0.0 else math.inf for each in ohm]
    before = list(accumulate(siemens, initial=0.0))
    after = list(accumulate(reversed(siemens), initial=0.0))[::-1]
    return [1.0 / (one + other) for one, other in zip(before[:-1], after[1:], strict=True)]


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


def _dense(
    a: IntArray, b: IntArray, ohm: FloatArray, most: FloatArray, members: IntArray, label: int, entry: int
) -> DenseBlock:
    """A block by loop analysis (``unit_flows``), which has no trouble with 0 Ω."""
    nodes = np.unique(np.concatenate([a[members], b[members]]))
    nodes = nodes[nodes != entry]
    if len(nodes) > LARGEST_MATRIX:
        ones = np.zeros((len(members), 0))
        return DenseBlock(label, entry, members, nodes, (ones,), np.zeros(len(nodes)), False)
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
    every, none = np.ones(count, dtype=np.bool_), np.zeros(count, dtype=np.bool_)
    attached = np.ones(len(local), dtype=np.bool_)
    greatest = np.maximum(most, ohm)[members]
    ways = uneven_ways(inside, len(local), every, none, ohm[members], greatest, attached, (0,))
    # One block is one loop, with its branches in their order; without a band it is none.
    share = tuple(each[:, 1:] for each in ways.mixed(flows.flow) or (flows.flow,))
    return DenseBlock(label, entry, members, nodes, share, np.diag(flows.fall_ohm)[1:].copy(), True)
