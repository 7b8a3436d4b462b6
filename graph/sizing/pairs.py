"""The feed that a return belongs to, and why both have different sizes.

A return carries what its feed brings, so that both get one size unless a number says otherwise: other loads whose
current comes back through it, faults that reach one of them only, the voltage that is left, a size that is fixed.
Who orders the wire looks for that number.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import networkx as nx

from loadloom.graph.model.figures import figures
from loadloom.graph.model.harness import Harness
from loadloom.graph.sizing.advice import SizeRow

_ROOT = ("", "outputs")

GOVERNS_VOLTAGE = "voltage at the load"
"""How a size that a load's least voltage governs begins to say so."""


def feeds_of_returns(harness: Harness) -> dict[str, str]:
    """The feed of every return, by conductor id, where there is one and the same set of loads behind both.

    Of several in series the ones nearest to the loads are each other's. Conductors with another one in parallel,
    and those in rings, have no partner of their own.
    """
    plus = [output.node_plus for output in harness.outputs if output.fitted]
    minus = [output.node_minus for output in harness.outputs if output.fitted]
    loads = [load for load in harness.loads if load.fitted]
    feeds = _in_series(harness, plus, {load.id: load.node_plus for load in loads})
    returns = _in_series(harness, minus, {load.id: load.node_minus for load in loads})
    found: dict[str, str] = {}
    for behind, backs in returns.items():
        found |= {back: feed for back, feed in zip(backs, feeds.get(behind, ()), strict=False) if back != feed}
    return found


def _in_series(
    harness: Harness, roots: Iterable[str], loads: Mapping[str, str]
) -> Mapping[frozenset[str], Sequence[str]]:
    """By the loads behind them: the conductors that all of these need, the nearest to the loads first."""
    graph = nx.DiGraph()
    graph.add_edges_from((_ROOT, root) for root in roots)
    for part in (part for part in harness.two_ended if part.fitted):
        middle = ("part", part.id)
        for one, other in ((part.node_a, middle), (middle, part.node_b)):
            graph.add_edge(one, other)
            graph.add_edge(other, one)
    if _ROOT not in graph:
        return {}
    above = dict(nx.immediate_dominators(graph, _ROOT))  # type: ignore[no-untyped-call]
    wires = {conductor.id for conductor in harness.conductors}
    behind: dict[str, set[str]] = {}
    ways: dict[str, list[str]] = {}
    for load, joint in loads.items():
        here: object = joint
        while here in above and here != _ROOT and above[here] != here:
            here = above[here]
            if isinstance(here, tuple) and here[0] == "part" and here[1] in wires:
                behind.setdefault(here[1], set()).add(load)
                ways.setdefault(load, []).append(here[1])
    found: dict[frozenset[str], Sequence[str]] = {}
    for way in ways.values():
        for name in way:
            group = frozenset(behind[name])
            found.setdefault(group, [other for other in way if behind[other] == group])
    return found


def other_size_words(back: SizeRow, feed: SizeRow) -> str:
    """Why a return is proposed in another size than its feed; empty where both have the same."""
    if back.proposed == feed.proposed or back.area_mm2 is None or feed.area_mm2 is None:
        return ""
    than = "thicker" if back.area_mm2 > feed.area_mm2 else "thinner"
    said = f"; {than} than its feed {feed.id} of {feed.proposed}"
    for row, what in ((back, "it"), (feed, "the feed")):
        if row.governed_by == "not sized":
            return f"{said}, since {what} is not sized: {row.why}"
    numbers = [
        f"{figures(one)} A of {what} against {figures(other)} A"
        for what, one, other in (
            ("load", back.current_a, feed.current_a),
            ("sustained fault current", back.sustained_fault_a, feed.sustained_fault_a),
        )
        if one is not None and other is not None and abs(one - other) > 0.005 * max(one, other)
    ]
    governed = f"it is governed by {back.governed_by}, the feed by {feed.governed_by}"
    if back.governed_by == feed.governed_by:
        governed = "each is the thinnest that does"
        if back.governed_by.startswith(GOVERNS_VOLTAGE):
            governed = f"for the {back.governed_by} it is enough that one of the two is thicker"
    return f"{said}: {governed}" + (f"; {', '.join(numbers)}" if numbers else "")
