"""The lowest voltages at loads where not all resistances at their greatest is what leaves a load the least.

In a ring or mesh, between joined outputs, or in a return that outputs of opposite sign share, what other loads draw
may flow through a part against the way in which the load's own current would: the less resistance the part has
then, the further the load's voltage is pulled down.
How a voltage follows one resistance R is known from one solve with an ampere drawn at the load, y the current of
that in the part and i what flows: dV/dR = -y · i (the network is reciprocal, as in any book on circuits). So for
every load each resistance is put to the end at which it takes the most, and that of the greatest effect alone as
well, and again at the states so found, until nothing changes: from all at their greatest, and from all at their
least. Every state that is told is one that the bands allow; one that is worse still is not ruled out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.network import BoolArray, FloatArray, Network
from loadloom.graph.circuit.sensitivity import load_voltages_by_ohm
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.model.figures import NOISE

MOST_ROUNDS = 8
"""Times that the ends are chosen anew; an assumption says where more was to be had."""

MOST_STATES = 100
"""Mixtures of a network that are solved; with more left, those found count, which an assumption says."""

MOST_LOADS = 400
"""Loads of a network beyond which all resistances at their greatest alone count, which an assumption says."""

WORTH = 1e-6
"""Share of a load's voltage by which a mixture has to promise to lower it."""


@dataclass(frozen=True)
class MixedLows:
    """``states`` in which some load gets less than with all resistances at their greatest; ``cut``: a budget kept
    mixtures from being solved that promised to leave some load still less.
    """

    states: tuple[Solution, ...] = ()
    cut: bool = False


def mixed_lows(lowest: Solution, least_ohm: FloatArray, solved: Callable[[FloatArray], Solution]) -> MixedLows:
    """The states in which some load gets less than in ``lowest``, at lowest voltages and greatest resistances.

    ``least_ohm`` (E,): the least resistance of every edge; ``solved`` solves the network at resistances (E,).
    """
    network = lowest.network
    most_ohm = network.edge_resistance_ohm
    banded = np.isfinite(most_ohm) & (most_ohm > least_ohm)
    count = len(network.load_ids)
    if not count or not (banded & _has_another_way(network)).any():
        return MixedLows()
    if count > MOST_LOADS:
        return MixedLows(cut=True)
    climb = _Climb(lowest, least_ohm, banded, solved)
    greatest = np.zeros(len(banded), dtype=np.bool_)
    first = climb.better(greatest, range(count))
    # Loads that are worst off with all at their greatest, as nearly all are, are asked no further.
    waiting: dict[bytes, list[int]] = {banded.tobytes(): sorted({k for loads in first.values() for k in loads})}
    for key, loads in first.items():
        waiting.setdefault(key, []).extend(k for k in loads if k not in waiting[key])
    for _ in range(MOST_ROUNDS if first else 0):
        following: dict[bytes, list[int]] = {}
        for key, loads in waiting.items():
            for other, some in climb.better(np.frombuffer(key, dtype=np.bool_), loads).items():
                following.setdefault(other, []).extend(some)
        waiting = following
    least_v = lowest.load_v - WORTH * np.abs(lowest.load_v)
    states = [state for state in climb.states.values() if (state.load_v < least_v).any()]
    return MixedLows(tuple(states), climb.cut or (bool(first) and climb.has_new(waiting)))


class _Climb:
    """The mixtures of a network that were solved, by which edges (E,) are at their least. ``cut``: one was not."""

    def __init__(
        self, lowest: Solution, least_ohm: FloatArray, banded: BoolArray, solved: Callable[[FloatArray], Solution]
    ) -> None:
        self.most_ohm, self.least_ohm, self._solved = lowest.network.edge_resistance_ohm, least_ohm, solved
        self.span_ohm = np.subtract(self.most_ohm, least_ohm, out=np.zeros(len(banded)), where=banded)
        self.states = {np.zeros(len(banded), dtype=np.bool_).tobytes(): lowest}
        self.cut = False
        self._asked: set[tuple[bytes, int]] = set()

    def has_new(self, waiting: Mapping[bytes, Iterable[int]]) -> bool:
        """Whether any load of these mixtures was not asked there yet."""
        return any((key, k) not in self._asked for key, loads in waiting.items() for k in loads)

    def better(self, turned: BoolArray, loads: Iterable[int]) -> dict[bytes, list[int]]:
        """The mixtures that promise to lower the voltage at some of the loads, with those loads, from the one in
        which the edges ``turned`` are at their least.
        """
        key = turned.tobytes()
        asked = [k for k in dict.fromkeys(loads) if (key, k) not in self._asked]
        if not asked:
            return {}
        if key not in self.states and len(self.states) >= MOST_STATES:
            self.cut = True
            return {}
        self._asked.update((key, k) for k in asked)
        if key not in self.states:
            self.states[key] = self._solved(np.where(turned, self.least_ohm, self.most_ohm))
        here = self.states[key]
        by_ohm = load_voltages_by_ohm(here, np.array(asked, dtype=np.int64))
        found: dict[bytes, list[int]] = {}
        if by_ohm is None:
            return found
        # Of those at their least it is asked what the greatest would do.
        gain_v = np.where(turned, -by_ohm, by_ohm) * self.span_ohm
        for k, row in zip(asked, gain_v, strict=True):
            better = row > NOISE * abs(float(here.load_v[k]))
            if float(row[better].sum()) > WORTH * abs(float(here.load_v[k])):
                one = np.arange(len(row)) == row.argmax()
                for other in dict.fromkeys([(turned ^ better).tobytes(), (turned ^ one).tobytes()]):
                    found.setdefault(other, []).append(k)
        return found


def _has_another_way(network: Network) -> BoolArray:
    """(E,) all edges where several outputs feed, else those in loops: in others current always flows one way."""
    if len(network.source_ids) > 1:
        return np.ones(len(network.edge_ids), dtype=np.bool_)
    closed = np.isfinite(network.edge_resistance_ohm)
    found: BoolArray = closed & ~find_blocks(len(network.node_ids), network.edge_a, network.edge_b, closed).bridge
    return found
