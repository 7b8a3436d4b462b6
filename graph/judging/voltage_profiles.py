"""The voltage along the path to a load: from the output's plus to the load, and from the load back to its minus.

In the state in which the load gets the least voltage. Of parallel paths the one is followed that carries most.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from loadloom.graph.circuit.solution import Solution
from loadloom.graph.facts.facts import Facts

MOST_LOADS = 2_000
"""Loads up to which profiles are made: they are for looking at, one by one."""


@dataclass(frozen=True, slots=True)
class ProfileStep:
    """A part on the path and the voltage in V behind it, against the output's minus. The first is the output."""

    part: str
    volts: float


Profiles = Mapping[str, tuple[ProfileStep, ...]]
"""By load: the output, the parts of the feed, the load (its minus), the parts of the return, the output again."""


def voltage_profiles(facts: Facts) -> Profiles:
    """The profile of every load that is fed; a load whose path is not followed to an output has none."""
    worst: dict[str, tuple[float, Solution]] = {}
    for solutions in facts.lowest.values():
        for solution in solutions:
            for load, k in solution.network.load_index.items():
                volts = float(solution.load_v[k])
                if load not in solution.unfed and (load not in worst or volts < worst[load][0]):
                    worst[load] = (volts, solution)
    if len(worst) > MOST_LOADS:
        return {}
    ways: dict[int, _Ways] = {}
    found = {}
    for load, (_, solution) in worst.items():
        if id(solution) not in ways:
            ways[id(solution)] = _Ways(solution)
        profile = ways[id(solution)].profile(load)
        if profile:
            found[load] = profile
    return found


class _Ways:
    """Which edge carries most into each node, and out of it."""

    def __init__(self, solution: Solution) -> None:
        self.solution = solution
        network = solution.network
        self.into: dict[int, list[tuple[float, int, int]]] = defaultdict(list)
        self.out_of: dict[int, list[tuple[float, int, int]]] = defaultdict(list)
        for k, current in enumerate(solution.edge_a.tolist()):
            if current == 0.0:
                continue
            start, end = int(network.edge_a[k]), int(network.edge_b[k])
            if current < 0.0:
                start, end = end, start
            self.into[end].append((abs(current), k, start))
            self.out_of[start].append((abs(current), k, end))
        giving = [s for s, current in enumerate(solution.source_a.tolist()) if current > 0.0]
        self.plus = {int(network.source_plus[s]): network.source_ids[s] for s in giving}
        self.minus = {int(network.source_minus[s]): network.source_ids[s] for s in giving}

    def profile(self, load: str) -> tuple[ProfileStep, ...]:
        """The steps, or none where the path does not end at an output both ways."""
        network, node_v = self.solution.network, self.solution.node_v
        k = network.load_index[load]
        feed = self._path(int(network.load_plus[k]), self.into, self.plus)
        back = self._path(int(network.load_minus[k]), self.out_of, self.minus)
        if feed is None or back is None:
            return ()
        zero = float(node_v[back[-1][1]])

        def volts(node: int) -> float:
            return float(node_v[node]) - zero

        steps = [ProfileStep(self.plus[feed[-1][1]], volts(feed[-1][1]))]
        # A feed was followed from the load to the output; each edge ends at the node that it was followed from.
        ends = [int(network.load_plus[k]), *(node for _, node in feed[1:])]
        steps += [
            ProfileStep(network.edge_ids[edge], volts(end))
            for (edge, _), end in zip(reversed(feed[1:]), reversed(ends[:-1]), strict=True)
        ]
        steps.append(ProfileStep(load, volts(int(network.load_minus[k]))))
        steps += [ProfileStep(network.edge_ids[edge], volts(node)) for edge, node in back[1:]]
        steps.append(ProfileStep(self.minus[back[-1][1]], 0.0))
        return tuple(steps)

    def _path(
        self, start: int, ways: Mapping[int, list[tuple[float, int, int]]], goals: Mapping[int, str]
    ) -> list[tuple[int, int]] | None:
        """Edges and the nodes that they lead to, from ``start`` (edge −1) to a goal; None where there is none."""
        path, seen = [(-1, start)], {start}
        while path[-1][1] not in goals:
            onward = [way for way in ways.get(path[-1][1], ()) if way[2] not in seen]
            if not onward:
                return None
            _, edge, node = max(onward)
            path.append((edge, node))
            seen.add(node)
        return path
