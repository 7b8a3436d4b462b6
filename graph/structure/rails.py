"""Rails: the pieces of copper of an arrangement as drawn, which of them is the reference, and what a conductor of
each of the others can touch anywhere.

A frame and a return are never far: a conductor that is not on the reference can touch the return terminals of the
outputs that feed it, and the chassis, anywhere along its length. Every other two conductors can touch only where
they share a cable, a bundle or a connector.

The reference is the copper that is bonded to the chassis. Without a bond it is the copper of the outputs' minus
terminals. Outputs in series leave a choice then: the copper that every load is joined to, the lowest first; where
no copper has all loads, each that has any is tried, since the drawing does not say which one is the frame.

Seen from a rail, the return terminals are those of every output between it and the reference: of the upper of two
batteries in series, its own minus terminal and that of the lower one, whatever else feeds the rail beside them. A
rail below the reference, the negative one of a supply of plus and minus, has plus terminals for its return.

All of it follows from the arrangement before anything has opened, so that a fault is at the same place whatever
opens because of it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.hanging import hang_together
from loadloom.graph.circuit.network import CHASSIS_NODE, BoolArray, IntArray, Network


@dataclass(frozen=True)
class Rails:
    """``island`` (N,): the piece of copper of every node of a network, outputs taken out. ``returns``: for every
    island that is not the reference, the nodes that its conductors can touch anywhere.
    """

    island: IntArray
    returns: Mapping[int, tuple[int, ...]]

    def at(self, nodes: IntArray) -> Rails:
        """The rails of some of the nodes, numbered in the order given."""
        position = {node: n for n, node in enumerate(nodes.tolist())}
        island = self.island[nodes]
        here = set(island.tolist())
        kept = {
            rail: tuple(position[node] for node in found if node in position)
            for rail, found in self.returns.items()
            if rail in here
        }
        return Rails(island, {rail: found for rail, found in kept.items() if found})


@dataclass(frozen=True, slots=True)
class _Step:
    """An output between two islands, with the terminal that it has on each."""

    plus: int
    minus: int
    plus_node: int
    minus_node: int


def find_rails(network: Network) -> Rails:
    """The rails of a network in which nothing has opened."""
    count = len(network.node_ids)
    closed = np.isfinite(network.edge_resistance_ohm)
    island = hang_together(count, network.edge_a[closed], network.edge_b[closed])
    steps = [
        _Step(int(island[plus]), int(island[minus]), plus, minus)
        for plus, minus in zip(network.source_plus.tolist(), network.source_minus.tolist(), strict=True)
        if island[plus] != island[minus]  # else shorted by copper, which is a finding of its own
    ]
    fed = {side for step in steps for side in (step.plus, step.minus)}
    rail_of = _rails_behind_open_parts(network, island, closed, fed)
    loads = [
        (rail_of(int(island[plus])), rail_of(int(island[minus])))
        for plus, minus in zip(network.load_plus.tolist(), network.load_minus.tolist(), strict=True)
    ]
    bonded = {int(island[node]) for node in network.bond_nodes.tolist()}
    chassis = next((n for n, name in enumerate(network.node_ids) if name == CHASSIS_NODE), None)
    found: dict[int, dict[int, None]] = defaultdict(dict)
    for piece in _hanging_together(steps):
        inside = {side for step in piece for side in (step.plus, step.minus)}
        own = [(plus | minus) & inside for plus, minus in loads if plus & inside and minus & inside]
        for reference in _references(piece, own, bonded & inside):
            for rail, nodes in _returns(piece, reference).items():
                found[rail].update(dict.fromkeys(nodes))
                if chassis is not None and island[chassis] in reference:
                    found[rail][chassis] = None
    return Rails(island, {rail: tuple(nodes) for rail, nodes in sorted(found.items())})


def _rails_behind_open_parts(
    network: Network, island: IntArray, closed: BoolArray, fed: set[int]
) -> Callable[[int], frozenset[int]]:
    """The islands with outputs that an island is part of, or would be with the open switches on the way closed: a
    load that a relay parts from its rail is a load of that rail all the same.
    """
    beside: dict[int, dict[int, None]] = defaultdict(dict)
    for a, b in zip(
        island[network.edge_a[~closed]].tolist(), island[network.edge_b[~closed]].tolist(), strict=True
    ):
        if a != b:
            beside[a][b] = None
            beside[b][a] = None

    def rails(start: int) -> frozenset[int]:
        seen, here = {start}, [start]
        while here and not fed & set(here):
            here = [n for n in dict.fromkeys(m for each in here for m in beside[each]) if n not in seen]
            seen.update(here)
        return frozenset(fed & set(here))

    return rails


def _hanging_together(steps: Sequence[_Step]) -> list[list[_Step]]:
    """The outputs by the galvanic piece that they are in."""
    numbers = {
        side: n for n, side in enumerate(dict.fromkeys(s for step in steps for s in (step.plus, step.minus)))
    }
    ends = np.array([(numbers[step.plus], numbers[step.minus]) for step in steps], dtype=np.int64).reshape(-1, 2)
    group = hang_together(len(numbers), ends[:, 0], ends[:, 1])
    pieces: dict[int, list[_Step]] = defaultdict(list)
    for step in steps:
        pieces[int(group[numbers[step.plus]])].append(step)
    return list(pieces.values())


def _references(piece: Sequence[_Step], loads: Sequence[frozenset[int]], bonded: set[int]) -> list[frozenset[int]]:
    """What may be the reference of a piece: islands that are it together, more than one entry where it is open.
    ``loads``: the islands that each load is joined to.
    """
    if bonded:
        return [frozenset(bonded)]
    minus, plus = {step.minus for step in piece}, {step.plus for step in piece}
    if not minus & plus:
        return [frozenset(minus)]
    lowest = minus - plus
    joined_to_all = frozenset[int].intersection(*loads) if loads else frozenset()
    if joined_to_all:
        # Of the two sides of all loads it is the lowest, else one that an output has its minus terminal on.
        one = joined_to_all & lowest or joined_to_all & minus or joined_to_all
        return [frozenset([each]) for each in sorted(one)]
    with_loads = {side for sides in loads for side in sides}
    # One that nothing is drawn from or to is no frame; the uppermost is one only where the drawing says so.
    open_ones = sorted((with_loads & minus) | lowest) or sorted(minus)
    return [frozenset([each]) for each in open_ones]


def _returns(piece: Sequence[_Step], reference: Iterable[int]) -> dict[int, list[int]]:
    """For every island, the terminals of all outputs between it and the reference, on the side of the reference.

    These are the outputs on every way that leads on from plus to minus, or on from minus to plus; and those on the
    shortest ways, for an island that is reached by some of each.
    """
    away = dict.fromkeys(reference, 0)
    order = list(away)
    beside: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for step in piece:
        beside[step.plus].append((step.minus, step.minus_node))
        beside[step.minus].append((step.plus, step.plus_node))
    for here in order:
        for there, _ in beside[here]:
            if there not in away:
                away[there] = away[here] + 1
                order.append(there)
    found: dict[int, dict[int, None]] = {}
    for here in order:
        if not away[here]:
            continue
        nodes: dict[int, None] = {}
        for there, terminal in beside[here]:
            if away[there] < away[here]:
                nodes[terminal] = None
                nodes.update(found.get(there, {}))
        found[here] = nodes
    down = [(step.plus, step.minus, step.minus_node) for step in piece]
    up = [(step.minus, step.plus, step.plus_node) for step in piece]
    for ways in (down, up):
        for here, terminals in _onward(ways, [each for each in away if not away[each]]).items():
            found[here].update(dict.fromkeys(terminals))
    return {here: list(nodes) for here, nodes in found.items()}


def _onward(ways: Sequence[tuple[int, int, int]], reference: Sequence[int]) -> dict[int, list[int]]:
    """By island, the terminals on the ways (from, to, terminal at its end) that lead on to the reference."""
    leading = dict.fromkeys(reference)
    for here in (todo := list(leading)):
        for start, end, _ in ways:
            if end == here and start not in leading:
                leading[start] = None
                todo.append(start)
    found: dict[int, list[int]] = {}
    for island in leading:
        if island in reference:
            continue
        seen, terminals = {island}, dict[int, None]()
        for here in (todo := [island]):
            for start, end, terminal in ways:
                if start == here and end in leading and here not in reference:
                    terminals[terminal] = None
                    if end not in seen:
                        seen.add(end)
                        todo.append(end)
        found[island] = list(terminals)
    return found
