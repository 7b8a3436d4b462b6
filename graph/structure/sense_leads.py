"""Remote sense: which parts only lead to a sense terminal, and where they join the copper that carries the load."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import networkx as nx

from loadloom.graph.model.elements import Output
from loadloom.graph.model.harness import Harness


@dataclass(frozen=True, slots=True)
class SenseLead:
    """The lead from a sense terminal of an output to the copper of its own terminal.

    ``plus``: the side. ``joint`` is the sense terminal's, ``terminal`` the output's own on that side. ``parts``
    lead to the sense terminal only, in order from it; they carry nothing in load state. ``tap`` is the joint where
    they end, None where that side of the output is not reached. ``main`` is the part nearest to the terminal that
    alone joins it with the tap; None where there is none, as where the terminal itself is sensed. ``held``: the
    joints of the tap and beyond it, which never get more than the voltage that is held there.
    """

    output: str
    plus: bool
    joint: str
    terminal: str
    parts: tuple[str, ...]
    tap: str | None
    main: str | None
    held: frozenset[str] = frozenset()


def sense_leads(harness: Harness, word: str | None) -> tuple[SenseLead, ...]:
    """Every sense lead of the fitted outputs in an arrangement."""
    outputs = [output for output in (o.under(word) for o in harness.outputs) if output.fitted]
    if not any(o.sense_plus is not None or o.sense_minus is not None for o in outputs):
        return ()
    copper: nx.MultiGraph = nx.MultiGraph()
    for part in (e.under(word) for e in harness.two_ended):
        if part.fitted and part.node_a != part.node_b:
            copper.add_edge(part.node_a, part.node_b, key=part.id)
    busy = {bond.node for bond in harness.chassis}
    busy |= {node for o in outputs for node in (o.node_plus, o.node_minus)}
    busy |= {node for load in harness.loads if load.fitted for node in (load.node_plus, load.node_minus)}
    found = []
    for output in outputs:
        for plus, joint in ((True, output.sense_plus), (False, output.sense_minus)):
            if joint is not None:
                found.append(_lead(copper, busy, output, plus, joint))
    return tuple(found)


def _lead(copper: nx.MultiGraph, busy: set[str], output: Output, plus: bool, joint: str) -> SenseLead:
    terminal = output.node_plus if plus else output.node_minus
    if joint == terminal:
        return SenseLead(output.id, plus, joint, terminal, (), terminal, None, _held(copper, terminal, terminal))
    if terminal not in _reached(copper, joint):
        return SenseLead(output.id, plus, joint, terminal, (), None, None)
    path = nx.shortest_path(copper, joint, terminal)
    parts: list[str] = []
    tap, main = joint, None
    leading = True
    for near, far in itertools.pairwise(path):
        alone = _only_part(copper, near, far)
        if leading and alone is not None and not busy & _reached(copper, near, part=alone):
            parts.append(alone)
            tap = far
            continue
        leading = False
        if alone is not None:
            main = alone
    return SenseLead(output.id, plus, joint, terminal, tuple(parts), tap, main, _held(copper, tap, terminal))


def _held(copper: nx.MultiGraph, tap: str, terminal: str) -> frozenset[str]:
    """The joints that hang together with the terminal through the tap only, the tap included."""
    whole = _reached(copper, tap)
    if tap == terminal:
        return whole
    return whole - _reached(copper, terminal, without=tap)


def _reached(copper: nx.MultiGraph, start: str, *, part: str = "", without: str = "") -> frozenset[str]:
    """The joints that hang together with one, save through a part or through a joint."""
    seen, todo = {start}, [start]
    while todo:
        here = todo.pop()
        for _, there, key in copper.edges(here, keys=True) if here in copper else ():
            if key != part and there != without and there not in seen:
                seen.add(there)
                todo.append(there)
    return frozenset(seen)


def _only_part(copper: nx.MultiGraph, near: str, far: str) -> str | None:
    """The part between two joints, where nothing else joins what lies on its two sides."""
    keys = list(copper[near][far])
    if len(keys) != 1 or far in _reached(copper, near, part=str(keys[0])):
        return None
    return str(keys[0])
