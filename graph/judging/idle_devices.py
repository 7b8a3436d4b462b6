"""Devices that stand in the feed of a fault and do nothing there: channels that are switched off or set to none.

Who reads that a wire is unprotected looks for the device before it. Where one is drawn and does not act, in this
arrangement or in any, that is the first thing to know.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cached_property
from itertools import pairwise

import networkx as nx

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import FaultRow

_ROOT = ("", "outputs")
_ALONG = re.compile(r":\d\.\d+$")


class IdleDevices:
    """The devices of a harness that do not act, by arrangement; looked for where they are asked for."""

    def __init__(self, facts: Facts) -> None:
        self._harness = facts.harness
        self._word = {case.id: case.arrangement for case in facts.cases}
        self._above: dict[str | None, Mapping[object, object]] = {}

    def in_feed(self, case: str | None, places: Iterable[str]) -> tuple[str, ...]:
        """Devices that do nothing in a case though all that any output feeds to some places comes through them; the
        nearest to the places first.

        A place is a joint, a part or load by id, or one as a fault row has it (``W7:0.50``, ``P1.1|P1.3``).
        """
        word = self._word.get(case or "")
        if not self._idle(word):
            return ()
        if word not in self._above:
            self._above[word] = _dominators(self._harness, word, self._idle(word))
        above = self._above[word]
        found: list[str] | None = None
        for joint in (joint for place in places for joint in self._joints(place) if joint in above):
            mine = list(_on_the_way(above, joint))
            found = mine if found is None else [name for name in found if name in mine]
        return tuple(found or ())

    def of_fault(self, case: str | None, fault: FaultRow | None) -> tuple[str, ...]:
        """Those in the feed of a fault."""
        return self.in_feed(case, (fault.at, fault.to)) if fault is not None else ()

    def always(self, name: str) -> bool:
        """Whether a device acts in no arrangement at all."""
        return all(name in self._idle(word) for word in set(self._word.values()))

    def _idle(self, word: str | None) -> frozenset[str]:
        return frozenset(d.id for d in self._harness.devices if d.fitted and not d.under(word).active)

    @cached_property
    def _ends(self) -> Mapping[str, tuple[str, ...]]:
        ends = {part.id: (part.node_a, part.node_b) for part in self._harness.two_ended}
        return ends | {load.id: (load.node_plus,) for load in self._harness.loads}

    def _joints(self, place: str) -> Iterable[str]:
        for name in place.split("|"):
            plain = _ALONG.sub("", name)
            yield from self._ends.get(plain, (plain,))


def _dominators(harness: Harness, word: str | None, idle: frozenset[str]) -> Mapping[object, object]:
    """By joint and idle device: the last one that every way from any output's plus terminal goes through."""
    graph = nx.DiGraph()
    graph.add_edges_from((_ROOT, output.node_plus) for output in harness.outputs if output.under(word).fitted)
    for part in harness.two_ended:
        if not part.fitted:
            continue
        joints: list[object] = [part.node_a, part.node_b]
        if part.id in idle:
            joints.insert(1, ("device", part.id))
        for one, other in pairwise(joints):
            graph.add_edge(one, other)
            graph.add_edge(other, one)
    if _ROOT not in graph:
        return {}
    found: Mapping[object, object] = dict(nx.immediate_dominators(graph, _ROOT))  # type: ignore[no-untyped-call]
    return found


def _on_the_way(above: Mapping[object, object], joint: object) -> Iterable[str]:
    here = joint
    while here != _ROOT:
        following = above.get(here, _ROOT)
        if following is None or following == here:
            return
        here = following
        if isinstance(here, tuple) and here[0] == "device":
            yield here[1]
