"""Blocks and bridges against networkx, an independent library."""

import networkx as nx
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from loadloom.graph.circuit.blocks import find_blocks

graphs = st.integers(1, 14).flatmap(
    lambda n: st.tuples(
        st.just(n),
        st.lists(st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)), max_size=30),
        st.integers(0, 99),
    )
)


@settings(max_examples=300, deadline=None)
@given(graphs)
def test_blocks_and_bridges(case: tuple[int, list[tuple[int, int]], int]):
    nodes, pairs, seed = case
    a = np.array([p for p, _ in pairs], dtype=np.int64)
    b = np.array([q for _, q in pairs], dtype=np.int64)
    keep = np.random.default_rng(seed).random(nodes) < 0.3
    blocks = find_blocks(nodes, a, b, np.ones(len(a), dtype=np.bool_), keep)

    graph: nx.Graph = nx.Graph()
    graph.add_nodes_from(range(nodes))
    graph.add_edges_from((p, q) for p, q in pairs if p != q)
    multiple = {frozenset(x) for x in pairs if sum(frozenset(y) == frozenset(x) for y in pairs) > 1}
    bridges = {frozenset(x) for x in nx.bridges(graph)} - multiple
    assert [bool(x) for x in blocks.bridge] == [frozenset(x) in bridges for x in pairs]

    of_edge = {
        frozenset(edge): k for k, edges in enumerate(nx.biconnected_component_edges(graph)) for edge in edges
    }
    theirs = [of_edge.get(frozenset(x), 1000 + k) for k, x in enumerate(pairs)]
    matches = set(zip(theirs, blocks.label.tolist(), strict=True))
    assert len(matches) == len({t for t, _ in matches}) == len({o for _, o in matches})

    for piece in nx.connected_components(graph):
        known = {int(blocks.piece[x]) for x in piece if blocks.piece[x] >= 0}
        assert len(known) == 1

    for k in np.flatnonzero(blocks.bridge).tolist():
        cut = graph.copy()
        cut.remove_edge(int(a[k]), int(b[k]))
        side = nx.node_connected_component(cut, int(blocks.below[k]))
        low, high = blocks.entry[blocks.below[k]], blocks.leave[blocks.below[k]]
        for node in range(nodes):
            if blocks.entry[node] >= 0:
                assert (low <= blocks.entry[node] < high) == (node in side)
