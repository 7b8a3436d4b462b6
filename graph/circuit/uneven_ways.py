"""What ways in parallel carry when they are not alike: contacts age, and wires of one size differ by their make.

What nothing in a loop of copper opens, holds or blocks, no device sees: the same current goes through the loop as a
whole, and the bands of its resistances say how much of it one way may take. Branches in series are a chain. Of
every branch the worst of these mixtures counts: all other chains at their greatest, or at their least, and of its
own chain all, those up to the branch from either end, or those before it from either end, at the other. For ways
side by side between two joints nothing is worse: a fault at a joint or in another way takes the branch's chain as a
whole, one in the chain parts it in two, and a way's share falls with its own resistance and rises with every
other's, as for the loads' currents (``contact_spread``).

In a ring with more joints, and in a mesh, other mixtures are worse: there corners of the bands are searched
(``worst_corners``). One solve of the loop with all at their greatest, and one with all at their least, serve
every branch: taking dR off a chain that carries i drives dR · i in it, which is dR · i / (its resistance with the
way back through the rest of the loop, less dR) more (the compensation theorem, as in any book on circuits).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.hanging import hang_together
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.runs import Run, runs_between
from loadloom.graph.circuit.unit_flows import BoolArray, Branches, unit_flows
from loadloom.graph.circuit.worst_corners import worst_corners

TINY = 1e-9
"""Share of a chain's resistance below which its way back through the rest of the loop is none."""

LEAST_BAND_OHM = 1e-9
"""A loop whose resistances have no wider band than this is shared as drawn."""

ZERO_SHARE = 1e-6
"""Least resistance of a branch that has a band, as a share of the greatest in its loop."""


@dataclass(frozen=True, eq=False)
class UnevenLoop:
    """A loop of copper. ``branches`` (M,) and ``nodes`` (K,) of the piece; ``into`` (K, M) is 1 where a branch
    leads into a node of the loop and -1 where it leads out. ``flows`` (M, K) each: currents per ampere drawn at a
    node, and fed in at any, in each mixture. ``sure``: no other mixture is known to be able to be worse.
    """

    branches: IntArray
    nodes: IntArray
    into: FloatArray
    flows: tuple[FloatArray, ...]
    sure: bool

    def drawn_at(self, entry: int, nodes: Sequence[int]) -> FloatArray:
        """(K, P) an ampere fed in at the node ``entry`` of the piece and taken at each of P others of the loop."""
        place = {node: n for n, node in enumerate(self.nodes.tolist())}
        drawn = np.zeros((len(place), len(nodes)))
        drawn[[place[node] for node in nodes], np.arange(len(nodes))] = 1.0
        drawn[place[entry]] -= 1.0
        return drawn

    def mixed(self, drawn: FloatArray) -> list[FloatArray]:
        """(M, ...) the currents of each mixture with ``drawn`` (K, ...) taken at the nodes, whose sum is 0."""
        return [flow @ drawn for flow in self.flows]

    def ends(self, drawn: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(M, ...) the least and the greatest current of every branch over all mixtures, with its sign."""
        every = self.mixed(drawn)
        return np.min(every, axis=0), np.max(every, axis=0)

    def cut_ends(self, weights: FloatArray, amps: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(V, ...) the least and the greatest of sums of its branches at one node each; ``weights`` (V, M) is 1
        where a branch leads into that node and -1 where it leads out. ``amps`` (M, ...) are the currents in any one
        mixture. All branches at a node together carry what is drawn there, so that the others say as much of a sum.
        """
        drawn = self.into @ amps
        low, high = self.ends(drawn)
        low, high = np.minimum(low, amps), np.maximum(high, amps)
        into, out = np.maximum(weights, 0.0), np.minimum(weights, 0.0)
        least, most = into @ low + out @ high, into @ high + out @ low
        for v in np.flatnonzero(weights.any(axis=1)).tolist():
            chosen = weights[v] != 0.0
            node = int(np.flatnonzero((self.into[:, chosen] == weights[v, chosen]).all(axis=1))[0])
            rest = np.where(chosen, 0.0, self.into[node])
            rest_in, rest_out = np.maximum(rest, 0.0), np.minimum(rest, 0.0)
            least[v] = np.maximum(least[v], drawn[node] - rest_in @ high - rest_out @ low)
            most[v] = np.minimum(most[v], drawn[node] - rest_in @ low - rest_out @ high)
        return least, most


@dataclass(frozen=True, eq=False)
class UnevenWays:
    """The loops of a piece whose ways may be unlike. ``branches`` (L,) are those in them."""

    loops: tuple[UnevenLoop, ...]
    branches: IntArray

    def mixed(self, amps: FloatArray) -> tuple[FloatArray, ...]:
        """(L, ...) currents of the branches in each mixture; ``amps`` (B, ...) are the piece's in any one, which is
        the first of them: a network may be at resistances that were found to be the worst.
        """
        if not self.loops:
            return ()
        each = [loop.mixed(loop.into @ amps[loop.branches]) for loop in self.loops]
        most = max(len(found) for found in each)
        mixed = (np.concatenate([found[min(m, len(found) - 1)] for found in each]) for m in range(most))
        return (amps[self.branches], *mixed)

    def worst(self, amps: FloatArray) -> FloatArray:
        """Currents (B, ...) of the piece's branches, those in loops each number in its worst mixture."""
        return self.with_worst(amps, self.mixed(amps))

    def with_worst(self, amps: FloatArray, mixed: tuple[FloatArray, ...]) -> FloatArray:
        """The same where the mixtures are known."""
        if not mixed:
            return amps
        found = amps.copy()
        found[self.branches] = greatest_of(mixed)
        return found

    def ends(self, amps: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(B, ...) each: the least and the greatest current of every branch, with its sign, over all mixtures."""
        least, most = amps.copy(), amps.copy()
        mixed = self.mixed(amps)
        if mixed:
            least[self.branches], most[self.branches] = np.min(mixed, axis=0), np.max(mixed, axis=0)
        return least, most

    def of_cuts(self, weights: FloatArray, amps: FloatArray) -> FloatArray:
        """(V, ...) sums of branches at one node, ``weights`` (V, B) into it, in the worst mixture of each loop."""
        least, most = self.ends_of_cuts(weights, amps)
        found: FloatArray = np.where(np.abs(least) > np.abs(most), least, most)
        return found

    def ends_of_cuts(self, weights: FloatArray, amps: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(V, ...) each: the least and the greatest of such sums, with its sign, over all mixtures."""
        even = weights @ amps
        least, most = even.copy(), even.copy()
        for loop in self.loops:
            # Of the many cuts at a node most take the same branches of a loop.
            here, same = np.unique(weights[:, loop.branches], axis=0, return_inverse=True)
            if here.any():
                inside = amps[loop.branches]
                low, high = loop.cut_ends(here, inside)
                least += (low - here @ inside)[same.reshape(-1)]
                most += (high - here @ inside)[same.reshape(-1)]
        return least, most

    @cached_property
    def row_of(self) -> dict[int, int]:
        """Position of every branch in a loop among them."""
        return {k: n for n, k in enumerate(self.branches.tolist())}

    @property
    def unsure(self) -> IntArray:
        """Branches in loops in which another mixture may be worse than all that count."""
        return np.array([k for loop in self.loops if not loop.sure for k in loop.branches.tolist()], dtype=np.int64)


NO_WAYS = UnevenWays((), np.zeros(0, dtype=np.int64))


def _some_of(count: int) -> tuple[FloatArray, ...]:
    """For each branch of a chain (rows), which of its branches (columns) are moved: all, those up to the branch
    from either end, and those before it from either end.
    """
    whole = np.ones((count, count))
    return whole, np.tril(whole), np.triu(whole), np.tril(whole, -1), np.triu(whole, 1)


def greatest_of(mixed: Sequence[FloatArray]) -> FloatArray:
    """Of several arrays of currents the greatest magnitude of each number, with its sign."""
    found = mixed[0]
    for other in mixed[1:]:
        found = np.where(np.abs(other) > np.abs(found), other, found)
    return found


def uneven_ways(
    branches: Branches,
    node_count: int,
    closed: BoolArray,
    acts: BoolArray,
    least: FloatArray,
    most: FloatArray,
    busy: BoolArray,
    sources: Sequence[int] = (),
) -> UnevenWays:
    """The loops of the branches that are ``closed`` in which none ``acts`` (B,) and some resistance has a band.

    ``least`` and ``most`` (B,) in Ω; ``busy`` (N,): nodes at which a load is attached; ``sources``: nodes from
    which current can come, where they are known.
    """
    label = find_blocks(node_count, branches.a, branches.b, closed).label
    count = int(label.max(initial=-1)) + 1
    inside = label >= 0
    size = np.bincount(label[inside], minlength=count)
    acting = np.bincount(label[inside], weights=acts[inside], minlength=count) > 0
    widest = np.zeros(count)
    np.maximum.at(widest, label[inside], (most - least)[inside])
    of_all = np.bincount(np.concatenate([branches.a[inside], branches.b[inside]]), minlength=node_count)
    found = []
    for n in np.flatnonzero((size > 1) & ~acting & (widest > LEAST_BAND_OHM)).tolist():
        members = np.flatnonzero(label == n)
        nodes, place = np.unique(np.concatenate([branches.a[members], branches.b[members]]), return_inverse=True)
        degree = np.bincount(place)
        attached = busy[nodes] | (of_all[nodes] > degree)
        fed = attached
        if len(sources):
            rest = inside & (label != n)
            group = hang_together(node_count, branches.a[rest], branches.b[rest])
            fed = np.isin(group[nodes], group[list(sources)])
        loop = _Loop(place.reshape(2, -1), least[members], most[members], attached, fed if fed.any() else attached)
        found.append(loop.with_its_mixtures(members, nodes))
    branches_in = np.concatenate([np.zeros(0, dtype=np.int64), *(loop.branches for loop in found)])
    return UnevenWays(tuple(found), branches_in)


class _Loop:
    """A loop of M branches with their two ``ends`` (2, M) among its K nodes, of which some are ``busy`` (K,), and
    some ``fed`` (K,). ``least`` and ``most`` (M,) in Ω.
    """

    def __init__(
        self, ends: IntArray, least: FloatArray, most: FloatArray, busy: BoolArray, fed: BoolArray
    ) -> None:
        self.a, self.b = ends
        self.least, self.most, self.fed, self.nodes = least, most, fed, len(busy)
        joint: BoolArray = np.bincount(ends.ravel(), minlength=self.nodes) > 2
        if not joint.any():  # a ring: its ways lead from one node at which something is attached to the next
            joint = busy.copy()
            joint[0] |= not joint.any()
        self.chains = runs_between(self.a, self.b, np.arange(len(least)), joint)
        self.plain = int(joint.sum()) <= 2 and not bool((busy & ~joint).any())
        self.band_ohm = np.maximum(most - least, 0.0)
        # The way back of a chain of 0 Ω can't be told from the resistance between its ends.
        self.floored = np.maximum(least, ZERO_SHARE * float(most.max(initial=0.0)))

    def with_its_mixtures(self, members: IntArray, nodes: IntArray) -> UnevenLoop:
        """The loop of the branches ``members`` (M,) and ``nodes`` (K,) of a piece."""
        count = len(members)
        into = np.zeros((self.nodes, count))
        into[self.b, np.arange(count)] += 1.0
        into[self.a, np.arange(count)] -= 1.0
        flows, sure = self._by_chains(), self.plain
        if not self.plain:
            least, most = self.floored, np.maximum(self.floored, self.most)
            entries = np.flatnonzero(self.fed).tolist()
            corners, sure = worst_corners(self._at(least), self.nodes, least, most, entries)
            flows = corners or flows
        return UnevenLoop(members, nodes, into, flows, sure)

    def _at(self, ohm: FloatArray) -> Branches:
        count = len(ohm)
        return Branches(("",) * count, self.a, self.b, ohm, np.zeros(count), np.zeros(count, dtype=np.bool_), count)

    def _by_chains(self) -> tuple[FloatArray, ...]:
        """(M, K) each: see the head of the module; every branch has its own of each mixture."""
        found: list[FloatArray] = []
        longest = max(len(chain.branches) for chain in self.chains)
        for ohm, sign in ((self.most, 1.0), (np.minimum(self.floored, np.maximum(self.least, self.most)), -1.0)):
            flow, around_ohm = self._solved(ohm)
            here = [flow.copy() for _ in range(5 if longest > 1 else 1)]
            for n, chain in enumerate(self.chains):
                if self.band_ohm[chain.branches].any():
                    for there, taken in zip(here, _some_of(len(chain.branches)), strict=False):
                        there[chain.branches] += self._moved(chain, flow, taken, sign, around_ohm[n])
            found += here
        return tuple(found)

    def _solved(self, ohm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Currents (M, K) per ampere drawn at a node, and of each chain its resistance with its way back through
        the rest of the loop in Ω.
        """
        flows = unit_flows(self.nodes, self._at(ohm), np.ones(len(ohm), dtype=np.bool_))
        first, last = np.array([(chain.first, chain.last) for chain in self.chains], dtype=np.int64).T
        fall = flows.fall_ohm
        # Two ways side by side, own · rest / (own + rest), hold the rest.
        across = fall[first, first] + fall[last, last] - 2.0 * fall[first, last]
        own = np.array([float(ohm[chain.branches].sum()) for chain in self.chains])
        with np.errstate(divide="ignore", invalid="ignore"):
            return flows.flow, np.where(own - across > TINY * own, own**2 / (own - across), np.inf)

    def _moved(self, chain: Run, flow: FloatArray, taken: FloatArray, sign: float, around_ohm: float) -> FloatArray:
        """What more flows in each branch of a chain once the bands of those that it ``taken`` are taken off the
        chain (``sign`` 1) or put on it (-1).
        """
        band = self.band_ohm[chain.branches]
        across = (taken * (sign * band * chain.signs)) @ flow[chain.branches]
        left_ohm = around_ohm - sign * (taken @ band)
        with np.errstate(divide="ignore"):
            per_ohm = np.where(left_ohm > 0.0, chain.signs / left_ohm, 0.0)
        found: FloatArray = per_ohm[:, None] * across
        return found
