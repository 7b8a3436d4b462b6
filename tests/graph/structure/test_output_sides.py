"""From which side of a joint an output is reached: against networkx with the joint taken out."""

import random

import networkx as nx
import pytest
from wired import harness, output, wire

from loadloom.graph.structure.output_sides import OutputSides


@pytest.mark.parametrize("seed", range(40))
def test_against_taking_the_joint_out(seed: int) -> None:
    rng = random.Random(seed)
    names = [f"n{k}" for k in range(rng.randint(3, 14))]
    pairs = [rng.choices(names, k=2) for _ in range(rng.randint(2, 22))]
    wires = [wire(f"W{k}", a, b, ohm=0.01) for k, (a, b) in enumerate(pairs)]
    outputs = [output(f"PS{k}", *rng.sample(names, 2)) for k in range(rng.randint(1, 2))]
    drawn = harness(*outputs, *wires)
    sides = OutputSides(drawn)
    graph = nx.MultiGraph([(w.node_a, w.node_b) for w in drawn.conductors])
    terminals = {n for o in outputs for n in (o.node_plus, o.node_minus)}
    graph.add_nodes_from(terminals)
    for node in graph:
        left = graph.subgraph(set(graph) - {node})
        for far in set(graph[node]) - {node}:
            reached = bool(nx.node_connected_component(left, far) & terminals)
            assert sides.reached_without(node, far) is reached, (node, far)
        assert {e.id for e in sides.ends(node)} == {w.id for w in wires if node in (w.node_a, w.node_b)}
