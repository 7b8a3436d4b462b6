"""What of the copper matters to a dead short: the ways between the outputs and its two ends.

With the loads off, whatever hangs on those ways by a single joint carries nothing. In a harness of thousands of
conductors a short then concerns a few dozen of them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from loadloom.graph.network import IntArray, Network
from loadloom.graph.ways import BlockMap, Branches


class Skeleton:
    """The blocks of all copper, rooted at an output's terminal each, and those between the outputs.

    ``branches`` are the network's closed edges, as ``block_map`` has them.
    """

    def __init__(self, network: Network, branches: Branches, block_map: BlockMap) -> None:
        self.network = network
        self._ends = list(zip(branches.a.tolist(), branches.b.tolist(), strict=True))
        self._blocks = block_map
        self._edge = np.array([network.edge_index[name] for name in branches.ids], dtype=np.int64)
        self._above: dict[int, tuple[int, int]] = {}
        self._root: set[int] = set()
        terminals = dict.fromkeys((*network.source_plus.tolist(), *network.source_minus.tolist()))
        for node in terminals:
            if node not in self._above and node not in self._root:
                self._walk(node)
        self._between = {block for node in terminals for block in self._path(node)}

    def piece(self, *ends: int) -> tuple[Network, IntArray]:
        """What is between the outputs and these nodes, and the position (N,) of every node in it, -1 outside."""
        blocks = self._between.union(*(self._path(node) for node in ends))
        branches = [k for block in blocks for k in self._blocks.in_block[block]]
        edges = np.sort(self._edge[np.array(branches, dtype=np.int64)])
        n = self.network
        inside = np.zeros(len(n.node_ids), dtype=np.bool_)
        for nodes in (n.edge_a[edges], n.edge_b[edges], n.source_plus, n.source_minus, np.array(ends)):
            inside[nodes] = True
        position: IntArray = np.where(inside, np.cumsum(inside) - 1, -1).astype(np.int64)
        none_f, none_i = np.zeros(0), np.zeros(0, dtype=np.int64)
        small = replace(
            n,
            node_ids=tuple(n.node_ids[k] for k in np.flatnonzero(inside).tolist()),
            edge_ids=tuple(n.edge_ids[k] for k in edges.tolist()),
            edge_a=position[n.edge_a[edges]],
            edge_b=position[n.edge_b[edges]],
            edge_resistance_ohm=n.edge_resistance_ohm[edges],
            edge_drop_v=n.edge_drop_v[edges],
            edge_diode=n.edge_diode[edges],
            source_plus=position[n.source_plus],
            source_minus=position[n.source_minus],
            load_ids=(),
            load_plus=none_i,
            load_minus=none_i,
            load_kind=none_i,
            load_demand=none_f,
        )
        return small, position

    def _walk(self, root: int) -> None:
        """Note for every node that hangs together with a root which block leads to it, and where it is entered."""
        self._root.add(root)
        seen: set[int] = set()
        queue = [root]
        while queue:
            entry = queue.pop()
            for block in self._blocks.at_node[entry]:
                if block in seen:
                    continue
                seen.add(block)
                for node in {node for k in self._blocks.in_block[block] for node in self._ends[k]} - {entry}:
                    self._above[node] = (block, entry)
                    queue.append(node)

    def _path(self, node: int) -> list[int]:
        found = []
        while node in self._above:
            block, node = self._above[node]
            found.append(block)
        return found
