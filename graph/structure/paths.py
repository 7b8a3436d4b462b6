"""The ways from one terminal of an output through its piece of copper: resistance, shares and order.

Seen from a root, a piece of copper is a tree of blocks (``blocks``): a current that enters at the root and
leaves at a node runs through the blocks between them and no other, and redistributes only inside a block. So
the resistance from the root adds up block by block, a bridge carries the whole current, and inside a block the
shares follow from its own nodal matrix, which is small, however large the harness. This is exact for the
resistances given. Beyond a diode that blocks what comes from the root there is no way; a diode that is one of
several parallel paths counts as conducting.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import scipy.sparse
import scipy.sparse.linalg

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.network import FloatArray, IntArray, Network

BoolArray = npt.NDArray[np.bool_]

LEAST_OHM = 1e-9
"""Stands in for 0 Ω inside a block, so that parts of 0 Ω in parallel share equally."""

COLUMNS_AT_ONCE = 512


@dataclass(frozen=True)
class Branches:
    """Branches of a network that conduct, as arrays: ids, ends (node numbers) and resistances in Ω."""

    ids: tuple[str, ...]
    a: IntArray
    b: IntArray
    ohm: FloatArray
    drop_v: FloatArray
    diode: BoolArray

    @classmethod
    def of(cls, network: Network) -> Branches:
        """All branches that are not open."""
        used = np.flatnonzero(np.isfinite(network.edge_resistance_ohm))
        return cls(
            tuple(network.edge_ids[k] for k in used),
            network.edge_a[used],
            network.edge_b[used],
            network.edge_resistance_ohm[used],
            network.edge_drop_v[used],
            network.edge_diode[used],
        )


@dataclass(frozen=True)
class BlockMap:
    """Which block every branch is in, and which branches every node and block has."""

    nodes: int
    label: IntArray
    at_node: tuple[tuple[int, ...], ...]
    in_block: Mapping[int, tuple[int, ...]]

    @classmethod
    def of(cls, nodes: int, branches: Branches) -> BlockMap:
        """Find the blocks of all branches at once; roots share them."""
        label = find_blocks(nodes, branches.a, branches.b, np.ones(len(branches.a), dtype=np.bool_)).label
        in_block: dict[int, list[int]] = {}
        at_node: list[dict[int, None]] = [{} for _ in range(nodes)]
        for k, (block, a, b) in enumerate(
            zip(label.tolist(), branches.a.tolist(), branches.b.tolist(), strict=True)
        ):
            in_block.setdefault(block, []).append(k)
            at_node[a][block] = None
            at_node[b][block] = None
        return cls(
            nodes,
            label,
            tuple(tuple(blocks) for blocks in at_node),
            {block: tuple(ks) for block, ks in in_block.items()},
        )


@dataclass(frozen=True)
class Block:
    """One block, entered from the root's side at ``entry``.

    ``branches`` are positions in ``Branches``; ``exits`` the nodes at which current can leave it for other
    blocks or terminals. ``shares``: for each branch the magnitude of its share of a current that leaves at
    each exit, shape (branches, exits).
    """

    entry: int
    branches: tuple[int, ...]
    inside: tuple[int, ...]
    exits: tuple[int, ...]
    shares: FloatArray

    @property
    def is_bridge(self) -> bool:
        """A single branch: it carries everything."""
        return len(self.branches) == 1

    @cached_property
    def greatest_share(self) -> FloatArray:
        """Each branch's greatest share over all exits; 0 where nothing can leave."""
        if not self.exits:
            return np.zeros(len(self.branches))
        worst: FloatArray = self.shares.max(axis=1)
        return worst


@dataclass(frozen=True)
class Paths:
    """A piece of copper seen from ``root`` (a node number).

    ``blocks`` in order away from the root. By node number: ``ohm`` from the root, ``drop_v`` of diodes on the
    way (bridges only), ``above`` the block that leads to it (-1 at the root); NaN and -2 where the root does
    not reach. By branch position: ``far_node`` the end further from the root (-1 not reached), ``far_share``
    the branch's share of a current that leaves there.
    """

    root: int
    blocks: tuple[Block, ...]
    ohm: FloatArray
    drop_v: FloatArray
    above: IntArray
    far_node: IntArray
    far_share: FloatArray

    def reaches(self, node: int) -> bool:
        """Whether the root is joined to a node."""
        return bool(self.above[node] != -2)

    def path(self, node: int) -> Iterator[Block]:
        """The blocks from a node back to the root."""
        while (block := self.above[node]) >= 0:
            yield self.blocks[block]
            node = self.blocks[block].entry

    def parent(self, node: int) -> int:
        """The node at which the block above a node is entered; the root is its own parent."""
        block = int(self.above[node])
        return node if block < 0 else self.blocks[block].entry


def find_paths(
    branches: Branches, blocks: BlockMap, root: int, terminals: Iterable[int], *, outward: bool
) -> Paths:
    """Walk a piece of copper from a root, along the current (``outward``, the feed) or against it (the return).

    ``terminals`` are nodes at which current can leave the copper (loads, outputs): with the nodes shared by
    two blocks they are the exits of blocks.
    """
    leaving = set(terminals)
    ohm = np.full(blocks.nodes, np.nan)
    drop_v = np.full(blocks.nodes, np.nan)
    above = np.full(blocks.nodes, -2, dtype=np.int64)
    far_node = np.full(len(branches.a), -1, dtype=np.int64)
    far_share = np.zeros(len(branches.a))
    ohm[root], drop_v[root], above[root] = 0.0, 0.0, -1
    found: list[Block] = []
    ends_a, ends_b = branches.a.tolist(), branches.b.tolist()
    seen: set[int] = set()
    queue = [root]
    while queue:
        entry = queue.pop()
        for number in blocks.at_node[entry]:
            if number in seen:
                continue
            seen.add(number)
            members = blocks.in_block[number]
            inside: tuple[int, ...]
            exits: tuple[int, ...]
            if len(members) == 1:
                k = members[0]
                node = ends_b[k] if ends_a[k] == entry else ends_a[k]
                if node == entry:
                    continue  # both ends on one joint: nothing drives a current through it
                if branches.diode[k] and (ends_a[k] == entry) != outward:
                    continue
                inside = (node,)
                exits = (node,) if node in leaving or len(blocks.at_node[node]) > 1 else ()
                shares = np.ones((1, len(exits)))
                ohm[node] = ohm[entry] + branches.ohm[k]
                drop_v[node] = drop_v[entry] + branches.drop_v[k]
                far_node[k], far_share[k] = node, 1.0
            else:
                local = dict.fromkeys(n for k in members for n in (ends_a[k], ends_b[k]))
                inside = tuple(n for n in local if n != entry)
                exits = tuple(n for n in inside if n in leaving or len(blocks.at_node[n]) > 1)
                shares = _inside_block(branches, members, entry, inside, exits, ohm, far_node, far_share)
                for node in inside:
                    drop_v[node] = drop_v[entry]
            for node in inside:
                above[node] = len(found)
                queue.append(node)
            found.append(Block(entry, members, inside, exits, shares))
    return Paths(root, tuple(found), ohm, drop_v, above, far_node, far_share)


def _inside_block(
    branches: Branches,
    members: tuple[int, ...],
    entry: int,
    inside: tuple[int, ...],
    exits: tuple[int, ...],
    ohm: FloatArray,
    far_node: IntArray,
    far_share: FloatArray,
) -> FloatArray:
    """Fill in a block's resistances and far ends; returns its shares (branches, exits)."""
    position = {node: i for i, node in enumerate(inside)}
    which = np.array(members, dtype=np.int64)
    head = np.array([position.get(n, -1) for n in branches.a[which].tolist()], dtype=np.int64)
    tail = np.array([position.get(n, -1) for n in branches.b[which].tolist()], dtype=np.int64)
    siemens = 1.0 / np.maximum(branches.ohm[which], LEAST_OHM)
    factor = scipy.sparse.linalg.splu(nodal_matrix(len(inside), head, tail, siemens))
    exit_at = {position[n]: j for j, n in enumerate(exits)}
    shares = np.zeros((len(members), len(exits)))
    own_flow = np.zeros((len(members), 2))
    for first in range(0, len(inside), COLUMNS_AT_ONCE):
        columns = np.arange(first, min(first + COLUMNS_AT_ONCE, len(inside)))
        unit = np.zeros((len(inside), len(columns)))
        unit[columns, np.arange(len(columns))] = 1.0
        # One more row of zeros: the entry, at potential 0, is node -1.
        z = np.vstack([factor.solve(unit), np.zeros(len(columns))])
        for j, column in enumerate(range(first, first + len(columns))):
            ohm[inside[column]] = ohm[entry] + z[column, j]
            if column in exit_at:
                shares[:, exit_at[column]] = np.abs(siemens * (z[head, j] - z[tail, j]))
        for end, nodes in enumerate((head, tail)):
            mine = (nodes >= first) & (nodes < first + len(columns))
            own = nodes[mine] - first
            own_flow[mine, end] = np.abs(siemens[mine] * (z[head[mine], own] - z[tail[mine], own]))
    nodes_a, nodes_b = branches.a[which], branches.b[which]
    a_is_far = ohm[nodes_a] > ohm[nodes_b]
    far_node[which] = np.where(a_is_far, nodes_a, nodes_b)
    far_share[which] = np.where(a_is_far, own_flow[:, 0], own_flow[:, 1])
    return shares


def nodal_matrix(nodes: int, head: IntArray, tail: IntArray, siemens: FloatArray) -> scipy.sparse.csc_matrix:
    """Nodal conductance matrix (nodes, nodes) in S of branches between numbered nodes; -1 is the reference."""
    rows, columns, values = [], [], []
    for one, other in ((head, tail), (tail, head)):
        here = one >= 0
        rows.append(one[here])
        columns.append(one[here])
        values.append(siemens[here])
        both = here & (other >= 0)
        rows.append(one[both])
        columns.append(other[both])
        values.append(-siemens[both])
    return scipy.sparse.csc_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=(nodes, nodes)
    )
