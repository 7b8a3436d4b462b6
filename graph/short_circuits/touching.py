"""Where short circuits can happen beyond a part of the return: only where the drawing lets two conductors touch.

Across a load and between the terminals of another output; between conductors of one cable or bundle, and between
contacts of one connector; and where a fed conductor touches the chassis, at every bond. Of the places behind one
device, the ones of the least and of the greatest loop resistance stand for all.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from loadloom.graph.circuit.network import Network
from loadloom.graph.model.harness import Harness
from loadloom.graph.structure.bodies import conductor_bodies, contact_bodies
from loadloom.graph.structure.paths import Paths
from loadloom.graph.structure.rails import Rails

Group = tuple[str, ...]
"""The nearest devices of a feed, which the places behind them have in common."""


class Pair(NamedTuple):
    """A short from a node of the feed to one of the return, in order of the loop's resistance in Ω."""

    ohm: float
    feed: int
    back: int


class Touching:
    """What can touch in one arrangement, by node of its network. ``bodies``: groups of nodes that can touch each
    other. ``fed``: nodes of rails at which conductors end, ``bonds`` nodes that are bonded to the chassis.
    ``rails``: pairs of pieces of copper, either way round, of which parts can touch.
    """

    def __init__(self, harness: Harness, network: Network, rails: Rails) -> None:
        at = network.node_index
        conductors, contacts = harness.conductors, harness.contacts
        found = [
            tuple(at[node] for k in body for node in (conductors[k].node_a, conductors[k].node_b))
            for body in conductor_bodies(harness)
        ]
        for body in contact_bodies(harness):
            found.append(tuple(at[contacts[k].node_a] for k in body))
            found.append(tuple(at[contacts[k].node_b] for k in body))
        self.bodies = tuple(tuple(dict.fromkeys(body)) for body in found)
        ends = dict.fromkeys(at[node] for each in conductors for node in (each.node_a, each.node_b))
        self.fed = tuple(node for node in ends if int(rails.island[node]) in rails.returns)
        self.bonds = tuple(dict.fromkeys(network.bond_nodes.tolist()))
        rails_of = [sorted({int(rails.island[node]) for node in body}) for body in self.bodies]
        self.rails = frozenset(pair for beside in rails_of for pair in itertools.permutations(beside, 2))

    def beyond(
        self,
        paths: Paths,
        feed: Paths,
        across: Iterable[tuple[int, int]],
        group_of: Callable[[int], Group],
    ) -> list[tuple[Pair, ...]]:
        """For every node of a return ``paths``: the shorts at it and beyond it that stand for all.

        ``across`` are pairs (node of the return, node of the feed) of loads and other outputs.
        """
        at: list[dict[Group, tuple[Pair, Pair]]] = [{} for _ in range(len(paths.above))]

        def add(back: int, nodes: Mapping[Group, Sequence[int]]) -> None:
            for group, some in nodes.items():
                pairs = [Pair(float(feed.ohm[node] + paths.ohm[back]), node, back) for node in some]
                _merge(at[back], group, min(pairs), max(pairs))

        for back, node in across:
            if paths.reaches(back) and feed.reaches(node):
                add(back, {group_of(node): (node,)})
        for body in self.bodies:
            returning = [node for node in body if paths.reaches(node)]
            feeding = [node for node in body if feed.reaches(node)]
            if returning and feeding:
                ends = _ends_of_groups(feeding, feed, group_of)
                for back in returning:
                    add(back, ends)
        bonds = [node for node in self.bonds if paths.reaches(node)]
        if bonds:
            ends = _ends_of_groups([node for node in self.fed if feed.reaches(node)], feed, group_of)
            for back in bonds:
                add(back, ends)
        for block in reversed(paths.blocks):
            inside: dict[Group, tuple[Pair, Pair]] = {}
            for node in block.inside:
                for group, (least, most) in at[node].items():
                    _merge(inside, group, least, most)
            if not block.is_bridge:
                # Whatever is shorted at one exit of a loop sends current round all of it.
                for node in block.inside:
                    at[node] = inside
            for group, (least, most) in inside.items():
                _merge(at[block.entry], group, least, most)
        return [tuple(dict.fromkeys(pair for ends in here.values() for pair in ends)) for here in at]


def _merge(into: dict[Group, tuple[Pair, Pair]], group: Group, least: Pair, most: Pair) -> None:
    known = into.get(group)
    into[group] = (least, most) if known is None else (min(known[0], least), max(known[1], most))


def _ends_of_groups(
    nodes: Iterable[int], feed: Paths, group_of: Callable[[int], Group]
) -> dict[Group, tuple[int, int]]:
    """Of the nodes behind the same devices, the nearest to the output and the furthest."""
    found: dict[Group, tuple[int, int]] = {}
    for node in nodes:
        group = group_of(node)
        near, far = found.get(group, (node, node))
        found[group] = (
            node if feed.ohm[node] < feed.ohm[near] else near,
            node if feed.ohm[node] > feed.ohm[far] else far,
        )
    return found
