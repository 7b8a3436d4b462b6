"""Groups of nodes that hang together, held against scipy's own search."""

import random

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.sparse.csgraph import connected_components

from loadloom.graph.circuit.hanging import hang_together


@pytest.mark.parametrize("seed", range(40))
def test_groups_and_their_numbers_are_those_of_scipy(seed: int) -> None:
    rng = random.Random(seed)
    count = rng.choice((1, 2, 7, 30, 150, 900))
    links = rng.randrange(0, 2 * count)
    a, b = (np.array([rng.randrange(count) for _ in range(links)], dtype=np.int64) for _ in range(2))
    graph = sp.coo_array((np.ones(links), (a, b)), shape=(count, count))
    assert hang_together(count, a, b).tolist() == connected_components(graph, directed=False)[1].tolist()
