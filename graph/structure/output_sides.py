"""From which side of a joint an output is reached: one walk over the copper answers for every joint."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from loadloom.graph.model.elements import TwoEnded
from loadloom.graph.model.harness import Harness

ROOT = ""
"""Stands for all terminals of outputs together; no joint has an empty name."""


class OutputSides:
    """The copper seen from the terminals of all outputs at once.

    A walk in depth numbers every joint when it is first reached; ``_last`` is the greatest number behind it, and
    ``_least`` the least number that what lies behind it is joined to (Hopcroft and Tarjan, 1973). Behind a joint is
    cut off without it what is joined to nothing before it.
    """

    def __init__(self, harness: Harness) -> None:
        self._ends: dict[str, list[TwoEnded]] = {}
        links: dict[str, list[str]] = {ROOT: []}
        for element in harness.two_ended:
            if element.fitted:
                for here, there in ((element.node_a, element.node_b), (element.node_b, element.node_a)):
                    links.setdefault(here, []).append(there)
                for node in dict.fromkeys((element.node_a, element.node_b)):
                    self._ends.setdefault(node, []).append(element)
        terminals = (n for o in harness.outputs if o.fitted for n in (o.node_plus, o.node_minus))
        for node in dict.fromkeys(terminals):
            links[ROOT].append(node)
            links.setdefault(node, []).append(ROOT)
        self._first: dict[str, int] = {}
        self._last: dict[str, int] = {}
        self._least: dict[str, int] = {}
        self._children: dict[str, list[str]] = {}
        self._walk(links)

    def ends(self, node: str) -> Iterable[TwoEnded]:
        """The fitted two-ended parts at a joint."""
        return self._ends.get(node, ())

    def reached_without(self, node: str, far: str) -> bool:
        """Whether ``far``, next to ``node``, is joined to a terminal of an output by a path without ``node``."""
        if node == far or node not in self._first or far not in self._first:
            return False
        at = self._first[far]
        for child in self._children.get(node, ()):
            if self._first[child] <= at <= self._last[child]:
                return self._least[child] < self._first[node]
        return True

    def _walk(self, links: Mapping[str, list[str]]) -> None:
        stack: list[tuple[str, str | None, Iterator[str]]] = []

        def enter(node: str, above: str | None) -> None:
            self._first[node] = self._least[node] = len(self._first)
            stack.append((node, above, iter(links[node])))

        enter(ROOT, None)
        while stack:
            node, above, rest = stack[-1]
            following = next(rest, None)
            if following is None:
                stack.pop()
                self._last[node] = len(self._first) - 1
                if above is not None:
                    self._least[above] = min(self._least[above], self._least[node])
            elif following not in self._first:
                self._children.setdefault(node, []).append(following)
                enter(following, node)
            elif following != above:
                self._least[node] = min(self._least[node], self._first[following])
