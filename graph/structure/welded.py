"""Switches, contactors and transistors that are closed when they should be open.

A contact that has made or broken too much welds, a transistor fails short more often than open, and a switch is
closed by a hand (common practice, no published source). So an open one is never credited with protecting what lies
behind it: whatever is searched for faults is searched with it closed as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import networkx as nx

from loadloom.graph.circuit.network import CHASSIS_NODE
from loadloom.graph.model.elements import Switch
from loadloom.graph.model.harness import Harness


def welded(harness: Harness, word: str | None) -> Iterator[Harness]:
    """The harness with each switch that is open in an arrangement closed by itself, and with all of them closed.

    The poles of one contactor weld one by one and together. All closed at once is more than one fault; it is the
    arrangement that the switches are there for, and stands for it where no case has it. Where none of them closes a
    loop, all closed is the one state that counts: what lies behind one has the same way to the sources as with that
    one closed alone, and loads elsewhere may draw nothing.
    """
    is_open = [s for s in harness.switches if s.welds and not s.under(word).fitted]
    every = tuple(switch.id for switch in is_open)
    if len(every) > 1 and not _close_a_loop(harness, word, is_open):
        yield _closed(harness, every)
        return
    groups: dict[tuple[str, ...], None] = {(switch.id,): None for switch in is_open}
    for part in dict.fromkeys(switch.part for switch in is_open):
        groups[tuple(switch.id for switch in is_open if switch.part == part)] = None
    if is_open:
        groups[every] = None
    for closed in groups:
        yield _closed(harness, closed)


def _close_a_loop(harness: Harness, word: str | None, is_open: Sequence[Switch]) -> bool:
    """Whether any of some open switches, all closed, is part of a loop of copper, outputs and chassis."""
    copper: nx.MultiGraph = nx.MultiGraph()
    copper.add_nodes_from(harness.graph)
    for part in harness.two_ended:
        if part.under(word).fitted or part in is_open:
            copper.add_edge(part.node_a, part.node_b, part.id)
    for output in harness.outputs:
        if output.under(word).fitted:
            copper.add_edge(output.node_plus, output.node_minus, output.id)
    for bond in harness.chassis:
        copper.add_edge(bond.node, CHASSIS_NODE, bond.id)
    plain: nx.Graph = nx.Graph(copper)
    bridges = {frozenset(ends) for ends in nx.bridges(plain)}
    return any(
        frozenset((s.node_a, s.node_b)) not in bridges or copper.number_of_edges(s.node_a, s.node_b) > 1
        for s in is_open
    )


def _closed(harness: Harness, ids: tuple[str, ...]) -> Harness:
    def shut(switch: Switch) -> Switch:
        return replace(switch, fitted=True, by_word=_shut_words(switch)) if switch.id in ids else switch

    return replace(harness, switches=tuple(shut(switch) for switch in harness.switches))


def _shut_words(switch: Switch) -> dict[str, dict[str, object]]:
    """What differs by arrangement, but for whether the switch is open."""
    return {
        word: {name: value for name, value in changes.items() if name != "fitted"}
        for word, changes in switch.by_word.items()
    }
