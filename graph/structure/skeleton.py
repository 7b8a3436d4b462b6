"""What of the copper matters to a short circuit: the paths between the outputs and its two ends.

With the loads off, whatever hangs on those paths by a single joint carries nothing. In a harness of thousands of
conductors a short then concerns a few dozen of them.
"""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.network import IntArray, Network, between
from loadloom.graph.structure.paths import BlockMap, Branches


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
        edges = self._edge[np.array(branches, dtype=np.int64)]
        return between(self.network, edges, np.array(ends, dtype=np.int64))

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
