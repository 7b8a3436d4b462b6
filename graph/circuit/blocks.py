"""Structure of a multigraph for the solve: bridges, blocks and which side of a bridge a node is on.

A *block* is a maximal set of branches in which any two lie on a common cycle; a *bridge* is a block of one
branch. Both are found by the lowpoint method of depth-first search (J. Hopcroft, R. Tarjan, "Algorithm 447:
efficient algorithms for graph manipulation", CACM 16 (1973) 372), never from rounded numbers. The search is
our own loop over arrays, since general graph classes cost more than the solve at 100,000 branches.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loadloom.graph.circuit.hanging import hang_together

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Blocks:
    """Depth-first structure of a multigraph with N nodes and B branches.

    ``label`` (B,): block of every branch, -1 for a branch left out. ``bridge`` (B,). ``piece`` (N,): connected
    piece of every node. ``entry`` and ``leave`` (N,): a node's subtree is the nodes with ``entry`` in
    [``entry[node]``, ``leave[node]``); both are -1 for nodes passed over as mere points of a chain. ``below``
    (B,): for a bridge the kept node on its far side from the root of its piece, else -1.
    """

    label: IntArray
    count: int
    bridge: BoolArray
    piece: IntArray
    entry: IntArray
    leave: IntArray
    below: IntArray


def find_blocks(
    nodes: int, end_a: IntArray, end_b: IntArray, present: BoolArray, keep: BoolArray | None = None
) -> Blocks:
    """Blocks and bridges of the multigraph of the branches that are ``present``.

    Nodes that merely join two branches are passed over in the search, except those of ``keep`` (N,). A branch
    with both ends on one node is a block of its own and no bridge.
    """
    used = np.flatnonzero(present)
    a, b = end_a[used], end_b[used]
    kept, chain = _contract(nodes, a, b, np.zeros(nodes, dtype=np.bool_) if keep is None else keep)
    tail, head = _chain_ends(a, b, kept, chain)
    compact = np.cumsum(kept) - 1
    search = _search(int(kept.sum()), compact[tail], compact[head])

    loop = tail == head
    deeper = np.where(search.entry[compact[tail]] > search.entry[compact[head]], tail, head)
    chain_label = search.block[compact[deeper]]
    chain_label[loop] = search.blocks + np.arange(int(loop.sum()))
    label = np.full(len(end_a), -1, dtype=np.int64)
    label[used] = chain_label[chain]

    # In a block of one chain that is no loop, every branch of the chain is a bridge.
    chains_of = np.bincount(chain_label, minlength=search.blocks + int(loop.sum()))
    bridge_chain = (chains_of[chain_label] == 1) & ~loop
    bridge = np.zeros(len(end_a), dtype=np.bool_)
    bridge[used] = bridge_chain[chain]
    below = np.full(len(end_a), -1, dtype=np.int64)
    below[used] = np.where(bridge[used], deeper[chain], -1)
    count = search.blocks + int(loop.sum())
    extra = bridge[used] & (np.bincount(chain)[chain] > 1) if len(used) else bridge[used]
    label[used[extra]] = count + np.arange(int(extra.sum()))  # each bridge of a chain is a block by itself

    entry, leave, piece = (np.full(nodes, -1, dtype=np.int64) for _ in range(3))
    entry[kept], leave[kept], piece[kept] = search.entry, search.leave, search.piece
    chain_piece = piece[tail]
    piece[a], piece[b] = chain_piece[chain], chain_piece[chain]
    return Blocks(label, count + int(extra.sum()), bridge, piece, entry, leave, below)


def _contract(nodes: int, a: IntArray, b: IntArray, keep: BoolArray) -> tuple[BoolArray, IntArray]:
    """Nodes kept (N,), and the chain of every branch: branches joined by nodes that are passed over."""
    count = len(a)
    degree = np.bincount(np.concatenate([a, b]), minlength=nodes)
    kept = keep | (degree != 2)
    kept[a[a == b]] = True
    while True:
        ends = np.concatenate([a, b])
        order = np.argsort(ends, kind="stable")
        pairs = (order[~kept[ends[order]]] % max(count, 1)).reshape(-1, 2)
        if not count:
            return kept, np.zeros(0, dtype=np.int64)
        chain = hang_together(count, pairs[:, 0], pairs[:, 1])
        ended = np.zeros(int(chain.max()) + 1, dtype=np.bool_)
        ended[chain[kept[a] | kept[b]]] = True
        if ended.all():
            return kept, chain
        first = np.unique(chain, return_index=True)[1][~ended]  # a ring: one node has to stay
        kept[a[first]] = True


def _chain_ends(a: IntArray, b: IntArray, kept: BoolArray, chain: IntArray) -> tuple[IntArray, IntArray]:
    """The two kept nodes at the ends of every chain."""
    ends = np.concatenate([a, b])
    owner = np.concatenate([chain, chain])
    last = kept[ends]
    order = np.argsort(owner[last], kind="stable")
    pair = ends[last][order].reshape(-1, 2)
    return pair[:, 0], pair[:, 1]


@dataclass(frozen=True)
class _Search:
    """``block`` (N,): block of the tree branch into a node."""

    entry: IntArray
    leave: IntArray
    piece: IntArray
    block: IntArray
    blocks: int


def _search(nodes: int, tail: IntArray, head: IntArray) -> _Search:
    """Depth-first search. Parallel branches are searched as one: they share their block with each other, and
    whether there are several changes no lowpoint that counts.
    """
    start, neighbour = _adjacency(nodes, tail, head)
    entry = [-1] * nodes
    leave = [0] * nodes
    low = [0] * nodes
    piece = [0] * nodes
    above = [-1] * nodes
    order: list[int] = []
    at = list(start[:-1])
    clock = 0
    pieces = 0
    for root in range(nodes):
        if entry[root] >= 0:
            continue
        entry[root] = low[root] = clock
        piece[root] = pieces
        order.append(root)
        clock += 1
        node = root
        while True:
            k = at[node]
            if k < start[node + 1]:
                at[node] = k + 1
                other = neighbour[k]
                if entry[other] < 0:
                    above[other] = node
                    entry[other] = low[other] = clock
                    piece[other] = pieces
                    order.append(other)
                    clock += 1
                    node = other
                elif entry[other] < low[node]:
                    low[node] = entry[other]
            else:
                leave[node] = clock
                parent = above[node]
                if parent < 0:
                    break
                if low[node] < low[parent]:
                    low[parent] = low[node]
                node = parent
        pieces += 1

    # The tree branch into a node opens a new block where nothing below it reaches past the node above.
    block = [-1] * nodes
    blocks = 0
    for node in order:
        parent = above[node]
        if parent < 0:
            continue
        if low[node] >= entry[parent]:
            block[node] = blocks
            blocks += 1
        else:
            block[node] = block[parent]
    return _Search(
        entry=np.array(entry, dtype=np.int64),
        leave=np.array(leave, dtype=np.int64),
        piece=np.array(piece, dtype=np.int64),
        block=np.array(block, dtype=np.int64),
        blocks=blocks,
    )


def _adjacency(nodes: int, tail: IntArray, head: IntArray) -> tuple[list[int], list[int]]:
    """Row starts and neighbours of every node, each once, as lists (faster to step through than arrays)."""
    low, high = np.minimum(tail, head), np.maximum(tail, head)
    pairs = np.unique((low * nodes + high)[low != high])
    low, high = pairs // max(nodes, 1), pairs % max(nodes, 1)
    origin = np.concatenate([low, high])
    target = np.concatenate([high, low])
    order = np.argsort(origin, kind="stable")
    start = np.zeros(nodes + 1, dtype=np.int64)
    np.cumsum(np.bincount(origin, minlength=nodes), out=start[1:])
    return start.tolist(), target[order].tolist()
