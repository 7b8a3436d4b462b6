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

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Blocks:
    """Depth-first structure of a multigraph with N nodes and B branches.

    ``label`` (B,): block of every branch, -1 for a branch left out. ``bridge`` (B,). ``piece`` (N,): connected
    piece of every node. ``entry`` and ``leave`` (N,): a node's subtree is the nodes with ``entry`` in
    [``entry[node]``, ``leave[node]``). ``below`` (B,): for a bridge the node on its far side from the root of
    its piece, else -1. ``root`` (N,): root of the node's piece.
    """

    label: IntArray
    count: int
    bridge: BoolArray
    piece: IntArray
    entry: IntArray
    leave: IntArray
    below: IntArray


def find_blocks(nodes: int, end_a: IntArray, end_b: IntArray, present: BoolArray) -> Blocks:
    """Blocks and bridges of the multigraph of the branches that are ``present``.

    A branch with both ends on one node is a block of its own and no bridge.
    """
    loop = present & (end_a == end_b)
    used = np.flatnonzero(present & ~loop)
    start, neighbour, branch = _adjacency(nodes, end_a, end_b, used)
    entry = [-1] * nodes
    leave = [0] * nodes
    low = [0] * nodes
    piece = [0] * nodes
    above = [-1] * nodes
    through = [-1] * nodes
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
            if at[node] < start[node + 1]:
                k = at[node]
                at[node] = k + 1
                other = neighbour[k]
                if entry[other] < 0:
                    through[other] = branch[k]
                    above[other] = node
                    entry[other] = low[other] = clock
                    piece[other] = pieces
                    order.append(other)
                    clock += 1
                    node = other
                elif entry[other] < low[node] and branch[k] != through[node]:
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
    of_node = [-1] * nodes
    count = 0
    for node in order:
        parent = above[node]
        if parent < 0:
            continue
        if low[node] >= entry[parent]:
            of_node[node] = count
            count += 1
        else:
            of_node[node] = of_node[parent]

    entry_array = np.array(entry, dtype=np.int64)
    label = np.full(len(end_a), -1, dtype=np.int64)
    deeper = np.where(entry_array[end_a[used]] > entry_array[end_b[used]], end_a[used], end_b[used])
    label[used] = np.array(of_node, dtype=np.int64)[deeper]
    label[loop] = count + np.arange(int(loop.sum()))
    size = np.bincount(label[used], minlength=count)
    bridge = np.zeros(len(end_a), dtype=np.bool_)
    bridge[used] = size[label[used]] == 1
    below = np.full(len(end_a), -1, dtype=np.int64)
    below[used] = np.where(bridge[used], deeper, -1)
    return Blocks(
        label=label,
        count=count + int(loop.sum()),
        bridge=bridge,
        piece=np.array(piece, dtype=np.int64),
        entry=entry_array,
        leave=np.array(leave, dtype=np.int64),
        below=below,
    )


def _adjacency(
    nodes: int, end_a: IntArray, end_b: IntArray, used: IntArray
) -> tuple[list[int], list[int], list[int]]:
    """Row starts, neighbours and branch numbers of every node, as lists (faster to step through)."""
    tail = np.concatenate([end_a[used], end_b[used]])
    head = np.concatenate([end_b[used], end_a[used]])
    which = np.concatenate([used, used])
    order = np.argsort(tail, kind="stable")
    start = np.zeros(nodes + 1, dtype=np.int64)
    np.cumsum(np.bincount(tail, minlength=nodes), out=start[1:])
    return start.tolist(), head[order].tolist(), which[order].tolist()
