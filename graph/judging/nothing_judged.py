"""What a harness lacks before anything in it can be judged: its source, its load, its conductor, or a current."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import networkx as nx

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Conductor, ConductorKind, Contact, Element, Load, Output, TwoEnded
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import natural_key, some_of

LEAST_CURRENT_A = 1e-9
"""A smaller current is none: what rounding leaves in a conductor that carries nothing."""

NAMED = 5
"""Parts that a sentence names."""


def has_source(harness: Harness) -> bool:
    """Whether any output is fitted and has a voltage, as drawn or in an arrangement."""
    return any(_gives(output) for output in harness.outputs)


def first_lack(facts: Facts) -> str | None:
    """What is missing first for anything to be judged, in words; None where a conductor carries a current."""
    harness = facts.harness
    outputs, loads = harness.outputs, harness.loads
    conductors = [c for c in harness.conductors if _is_ever_fitted(c)]
    if not outputs:
        return "the drawing has no output"
    if not any(_is_ever_fitted(output) for output in outputs):
        return f"the only {_count(outputs, 'output')}, {_named(outputs)}, {_are(outputs)} not fitted"
    if not has_source(harness):
        return f"the voltage of {_named(outputs)} is not known"
    if not loads:
        return "the drawing has no load"
    if not any(load.fitted for load in loads):
        return f"the only {_count(loads, 'load')}, {_named(loads)}, {_are(loads)} not fitted"
    if not any(_asks(load) for load in loads):
        return f"what {_named(loads)} {'takes' if len(loads) == 1 else 'take'} is not known"
    if not conductors:
        return "the drawing has no wire, no cable core and no net that is read as a wire"
    if not any(_carries(facts, output) for output in outputs):
        return "no load gets current from any output in any load case"
    if not any(_carries(facts, part) for part in (*conductors, *harness.contacts)):
        return "no conductor lies between an output and a load"
    return None


def islands_without_source(harness: Harness) -> Iterator[tuple[TwoEnded, ...]]:
    """The conductors and contacts of every piece of the drawing that holds no source, in natural order.

    Left out are spare cores and contacts, and pieces with a load (``load-unfed`` names it) or a chassis bond (its
    conductors wait for a fault to the chassis).
    """
    joined: nx.Graph = nx.Graph()
    parts = [part for part in harness.two_ended if _is_ever_fitted(part)]
    joined.add_edges_from((part.node_a, part.node_b) for part in parts)
    joined.add_edges_from((output.node_plus, output.node_minus) for output in harness.outputs if _gives(output))
    fitted = [load for load in harness.loads if load.fitted]
    joined.add_edges_from((load.node_plus, load.node_minus) for load in fitted)
    told = {output.node_plus for output in harness.outputs if _gives(output)}
    told |= {load.node_plus for load in fitted} | {bond.node for bond in harness.chassis}
    for nodes in nx.connected_components(joined):
        if told & nodes:
            continue
        here = [p for p in parts if p.node_a in nodes and isinstance(p, Conductor | Contact)]
        if any(isinstance(p, Conductor) and p.kind is not ConductorKind.CORE for p in here):
            yield tuple(sorted(here, key=lambda part: natural_key(part.id)))


def _gives(output: Output) -> bool:
    return any(there.fitted and there.voltage_v is not None for there in output.variants())


def _asks(load: Load) -> bool:
    return load.fitted and any(there.demand for there in load.variants())


def _is_ever_fitted(part: TwoEnded | Output) -> bool:
    return any(there.fitted for there in part.variants())


def _carries(facts: Facts, part: Element) -> bool:
    currents = facts.currents.get(part.id)
    return currents is not None and any(a > LEAST_CURRENT_A for a in currents.peak_a.values())


def _named(parts: Iterable[Element]) -> str:
    return some_of([part.id for part in parts], NAMED)


def _count(parts: tuple[Element, ...], noun: str) -> str:
    return noun if len(parts) == 1 else f"{noun}s"


def _are(parts: tuple[Element, ...]) -> str:
    return "is" if len(parts) == 1 else "are"
