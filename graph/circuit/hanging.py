"""What hangs together: the connected groups of nodes."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import scipy.sparse as sp
from scipy.sparse.csgraph import connected_components

IntArray = npt.NDArray[np.int64]

SMALL = 400
"""Up to so many nodes and links, plain steps are sooner done than a sparse matrix is made."""


def hang_together(count: int, a: IntArray, b: IntArray) -> IntArray:
    """(count,) number of the group of each node, with links from ``a`` to ``b``; by the first node of each."""
    if count + len(a) > SMALL:
        graph = sp.coo_array((np.ones(len(a)), (a, b)), shape=(count, count))
        return connected_components(graph, directed=False)[1].astype(np.int64)
    lower = list(range(count))  # a node of the same group with a lower number, or itself

    def lowest(node: int) -> int:
        while lower[node] != node:
            lower[node] = lower[lower[node]]
            node = lower[node]
        return node

    for one, other in zip(a.tolist(), b.tolist(), strict=True):
        first, last = sorted((lowest(one), lowest(other)))
        lower[last] = first
    groups: dict[int, int] = {}
    for n in range(count):
        lower[n] = lower[lower[n]]
    return np.array([groups.setdefault(n, len(groups)) for n in lower], dtype=np.int64)
