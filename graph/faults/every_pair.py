"""At which resistances and voltages within their bands a fault between two joints of a loop puts the most on it.

``worst_in_bands`` asks programmes for the worst mixture of a fault between two joints where the loop branches. A
fault may stand between any two of its branches as well: from the lead of one output to the other terminal of the
next. The most that such a fault can have at given resistances follows from one response of the loop: what each
branch carries per ampere of it, and the first limit that it comes to (Kirchhoff's laws, as in any book on
circuits). So every pair of joints, and every branch or two that may have opened, is asked at once, at the corners
of the bands and from the best of them along each band: the greatest need not stand at a corner, since two devices
may come to their limits together in between. Loads draw nothing here: the fault search, which is asked about each
mixture that is found, has them.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import BoolArray, Branches, UnitFlows, unit_flows
from loadloom.graph.faults.budgets import MOST_MIXTURES
from loadloom.graph.faults.piece import Piece
from loadloom.graph.faults.tolerances import TINY

CORNERS_OF = 7
"""Up to so many bands every corner is tried; with more, each band by itself from both ends of all."""

STEPS = ((-0.75, -0.5, -0.25, 0.25, 0.5, 0.75), (-0.25, -0.12, 0.12, 0.25), (-0.06, 0.06), (-0.03, 0.03))
"""Shares of a band by which each is moved, one after the other."""

NEAR = 0.8
"""Share of what is known from which something is followed: less does not come to be the greatest on the way."""

BETTER = 5e-4
"""Share by which a mixture has to put more on something than those known to be worth a search of its own."""

TWO_OPENED = 4
"""Up to so many ways that open, two of them at once are tried."""


@dataclass(frozen=True)
class Mixture:
    """Resistances (B,) in Ω and voltages (B,) in V of a piece's branches, worst for some of its branches and for
    what hangs at the nodes of some pairs. ``known``: its position among those known before, 0 of a new one.
    """

    ohm: FloatArray
    emf_v: FloatArray
    branches: tuple[int, ...]
    pairs: tuple[tuple[int, int], ...]
    known: int = 0


@dataclass(frozen=True)
class EveryPair:
    """One loop of a piece. ``inside`` (K,): its branches. ``pairs`` (P, 2): nodes of it between which a fault draws
    and gives back. ``counts`` (K + P,): the branches that are answered for, and the pairs that something hangs at.
    ``opening``: one branch of each way that opens or blocks. ``most_ohm`` and ``low_v`` (B,): the
    other ends of the bands of the piece's branches. ``beyond_v`` and ``beyond_a``: the voltage that outputs outside
    of the loop can add, and the most that a fault takes where none is within.
    """

    piece: Piece
    inside: IntArray
    pairs: IntArray
    counts: BoolArray
    opening: Sequence[int]
    most_ohm: FloatArray
    low_v: FloatArray
    beyond_v: float
    beyond_a: float

    def mixtures(self, known: Sequence[tuple[FloatArray, FloatArray]]) -> list[Mixture]:
        """The mixtures that put more on something than the first of those ``known``, resistances in Ω and voltages
        in V (B,); others of these are asked for more.
        """
        if not len(self.pairs) or not len(self._banded):
            return []
        before = np.array([self._most_a(ohm, emf_v).max(axis=0) for ohm, emf_v in known])
        reached, best = before.max(axis=0), before.argmax(axis=0)
        more = reached > before[0] * (1.0 + BETTER) + TINY
        found = [self._mixture(known[k], np.flatnonzero(more & (best == k)), k) for k in set(best[more].tolist())]
        tried = self._tried(reached)
        points, scores = list(tried), np.array([each.max(axis=0) for each in tried.values()])
        while True:
            gain = scores.max(axis=0) > reached * (1.0 + BETTER) + TINY
            if not gain.any():
                return found
            # The mixture that is the best, or nearly, for the most of them.
            near = (scores >= scores.max(axis=0) * (1.0 - BETTER)) & gain
            top = int(near.sum(axis=1).argmax())
            more = scores[top] > reached * (1.0 + BETTER) + TINY
            found.append(self._mixture(self._values(points[top]), np.flatnonzero(more)))
            reached = np.maximum(reached, scores[top])

    def _mixture(self, values: tuple[FloatArray, FloatArray], more: IntArray, known: int = 0) -> Mixture:
        """A mixture with the branches and pairs, by position, that it is worst for."""
        count = len(self.inside)
        branches = tuple(int(self.inside[k]) for k in more[more < count].tolist())
        pairs = tuple((int(high), int(low)) for high, low in self.pairs[more[more >= count] - count])
        return Mixture(*values, branches, pairs, known)

    def _tried(self, reached: FloatArray) -> dict[tuple[float, ...], FloatArray]:
        """What was asked: corners, then along every band, in ever smaller steps, from the best for anything that is
        near to what is ``reached``, whatever has opened.
        """
        count = len(self._banded)
        if count <= CORNERS_OF:
            starts = list(itertools.product((0.0, 1.0), repeat=count))
        else:
            ends = [(0.0,) * count, (1.0,) * count]
            starts = [*ends, *(_moved(end, k, 1.0 - end[k]) for end in ends for k in range(count))]
        tried = {start: self._most_a(*self._values(start)) for start in starts}
        for steps in STEPS:
            points, scores = list(tried), np.array(list(tried.values()))
            best = scores.argmax(axis=0)
            near = scores.max(axis=0) >= NEAR * reached
            for number, _ in Counter(best[near].tolist()).most_common():
                for k in range(count):
                    for step in steps:
                        point = _moved(points[number], k, min(1.0, max(0.0, points[number][k] + step)))
                        if point not in tried and len(tried) < MOST_MIXTURES:
                            tried[point] = self._most_a(*self._values(point))
        return tried

    @cached_property
    def _banded(self) -> list[tuple[bool, int]]:
        """What has a band: whether a voltage, and the branch."""
        branches = self.piece.branches
        wide = self.most_ohm[self.inside] - branches.resistance_ohm[self.inside] > TINY
        apart = branches.emf_v[self.inside] - self.low_v[self.inside] > TINY
        return [
            *((False, k) for k in self.inside[wide].tolist()),
            *((True, k) for k in self.inside[apart].tolist()),
        ]

    def _values(self, shares: Sequence[float]) -> tuple[FloatArray, FloatArray]:
        """Resistances and voltages (B,) so far along each band."""
        branches = self.piece.branches
        ohm, emf_v = branches.resistance_ohm.copy(), branches.emf_v.copy()
        for (is_voltage, k), share in zip(self._banded, shares, strict=True):
            if is_voltage:
                emf_v[k] += share * (self.low_v[k] - emf_v[k])
            else:
                ohm[k] += share * (self.most_ohm[k] - ohm[k])
        return ohm, emf_v

    # -- what a mixture has ------------------------------------------------------------------------------------

    @cached_property
    def _nodes(self) -> IntArray:
        """The nodes of the loop, of the piece's."""
        branches = self.piece.branches
        return np.unique(np.concatenate([branches.a[self.inside], branches.b[self.inside]]))

    @cached_property
    def _ends(self) -> tuple[IntArray, IntArray]:
        branches = self.piece.branches
        return (
            np.searchsorted(self._nodes, branches.a[self.inside]),
            np.searchsorted(self._nodes, branches.b[self.inside]),
        )

    @cached_property
    def _limits(self) -> tuple[FloatArray, FloatArray]:
        """(K,) the most that each branch carries from its a to its b, and back."""
        held = self.piece.held_a[self.inside]
        back = np.where(self.piece.reverse_too[self.inside], held, np.inf)
        return held, np.where(self.piece.branches.diode[self.inside], 0.0, back)

    @cached_property
    def _cuts(self) -> list[BoolArray]:
        """(K,) which branches carry: all, or with one or two ways that have opened or block."""
        one = [(k,) for k in self.opening]
        two = list(itertools.combinations(self.opening, 2)) if len(one) <= TWO_OPENED else []
        return [~np.isin(self.inside, cut) for cut in ((), *one, *two)]

    def _most_a(self, ohm: FloatArray, emf_v: FloatArray) -> FloatArray:
        """(C, K + P) with each cut the most on each branch, a fault just inside it included, and of a fault of each
        pair, in A.
        """
        high, low = (np.searchsorted(self._nodes, self.pairs[:, side]) for side in (0, 1))
        a, b = self._ends
        count = len(self.inside)
        found = []
        branches = Branches(
            ("",) * count, a, b, ohm[self.inside], emf_v[self.inside], np.zeros(count, dtype=np.bool_), count
        )
        for closed in self._cuts:
            flows = unit_flows(len(self._nodes), branches, closed)
            amps, carried = self._at_limit(flows, high, low)
            most = np.abs(carried)
            # A fault just inside of a branch gets through its own end all that does not come from its other one.
            into = (b[:, None] == high).astype(float) - (a[:, None] == high)
            out_of = (a[:, None] == low).astype(float) - (b[:, None] == low)
            for way in (into, out_of):
                most = np.maximum(most, np.where(way != 0.0, amps - way * carried, 0.0))
            most = np.where(closed[:, None] & (amps > TINY), most, 0.0)
            found.append(np.where(self.counts, np.concatenate([most.max(axis=1, initial=0.0), amps]), 0.0))
        return np.array(found)

    def _at_limit(self, flows: UnitFlows, high: IntArray, low: IntArray) -> tuple[FloatArray, FloatArray]:
        """(P,) what a fault between each pair takes at the first limit reached, and (K, P) what flows then."""
        forward, back = self._limits
        own = flows.own_a
        share = flows.flow[:, high] - flows.flow[:, low]
        up, down = (forward - own)[:, None], (back + own)[:, None]
        ahead, behind = share > TINY, share < -TINY
        by = np.where(ahead | behind, np.abs(share), 1.0)
        amps = np.where(ahead, up / by, np.where(behind, down / by, np.inf)).min(axis=0, initial=self.beyond_a)
        # What flows by itself is too much, or runs against a diode: the fault has to turn it.
        least = np.where(ahead, -down / by, np.where(behind, -up / by, -np.inf)).max(axis=0)
        never = (~(ahead | behind) & ((up < -TINY) | (down < -TINY))).any(axis=0)
        fall = flows.fall_ohm[high, high] + flows.fall_ohm[low, low] - 2.0 * flows.fall_ohm[high, low]
        spare = flows.own_v[high] - flows.own_v[low] + self.beyond_v
        amps = np.minimum(amps, np.where(fall > TINY, spare / np.where(fall > TINY, fall, 1.0), np.inf))
        met = (flows.piece[high] == flows.piece[low]) & np.isfinite(amps) & ~never & (least <= amps + TINY)
        amps = np.where(met, np.maximum(amps, 0.0), 0.0)
        return amps, own[:, None] + share * amps


def _moved(shares: tuple[float, ...], k: int, share: float) -> tuple[float, ...]:
    return (*shares[:k], share, *shares[k + 1 :])
